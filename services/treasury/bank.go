package treasury

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/bankrows"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// bankRow is what a row's stream adds up to.
type bankRow struct {
	read    *message.BankRowRead
	matched *message.Posting
	aside   bool
}

// Fold adds an event.
func (r *bankRow) Fold(_ message.Event, body message.Body) {
	switch b := body.(type) {
	case message.BankRowRead:
		r.read = &b
	case message.BankRowMatched:
		r.matched = &b.Posting
	case message.BankRowSetAside:
		r.aside = true
	case message.BankRowFreed:
		r.matched, r.aside = nil, false
	}
}

// posting is what a posting's stream adds up to.
type posting struct{ row string }

// Fold adds an event.
func (p *posting) Fold(_ message.Event, body message.Body) {
	switch b := body.(type) {
	case message.BankRowMatched:
		p.row = b.Row
	case message.BankRowFreed:
		p.row = ""
	}
}

// readBank says each row of a file that was not read before.
func (s *service) readBank(ctx context.Context, o desk.Order[message.ReadBank]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	currency, err := s.Currency(ctx)
	if err != nil {
		return d, err
	}
	told := bankrows.Told{Decimal: bankrows.Decimal(c.Decimal), Order: bankrows.Order(c.Order), Digits: currency.Digits()}
	if err := goodTold(told); err != nil {
		return d, err
	}
	rows, err := bankrows.Read([]byte(c.File), told)
	if err != nil {
		return d, err
	}
	ids := s.rowIDs(rows, currency)
	known, err := s.knownRows(ctx, ids)
	if err != nil {
		return d, err
	}
	for i, r := range rows {
		if r.On.After(o.Today()) {
			return d, fault.Field("file", "line %d: the day lies in the future; say whether the day or the month comes first, or mend the file", r.Line)
		}
		if known[ids[i]] {
			continue
		}
		sealed, err := s.Vault.Seal(ctx, message.BankKey(r.On), message.SealBank, message.BankWords{Text: r.Text, Reference: r.Reference})
		if err != nil {
			return d, err
		}
		stream := message.TreasuryBankRow(ids[i])
		d.Expect = append(d.Expect, ledger.Expected{Stream: stream})
		if err := d.Say(stream, "", message.BankRowRead{Row: ids[i], On: r.On, Amount: money.Of(r.Minor, currency), Sealed: string(sealed)}); err != nil {
			return d, err
		}
	}
	return d, nil
}

func goodTold(told bankrows.Told) error {
	switch {
	case told.Decimal != "" && told.Decimal != bankrows.Comma && told.Decimal != bankrows.Point:
		return fault.Field("decimal", "is comma or point, or left empty")
	case told.Order != "" && told.Order != bankrows.DayFirst && told.Order != bankrows.MonthFirst:
		return fault.Field("order", "is day first or month first, or left empty")
	}
	return nil
}

// rowIDs names rows by what they say, blinded, so that a row is the same in whatever file
// it stands. Rows of one file that say the same are told apart by their order.
func (s *service) rowIDs(rows []bankrows.Row, currency money.Currency) []string {
	ids := make([]string, len(rows))
	seen := map[string]int{}
	for i, r := range rows {
		says := fmt.Sprintf("%s\n%d %s\n%s\n%s", r.On, r.Minor, currency, r.Text, r.Reference)
		seen[says]++
		ids[i] = s.Vault.Blind("bank-row", fmt.Sprintf("%s\n%d", says, seen[says]))
	}
	return ids
}

// knownRows gives which rows were read before.
func (s *service) knownRows(ctx context.Context, ids []string) (map[string]bool, error) {
	rows, err := s.Pool.Query(ctx, `SELECT row_id FROM treasury.bank_row WHERE row_id = ANY($1)`, ids)
	if err != nil {
		return nil, err
	}
	found, err := pgx.CollectRows(rows, pgx.RowTo[string])
	known := map[string]bool{}
	for _, id := range found {
		known[id] = true
	}
	return known, err
}

// openRow gives a row of which nothing was decided yet.
func (s *service) openRow(ctx context.Context, id string) (r bankRow, at ledger.Expected, err error) {
	if r, at, err = s.row(ctx, id); err != nil {
		return r, at, err
	}
	switch {
	case r.matched != nil:
		err = desk.Conflict("row", "this row is matched already; take that back first")
	case r.aside:
		err = desk.Conflict("row", "this row was set aside; take that back first")
	}
	return r, at, err
}

func (s *service) row(ctx context.Context, id string) (r bankRow, at ledger.Expected, err error) {
	if err = desk.GoodID("row", id); err != nil {
		return r, at, err
	}
	r, at, err = desk.Load[bankRow](ctx, s.Log, message.TreasuryBankRow(id))
	if err == nil && r.read == nil {
		err = desk.Unknown("row", "no such row was read from the bank's files; choose one on the page “The bank’s list”")
	}
	return r, at, err
}

// matchBankRow says in both streams that a row is a posting.
func (s *service) matchBankRow(ctx context.Context, o desk.Order[message.MatchBankRow]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	r, at, err := s.openRow(ctx, c.Row)
	if err != nil {
		return d, err
	}
	moved, err := s.cashOf(ctx, c.Posting)
	if err != nil {
		return d, err
	}
	if moved != r.read.Amount {
		return d, desk.Conflict("entry", "the bank says %s, the entry %s; choose an entry of the same amount, or set the row aside", r.read.Amount, moved)
	}
	p, also, err := desk.Load[posting](ctx, s.Log, message.TreasuryPosting(c.Posting))
	if err == nil && p.row != "" {
		err = desk.Conflict("entry", "this entry is matched with another row already; take that back first, or choose another entry")
	}
	if err != nil {
		return d, err
	}
	d.Expect = []ledger.Expected{at, also}
	said := message.BankRowMatched{Row: c.Row, Posting: c.Posting}
	if err := d.Say(at.Stream, c.Boat, said); err != nil {
		return d, err
	}
	return d, d.Say(also.Stream, "", said)
}

// maxEntry bounds the name of an entry: a bin's holds two ids.
const maxEntry = 200

// cashOf gives what an entry moved on the account of cash.
func (s *service) cashOf(ctx context.Context, p message.Posting) (money.Amount, error) {
	err := desk.First(desk.Needed("entry", p.Entry, "say which entry"), desk.OneLine("entry", p.Entry, maxEntry))
	if err == nil && p.Boat != "" {
		err = desk.GoodID("boat", p.Boat)
	}
	if err != nil {
		return money.Amount{}, err
	}
	var moved money.Amount
	err = s.Pool.QueryRow(ctx, `SELECT sum(minor)::bigint, currency FROM treasury.line WHERE boat = $1 AND entry = $2 AND account = $3 GROUP BY currency LIMIT 1`, p.Boat, p.Entry, cash).
		Scan(&moved.Minor, &moved.Currency)
	if errors.Is(err, pgx.ErrNoRows) {
		return moved, desk.Unknown("entry", "no such entry moves cash in the books; choose one of those that the page lists")
	}
	return moved, err
}

func (s *service) setBankRowAside(ctx context.Context, o desk.Order[message.SetBankRowAside]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(desk.Needed("why", c.Why, "say what the row is"), desk.OneLine("why", c.Why, maxWords))
	if err != nil {
		return desk.Decision{}, err
	}
	_, at, err := s.openRow(ctx, c.Row)
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", message.BankRowSetAside{Row: c.Row, Why: c.Why})
}

func (s *service) freeBankRow(ctx context.Context, o desk.Order[message.FreeBankRow]) (desk.Decision, error) {
	r, at, err := s.row(ctx, o.Command.Row)
	if err == nil && r.matched == nil && !r.aside {
		err = desk.Conflict("row", "nothing was decided about this row")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.BankRowFreed{Row: o.Command.Row, Posting: r.matched}
	d, err := desk.SayAt(at, "", said)
	if err != nil || r.matched == nil {
		return d, err
	}
	_, also, err := desk.Load[posting](ctx, s.Log, message.TreasuryPosting(*r.matched))
	if err != nil {
		return d, err
	}
	d.Expect = append(d.Expect, also)
	return d, d.Say(also.Stream, "", said)
}

// mostListed bounds each side of the list.
const mostListed = 500

// bankList gives both sides of the bank account.
func (s *service) bankList(ctx context.Context, by desk.Caller, q message.BankList) (message.BankMatches, error) {
	list := message.BankMatches{From: q.From, To: q.To, Proposed: []message.BankPair{}, Matched: []message.BankPair{}, Rows: []message.BankRow{}, Postings: []message.CashPosting{}, Aside: []message.BankRow{}}
	err := goodSpan(message.Statement{From: q.From, To: q.To})
	if q.Row != "" {
		err = desk.GoodID("row", q.Row)
	}
	if err != nil {
		return list, err
	}
	rows, matched, err := s.bankRows(ctx, q, by.Actor.Room == desk.AtMachine || by.Has(people.Treasurer))
	if err != nil {
		return list, err
	}
	amount := money.Amount{} // any
	if q.Row != "" {
		if len(rows) == 0 {
			return list, desk.Unknown("row", "there is no such row")
		}
		list.From, list.To, amount = rows[0].On.AddMonths(-12), rows[0].On.AddMonths(12), rows[0].Amount
	}
	postings, err := s.cashPostings(ctx, list.From, list.To, amount)
	if err != nil {
		return list, err
	}
	list.More = len(rows) > mostListed || len(postings) > mostListed
	var open []message.BankRow
	for i, r := range rows[:min(len(rows), mostListed)] {
		switch p := matched[i]; {
		case p.Entry != "":
			list.Matched = append(list.Matched, message.BankPair{Row: r, Posting: p})
		case r.Why != "":
			list.Aside = append(list.Aside, r)
		default:
			open = append(open, r)
		}
	}
	pairs, restRows, restPostings := propose(open, postings[:min(len(postings), mostListed)])
	list.Proposed = append(list.Proposed, pairs...)
	list.Rows = append(list.Rows, restRows...)
	list.Postings = append(list.Postings, restPostings...)
	return list, nil
}

// bankRows gives one row, or those of a span of days, each with the posting that it was matched with.
func (s *service) bankRows(ctx context.Context, q message.BankList, words bool) ([]message.BankRow, []message.CashPosting, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT row_id, on_day::text, bank_row.minor, bank_row.currency, sealed, aside, bank_row.boat, bank_row.entry, coalesce(posted_on::text, ''), coalesce(words, '')
		FROM treasury.bank_row LEFT JOIN treasury.entry ON entry.boat = bank_row.boat AND entry.entry = bank_row.entry AND bank_row.entry <> ''
		WHERE row_id = $4 OR $4 = '' AND on_day BETWEEN nullif($1, '')::date AND nullif($2, '')::date ORDER BY on_day, row_id LIMIT $3`, q.From.String(), q.To.String(), mostListed+1, q.Row)
	if err != nil {
		return nil, nil, err
	}
	var list []message.BankRow
	var sealed []string
	var matched []message.CashPosting
	var r message.BankRow
	var p message.CashPosting
	var on, posted, box string
	_, err = pgx.ForEachRow(rows, []any{&r.Row, &on, &r.Amount.Minor, &r.Amount.Currency, &box, &r.Why, &p.Boat, &p.Entry, &posted, &p.Words}, func() (err error) {
		next, with := r, p
		if next.On, err = clock.ParseDate(on); err != nil {
			return err
		}
		if posted != "" {
			if with.On, err = clock.ParseDate(posted); err != nil {
				return err
			}
		}
		with.Amount = next.Amount
		list, matched, sealed = append(list, next), append(matched, with), append(sealed, box)
		return nil
	})
	for i := 0; err == nil && words && i < len(list); i++ {
		err = s.Vault.Unseal(ctx, message.BankKey(list[i].On), message.SealBank, vault.Sealed(sealed[i]), &list[i].BankWords)
		if errors.Is(err, vault.ErrErased) {
			err = nil
		}
	}
	return list, matched, err
}

// cashPostings gives what the books moved on the account of cash in a span of days and no
// row was matched with, of one amount or, where that is empty, of any. What was taken back, and by what, never came to the bank.
func (s *service) cashPostings(ctx context.Context, from, to clock.Date, amount money.Amount) ([]message.CashPosting, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT l.boat, l.entry, e.posted_on::text, sum(l.minor)::bigint, l.currency, e.words
		FROM treasury.line l JOIN treasury.entry e USING (boat, entry)
		WHERE l.account = $3 AND e.posted_on BETWEEN $1::text::date AND $2::text::date
		  AND NOT EXISTS (SELECT FROM treasury.bank_row b WHERE b.boat = l.boat AND b.entry = l.entry AND b.entry <> '')
		  AND e.reverses = '' AND NOT EXISTS (SELECT FROM treasury.entry r WHERE r.stream = e.stream AND r.reverses = e.entry)
		GROUP BY l.boat, l.entry, e.posted_on, l.currency, e.words HAVING sum(l.minor) <> 0 AND ($6 = '' OR sum(l.minor) = $5 AND l.currency = $6)
		ORDER BY e.posted_on, l.boat, l.entry LIMIT $4`, from.String(), to.String(), cash, mostListed+1, amount.Minor, string(amount.Currency))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (p message.CashPosting, err error) {
		var on string
		if err = row.Scan(&p.Boat, &p.Entry, &on, &p.Amount.Minor, &p.Amount.Currency, &p.Words); err == nil {
			p.On, err = clock.ParseDate(on)
		}
		return p, err
	})
}

// projectBank keeps the bank's rows.
func projectBank(exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.BankRowRead:
		return exec(`INSERT INTO treasury.bank_row (row_id, on_day, minor, currency, sealed) VALUES ($1, $2::text::date, $3, $4, $5) ON CONFLICT DO NOTHING`,
			b.Row, b.On.String(), b.Amount.Minor, b.Amount.Currency, b.Sealed)
	case message.BankRowMatched:
		return exec(`UPDATE treasury.bank_row SET boat = $2, entry = $3 WHERE row_id = $1`, b.Row, b.Boat, b.Entry)
	case message.BankRowSetAside:
		return exec(`UPDATE treasury.bank_row SET aside = $2 WHERE row_id = $1`, b.Row, b.Why)
	case message.BankRowFreed:
		return exec(`UPDATE treasury.bank_row SET boat = '', entry = '', aside = '' WHERE row_id = $1`, b.Row)
	}
	return nil
}
