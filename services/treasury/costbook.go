package treasury

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

const (
	// entriesOfPage is how many entries a page of a cost book has.
	entriesOfPage = 100
	// owedOfPage is how many debts are named; the account says what all come to.
	owedOfPage = 100
	// mostPages is far beyond the longest stream.
	mostPages = 100_000
)

// costBook gives a page of a boat's entries and what each account comes to.
func (s *service) costBook(ctx context.Context, _ desk.Caller, q message.CostBook) (message.BoatBook, error) {
	if err := desk.GoodID("boat", q.Boat); err != nil {
		return message.BoatBook{}, err
	}
	r, err := s.record(ctx, q.Boat)
	if err != nil {
		return message.BoatBook{}, err
	}
	b, err := s.pageOf(ctx, message.TreasuryBoat(q.Boat), q.Boat, q.Page)
	b.Name = r.name
	return b, err
}

// binBook gives a page of a bin's entries and what each account comes to.
func (s *service) binBook(ctx context.Context, _ desk.Caller, q message.BinBook) (message.BoatBook, error) {
	if err := desk.GoodID("bin", q.Bin); err != nil {
		return message.BoatBook{}, err
	}
	return s.pageOf(ctx, message.TreasuryBin(q.Bin), "", q.Page)
}

// pageOf reads one page of a book. All of it is of one moment: what was brought
// forward and the entries of the last page together come to the balances.
func (s *service) pageOf(ctx context.Context, stream string, of boat.ID, page int) (message.BoatBook, error) {
	b := message.BoatBook{Boat: of, Brought: []message.EntryLine{}, Entries: []message.EntryPosted{}, Balances: []message.EntryLine{}, Owed: []message.OwedEntry{}}
	if err := desk.Within("page", page, 0, mostPages); err != nil {
		return b, err
	}
	tx, err := s.Pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return b, err
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }()
	if err := tx.QueryRow(ctx, `SELECT count(*) FROM treasury.entry WHERE stream = $1`, stream).Scan(&b.Count); err != nil {
		return b, err
	}
	b.Pages = max(1, (b.Count+entriesOfPage-1)/entriesOfPage)
	if b.Page = page; page == 0 || page > b.Pages {
		b.Page = b.Pages
	}
	first, last, err := readEntries(ctx, tx, stream, &b)
	if err == nil {
		err = readLines(ctx, tx, stream, first, last, &b)
	}
	if err == nil {
		err = readSums(ctx, tx, stream, first, &b)
	}
	if err == nil {
		err = readOwed(ctx, tx, stream, &b)
	}
	return b, err
}

// readEntries reads the entries of the page, without their lines, and says at which
// positions the page begins and ends.
func readEntries(ctx context.Context, tx pgx.Tx, stream string, b *message.BoatBook) (first, last int64, err error) {
	rows, err := tx.Query(ctx, `SELECT entry, posted_on, words, reverses, position FROM treasury.entry
		WHERE stream = $1 ORDER BY position OFFSET $2 LIMIT $3`, stream, (b.Page-1)*entriesOfPage, entriesOfPage)
	if err != nil {
		return 0, 0, err
	}
	b.Entries, err = pgx.AppendRows(b.Entries, rows, func(row pgx.CollectableRow) (message.EntryPosted, error) {
		e, on := message.EntryPosted{Boat: b.Boat}, time.Time{}
		err := row.Scan(&e.Entry, &on, &e.Words, &e.Reverses, &last)
		e.On = clock.DateOf(on)
		if first == 0 {
			first = last
		}
		return e, err
	})
	return first, last, err
}

// readLines reads the lines of the entries of the page.
func readLines(ctx context.Context, tx pgx.Tx, stream string, first, last int64, b *message.BoatBook) error {
	rows, err := tx.Query(ctx, `SELECT entry, account, minor, currency FROM treasury.line
		WHERE stream = $1 AND position BETWEEN $2 AND $3 ORDER BY position, number`, stream, first, last)
	if err != nil {
		return err
	}
	at, entry, l := 0, "", message.EntryLine{}
	_, err = pgx.ForEachRow(rows, []any{&entry, &l.Account, &l.Amount.Minor, &l.Amount.Currency}, func() error {
		for at < len(b.Entries) && b.Entries[at].Entry != entry {
			at++
		}
		if at == len(b.Entries) {
			return fmt.Errorf("the book %s has a line of %s without the entry", stream, entry)
		}
		b.Entries[at].Lines = append(b.Entries[at].Lines, l)
		return nil
	})
	return err
}

// readSums reads what each account came to before the page, and comes to in all.
func readSums(ctx context.Context, tx pgx.Tx, stream string, first int64, b *message.BoatBook) error {
	rows, err := tx.Query(ctx, `SELECT account, currency, coalesce(sum(minor) FILTER (WHERE position < $2), 0)::bigint, count(*) FILTER (WHERE position < $2), sum(minor)::bigint
		FROM treasury.line WHERE stream = $1 GROUP BY account, currency ORDER BY account COLLATE "C", currency COLLATE "C"`, stream, first)
	if err != nil {
		return err
	}
	l, before, linesBefore, all := message.EntryLine{}, int64(0), 0, int64(0)
	_, err = pgx.ForEachRow(rows, []any{&l.Account, &l.Amount.Currency, &before, &linesBefore, &all}, func() error {
		if linesBefore > 0 {
			l.Amount.Minor = before
			b.Brought = append(b.Brought, l)
		}
		l.Amount.Minor = all
		b.Balances = append(b.Balances, l)
		return nil
	})
	return err
}

// readOwed reads for which entries a member is still out of money, the oldest first:
// those that were neither taken back nor settled.
func readOwed(ctx context.Context, tx pgx.Tx, stream string, b *message.BoatBook) error {
	rows, err := tx.Query(ctx, `
		SELECT e.entry, e.words, -l.minor, l.currency, coalesce((SELECT max(member) FROM treasury.volunteer_cost c WHERE c.stream = $1 AND c.entry = e.entry AND c.state = 'owed'), '')
		FROM treasury.line l JOIN treasury.entry e USING (stream, position)
		WHERE l.stream = $1 AND l.account = $2 AND l.minor < 0 AND e.reverses = ''
			AND NOT EXISTS (SELECT 1 FROM treasury.entry back WHERE back.stream = $1 AND back.reverses = e.entry)
			AND NOT EXISTS (SELECT 1 FROM treasury.entry paid WHERE paid.stream = $1 AND paid.entry = $3 || e.entry)
		ORDER BY position LIMIT $4`, stream, owed, settledMark, owedOfPage)
	if err != nil {
		return err
	}
	b.Owed, err = pgx.AppendRows(b.Owed, rows, func(row pgx.CollectableRow) (o message.OwedEntry, err error) {
		err = row.Scan(&o.Entry, &o.Words, &o.Amount.Minor, &o.Amount.Currency, &o.Member)
		return o, err
	})
	return err
}
