package ledger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"refloat.example/pkg/fault"
)

// writeOneByOne is for a batch that PostgreSQL refused as a whole: each append is
// tried alone, so that a bad one never fails its neighbours.
func (w *Writer) writeOneByOne(ctx context.Context, p *plan, refusal error) error {
	items := p.unanswered()
	clear(w.versions)
	if len(items) == 1 {
		w.log.Error("an append was refused by the database", "key", items[0].append.Key, "err", refusal)
		items[0].done(Receipt{}, fault.Of(refusal))
		return nil
	}
	for i, item := range items {
		if err := w.attempt(ctx, []*waiting{item}, hopeful); err != nil { // it is answered
			answerAll(items[i+1:], stepDown(err))
			return err
		}
	}
	return nil
}

func answerAll(items []*waiting, err error) {
	for _, item := range items {
		item.done(Receipt{}, err)
	}
}

// errLed says that another session holds the writer's lock: another process
// leads now.
var errLed = errors.New("the writer's lock is held elsewhere")

// resolve is for a statement of which nobody knows whether it was committed: the
// connection was lost in the middle of it, or the head had moved. It fences off
// the old statement and looks; only then is anyone answered.
func (w *Writer) resolve(ctx context.Context, p *plan, reason error) error {
	w.log.Warn("looking whether the last batch was written", "events", len(p.rows), "reason", reason)
	for pause := 10 * time.Millisecond; ; pause = min(2*pause, time.Second) {
		in, err := w.look(ctx, p)
		switch {
		case err == nil && in:
			p.settle()
			w.written.Set()
			return w.lockAgain(ctx)
		case err == nil:
			return w.attemptAgain(ctx, p.unanswered())
		case !rest(ctx, pause):
			answerAll(p.unanswered(), stepDown(err))
			return err
		}
	}
}

func (w *Writer) attemptAgain(ctx context.Context, items []*waiting) error {
	if err := w.lockAgain(ctx); err != nil {
		answerAll(items, stepDown(err))
		return err
	}
	return w.attempt(ctx, items, hopeful)
}

// rest pauses, and says false when ctx ended instead.
func rest(ctx context.Context, pause time.Duration) bool {
	timer := time.NewTimer(pause)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// look makes sure that the plan's statement is over, on a new connection if the
// old one is lost, and says whether the plan's last row stands in the book. What
// it says without an error is certain.
func (w *Writer) look(ctx context.Context, p *plan) (in bool, err error) {
	if w.conn.IsClosed() {
		conn, err := w.connect(ctx)
		if err != nil {
			return false, fmt.Errorf("connecting to the book again: %w", err)
		}
		w.conn = conn
	}
	if _, err := fence(ctx, w.conn); err != nil || len(p.rows) == 0 {
		return false, err
	}
	last := &p.rows[len(p.rows)-1]
	err = w.conn.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM ledger.event WHERE position = $1 AND hash = $2)`,
		last.Position, last.Hash).Scan(&in)
	if err != nil {
		return false, fmt.Errorf("looking for the last batch: %w", err)
	}
	return in, nil
}

// lockAgainFor is how long the server may take to end our own lost session.
const lockAgainFor = time.Second

// lockAgain goes on leading after a lost connection, or gives errLed. A session
// that has the lock still gets it once more, which does no harm: its end gives
// both back.
func (w *Writer) lockAgain(ctx context.Context) error {
	waiting, cancel := context.WithTimeout(ctx, lockAgainFor)
	defer cancel()
	for {
		mine, err := tryLock(ctx, w.conn, writerLock)
		switch {
		case err != nil:
			return fmt.Errorf("taking the writer's lock again: %w", err)
		case mine:
			return w.reload(ctx)
		case !rest(waiting, 5*time.Millisecond):
			return errLed
		}
	}
}
