package desk

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/watch"
)

// The two cursors of a room.
const (
	tablesCursor    = message.TablesPart
	reactionsCursor = message.ReactionsPart
)

type loop = lifecycle.Loop

func (d *Desk) run(name string, f func(context.Context) error) {
	l := lifecycle.NewLoop(d.Room+" "+name, d.Slog, f)
	_ = l.Start(context.Background()) // a loop's start cannot fail
	d.loops = append(d.loops, l)
}

func (d *Desk) cursor(ctx context.Context, name string) (int64, error) {
	var position int64
	err := d.Pool.QueryRow(ctx, `SELECT position FROM `+d.Room+`.cursor WHERE name = $1`, name).Scan(&position)
	return position, err
}

// followTables keeps the read tables in step with the book.
func (d *Desk) followTables(ctx context.Context) error {
	position, err := d.cursor(ctx, tablesCursor)
	if err != nil {
		return err
	}
	d.heard.reached(position)
	return d.follow(ctx, position, d.applyBatch)
}

// applyWatched is apply as part of the trace that led to the event.
func (d *Desk) applyWatched(ctx context.Context, tx pgx.Tx, e read) error {
	ctx, span := watch.Within(watch.Resume(ctx, e.Correlation), "tables of "+d.Room, "kind", string(e.Kind), "position", strconv.FormatInt(e.Position, 10))
	err := d.apply(ctx, tx, e)
	span.End(err)
	return err
}

// reactWatched is the room's reaction as part of the trace that led to the event.
func (d *Desk) reactWatched(ctx context.Context, e message.Event, body message.Body) error {
	ctx, span := watch.Within(watch.Resume(ctx, e.Correlation), "reaction of "+d.Room, "kind", string(e.Kind), "position", strconv.FormatInt(e.Position, 10))
	err := d.react(ctx, e, body)
	span.End(err)
	return err
}

func (d *Desk) applyRoster(ctx context.Context, tx pgx.Tx, body message.Body) error {
	exec := Exec(ctx, tx)
	switch b := body.(type) {
	case message.RoleGiven:
		return exec(`INSERT INTO `+d.Room+`.roster_role VALUES ($1, $2) ON CONFLICT DO NOTHING`, b.Person, b.Role)
	case message.RoleTaken:
		return exec(`DELETE FROM `+d.Room+`.roster_role WHERE person = $1 AND role = $2`, b.Person, b.Role)
	case message.LinkGiven:
		return exec(`INSERT INTO `+d.Room+`.roster_link VALUES ($1, $2, $3, $4, $5) ON CONFLICT (link) DO NOTHING`,
			b.Link, b.Person, b.Purpose, b.Subject, b.Until)
	case message.LinkEnded:
		return exec(`DELETE FROM `+d.Room+`.roster_link WHERE link = $1`, b.Link)
	case message.PersonErased:
		if err := exec(`DELETE FROM `+d.Room+`.roster_link WHERE person = $1`, b.Person); err != nil {
			return err
		}
		return exec(`DELETE FROM `+d.Room+`.roster_role WHERE person = $1`, b.Person)
	case message.SettingChanged:
		return exec(`INSERT INTO `+d.Room+`.club_setting VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET value = excluded.value`, b.Name, b.Value)
	}
	return nil
}

// followReactions lets the room react to what happens, event by event. One
// process does it at a time; the cursor moves when a reaction is done.
func (d *Desk) followReactions(ctx context.Context) error {
	return d.alone(ctx, reactionsCursor, func(ctx context.Context) error {
		_, err := d.Pool.Exec(ctx, `INSERT INTO `+d.Room+`.cursor VALUES ($1, 0) ON CONFLICT DO NOTHING`, reactionsCursor)
		if err != nil {
			return err
		}
		position, err := d.cursor(ctx, reactionsCursor)
		if err != nil {
			return err
		}
		return d.follow(ctx, position, d.reactBatch)
	})
}

// reactBatch reacts to events one by one; the cursor goes as far as they are done.
func (d *Desk) reactBatch(ctx context.Context, events []message.Event) error {
	var failed error
	done := events[0].Position - 1
	for _, e := range events {
		if failed = d.reactTo(ctx, e); failed != nil {
			break
		}
		done = e.Position
	}
	_, err := d.Pool.Exec(ctx, `
		WITH moved AS (UPDATE `+d.Room+`.cursor SET position = $2 WHERE name = $1 AND position < $2)
		DELETE FROM `+d.Room+`.stopped WHERE part = $1 AND position <= $2`, reactionsCursor, done)
	return errors.Join(failed, err)
}

func (d *Desk) reactTo(ctx context.Context, e message.Event) error {
	if err := d.heard.wait(ctx, e.Position, orderFor); err != nil {
		return err
	}
	err := d.reactSafely(ctx, e)
	if err == nil || passing(ctx, err) {
		return err
	}
	return d.passOrStop(ctx, reactionsCursor, e, fmt.Errorf("the %s room cannot react to event %d (%s): %w", d.Room, e.Position, e.Kind, err), func() error {
		return d.noteSkip(ctx, d.Pool, d.Room, reactionsCursor, e, err)
	})
}

func (d *Desk) reactSafely(ctx context.Context, e message.Event) (err error) {
	defer d.recovered(&err)
	body, err := message.Decode(e)
	if err != nil {
		return err
	}
	return d.reactWatched(ctx, e, body)
}

// Say writes events that the room comes to by itself, for instance in reaction
// to cause. name tells several of one cause apart. Saying it again changes
// nothing.
func (d *Desk) Say(ctx context.Context, cause message.Event, name string, decision Decision) error {
	if len(decision.Events) == 0 {
		return nil
	}
	key := fmt.Sprintf("%s/%s/%s", d.Room, name, cause.ID)
	_, err := d.Log.Append(ctx, ledger.Append{
		Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: people.Service(d.Room).String(),
		Cause: cause.ID, Correlation: cause.Correlation, HappenedAt: cause.HappenedAt,
		Expect: decision.Expect, Events: decision.Events,
	})
	return err
}

// SayAnew says what decide comes to, and lets it decide again when somebody wrote
// meanwhile.
func (d *Desk) SayAnew(ctx context.Context, cause message.Event, name string, decide func() (Decision, error)) error {
	for try := 1; ; try++ {
		decision, err := decide()
		if err == nil {
			err = d.Say(ctx, cause, name, decision)
		}
		if !fault.Is(err, fault.Conflict) || try == tries {
			return err
		}
	}
}

// alone runs f in one process at a time, as long as the session lock holds.
func (d *Desk) alone(ctx context.Context, name string, f func(context.Context) error) error {
	conn, err := pgx.ConnectConfig(ctx, d.Pool.Config().ConnConfig.Copy())
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(context.Background()) }()
	if err := waitForLock(ctx, conn, "refloat/"+d.Room+"/"+name); err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	var watching sync.WaitGroup
	watching.Go(func() { cancel(watchLock(ctx, conn)) })
	err = f(ctx)
	cancel(nil)
	watching.Wait() // the connection is not closed under it
	return err
}

// watchLock asks the lock's session for a sign of life until ctx ends; the error
// says that it is gone, and the lock with it.
func watchLock(ctx context.Context, conn *pgx.Conn) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(time.Second):
		}
		if err := conn.Ping(ctx); err != nil {
			return fmt.Errorf("a lock was lost: %w", err)
		}
	}
}

// lockPoll is the time between two tries for a lock.
const lockPoll = 200 * time.Millisecond

// waitForLock takes a session lock, asking again and again: a statement that
// waits inside the server would keep a snapshot for as long, and old rows could
// not be cleared away.
func waitForLock(ctx context.Context, conn *pgx.Conn, name string) error {
	for {
		var mine bool
		err := conn.QueryRow(ctx, `SELECT pg_try_advisory_lock(hashtextextended($1, 0))`, name).Scan(&mine)
		if mine || err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(lockPoll):
		}
	}
}

// keepTicking does what is due every so often, in one process at a time.
func (d *Desk) keepTicking(ctx context.Context, t tick) error {
	return d.alone(ctx, t.name, func(ctx context.Context) error {
		for {
			if err := t.run(ctx); err != nil && ctx.Err() == nil {
				d.Slog.Error("will be tried again", "room", d.Room, "part", t.name, "err", err)
			}
			select {
			case <-ctx.Done():
				return nil
			case <-time.After(t.every):
			}
		}
	})
}

// progress tells waiters how far the tables have come.
type progress struct {
	mu       sync.Mutex
	position int64
	stopped  int64         // the event that the tables cannot take; 0 for none
	moved    chan struct{} // closed and replaced at each move
}

func newProgress() *progress { return &progress{moved: make(chan struct{})} }

func (p *progress) reached(position int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if position > p.position {
		p.position = position
		close(p.moved)
		p.moved = make(chan struct{})
	}
}

// stops notes that the tables cannot take the event at a position.
func (p *progress) stops(position int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stopped = position
}

// stop says at which event the tables have stopped; "" when they have not.
func (p *progress) stop() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stopped <= p.position {
		return ""
	}
	return fmt.Sprintf("it cannot take event %d of the book", p.stopped)
}

// late is the fault for whoever waited in vain.
func (p *progress) late() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stopped > p.position {
		return fault.New(fault.Unavailable, "this part of the club's system cannot take event %d of the book and has stopped there; an administrator finds it on the page of the book", p.stopped)
	}
	return fault.New(fault.Unavailable, "this part of the club's system is still catching up; try again in a moment")
}

func (p *progress) now() (int64, <-chan struct{}) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.position, p.moved
}

// wait returns when the tables have reached a position, or with a fault after
// patience.
func (p *progress) wait(ctx context.Context, position int64, patience time.Duration) error {
	late := time.NewTimer(patience)
	defer late.Stop()
	for {
		at, moved := p.now()
		if at >= position {
			return nil
		}
		select {
		case <-moved:
		case <-late.C:
			return p.late()
		case <-ctx.Done():
			return fault.Because(fault.Unavailable, ctx.Err(), "this took too long; try again in a moment")
		}
	}
}

// Heard waits until the room's tables have reached a position.
func (d *Desk) Heard(ctx context.Context, position int64) error {
	return d.heard.wait(ctx, position, hearFor)
}

// Moved gives how far the room's tables have come, and a channel that is closed
// when they have come further.
func (d *Desk) Moved() (position int64, moved <-chan struct{}) { return d.heard.now() }

// Position gives how far the room's tables have come.
func (d *Desk) Position() int64 {
	position, _ := d.heard.now()
	return position
}

// Settled gives how far the room has come with everything: tables and, if it
// reacts, reactions.
func (d *Desk) Settled(ctx context.Context) (int64, error) {
	tables, err := d.cursor(ctx, tablesCursor)
	if err != nil || d.react == nil {
		return tables, err
	}
	reactions, err := d.cursor(ctx, reactionsCursor)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, nil // it has not begun to react yet
	}
	return min(tables, reactions), err
}

// Tables names the room's tables that follow the book, those of every room
// included.
func (d *Desk) Tables() []string {
	return append([]string{"roster_role", "roster_link", "club_setting"}, d.tables...)
}
