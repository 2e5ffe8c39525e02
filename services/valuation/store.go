package valuation

import (
	"context"
	"encoding/json"
	"errors"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// mostSales bounds the sales that one value looks at, so that its record stays
// within the bounds of an event: those nearest in time.
const mostSales = 1000

// project keeps the room's tables.
func project(ctx context.Context, tx pgx.Tx, _ message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	switch b := body.(type) {
	case message.BoatLogged:
		f := b.Facts
		return exec(`INSERT INTO valuation.boat (boat, giver, type, seats, length_mm, material, year_built, grade) VALUES ($1, $2, $3, $4, $5, $6, $7, 0)
			ON CONFLICT (boat) DO NOTHING`, b.Boat, b.Giver, f.Type, f.Seats, f.LengthMM, f.Material, f.YearBuilt)
	case message.FactsCorrected:
		f := b.Facts
		return exec(`UPDATE valuation.boat SET type = $2, seats = $3, length_mm = $4, material = $5, year_built = $6 WHERE boat = $1`,
			b.Boat, f.Type, f.Seats, f.LengthMM, f.Material, f.YearBuilt)
	case message.LookOverFinished:
		return keepLook(exec, b)
	case message.BoatReady:
		return exec(`UPDATE valuation.boat SET grade = $2 WHERE boat = $1`, b.Boat, b.Grade)
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

func keepLook(exec desk.Executor, b message.LookOverFinished) error {
	err := exec(`UPDATE valuation.boat SET grade = $2 WHERE boat = $1`, b.Boat, b.Grade)
	if err == nil {
		err = exec(`INSERT INTO valuation.look_over (boat, estimate, first, second, in_both) VALUES ($1, false, 0, 0, 0) ON CONFLICT DO NOTHING`, b.Boat)
	}
	if err == nil && b.Estimate != nil {
		err = exec(`UPDATE valuation.look_over SET estimate = $2, first = $3, second = $4, in_both = $5 WHERE boat = $1`,
			b.Boat, b.Estimate.Shown, b.Estimate.First, b.Estimate.Second, b.Estimate.Both)
	}
	return err
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
	err = s.Pool.QueryRow(ctx, `SELECT giver, type, seats, length_mm, material, year_built, grade FROM valuation.boat WHERE boat = $1`, id).
		Scan(&h.giver, &h.kind, &h.seats, &h.lengthMM, &h.material, &h.yearBuilt, &h.grade)
	if errors.Is(err, pgx.ErrNoRows) {
		err = desk.Unknown("boat", "the club's book has no boat under this id; log it first")
	}
	return h, err
}

// looked gives what look-overs of a boat came to.
func (s *service) looked(ctx context.Context, id boat.ID) (l looked, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT estimate, first, second, in_both FROM valuation.look_over WHERE boat = $1`, id).
		Scan(&l.estimate, &l.first, &l.second, &l.both)
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
