package treasury

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// boatAccounts begin with this: what a boat's book comes to is their sum.
const boatAccounts = "boat:"

// carried is what a boat's book comes to in a currency.
func (b *book) carried(c money.Currency) (money.Amount, error) {
	sum := money.Of(0, c)
	for _, e := range b.entries {
		for _, l := range e.Lines {
			if l.Amount.Currency != c || !strings.HasPrefix(l.Account, boatAccounts) {
				continue
			}
			var err error
			if sum, err = sum.Add(l.Amount); err != nil {
				return sum, err
			}
		}
	}
	return sum, nil
}

// writtenDown is by how much a boat stands written down, in a currency.
func (b *book) writtenDown(c money.Currency) money.Amount {
	sum := money.Of(0, c)
	for _, e := range b.entries {
		for _, l := range e.Lines {
			if l.Account == writtenDown && l.Amount.Currency == c {
				sum.Minor -= l.Amount.Minor
			}
		}
	}
	return sum
}

// count decides what a count says and what it means in the books.
func (b *book) count(c message.CountBoat, r record, club money.Currency, today clock.Date) (message.BoatCounted, []message.EntryPosted, error) {
	said := message.BoatCounted{Boat: c.Boat, Count: c.Count, On: c.On, Found: c.Found, Words: c.Words}
	err := desk.First(
		desk.GoodID("count", c.Count),
		boat.Known("found", c.Found, message.Founds),
		desk.Past("on", c.On, today),
		desk.OneLine("words", c.Words, maxWords),
		b.forSale(r),
	)
	switch {
	case err != nil:
	case c.On.Before(r.received):
		err = fault.Field("on", "lies before the day on which the club received the boat, %s", r.received)
	case b.counted[c.Count]:
		err = desk.Conflict("count", "this count was written down already")
	case c.Found != message.FoundLess && !c.Worth.IsZero():
		err = fault.Field("worth", "is for a boat that is there and worth less")
	case c.Found != message.FoundThere && strings.TrimSpace(c.Words) == "":
		err = fault.Field("words", "say what happened")
	}
	if err != nil {
		return said, nil, err
	}
	carried, err := b.carried(club)
	if err != nil {
		return said, nil, err
	}
	down := money.Of(0, club) // by how much the boat is written down by this count
	switch c.Found {
	case message.FoundThere:
		down.Minor = -b.writtenDown(club).Minor // found again
	case message.FoundMissing:
		down.Minor = max(carried.Minor, 0)
	case message.FoundLess:
		if err := desk.ClubMoney("worth", c.Worth, club); err != nil {
			return said, nil, err
		}
		said.Worth = money.Of(c.Worth.Minor, club)
		whole := money.Of(carried.Minor+b.writtenDown(club).Minor, club)
		if down.Minor = carried.Minor - c.Worth.Minor; c.Worth.Minor > whole.Minor {
			return said, nil, fault.Field("worth", "is more than the %s that the boat's book comes to; a boat is never written up beyond that", whole)
		}
	}
	if down.IsZero() {
		return said, nil, nil
	}
	words := r.name + " counted: " + string(c.Found)
	if down.Minor < 0 {
		words = r.name + " found again"
	}
	return said, []message.EntryPosted{entry(c.Boat, "counted-"+c.Count, c.On, words, boatLosses, writtenDown, down)}, nil
}

func (s *service) countBoat(ctx context.Context, o desk.Order[message.CountBoat]) (desk.Decision, error) {
	r, b, at, err := s.open(ctx, o.Command.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	said, entries, err := b.count(o.Command, r, club, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	said.By = o.Actor.Person
	d := desk.Decision{Expect: []ledger.Expected{at}}
	if err := d.Say(at.Stream, said.Boat, said); err != nil {
		return d, err
	}
	return d, s.sayEntries(ctx, &d, at.Stream, entries)
}

// boatStock lists the boats that the books held at a year's end, or hold now in the year that
// runs: those received by then that had not gone by then, as far as it was written down or
// by the day of their sale.
func (s *service) boatStock(ctx context.Context, _ desk.Caller, q message.BoatStock) (message.HeldBoats, error) {
	held := message.HeldBoats{Year: q.Year, Boats: []message.HeldBoat{}}
	if err := desk.Within("year", q.Year, firstYear, lastYear); err != nil {
		return held, err
	}
	rows, err := s.Pool.Query(ctx, `
		SELECT b.boat, b.name, b.facts::jsonb->>'type', coalesce(c.on_day::text, ''), coalesce(c.found, ''), coalesce(c.words, ''),
			ARRAY(SELECT currency FROM treasury.line JOIN treasury.entry USING (boat, entry) WHERE boat = b.boat AND account LIKE $4 AND posted_on <= $2::text::date GROUP BY currency HAVING sum(minor) <> 0 ORDER BY currency),
			ARRAY(SELECT sum(minor)::bigint FROM treasury.line JOIN treasury.entry USING (boat, entry) WHERE boat = b.boat AND account LIKE $4 AND posted_on <= $2::text::date GROUP BY currency HAVING sum(minor) <> 0 ORDER BY currency)
		FROM treasury.boat b
		LEFT JOIN LATERAL (SELECT on_day, found, words FROM treasury.boat_count
			WHERE boat = b.boat AND on_day BETWEEN $1::text::date AND $2::text::date ORDER BY position DESC LIMIT 1) c ON true
		LEFT JOIN LATERAL (SELECT state FROM treasury.boat_said s
			WHERE s.boat = b.boat AND s.state IS NOT NULL AND s.recorded_on <= $2::text::date ORDER BY position DESC LIMIT 1) at ON true
		LEFT JOIN treasury.gift g ON g.boat = b.boat
		WHERE b.received_on <= $2::text::date AND coalesce(at.state, $3) = $3
			AND coalesce(g.doc->'sold'->>'on' > $2, true)
		ORDER BY b.name, b.boat`,
		clock.NewDate(q.Year, 1, 1).String(), clock.NewDate(q.Year, 12, 31).String(), received, boatAccounts+"%")
	if err != nil {
		return held, err
	}
	held.Boats, err = pgx.AppendRows(held.Boats, rows, func(row pgx.CollectableRow) (b message.HeldBoat, err error) {
		var on string
		var currencies []money.Currency
		var sums []int64
		if err = row.Scan(&b.Boat, &b.Name, &b.Type, &on, &b.Found, &b.Words, &currencies, &sums); err != nil {
			return b, err
		}
		b.Carried = []money.Amount{}
		for i, c := range currencies {
			b.Carried = append(b.Carried, money.Of(sums[i], c))
		}
		if on != "" {
			b.On, err = clock.ParseDate(on)
		}
		return b, err
	})
	return held, err
}

// countedQuery counts by the day on which boats were looked for; a boat that was counted
// twice in the period counts as it was found last.
const countedQuery = `
	SELECT count(*) FILTER (WHERE found = 'there'), count(*) FILTER (WHERE found = 'there, worth less'), count(*) FILTER (WHERE found = 'missing')
	FROM (SELECT DISTINCT ON (boat) found FROM treasury.boat_count
		WHERE on_day BETWEEN $1::text::date AND $2::text::date AND recorded_on <= $3::text::date ORDER BY boat, position DESC) AS newest`

// projectCount keeps how boats were found.
func projectCount(exec desk.Executor, e message.Event, body message.Body) error {
	b, ok := body.(message.BoatCounted)
	if !ok {
		return nil
	}
	return exec(`INSERT INTO treasury.boat_count (boat, count, position, on_day, recorded_on, found, words) VALUES ($1, $2, $3, $4::text::date, $5::text::date, $6, $7) ON CONFLICT DO NOTHING`,
		b.Boat, b.Count, e.Position, b.On.String(), clock.DateOf(e.RecordedAt).String(), b.Found, b.Words)
}
