package repair

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// project keeps the room's tables.
func project(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	if err := keepBoat(ctx, tx, e, body); err != nil {
		return err
	}
	if err := keepFinding(ctx, tx, e, body); err != nil {
		return err
	}
	if err := keepMember(ctx, tx, body); err != nil {
		return err
	}
	if err := keepMoney(desk.Exec(ctx, tx), body); err != nil {
		return err
	}
	if err := keepWaiting(desk.Exec(ctx, tx), body); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `UPDATE repair.boat SET intake_version = $2 WHERE boat = $1 AND $3 = 'intake.boat/' || boat`, e.Boat, e.Version, e.Stream)
	return err
}

func keepBoat(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	switch b := body.(type) {
	case message.BoatLogged:
		facts, err := json.Marshal(b.Facts)
		if err != nil {
			return err
		}
		return exec(`INSERT INTO repair.boat (boat, name, type, material, intake_version, facts) VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (boat) DO NOTHING`,
			b.Boat, b.Name, b.Facts.Type, b.Facts.Material, e.Version, string(facts))
	case message.FactsCorrected:
		facts, err := json.Marshal(b.Facts)
		if err != nil {
			return err
		}
		return exec(`UPDATE repair.boat SET type = $2, material = $3, facts = $4 WHERE boat = $1`, b.Boat, b.Facts.Type, b.Facts.Material, string(facts))
	case message.BoatAccepted:
		return exec(`UPDATE repair.boat SET accepted = true WHERE boat = $1`, b.Boat)
	case message.BoatReceived:
		return exec(`UPDATE repair.boat SET received = true WHERE boat = $1`, b.Boat)
	case message.BoatDeclined:
		return exec(`UPDATE repair.boat SET declined = true WHERE boat = $1`, b.Boat)
	case message.BoatHandedOver:
		return exec(`UPDATE repair.boat SET departed = true WHERE boat = $1`, b.Boat)
	case message.BoatSold:
		return exec(`UPDATE repair.boat SET departed = true WHERE boat = $1`, b.Boat)
	case message.SaleTakenBack:
		return exec(`UPDATE repair.boat SET departed = false WHERE boat = $1`, b.Boat)
	}
	return nil
}

func keepFinding(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.DefectFound:
		_, err := tx.Exec(ctx, `
			INSERT INTO repair.finding (boat, finding, noted, zone, side, face, part, defect, severity, load_bearing, same_as, look)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12) ON CONFLICT (boat, finding) DO NOTHING`,
			b.Boat, b.Finding, e.Position, b.Place.Zone, b.Place.Side, b.Place.Face, b.Place.Part, b.Defect, b.Severity, b.LoadBearing, b.SameAs, b.Look)
		return err
	case message.LookOverFinished:
		_, err := tx.Exec(ctx, `INSERT INTO repair.look (boat, look, finished) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, b.Boat, b.Look, e.Position)
		return err
	case message.FindingsMatched:
		return keepMatched(desk.Exec(ctx, tx), b)
	case message.DefectWithdrawn:
		_, err := tx.Exec(ctx, `UPDATE repair.finding SET withdrawn = $3 WHERE boat = $1 AND finding = $2`, b.Boat, b.Finding, b.Why)
		return err
	}
	return nil
}

// keepMatched puts what a person confirmed in the place of the tool's matching, as
// the intake room does.
func keepMatched(exec desk.Executor, b message.FindingsMatched) error {
	err := exec(`
		UPDATE repair.finding f SET same_as = '' WHERE f.boat = $1 AND f.same_as <> '' AND (f.look = $2 OR
			EXISTS (SELECT 1 FROM repair.finding g WHERE g.boat = $1 AND g.finding = f.same_as AND g.look = $2)
			AND EXISTS (SELECT 1 FROM repair.look before, repair.look this WHERE before.boat = $1 AND this.boat = $1
				AND before.look = f.look AND this.look = $2 AND before.finished < this.finished))`, b.Boat, b.Look)
	for _, p := range b.Pairs {
		if err == nil {
			err = exec(`UPDATE repair.finding SET same_as = $3 WHERE boat = $1 AND finding = $2`, b.Boat, p.Finding, p.SameAs)
		}
	}
	return err
}

func keepMember(ctx context.Context, tx pgx.Tx, body message.Body) error {
	keep := func(id people.ID) error {
		_, err := tx.Exec(ctx, `INSERT INTO repair.member (person) VALUES ($1) ON CONFLICT DO NOTHING`, id)
		return err
	}
	switch b := body.(type) {
	case message.PersonRegistered:
		if b.Sort == message.MemberSort {
			return keep(b.Person)
		}
	case message.RoleGiven:
		return keep(b.Person)
	case message.GuardianNamed:
		_, err := tx.Exec(ctx, `INSERT INTO repair.minor (person) VALUES ($1) ON CONFLICT DO NOTHING`, b.Person)
		return err
	case message.PersonErased:
		_, err := tx.Exec(ctx, `DELETE FROM repair.member WHERE person = $1`, b.Person)
		return err
	}
	return nil
}

// keepMoney keeps what boats are worth and what bins gave to them. A value that
// says nothing of one of the two states is passed over.
func keepMoney(exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.BoatValued:
		if b.AsItLies.Status == message.RefusedWorth || b.Repaired.Status == message.RefusedWorth || b.AsItLies.Value.Currency != b.Repaired.Value.Currency {
			return nil
		}
		return exec(`UPDATE repair.boat SET value = $2, value_currency = $3, as_it_lies = $4, repaired = $5 WHERE boat = $1`,
			b.Boat, b.Value, b.Repaired.Value.Currency, b.AsItLies.Value.Minor, b.Repaired.Value.Minor)
	case message.StockTaken:
		return exec(`INSERT INTO repair.material (bin, entry, boat, minor, currency) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`,
			b.Bin, b.Entry, b.Boat, b.Cost.Minor, b.Cost.Currency)
	case message.StockReturned:
		return exec(`INSERT INTO repair.material (bin, entry, boat, minor, currency) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`,
			b.Bin, b.Entry, b.Boat, -b.Cost.Minor, b.Cost.Currency)
	}
	return nil
}

// keepWaiting keeps the timers that run and what is reserved.
func keepWaiting(exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.TimerSet:
		return exec(`INSERT INTO repair.timer (timer, boat, until) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, b.Timer, b.Boat, b.Until)
	case message.TimerRang:
		return exec(`DELETE FROM repair.timer WHERE timer = $1`, b.Timer)
	case message.TimerEnded:
		return exec(`DELETE FROM repair.timer WHERE timer = $1`, b.Timer)
	case message.StockReserved:
		if b.Quantity == 0 {
			return exec(`DELETE FROM repair.reservation WHERE bin = $1 AND boat = $2`, b.Bin, b.Boat)
		}
		return exec(`INSERT INTO repair.reservation (bin, boat, quantity) VALUES ($1, $2, $3) ON CONFLICT (bin, boat) DO UPDATE SET quantity = excluded.quantity`,
			b.Bin, b.Boat, b.Quantity)
	case message.StockTaken:
		if err := exec(`UPDATE repair.reservation SET quantity = quantity - $3 WHERE bin = $1 AND boat = $2`, b.Bin, b.Boat, b.Quantity); err != nil {
			return err
		}
		return exec(`DELETE FROM repair.reservation WHERE quantity <= 0`)
	}
	return nil
}

// dueTimer is a timer whose time is over.
type dueTimer struct {
	timer string
	boat  boat.ID
}

// overdue gives the timers that are over, the oldest first.
func (s *service) overdue(ctx context.Context, now time.Time) ([]dueTimer, error) {
	rows, err := s.Pool.Query(ctx, `SELECT timer, boat FROM repair.timer WHERE until <= $1 ORDER BY until, timer LIMIT 100`, now)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (t dueTimer, err error) {
		err = row.Scan(&t.timer, &t.boat)
		return t, err
	})
}

// materialOf adds up what bins gave to a boat, in one currency.
func (s *service) materialOf(ctx context.Context, id boat.ID, c money.Currency) (minor int64, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT coalesce(sum(minor), 0)::bigint FROM repair.material WHERE boat = $1 AND currency = $2`, id, c).Scan(&minor)
	return minor, err
}

// reservedFor gives the bins in which something is kept for a boat.
func (s *service) reservedFor(ctx context.Context, id boat.ID) ([]string, error) {
	rows, err := s.Pool.Query(ctx, `SELECT bin FROM repair.reservation WHERE boat = $1 ORDER BY bin`, id)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// isMinor says whether a member is known to be under age.
func (s *service) isMinor(ctx context.Context, id people.ID) (minor bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM repair.minor WHERE person = $1)`, id).Scan(&minor)
	return minor, err
}

// hullOf gives what the intake room says of a boat.
func (s *service) hullOf(ctx context.Context, id boat.ID) (*hull, error) {
	h := hull{}
	var facts []byte
	err := s.Pool.QueryRow(ctx, `
		SELECT name, type, material, accepted, received, declined, departed, intake_version, facts, value, value_currency, as_it_lies, repaired
		FROM repair.boat WHERE boat = $1`, id).
		Scan(&h.name, &h.kind, &h.material, &h.accepted, &h.received, &h.declined, &h.departed, &h.intakeVersion,
			&facts, &h.worth.value, &h.worth.currency, &h.worth.asItLies, &h.worth.repaired)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, desk.Unknown("boat", "the club's book has no boat under this id")
	}
	if err == nil {
		err = json.Unmarshal(facts, &h.facts)
	}
	if err != nil {
		return nil, err
	}
	rows, err := s.Pool.Query(ctx, `
		SELECT finding, zone, side, face, part, defect, severity, load_bearing, same_as, withdrawn
		FROM repair.finding WHERE boat = $1 ORDER BY noted, finding`, id)
	if err != nil {
		return nil, err
	}
	h.findings, err = pgx.CollectRows(rows, scanFinding)
	return &h, err
}

func scanFinding(row pgx.CollectableRow) (finding, error) {
	var f finding
	err := row.Scan(&f.id, &f.place.Zone, &f.place.Side, &f.place.Face, &f.place.Part, &f.defect, &f.severity, &f.loadBearing, &f.sameAs, &f.withdrawn)
	return f, err
}

// isMember says whether the club knows a person as a member.
func (s *service) isMember(ctx context.Context, id people.ID) (bool, error) {
	var known bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM repair.member WHERE person = $1)`, id).Scan(&known)
	return known, err
}
