package treasury

import (
	"context"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

// statement gives what the accounts came to, as it was known on a day.
func (s *service) statement(ctx context.Context, _ desk.Caller, q message.Statement) (message.Accounts, error) {
	a := message.Accounts{From: q.From, To: q.To, Known: q.Known, Lines: []message.AccountLine{}, Gifts: []message.GiftsOfSort{}, Corrected: []message.ValuesCorrected{}, Costs: []message.CostOfUse{}, Programmes: []message.CostOfProgramme{}, Volunteers: []message.LaidOut{}, Papers: []message.PapersStated{}}
	if err := goodSpan(q); err != nil {
		return a, err
	}
	p, _, err := desk.Load[periods](ctx, s.Log, message.TreasuryBooks)
	if err != nil {
		return a, err
	}
	a.Closed = p.closed
	span := []any{q.From.String(), q.To.String(), knownBy(q.Known)}
	if a.Lines, err = collect(ctx, s, a.Lines, scanAccount, accountsQuery, span...); err != nil {
		return a, err
	}
	if a.Gifts, err = collect(ctx, s, a.Gifts, scanGifts, giftsQuery, append(span, giftAccount)...); err != nil {
		return a, err
	}
	if a.Corrected, err = collect(ctx, s, a.Corrected, scanCorrected, correctedQuery, append(span, giftAccount)...); err != nil {
		return a, err
	}
	if a.Costs, err = collect(ctx, s, a.Costs, scanCost, costsByUse, append(span, spentAccounts)...); err != nil {
		return a, err
	}
	if a.Programmes, err = collect(ctx, s, a.Programmes, scanProgramme, costsByProgramme, append(span, spentAccounts)...); err != nil {
		return a, err
	}
	if a.Volunteers, err = collect(ctx, s, a.Volunteers, scanLaidOut, laidOutQuery, append(span, owed, cash, pockets)...); err != nil {
		return a, err
	}
	if err = s.Pool.QueryRow(ctx, countedQuery, span...).Scan(&a.Counted.There, &a.Counted.Less, &a.Counted.Missing); err != nil {
		return a, err
	}
	a.Papers, err = collect(ctx, s, a.Papers, scanPapers, papersQuery, span...)
	return a, err
}

func collect[T any](ctx context.Context, s *service, into []T, scan pgx.RowToFunc[T], query string, args ...any) ([]T, error) {
	rows, err := s.Pool.Query(ctx, query, args...)
	if err != nil {
		return into, err
	}
	return pgx.AppendRows(into, rows, scan)
}

func goodSpan(q message.Statement) error {
	switch {
	case q.From.IsZero():
		return fault.Field("from", "say from which day on")
	case q.To.Before(q.From):
		return fault.Field("to", "lies before %s, with which the statement begins", q.From)
	}
	return desk.First(desk.Within("from", q.From.Year(), firstYear, lastYear), desk.Within("to", q.To.Year(), firstYear, lastYear))
}

// knownBy is the last day of writing that counts; for now, one that never comes.
func knownBy(d clock.Date) string {
	if d.IsZero() {
		return "infinity"
	}
	return d.String()
}

// accountsQuery leaves out accounts on which nothing was ever posted by then.
const accountsQuery = `
	SELECT account, currency,
		coalesce(sum(minor) FILTER (WHERE posted_on < $1::text::date), 0)::bigint,
		coalesce(sum(minor) FILTER (WHERE posted_on >= $1::text::date), 0)::bigint
	FROM treasury.line JOIN treasury.entry USING (boat, entry)
	WHERE posted_on <= $2::text::date AND recorded_on <= $3::text::date
	GROUP BY account, currency ORDER BY account COLLATE "C", currency`

func scanAccount(row pgx.CollectableRow) (l message.AccountLine, err error) {
	var c money.Currency
	var opening, change int64
	if err = row.Scan(&l.Account, &c, &opening, &change); err != nil {
		return l, err
	}
	l.Opening, l.Change = money.Of(opening, c), money.Of(change, c)
	l.Closing, err = l.Opening.Add(l.Change)
	return l, err
}

// givenQuery sums the entries of the period for each gift where they do not cancel
// out. recent says whether the gift was made in these days: where the books of its day
// were closed, what is learned of its value is posted later.
const givenQuery = `
	WITH given AS (
		SELECT line.boat, currency, sum(minor)::bigint AS minor,
			coalesce(max(received_on) BETWEEN $1::text::date AND $2::text::date, false) AS recent
		FROM treasury.line JOIN treasury.entry USING (boat, entry) JOIN treasury.boat ON boat.boat = line.boat
		WHERE posted_on BETWEEN $1::text::date AND $2::text::date AND recorded_on <= $3::text::date AND account = $4
		GROUP BY line.boat, currency HAVING sum(minor) <> 0
	)`

// giftsQuery tells where the boats were, and to what they were bound, as it was written
// down by then.
const giftsQuery = givenQuery + `
	SELECT facts::jsonb->>'type', currency, count(*), sum(minor)::bigint,
		count(*) FILTER (WHERE at.state = 'placed'), count(*) FILTER (WHERE at.state = 'sold'), count(*) FILTER (WHERE at.state = 'retired'),
		count(*) FILTER (WHERE bound.restriction <> ''), coalesce(array_agg(DISTINCT bound.restriction ORDER BY bound.restriction) FILTER (WHERE bound.restriction <> ''), '{}')
	FROM given JOIN treasury.boat USING (boat)
	LEFT JOIN LATERAL (SELECT state FROM treasury.boat_said s
		WHERE s.boat = given.boat AND s.state IS NOT NULL AND s.recorded_on <= $3::text::date ORDER BY position DESC LIMIT 1) at ON true
	LEFT JOIN LATERAL (SELECT restriction FROM treasury.boat_said s
		WHERE s.boat = given.boat AND s.restriction IS NOT NULL AND s.recorded_on <= $3::text::date ORDER BY position DESC LIMIT 1) bound ON true
	WHERE recent
	GROUP BY 1, 2 ORDER BY 1, 2`

// spentAccounts are what boats cost in money, less what came back.
var spentAccounts = append([]string{costAccount}, workshopAccounts...)

// costsBy parts what boats cost in the period by something that was said of each boat, as
// it was written down by then: a column of boat_said, named as an expression has it.
func costsBy(column, name string) string {
	return `
	SELECT ` + name + `, currency, count(DISTINCT line.boat), sum(minor)::bigint
	FROM treasury.line JOIN treasury.entry USING (boat, entry)
	LEFT JOIN LATERAL (SELECT ` + column + ` FROM treasury.boat_said s
		WHERE s.boat = line.boat AND s.` + column + ` IS NOT NULL AND s.recorded_on <= $3::text::date ORDER BY s.position DESC LIMIT 1) said ON true
	WHERE posted_on BETWEEN $1::text::date AND $2::text::date AND recorded_on <= $3::text::date AND account = ANY($4)
	GROUP BY 1, 2 ORDER BY 1, 2`
}

var (
	// What became of a boat is what it was for.
	costsByUse       = costsBy("state", `CASE said.state WHEN 'placed' THEN 'passed on' WHEN 'sold' THEN 'sold' WHEN 'retired' THEN 'given up' ELSE 'held' END`)
	costsByProgramme = costsBy("programme", `coalesce(said.programme, '') COLLATE "C"`)
)

func scanCost(row pgx.CollectableRow) (u message.CostOfUse, err error) {
	u.Cost, err = scanParted(row, &u.Use, &u.Boats)
	return u, err
}

func scanProgramme(row pgx.CollectableRow) (p message.CostOfProgramme, err error) {
	p.Cost, err = scanParted(row, &p.Programme, &p.Boats)
	return p, err
}

func scanParted(row pgx.CollectableRow, name *string, boats *int) (money.Amount, error) {
	var c money.Currency
	var minor int64
	err := row.Scan(name, &c, boats, &minor)
	return money.Of(minor, c), err
}

const correctedQuery = givenQuery + `
	SELECT currency, count(*), sum(minor)::bigint FROM given WHERE NOT recent GROUP BY 1 ORDER BY 1`

func scanCorrected(row pgx.CollectableRow) (v message.ValuesCorrected, err error) {
	var c money.Currency
	var minor int64
	err = row.Scan(&c, &v.Boats, &minor)
	v.Value = money.Of(minor, c)
	return v, err
}

// How gifts in kind are valued, in the words of ASC 820: from sales of boats like them,
// adjusted for what differs (the level is from memory).
const (
	technique = "market approach"
	level     = 3
)

func scanGifts(row pgx.CollectableRow) (g message.GiftsOfSort, err error) {
	var c money.Currency
	var minor int64
	g.Technique, g.Level = technique, level
	err = row.Scan(&g.Type, &c, &g.Boats, &minor, &g.Placed, &g.Sold, &g.Retired, &g.Restricted, &g.Restrictions)
	g.Value, g.Held = money.Of(minor, c), g.Boats-g.Placed-g.Sold-g.Retired
	return g, err
}

// papersQuery goes by the day on which papers were issued. Of a paper that is
// cancelled only the number counts, from the day on which that was written down.
const papersQuery = `
	SELECT country, count(*), count(*) FILTER (WHERE void),
		coalesce(sum(eligible_minor) FILTER (WHERE NOT void), 0)::bigint, coalesce(sum(proceeds_minor) FILTER (WHERE NOT void), 0)::bigint
	FROM (SELECT *, coalesce(cancelled_on <= $3::text::date, false) AS void FROM treasury.paper) AS paper
	WHERE issued_on BETWEEN $1::text::date AND $2::text::date AND recorded_on <= $3::text::date
	GROUP BY country ORDER BY country`

func scanPapers(row pgx.CollectableRow) (p message.PapersStated, err error) {
	var eligible, proceeds int64
	err = row.Scan(&p.Country, &p.Issued, &p.Cancelled, &eligible, &proceeds)
	c := taxpaper.Currency(p.Country)
	p.Eligible, p.Proceeds = money.Of(eligible, c), money.Of(proceeds, c)
	return p, err
}
