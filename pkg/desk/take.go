package desk

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// beginner is a pool, a connection or a transaction.
type beginner interface {
	Begin(ctx context.Context) (pgx.Tx, error)
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}

// applyBatch changes the live tables for a batch and moves the cursor with them.
// Events that another instance of the room applied before are passed over; a
// batch that would leave a gap is refused.
func (d *Desk) applyBatch(ctx context.Context, events []message.Event) error {
	done, err := d.take(ctx, d.Pool, d.Room, readAll(events), nil)
	d.heard.reached(done)
	return err
}

// take applies a batch to the tables of a schema, the room's own or the one
// beside it, in one transaction with the cursor. When an event cannot be applied,
// those before it are, and it is passed over if that was allowed: a deed is not
// lost because a later one cannot be read. It gives the last position that is
// done, 0 for none. known, if not nil, goes on from batch to batch: nobody else may
// write these tables.
func (d *Desk) take(ctx context.Context, db beginner, schema string, events []read, known *memory) (done int64, err error) {
	if len(events) == 0 {
		return 0, nil
	}
	err = d.takeTogether(ctx, db, schema, events, known)
	var refused *refusedError
	if !errors.As(err, &refused) {
		if err == nil {
			done = events[len(events)-1].Position
		}
		return done, err
	}
	for i, e := range events {
		err := d.takeTogether(ctx, db, schema, events[i:i+1], known)
		if errors.As(err, &refused) {
			err = d.refuse(ctx, db, schema, e.Event, refused)
		}
		if err != nil {
			return done, err
		}
		done = e.Position
	}
	return done, nil
}

// refusedError says that an event cannot be applied: not now and not later,
// unless the program or the event's neighbours change.
type refusedError struct{ error }

func (e *refusedError) Unwrap() error { return e.error }

func (d *Desk) takeTogether(ctx context.Context, db beginner, schema string, events []read, known *memory) error {
	if known == nil {
		known = new(memory)
	}
	err := pgx.BeginFunc(ctx, db, func(tx pgx.Tx) error {
		var at int64
		err := tx.QueryRow(ctx, `SELECT position FROM `+schema+`.cursor WHERE name = $1 FOR UPDATE`, tablesCursor).Scan(&at)
		if err != nil {
			return err
		}
		w, apply := d.writing(tx, schema, known), d.applyWatched
		if schema != d.Room {
			apply = d.apply // what happened long ago is in no trace
		}
		for _, e := range events {
			if e.Position <= at {
				continue
			}
			if e.Position > at+1 {
				return fmt.Errorf("the %s tables stand at %d and are given event %d", d.Room, at, e.Position)
			}
			if err := apply(ctx, w, e); err != nil {
				return refusal(ctx, tx, err)
			}
			at = e.Position
		}
		if err := w.flush(ctx); err != nil {
			return refusal(ctx, tx, err)
		}
		return d.moveCursor(ctx, tx, schema, at)
	})
	if err != nil {
		known.forget() // what it has was not written
	}
	return err
}

// moveCursor says how far the tables of a schema have come. Whatever stopped them
// before that position does so no more.
func (d *Desk) moveCursor(ctx context.Context, tx pgx.Tx, schema string, at int64) error {
	_, err := tx.Exec(ctx, `
		WITH moved AS (UPDATE `+schema+`.cursor SET position = $2 WHERE name = $1)
		DELETE FROM `+schema+`.stopped WHERE part = $1 AND position <= $2`, tablesCursor, at)
	return err
}

// refusal tells an event that cannot be applied from a database, a key or a
// caller that went away meanwhile.
func refusal(ctx context.Context, tx pgx.Tx, err error) error {
	if passing(ctx, err) || tx.Conn().IsClosed() {
		return err
	}
	return &refusedError{err}
}

// passing says whether trying again later may help: the caller is gone, another
// part did not answer, or PostgreSQL had no room, no lock or no time. The classes
// are those of its manual's appendix A, "PostgreSQL Error Codes".
func passing(ctx context.Context, err error) bool {
	if ctx.Err() != nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return true
	}
	var refused *pgconn.PgError
	if errors.As(err, &refused) {
		switch refused.Code[:2] {
		case "08", "40", "53", "55", "57", "58":
			return true
		}
		return false
	}
	var unreached *pgconn.ConnectError
	if errors.As(err, &unreached) || pgconn.SafeToRetry(err) || pgconn.Timeout(err) {
		return true
	}
	switch fault.Of(err).Kind {
	case fault.Unavailable, fault.Busy, fault.Conflict:
		return true
	}
	return false
}

// read is an event whose payload was read, or could not be.
type read struct {
	message.Event
	body message.Body
	err  error
}

func readAll(events []message.Event) []read {
	all := make([]read, len(events))
	for i, e := range events {
		all[i].Event = e
		all[i].body, all[i].err = decode(e)
	}
	return all
}

// decode takes a panic of an upcaster for an event that cannot be read.
func decode(e message.Event) (body message.Body, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("event %d: reading %s: panic: %v\n%s", e.Position, e.Kind, p, debug.Stack())
		}
	}()
	return message.Decode(e)
}

// apply changes the roster and the room's own tables for one event.
func (d *Desk) apply(ctx context.Context, tx pgx.Tx, e read) (err error) {
	defer d.recovered(&err)
	if e.err != nil {
		return e.err
	}
	if err := d.applyRoster(ctx, tx, e.body); err != nil {
		return err
	}
	if d.project == nil {
		return nil
	}
	return d.project(ctx, tx, e.Event, e.body)
}

// recovered turns a panic into an error, so that it can be said which event it
// was.
func (d *Desk) recovered(err *error) {
	if p := recover(); p != nil {
		d.Slog.Error("a panic", "room", d.Room, "what", p, "stack", string(debug.Stack()))
		*err = fmt.Errorf("panic: %v", p)
	}
}
