package treasury

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// state is how far a boat has come, as totals show it.
type state string

const (
	offered  state = "offered"
	accepted state = "accepted"
	declined state = "declined"
	received state = "received"
	sold     state = "sold"
	placed   state = "placed"
	retired  state = "retired"
)

// record is what the room knows of a boat from other rooms.
type record struct {
	boat     boat.ID
	name     string
	taking   message.Taking
	giver    people.ID
	facts    message.BoatFacts
	price    money.Amount
	received clock.Date // zero: not yet
	state    state
}

// project keeps the room's tables.
func project(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	if err := projectBoat(exec, e, body); err != nil {
		return err
	}
	if err := projectSaid(exec, e, body); err != nil {
		return err
	}
	if err := projectPerson(exec, body); err != nil {
		return err
	}
	if err := projectGift(ctx, tx, e, body); err != nil {
		return err
	}
	if err := projectBatch(exec, e, body); err != nil {
		return err
	}
	if err := projectBank(exec, body); err != nil {
		return err
	}
	if err := projectCount(exec, e, body); err != nil {
		return err
	}
	if err := projectVolunteers(exec, e, body); err != nil {
		return err
	}
	return projectMoney(exec, e, body)
}

func projectBoat(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.BoatLogged:
		return keepBoat(exec, b)
	case message.FactsCorrected:
		facts, err := json.Marshal(b.Facts)
		if err != nil {
			return err
		}
		return exec(`UPDATE treasury.boat SET facts = $2 WHERE boat = $1`, b.Boat, string(facts))
	case message.BoatAccepted:
		return exec(`UPDATE treasury.boat SET state = $2, price_minor = $3, price_currency = $4 WHERE boat = $1`, b.Boat, accepted, b.Price.Minor, b.Price.Currency)
	case message.BoatReceived:
		return exec(`UPDATE treasury.boat SET state = $2, received_on = $3::text::date WHERE boat = $1`, b.Boat, received, b.On.String())
	case message.BoatDeclined:
		return setState(exec, b.Boat, declined)
	case message.BoatSold:
		return setState(exec, b.Boat, sold)
	case message.SaleTakenBack:
		return setState(exec, b.Boat, received)
	case message.BoatHandedOver:
		return setState(exec, b.Boat, placed)
	case message.BoatRetired:
		return setState(exec, b.Boat, retired)
	case message.BoatValued:
		return keepValue(exec, e, b)
	}
	return nil
}

// projectSaid keeps when it was written down how far a boat has come, what its giver
// bound it to, and what the club has it for.
func projectSaid(exec desk.Executor, e message.Event, body message.Body) error {
	said := func(id boat.ID, column, value string) error {
		return exec(`INSERT INTO treasury.boat_said (boat, position, recorded_on, `+column+`) VALUES ($1, $2, $3::text::date, $4) ON CONFLICT DO NOTHING`,
			id, e.Position, clock.DateOf(e.RecordedAt).String(), value)
	}
	switch b := body.(type) {
	case message.IntentStated:
		return said(b.Boat, "restriction", b.Restriction)
	case message.ProgrammeChosen:
		return said(b.Boat, "programme", b.Programme)
	case message.BoatReceived:
		return said(b.Boat, "state", string(received))
	case message.BoatSold:
		return said(b.Boat, "state", string(sold))
	case message.SaleTakenBack:
		return said(b.Boat, "state", string(received))
	case message.BoatHandedOver:
		return said(b.Boat, "state", string(placed))
	case message.BoatRetired:
		return said(b.Boat, "state", string(retired))
	}
	return nil
}

func keepBoat(exec desk.Executor, b message.BoatLogged) error {
	facts, err := json.Marshal(b.Facts)
	if err != nil {
		return err
	}
	return exec(`INSERT INTO treasury.boat (boat, name, taking, giver, facts, state) VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (boat) DO NOTHING`,
		b.Boat, b.Name, b.Taking, b.Giver, string(facts), offered)
}

func setState(exec desk.Executor, id boat.ID, s state) error {
	return exec(`UPDATE treasury.boat SET state = $2 WHERE boat = $1`, id, s)
}

// keepValue keeps what may stand in the books or on a paper: not what was worked
// out to know what to offer.
func keepValue(exec desk.Executor, e message.Event, b message.BoatValued) error {
	if b.AsItLies.Status == message.RefusedWorth || b.Purpose == message.ForPurchase {
		return nil
	}
	return exec(`INSERT INTO treasury.value (value, position, boat, for_day, minor, currency, valuer) VALUES ($1, $2, $3, $4::text::date, $5, $6, $7) ON CONFLICT DO NOTHING`,
		b.Value, e.Position, b.Boat, b.On.String(), b.AsItLies.Value.Minor, b.AsItLies.Value.Currency, b.Valuer)
}

func projectPerson(exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.BoatLogged:
		return keepNew(exec, b.NewGiver)
	case message.RequestMade:
		return keepNew(exec, b.NewHousehold)
	case message.PersonRegistered:
		return keepPerson(exec, b.Person, b.Sealed)
	case message.PersonChanged:
		return keepPerson(exec, b.Person, b.Sealed)
	case message.PersonErased:
		return exec(`DELETE FROM treasury.person WHERE person = $1`, b.Person)
	}
	return nil
}

func keepNew(exec desk.Executor, n *message.NewPerson) error {
	if n == nil {
		return nil
	}
	return keepPerson(exec, n.Person, n.Sealed)
}

func keepPerson(exec desk.Executor, id people.ID, sealed string) error {
	return exec(`INSERT INTO treasury.person (person, sealed) VALUES ($1, $2) ON CONFLICT (person) DO UPDATE SET sealed = excluded.sealed`, id, sealed)
}

func projectMoney(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.EntryPosted:
		return keepEntry(exec, e, b)
	case message.HoursBooked:
		return exec(`INSERT INTO treasury.hours (boat, entry, worked_on, minutes) VALUES ($1, $2, $3::text::date, $4) ON CONFLICT DO NOTHING`,
			b.Boat, b.Entry, b.On.String(), b.Minutes)
	case message.HoursReversed:
		return exec(`DELETE FROM treasury.hours WHERE boat = $1 AND entry = $2`, b.Boat, b.Entry)
	case message.PaperIssued:
		return keepPaper(exec, e, b)
	case message.PaperCancelled:
		return exec(`UPDATE treasury.paper SET cancelled = $2, cancelled_on = $3::text::date WHERE paper = $1`, b.Paper, b.Why, clock.DateOf(e.RecordedAt).String())
	}
	return nil
}

// keepPaper keeps a paper with the amounts that it states, which stand in the
// rules' decision.
func keepPaper(exec desk.Executor, e message.Event, b message.PaperIssued) error {
	var decision struct {
		Eligible int64
		Papers   []struct {
			Boxes struct {
				Proceeds int64 `json:"4c"`
			}
		}
	}
	if err := json.Unmarshal([]byte(b.Decision), &decision); err != nil {
		return err
	}
	var proceeds int64
	for _, p := range decision.Papers {
		proceeds += p.Boxes.Proceeds
	}
	return exec(`INSERT INTO treasury.paper (paper, position, donor, boat, serial, keep_to, country, issued_on, recorded_on, eligible_minor, proceeds_minor, costs_of)
		VALUES ($1, $2, $3, $4, $5, $6::text::date, $7, $8::text::date, $9::text::date, $10, $11, $12)`,
		b.Paper, e.Position, b.Donor, b.Boat, b.Serial, b.KeepTo.String(), b.Country, b.On.String(), clock.DateOf(e.RecordedAt).String(), decision.Eligible, proceeds, b.CostsOf)
}

func keepEntry(exec desk.Executor, e message.Event, b message.EntryPosted) error {
	err := exec(`INSERT INTO treasury.entry (boat, entry, posted_on, recorded_on, stream, position, words, reverses) VALUES ($1, $2, $3::text::date, $4::text::date, $5, $6, $7, $8)`,
		b.Boat, b.Entry, b.On.String(), clock.DateOf(e.RecordedAt).String(), e.Stream, e.Position, b.Words, b.Reverses)
	if err != nil {
		return err
	}
	for i, l := range b.Lines {
		err := exec(`INSERT INTO treasury.line (boat, entry, number, account, minor, currency, stream, position) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			b.Boat, b.Entry, i, l.Account, l.Amount.Minor, l.Amount.Currency, e.Stream, e.Position)
		if err != nil {
			return err
		}
	}
	return nil
}

// record gives what is known of a boat.
func (s *service) record(ctx context.Context, id boat.ID) (record, error) {
	r := record{boat: id}
	var facts []byte
	var on *time.Time
	err := s.Pool.QueryRow(ctx, `SELECT name, taking, giver, facts, price_minor, price_currency, received_on, state FROM treasury.boat WHERE boat = $1`, id).
		Scan(&r.name, &r.taking, &r.giver, &facts, &r.price.Minor, &r.price.Currency, &on, &r.state)
	if errors.Is(err, pgx.ErrNoRows) {
		return r, desk.Unknown("boat", "the club's book has no boat under this id; log it first")
	}
	if err != nil {
		return r, err
	}
	if on != nil {
		r.received = clock.DateOf(*on)
	}
	return r, json.Unmarshal(facts, &r.facts)
}

// worth gives a boat's newest value on a day, when there is one.
func (s *service) worth(ctx context.Context, id boat.ID, on clock.Date) (w worth, found bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT value, minor, currency, valuer FROM treasury.value
		WHERE boat = $1 AND for_day = $2::text::date ORDER BY position DESC LIMIT 1`, id, on.String()).
		Scan(&w.value, &w.amount.Minor, &w.amount.Currency, &w.valuer)
	if errors.Is(err, pgx.ErrNoRows) {
		return w, false, nil
	}
	return w, err == nil, err
}

// sealedDetails gives what is sealed of a person; empty when nothing is kept.
func (s *service) sealedDetails(ctx context.Context, id people.ID) (string, error) {
	var sealed string
	err := s.Pool.QueryRow(ctx, `SELECT sealed FROM treasury.person WHERE person = $1`, id).Scan(&sealed)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	return sealed, err
}

// nameOf gives a person's name in clear; empty where it is not known, or was erased.
func (s *service) nameOf(ctx context.Context, id people.ID) (string, error) {
	sealed, err := s.sealedDetails(ctx, id)
	if err != nil || sealed == "" {
		return "", err
	}
	var p message.PersonDetails
	err = s.Vault.Unseal(ctx, string(id), message.SealDetails, vault.Sealed(sealed), &p)
	if errors.Is(err, vault.ErrErased) {
		return "", nil
	}
	return p.Name, err
}

// hasRole says whether a member has a role now.
func (s *service) hasRole(ctx context.Context, id people.ID, role people.Role) (has bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM treasury.roster_role WHERE person = $1 AND role = $2)`, id, role).Scan(&has)
	return has, err
}

// issued is a paper as the table knows it.
type issued struct {
	position  int64
	donor     people.ID
	cancelled string // why; empty: it stands
}

const noPaper = "there is no such paper"

func (s *service) issued(ctx context.Context, id string) (p issued, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT position, donor, cancelled FROM treasury.paper WHERE paper = $1`, id).
		Scan(&p.position, &p.donor, &p.cancelled)
	if errors.Is(err, pgx.ErrNoRows) {
		err = desk.Unknown("paper", noPaper)
	}
	return p, err
}

// issuedTo gives the papers of a donor, the oldest first.
func (s *service) issuedTo(ctx context.Context, donor people.ID) ([]issued, error) {
	rows, err := s.Pool.Query(ctx, `SELECT position, donor, cancelled FROM treasury.paper WHERE donor = $1 ORDER BY position`, donor)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (p issued, err error) {
		err = row.Scan(&p.position, &p.donor, &p.cancelled)
		return p, err
	})
}

// pastKeeping gives the papers whose last day of keeping lies before a day.
func (s *service) pastKeeping(ctx context.Context, day clock.Date) ([]string, error) {
	rows, err := s.Pool.Query(ctx, `SELECT paper FROM treasury.paper WHERE keep_to < $1::text::date ORDER BY paper`, day.String())
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}
