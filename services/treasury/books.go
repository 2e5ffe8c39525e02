package treasury

import (
	"context"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// periods is what the stream of the books adds up to.
type periods struct {
	closed clock.Date // up to and including; zero: never closed
}

// Fold adds an event.
func (p *periods) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.PeriodClosed); ok {
		p.closed = e.Upto
	}
}

// open gives an entry as it may be posted: on its own day, or on the first that
// is open where the books of its day are closed. It then tells its own day too.
func (p periods) open(e message.EntryPosted) message.EntryPosted {
	if !e.On.After(p.closed) {
		e.Words += " (of " + e.On.String() + ", posted late)"
		e.On, e.Happened = p.closed.AddDays(1), e.On
	}
	return e
}

// ownDay is the day on which what an entry is about happened: that on which it was
// posted, or an earlier one where the books of that were closed.
func ownDay(e message.EntryPosted) clock.Date {
	if e.Happened.IsZero() {
		return e.On
	}
	return e.Happened
}

// close decides to close the books.
func (p periods) close(c message.ClosePeriod, today clock.Date) (message.PeriodClosed, error) {
	said := message.PeriodClosed{Upto: c.Upto, Words: c.Words}
	err := desk.First(desk.Past("upto", c.Upto, today), desk.NotLonger("words", c.Words, maxWords))
	switch {
	case err != nil:
	case c.Upto.AddDays(1).Day() != 1:
		err = fault.Field("upto", "is not the last day of a month; books are closed by whole months")
	case c.Upto == today:
		err = fault.Field("upto", "is today; a day is closed when it is over")
	case !c.Upto.After(p.closed):
		err = fault.Field("upto", "lies before the day up to which the books are closed already, %s", p.closed)
	}
	return said, err
}

// maxWords bounds the words at a closing, in characters.
const maxWords = 500

func (s *service) closePeriod(ctx context.Context, o desk.Order[message.ClosePeriod]) (desk.Decision, error) {
	p, at, err := desk.Load[periods](ctx, s.Log, message.TreasuryBooks)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := p.close(o.Command, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at}}
	return d, d.Say(at.Stream, "", said)
}

// sayEntries adds entries to a decision, if they balance. None is posted in a
// closed period.
func (s *service) sayEntries(ctx context.Context, d *desk.Decision, stream string, entries []message.EntryPosted) error {
	if len(entries) == 0 {
		return nil
	}
	p, at, err := desk.Load[periods](ctx, s.Log, message.TreasuryBooks)
	if err != nil {
		return err
	}
	d.Expect = append(d.Expect, at)
	return p.say(d, stream, entries)
}

func (p periods) say(d *desk.Decision, stream string, entries []message.EntryPosted) error {
	for _, e := range entries {
		e = p.open(e)
		if err := balanced(e); err != nil {
			return err
		}
		if err := d.Say(stream, e.Boat, e); err != nil {
			return err
		}
	}
	return nil
}
