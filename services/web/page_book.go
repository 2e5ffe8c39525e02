package web

import (
	"context"
	"encoding/hex"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
)

// Reading the whole book on a page is bounded in events and time; larger books
// are read at the machine.
const (
	maxVerified = 200_000
	verifyFor   = 20 * time.Second
	linesOfBook = 50
)

func bookRoutes() []route {
	return []route{
		get("/book", overseers, (*visit).bookPage),
		post("/book/verify", overseers, (*visit).verifyBook, nil),
	}
}

// bookPage is the book itself: how long it is, what was written last, and
// whether it is whole.
type bookPage struct {
	Frame
	Head     ledger.Head
	Behind   int64 // events that the pages have not read yet
	Rooms    []roomRow
	Lines    []Line
	Earlier  int64 // the position before which older lines stand; 0 for none
	Verify   Form
	Verified *ledger.Verified
}

// Hash is the head's hash in hexadecimal.
func (p bookPage) Hash() string { return hex.EncodeToString(p.Head.Hash) }

func (v *visit) bookPage() error {
	p, err := v.readBook()
	if err != nil {
		return err
	}
	return v.show("book", p)
}

func (v *visit) readBook() (bookPage, error) {
	p := bookPage{Frame: v.frame("The book"), Verify: v.button("verify", "/book/verify", "Read the whole book and check it")}
	p.listens(v, "/book")
	var err error
	if p.Head, err = v.Log.Head(v.ctx); err != nil {
		return p, err
	}
	p.Behind = max(0, p.Head.Position-v.Position())
	p.Rooms = v.standings(p.Head.Position)
	before, err := strconv.ParseInt(v.r.URL.Query().Get("before"), 10, 64)
	if err != nil || before <= 0 {
		before = p.Head.Position + 1
	}
	if p.Lines, err = v.linesBefore(v.ctx, before); err != nil {
		return p, err
	}
	if n := len(p.Lines); n == linesOfBook {
		p.Earlier = p.Lines[n-1].Position
	}
	return p, nil
}

// linesBefore reads the last lines before a position, the newest first.
func (s *Site) linesBefore(ctx context.Context, position int64) ([]Line, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT position, boat, stream, kind, actor, look, happened_at, recorded_at, summary
		FROM web.history WHERE position < $1 ORDER BY position DESC LIMIT $2`, position, linesOfBook)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Line])
}

func (v *visit) verifyBook() error {
	p, err := v.readBook()
	if err != nil {
		return err
	}
	if p.Head.Position > maxVerified {
		return fault.New(fault.Forbidden, "This book is too long to be read by a page. Whoever looks after the machine runs: refloat verify.")
	}
	ctx, cancel := context.WithTimeout(v.ctx, verifyFor)
	defer cancel()
	verified, err := v.Log.Verify(ctx)
	if err != nil && ctx.Err() != nil {
		return fault.Because(fault.Unavailable, err, "Reading the whole book takes too long just now. Try again later, or run refloat verify at the machine.")
	}
	if err != nil {
		return err
	}
	p.Verified = &verified
	return v.show("book", p)
}
