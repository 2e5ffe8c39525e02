package treasury

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// accountSorts are the five sorts of accounts by which tools part balance sheet
// and income statement: asset, liability, revenue, expense. An account that is not
// here gets none.
var accountSorts = map[string]string{
	cash: "A", stock: "A", owed: "L", sales: "R", contributed: "R", partsGiven: "R", pockets: "R",
	costAccount: "X", parts: "X", outside: "X", fees: "X", volunteerCosts: "X", boatVolunteer: "X", recovered: "X", giftAccount: "X", losses: "X", boatLosses: "X", writtenDown: "X",
}

// posted is an entry as the journal writes it.
type posted struct {
	boat, entry, words string
	on                 clock.Date
	lines              []message.EntryLine
}

// journal writes every entry of a year in the plain-text notation for
// double entry that open-source accounting tools read: a date, a code, words, and
// an indented line for each account with two blanks before the amount.
func (s *service) journal(ctx context.Context, year int) ([]byte, error) {
	entries, err := s.postedIn(ctx, clock.NewDate(year, 1, 1), clock.NewDate(year, 12, 31))
	if err != nil {
		return nil, err
	}
	return []byte(journalOf(year, entries)), nil
}

func journalOf(year int, entries []posted) string {
	var b strings.Builder
	fmt.Fprintf(&b, "; Every entry of %d, by the day on which it is posted. Debits are positive.\n", year)
	b.WriteString("; Volunteers' hours are not money and are not here. No tax advice: an adviser decides what goes where in a return.\n\n")
	var currencies []money.Currency
	var accounts []string
	for _, e := range entries {
		for _, l := range e.lines {
			currencies, accounts = append(currencies, l.Amount.Currency), append(accounts, l.Account)
		}
	}
	for _, c := range distinct(currencies) {
		fmt.Fprintf(&b, "commodity %s\n    format %s\n", c, formatOf(c))
	}
	for _, account := range distinct(accounts) {
		fmt.Fprintf(&b, "account %s\n", account)
		if sort := accountSorts[account]; sort != "" {
			fmt.Fprintf(&b, "    ; type: %s\n", sort)
		}
	}
	for _, e := range entries {
		fmt.Fprintf(&b, "\n%s * (%s) %s\n", e.on, e.entry, plain(e.words))
		if e.boat != "" {
			fmt.Fprintf(&b, "    ; boat: %s\n", e.boat)
		}
		for _, l := range e.lines {
			fmt.Fprintf(&b, "    %-24s  %s %s\n", l.Account, l.Amount.Number(), l.Amount.Currency)
		}
	}
	return b.String()
}

// formatOf shows how many digits a currency has. Without any a point still stands
// there, as it says which character is the decimal mark.
func formatOf(c money.Currency) string {
	return "1000." + strings.Repeat("0", c.Digits()) + " " + string(c)
}

func distinct[T ~string](all []T) []T {
	slices.Sort(all)
	return slices.Compact(all)
}

// plain keeps words to one line, without what the notation gives a meaning: a
// semicolon begins a remark, a bar parts a payee.
func plain(words string) string {
	return strings.Join(strings.Fields(strings.NewReplacer(";", ",", "|", "/").Replace(words)), " ")
}

// postedIn gives the entries of a span of days, in the book's order on each day.
func (s *service) postedIn(ctx context.Context, from, to clock.Date) ([]posted, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT boat, entry, words, posted_on::text, account, minor, currency
		FROM treasury.entry JOIN treasury.line USING (boat, entry)
		WHERE posted_on BETWEEN $1::text::date AND $2::text::date
		ORDER BY posted_on, entry.position, boat, entry, number`, from.String(), to.String())
	if err != nil {
		return nil, err
	}
	var entries []posted
	var p posted
	var on, account string
	var minor int64
	var c money.Currency
	_, err = pgx.ForEachRow(rows, []any{&p.boat, &p.entry, &p.words, &on, &account, &minor, &c}, func() error {
		if n := len(entries); n == 0 || entries[n-1].boat != p.boat || entries[n-1].entry != p.entry {
			next := p
			if next.on, err = clock.ParseDate(on); err != nil {
				return err
			}
			entries = append(entries, next)
		}
		last := &entries[len(entries)-1]
		last.lines = append(last.lines, message.EntryLine{Account: account, Amount: money.Of(minor, c)})
		return nil
	})
	return entries, err
}
