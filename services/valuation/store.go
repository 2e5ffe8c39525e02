package valuation

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// mostSales bounds the sales that one value looks at, so that its record stays
// within the bounds of an event: those nearest in time.
const mostSales = 1000

// project keeps the room's tables.
func project(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	for _, keep := range []func(desk.Executor, message.Event, message.Body) error{keepBoat, keepFindings, keepMending, keepShop} {
		if err := keep(exec, e, body); err != nil {
			return err
		}
	}
	switch b := body.(type) {
	case message.LookOverFinished:
		return keepLook(ctx, tx, b)
	case message.FindingsMatched:
		return keepMatched(exec, b)
	case message.ComparableRecorded:
		return keepComparable(exec, b.Comparable)
	case message.ComparableRefused:
		return exec(`DELETE FROM valuation.comparable WHERE comparable = $1`, b.Comparable)
	case message.RequestMade:
		return keepWaiting(exec, b)
	case message.RequestEnded:
		return exec(`DELETE FROM valuation.waiting WHERE request = $1`, b.Request)
	case message.DoublesJudged:
		return keepSame(exec, b)
	}
	return nil
}

func keepBoat(exec desk.Executor, _ message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.BoatLogged:
		f := b.Facts
		return exec(`INSERT INTO valuation.boat (boat, name, giver, type, seats, length_mm, material, year_built, grade) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 0)
			ON CONFLICT (boat) DO NOTHING`, b.Boat, b.Name, b.Giver, f.Type, f.Seats, f.LengthMM, f.Material, f.YearBuilt)
	case message.FactsCorrected:
		f := b.Facts
		return exec(`UPDATE valuation.boat SET type = $2, seats = $3, length_mm = $4, material = $5, year_built = $6 WHERE boat = $1`,
			b.Boat, f.Type, f.Seats, f.LengthMM, f.Material, f.YearBuilt)
	case message.LookOverFinished:
		return exec(`UPDATE valuation.boat SET grade = $2 WHERE boat = $1`, b.Boat, b.Grade)
	case message.BoatReady:
		return exec(`UPDATE valuation.boat SET grade = $2 WHERE boat = $1`, b.Boat, b.Grade)
	case message.BoatAccepted:
		return setState(exec, b.Boat, taken)
	case message.BoatDeclined:
		return setState(exec, b.Boat, gone)
	case message.BoatSold:
		return setState(exec, b.Boat, gone)
	case message.SaleTakenBack:
		return setState(exec, b.Boat, taken)
	case message.BoatHandedOver:
		return setState(exec, b.Boat, gone)
	case message.BoatRetired:
		return setState(exec, b.Boat, gone)
	}
	return nil
}

// How far a boat has come: only one that was taken, and is still there, is in the
// shop.
const (
	taken = "taken"
	gone  = "gone"
)

func setState(exec desk.Executor, id boat.ID, state string) error {
	return exec(`UPDATE valuation.boat SET state = $2 WHERE boat = $1`, id, state)
}

// keepFindings follows what was found and how it ended.
func keepFindings(exec desk.Executor, _ message.Event, body message.Body) error {
	end := func(of boat.ID, finding string, ended bool) error {
		return exec(`UPDATE valuation.finding SET ended = $3 WHERE (boat, finding) = ($1, $2)`, of, finding, ended)
	}
	switch b := body.(type) {
	case message.DefectFound:
		return exec(`INSERT INTO valuation.finding (boat, finding, look, severity) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING`, b.Boat, b.Finding, b.Look, b.Severity)
	case message.DefectWithdrawn:
		return end(b.Boat, b.Finding, true)
	case message.FindingReopened:
		return end(b.Boat, b.Finding, false)
	case message.LookOverFinished:
		return exec(`UPDATE valuation.finding SET finished = true WHERE (boat, look) = ($1, $2)`, b.Boat, b.Look)
	case message.WorkFinished:
		for _, finding := range b.Findings {
			if err := end(b.Boat, finding, true); err != nil {
				return err
			}
		}
		return exec(`UPDATE valuation.boat SET mended = true WHERE boat = $1`, b.Boat)
	}
	return nil
}

// keepMending follows what mending costs.
func keepMending(exec desk.Executor, _ message.Event, body message.Body) error {
	add := func(of boat.ID, cost money.Amount, sign int64) error {
		return exec(`INSERT INTO valuation.mending (boat, currency, minor) VALUES ($1, $2, $3)
			ON CONFLICT (boat, currency) DO UPDATE SET minor = mending.minor + excluded.minor`, of, cost.Currency, sign*cost.Minor)
	}
	switch b := body.(type) {
	case message.PartBooked:
		return add(b.Boat, b.Cost, 1)
	case message.PartReversed:
		return add(b.Boat, b.Cost, -1)
	case message.WorkFinished:
		return exec(`INSERT INTO valuation.mended (boat, findings, ready) VALUES ($1, $2, false)
			ON CONFLICT (boat) DO UPDATE SET findings = mended.findings + excluded.findings`, b.Boat, len(b.Findings))
	case message.BoatReady:
		return exec(`UPDATE valuation.mended SET ready = true WHERE boat = $1`, b.Boat)
	}
	return nil
}

// keepLook keeps the newest estimate, and of what could not be seen only what no
// look-over saw.
func keepLook(ctx context.Context, tx pgx.Tx, b message.LookOverFinished) error {
	exec := desk.Exec(ctx, tx)
	var unseen *string
	err := tx.QueryRow(ctx, `SELECT unseen FROM valuation.look_over WHERE boat = $1`, b.Boat).Scan(&unseen)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return err
	}
	hidden := slices.Clone(b.Unseen)
	for _, part := range b.CouldNotSee {
		hidden = append(hidden, string(part))
	}
	if unseen != nil {
		hidden = slices.DeleteFunc(hidden, func(name string) bool { return !slices.Contains(namesIn(*unseen), name) })
	}
	err = exec(`INSERT INTO valuation.look_over (boat, estimate, first, second, in_both, unseen, provisional) VALUES ($1, false, 0, 0, 0, $2, $3)
		ON CONFLICT (boat) DO UPDATE SET unseen = excluded.unseen, provisional = look_over.provisional AND excluded.provisional`,
		b.Boat, strings.Join(hidden, ";"), b.Provisional)
	if err == nil && b.Estimate != nil {
		err = exec(`UPDATE valuation.look_over SET estimate = $2, first = $3, second = $4, in_both = $5 WHERE boat = $1`,
			b.Boat, b.Estimate.Shown, b.Estimate.First, b.Estimate.Second, b.Estimate.Both)
	}
	return err
}

func namesIn(text string) []string {
	return slices.DeleteFunc(strings.Split(text, ";"), func(name string) bool { return name == "" })
}

func keepComparable(exec desk.Executor, c message.Comparable) error {
	data, err := json.Marshal(c)
	if err != nil {
		return err
	}
	return exec(`INSERT INTO valuation.comparable (comparable, type, sold_on, data) VALUES ($1, $2, $3::text::date, $4) ON CONFLICT DO NOTHING`,
		c.Comparable, c.Type, c.On.String(), string(data))
}

func keepWaiting(exec desk.Executor, b message.RequestMade) error {
	waiting := []people.ID{b.Household}
	if b.NewHousehold != nil && b.NewHousehold.Guardian != "" {
		waiting = append(waiting, b.NewHousehold.Guardian)
	}
	for _, person := range waiting {
		if err := exec(`INSERT INTO valuation.waiting (request, person) VALUES ($1, $2) ON CONFLICT DO NOTHING`, b.Request, person); err != nil {
			return err
		}
	}
	return nil
}

func keepSame(exec desk.Executor, b message.DoublesJudged) error {
	sql := `DELETE FROM valuation.same_person WHERE (one, other) = ($1, $2)`
	if b.Same {
		sql = `INSERT INTO valuation.same_person (one, other) VALUES ($1, $2) ON CONFLICT DO NOTHING`
	}
	if err := exec(sql, b.One, b.Other); err != nil {
		return err
	}
	return exec(sql, b.Other, b.One)
}

// hull gives what is known of a boat.
func (s *service) hull(ctx context.Context, id boat.ID) (h hull, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT name, giver, type, seats, length_mm, material, year_built, grade, mended FROM valuation.boat WHERE boat = $1`, id).
		Scan(&h.name, &h.giver, &h.kind, &h.seats, &h.lengthMM, &h.material, &h.yearBuilt, &h.grade, &h.mended)
	if errors.Is(err, pgx.ErrNoRows) {
		err = desk.Unknown("boat", "the club's book has no boat under this id; log it first")
	}
	return h, err
}

// looked gives what look-overs of a boat came to.
func (s *service) looked(ctx context.Context, id boat.ID) (l looked, err error) {
	var unseen string
	err = s.Pool.QueryRow(ctx, `SELECT estimate, first, second, in_both, unseen, provisional FROM valuation.look_over WHERE boat = $1`, id).
		Scan(&l.estimate, &l.first, &l.second, &l.both, &unseen, &l.provisional)
	l.unseen = namesIn(unseen)
	if errors.Is(err, pgx.ErrNoRows) {
		err = desk.Conflict("boat", "this boat has not been looked over; finish a look-over first")
	}
	return l, err
}

// tie is what ties somebody to a boat or to the club's boats, under this or
// another entry of theirs.
type tie struct{ gives, waits bool }

func (s *service) tie(ctx context.Context, person, giver people.ID) (t tie, err error) {
	err = s.Pool.QueryRow(ctx, `
		WITH me AS (SELECT $1 AS id UNION SELECT other FROM valuation.same_person WHERE one = $1)
		SELECT EXISTS (SELECT FROM me WHERE id = $2), EXISTS (SELECT FROM me JOIN valuation.waiting ON person = id)`, person, giver).
		Scan(&t.gives, &t.waits)
	return t, err
}

// sales gives the prices of a type that are nearest to a day, in the order of
// their days.
func (s *service) sales(ctx context.Context, t boat.Type, on clock.Date) ([]message.Comparable, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT data FROM (
			SELECT data, sold_on, comparable FROM valuation.comparable WHERE type = $1
			ORDER BY abs(sold_on - $2::text::date), sold_on, comparable LIMIT $3
		) nearest ORDER BY sold_on, comparable`, t, on.String(), mostSales)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (c message.Comparable, err error) {
		var data []byte
		if err = row.Scan(&data); err == nil {
			err = json.Unmarshal(data, &c)
		}
		return c, err
	})
}

// worstOpen gives the gravest severity among a boat's open findings, or none.
func (s *service) worstOpen(ctx context.Context, id boat.ID) (boat.Severity, error) {
	rows, err := s.Pool.Query(ctx, `SELECT severity FROM valuation.finding WHERE boat = $1 AND finished AND NOT ended`, id)
	if err != nil {
		return "", err
	}
	open, err := pgx.CollectRows(rows, pgx.RowTo[boat.Severity])
	for _, severity := range slices.Backward(boat.Severities) {
		if slices.Contains(open, severity) {
			return severity, err
		}
	}
	return "", err
}

// mostMended bounds the history that a ceiling looks at.
const mostMended = 200

// mendingCosts gives, for boats of a material that were mended and are ready, what
// a finding cost on each.
func (s *service) mendingCosts(ctx context.Context, club money.Currency, m boat.Material) ([]int64, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT coalesce(c.minor, 0) / d.findings FROM valuation.mended d JOIN valuation.boat b USING (boat)
		LEFT JOIN valuation.mending c ON c.boat = d.boat AND c.currency = $1
		WHERE d.ready AND d.findings > 0 AND b.material = $2 AND coalesce(c.minor, 0) >= 0 ORDER BY d.boat LIMIT $3`, club, m, mostMended)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[int64])
}
