package treasury

import (
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// The years that totals are given for.
const firstYear, lastYear = 1950, 2999

// yearTotals gives a year's boats with what each cost and fetched, by the days
// that the entries carry.
func (s *service) yearTotals(ctx context.Context, _ desk.Caller, q message.YearTotals) (message.Totals, error) {
	totals := message.Totals{Year: q.Year, Boats: []message.BoatTotal{}}
	if err := desk.Within("year", q.Year, firstYear, lastYear); err != nil {
		return totals, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return totals, err
	}
	if totals.Boats, err = s.boatsOf(ctx, q.Year, club); err != nil {
		return totals, err
	}
	totals.Sum, err = sumOf(totals.Boats, club)
	return totals, err
}

// sumOf adds up the rows of one currency, and all volunteers' time in them.
func sumOf(rows []message.BoatTotal, currency money.Currency) (message.BoatTotal, error) {
	sum := nothing(currency)
	for _, row := range rows {
		if row.Cost.Currency != currency {
			continue
		}
		for _, add := range []struct {
			to   *money.Amount
			what money.Amount
		}{
			{&sum.Paid, row.Paid}, {&sum.Parts, row.Parts}, {&sum.Cost, row.Cost}, {&sum.Fetched, row.Fetched}, {&sum.GiftedAt, row.GiftedAt},
		} {
			total, err := add.to.Add(add.what)
			if err != nil {
				return sum, err
			}
			*add.to = total
		}
		sum.Minutes += row.Minutes
	}
	return sum, nil
}

func nothing(c money.Currency) message.BoatTotal {
	zero := money.Of(0, c)
	return message.BoatTotal{Paid: zero, Parts: zero, Cost: zero, Fetched: zero, GiftedAt: zero}
}

// boatsOf gives a row for each boat that came, cost, fetched or was worked on in
// a year; one for each currency where there are several. Time stands in the row
// of the club's currency, or else in the first.
func (s *service) boatsOf(ctx context.Context, year int, club money.Currency) ([]message.BoatTotal, error) {
	from, to := clock.NewDate(year, 1, 1).String(), clock.NewDate(year, 12, 31).String()
	rows, err := s.Pool.Query(ctx, `
		WITH spent AS (
			SELECT line.boat, currency,
				coalesce(sum(minor) FILTER (WHERE account = $4), 0)::bigint AS paid,
				coalesce(sum(minor) FILTER (WHERE account = ANY($5)), 0)::bigint AS parts,
				coalesce(-sum(minor) FILTER (WHERE account = $6), 0)::bigint AS fetched,
				coalesce(sum(minor) FILTER (WHERE account = $7), 0)::bigint AS gifted
			FROM treasury.line JOIN treasury.entry USING (boat, entry)
			WHERE posted_on BETWEEN $1::text::date AND $2::text::date GROUP BY line.boat, currency
		), worked AS (
			SELECT boat, sum(minutes)::bigint AS minutes FROM treasury.hours WHERE worked_on BETWEEN $1::text::date AND $2::text::date GROUP BY boat
		), involved AS (
			SELECT boat, currency, paid, parts, fetched, gifted FROM spent
			UNION ALL
			SELECT boat, $3, 0, 0, 0, 0 FROM treasury.boat
			WHERE (received_on BETWEEN $1::text::date AND $2::text::date OR boat IN (SELECT boat FROM worked))
			  AND boat NOT IN (SELECT boat FROM spent)
		)
		SELECT boat, name, state, currency, paid, parts, fetched, gifted,
			CASE WHEN row_number() OVER (PARTITION BY boat ORDER BY currency <> $3, currency) = 1 THEN coalesce(minutes, 0) ELSE 0 END
		FROM involved JOIN treasury.boat USING (boat) LEFT JOIN worked USING (boat)
		ORDER BY name, boat, currency <> $3, currency`, from, to, club, costAccount, workshopAccounts, sales, giftAccount)
	if err != nil {
		return nil, err
	}
	return pgx.AppendRows([]message.BoatTotal{}, rows, scanTotal)
}

func scanTotal(row pgx.CollectableRow) (t message.BoatTotal, err error) {
	var c money.Currency
	var id boat.ID
	var paid, spent, fetched, gifted int64
	if err = row.Scan(&id, &t.Name, &t.State, &c, &paid, &spent, &fetched, &gifted, &t.Minutes); err != nil {
		return t, err
	}
	t.Boat = id
	t.Paid, t.Parts, t.Fetched, t.GiftedAt = money.Of(paid, c), money.Of(spent, c), money.Of(fetched, c), money.Of(gifted, c)
	t.Cost, err = t.Paid.Add(t.Parts)
	return t, err
}

// journalFormat is every entry of the year as text, not a table of boats.
const journalFormat = "journal"

// exportYear gives the same as a file, or the year's entries.
func (s *service) exportYear(ctx context.Context, by desk.Caller, q message.ExportYear) (message.Export, error) {
	if q.Format == journalFormat {
		if err := desk.Within("year", q.Year, firstYear, lastYear); err != nil {
			return message.Export{}, err
		}
		file, err := s.journal(ctx, q.Year)
		return message.Export{Name: fmt.Sprintf("books-%d.journal", q.Year), File: file}, err
	}
	write := map[string]func([]block) ([]byte, error){"csv": writeCSV, "xlsx": writeXLSX}[q.Format]
	if write == nil {
		return message.Export{}, boat.Known("format", q.Format, []string{"csv", "xlsx", journalFormat})
	}
	totals, err := s.yearTotals(ctx, by, message.YearTotals{Year: q.Year})
	if err != nil {
		return message.Export{}, err
	}
	blocks, err := blocksOf(totals)
	if err != nil {
		return message.Export{}, err
	}
	file, err := write(blocks)
	return message.Export{Name: fmt.Sprintf("boats-%d.%s", q.Year, q.Format), File: file}, err
}

// block is the rows of one currency, with their sum.
type block struct {
	currency money.Currency
	rows     []message.BoatTotal
	sum      message.BoatTotal
}

// blocksOf parts the rows by currency, the club's first: unlike amounts are
// never added. There is always the club's own block, empty or not.
func blocksOf(t message.Totals) ([]block, error) {
	currencies := []money.Currency{t.Sum.Cost.Currency}
	for _, row := range t.Boats {
		if !slices.Contains(currencies, row.Cost.Currency) {
			currencies = append(currencies, row.Cost.Currency)
		}
	}
	var blocks []block
	for _, c := range currencies {
		b := block{currency: c}
		for _, row := range t.Boats {
			if row.Cost.Currency == c {
				b.rows = append(b.rows, row)
			}
		}
		var err error
		if b.sum, err = sumOf(b.rows, c); err != nil {
			return nil, err
		}
		blocks = append(blocks, b)
	}
	return blocks, nil
}
