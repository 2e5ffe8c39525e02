package desk

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// A part of a room that cannot take an event stops there, and no other room with
// it. It says so in its own table, tries again whenever its loop does, and goes on
// when the program was mended, or when an administrator allowed it to go on
// without the event.

// overseers may ask a room how it stands.
var overseers = Allow{Roles: []people.Role{people.Administrator, people.Auditor, people.Treasurer}}

// maxStop bounds the words of an error that are kept, in bytes.
const maxStop = 500

// refuse passes over an event that the tables of a schema cannot take, if that
// was allowed, or says that they stop there.
func (d *Desk) refuse(ctx context.Context, db beginner, schema string, e message.Event, why *refusedError) error {
	stop := fmt.Errorf("the %s tables stop at event %d (%s): %w", d.Room, e.Position, e.Kind, why.error)
	if schema != d.Room {
		stop = fmt.Errorf("new tables for the %s room cannot take event %d (%s), so the old ones stay: %w", d.Room, e.Position, e.Kind, why.error)
		allowed, err := d.mayPass(ctx, tablesCursor, e.Position)
		if err != nil || !allowed {
			return errors.Join(stop, err)
		}
		return d.passOver(ctx, db, schema, e, why)
	}
	err := d.passOrStop(ctx, tablesCursor, e, stop, func() error { return d.passOver(ctx, db, schema, e, why) })
	if err != nil {
		d.heard.stops(e.Position)
	}
	return err
}

// passOrStop passes over an event if that was allowed, and else keeps what the
// part stops at and gives it as the error.
func (d *Desk) passOrStop(ctx context.Context, part string, e message.Event, stop error, pass func() error) error {
	allowed, err := d.mayPass(ctx, part, e.Position)
	if err != nil {
		return errors.Join(stop, err)
	}
	if allowed {
		d.Slog.Warn("went on without an event, as an administrator allowed", "room", d.Room, "part", part, "event", e.Position, "kind", e.Kind, "err", stop)
		return pass()
	}
	_, err = d.Pool.Exec(ctx, `
		INSERT INTO `+d.Room+`.stopped AS s (part, position, event, error, since) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (part) DO UPDATE SET position = $2, event = $3, error = $4, since = CASE WHEN s.position = $2 THEN s.since ELSE $5 END`,
		part, e.Position, e.Kind, shortened(stop), d.Clock.Now())
	return errors.Join(stop, err)
}

// mayPass says whether an administrator let this part go on without an event.
func (d *Desk) mayPass(ctx context.Context, part string, position int64) (bool, error) {
	events, err := d.Log.Stream(ctx, message.Skips(d.Room))
	if err != nil {
		return false, err
	}
	for _, e := range events {
		body, err := message.Decode(e)
		if err != nil {
			return false, err
		}
		if skip, ok := body.(message.SkipAllowed); ok && skip.Part == part && skip.Position == position {
			return true, nil
		}
	}
	return false, nil
}

// passOver moves the tables of a schema past an event. What it says of roles,
// links and settings is taken in where it can be read: rights follow the book even
// when the room's own tables cannot.
func (d *Desk) passOver(ctx context.Context, db beginner, schema string, e message.Event, why error) error {
	return pgx.BeginFunc(ctx, db, func(tx pgx.Tx) error {
		var at int64
		err := tx.QueryRow(ctx, `SELECT position FROM `+schema+`.cursor WHERE name = $1 FOR UPDATE`, tablesCursor).Scan(&at)
		if err != nil || at != e.Position-1 {
			return err // another instance was first
		}
		if err := d.rosterAlone(ctx, tx, schema, e); err != nil && passing(ctx, err) {
			return err
		}
		if err := d.noteSkip(ctx, tx, schema, tablesCursor, e, why); err != nil {
			return err
		}
		return d.moveCursor(ctx, tx, schema, e.Position)
	})
}

func (d *Desk) rosterAlone(ctx context.Context, tx pgx.Tx, schema string, e message.Event) error {
	body, err := message.Decode(e)
	if err != nil {
		return err
	}
	return pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error {
		w := d.writing(tx, schema, new(memory))
		if err := d.applyRoster(ctx, w, body); err != nil {
			return err
		}
		return w.flush(ctx)
	})
}

// noteSkip keeps what a part went on without, so that whoever reads the tables
// can be told.
func (d *Desk) noteSkip(ctx context.Context, db beginner, schema, part string, e message.Event, why error) error {
	_, err := db.Exec(ctx, `INSERT INTO `+schema+`.passed_over (part, position, event, error, since) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`,
		part, e.Position, e.Kind, shortened(why), d.Clock.Now())
	return err
}

func shortened(err error) string {
	text := err.Error()
	return text[:min(len(text), maxStop)]
}

// Standing says how the room stands with the book.
func (d *Desk) Standing(ctx context.Context) (message.Standing, error) {
	return StandingOf(ctx, d.Pool, d.Room)
}

// StandingOf reads how a room stands, whether it runs or not.
func StandingOf(ctx context.Context, pool *pgxpool.Pool, room string) (message.Standing, error) {
	s := message.Standing{Room: room}
	rows, err := pool.Query(ctx, `SELECT name, position FROM `+room+`.cursor`)
	if err != nil {
		return s, err
	}
	var name string
	var position int64
	_, err = pgx.ForEachRow(rows, []any{&name, &position}, func() error {
		at := position
		if name == reactionsCursor {
			s.Reactions = &at
		} else {
			s.Tables = at
		}
		return nil
	})
	if err == nil {
		s.Stopped, err = stops(ctx, pool, room+".stopped")
	}
	if err == nil {
		s.PassedOver, err = stops(ctx, pool, room+".passed_over")
	}
	if err == nil {
		s.Rebuilding, err = rebuilding(ctx, pool, room)
	}
	return s, err
}

func stops(ctx context.Context, pool *pgxpool.Pool, table string) ([]message.Stop, error) {
	rows, err := pool.Query(ctx, `SELECT part, position, event, error, since FROM `+table+` ORDER BY position, part`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (s message.Stop, err error) {
		err = row.Scan(&s.Part, &s.Position, &s.Event, &s.Error, &s.Since)
		s.Since = s.Since.UTC()
		return s, err
	})
}
