package ledger

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/bus"
)

const (
	// relayLock is the session lock that elects the one relay.
	relayLock = 0x5245464c4f415402
	relayPoll = 100 * time.Millisecond
	relayMost = 512
)

// A relayer copies the book into JetStream. The stream's own last sequence
// number is the cursor, so there is nothing that could disagree with it: a stream
// that was wiped is at 0 and is filled again from the first event.
type relayer struct {
	reader   *Reader
	conn     *bus.Conn
	replicas int
	connect  func(context.Context) (*pgx.Conn, error)
	written  *Signal
	log      *slog.Logger
}

// ErrAhead says that the stream holds events that the book does not have: the
// book was restored from an older copy. Carrying on would give two different
// events one position.
var ErrAhead = errors.New("the event stream is ahead of the book: the book was restored from an older copy; " +
	"stop every room, delete the stream's folder (or the stream BOOK on an outside NATS), and start again: it is filled from the book")

// lead waits for the relay's lock and relays until ctx ends or something fails.
func (r *relayer) lead(ctx context.Context) error {
	lock, err := r.connect(ctx)
	if err != nil {
		return fmt.Errorf("connecting to the book: %w", err)
	}
	defer func() { _ = lock.Close(context.Background()) }()
	if _, err := lock.Exec(ctx, `SELECT pg_advisory_lock($1)`, int64(relayLock)); err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return fmt.Errorf("waiting for the relay's lock: %w", err)
	}
	cursor, err := r.conn.EnsureBook(ctx, r.replicas)
	if err != nil {
		return err
	}
	for {
		if cursor, err = r.advance(ctx, cursor); err != nil {
			return err
		}
		select {
		case <-r.written.C():
		case <-time.After(relayPoll):
			// The lock lives as long as its session: a dead one must be noticed.
			if err := lock.Ping(ctx); err != nil && ctx.Err() == nil {
				return fmt.Errorf("the relay lost its lock: %w", err)
			}
		case <-ctx.Done():
			return nil
		}
	}
}

// advance publishes what lies behind the cursor.
func (r *relayer) advance(ctx context.Context, cursor int64) (int64, error) {
	for {
		events, err := r.reader.After(ctx, cursor, relayMost)
		if err != nil || len(events) == 0 {
			if err == nil {
				err = r.checkNotAhead(ctx, cursor)
			}
			return cursor, ignoreEnd(ctx, err)
		}
		publishing, cancel := context.WithTimeout(ctx, 10*time.Second)
		err = r.conn.Publish(publishing, events)
		cancel()
		if err != nil {
			return cursor, ignoreEnd(ctx, fmt.Errorf("relaying: %w", err))
		}
		cursor = events[len(events)-1].Position
	}
}

func (r *relayer) checkNotAhead(ctx context.Context, cursor int64) error {
	head, err := r.reader.Head(ctx)
	if err != nil {
		return err
	}
	return notAhead(cursor, head)
}

func notAhead(cursor int64, head Head) error {
	if cursor > head.Position {
		return fmt.Errorf("stream at %d, book at %d: %w", cursor, head.Position, ErrAhead)
	}
	return nil
}

// ignoreEnd drops an error that only says that the program is stopping.
func ignoreEnd(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return err
}
