package ledger

import (
	"bytes"
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
	// relayLook is how often the relay makes sure of its lock and of the stream.
	relayLook = time.Second
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
// book was restored from an older copy, and perhaps written on since. Carrying on
// would give two different events one position.
var ErrAhead = errors.New("the event stream holds events that the book does not have: the book was restored from an older copy; " +
	"stop every room, delete the stream's folder (or the stream BOOK on an outside NATS), and start again: it is filled from the book")

// lead waits for the relay's lock and relays until ctx ends or something fails.
func (r *relayer) lead(ctx context.Context) error {
	lock, err := r.connect(ctx)
	if err != nil {
		return ignoreEnd(ctx, fmt.Errorf("connecting to the book: %w", err))
	}
	defer hangUp(lock)
	if err := waitForLock(ctx, lock, relayLock); err != nil {
		return ignoreEnd(ctx, fmt.Errorf("waiting for the relay's lock: %w", err))
	}
	cursor, err := r.conn.EnsureBook(ctx, r.replicas)
	if err == nil {
		err = sameBook(ctx, r.reader, r.conn, cursor)
	}
	if err != nil {
		return ignoreEnd(ctx, err)
	}
	if head, err := r.reader.Head(ctx); err == nil && head.Position > cursor {
		r.log.Info("filling the event stream from the book", "from", cursor+1, "to", head.Position)
	}
	look := time.NewTicker(relayLook)
	defer look.Stop()
	for {
		if cursor, err = r.advance(ctx, cursor); err != nil {
			return err
		}
		select {
		case <-r.written.C():
		case <-time.After(relayPoll):
		case <-look.C:
			if err := r.lookAround(ctx, lock, cursor); err != nil {
				return ignoreEnd(ctx, err)
			}
		case <-ctx.Done():
			return nil
		}
	}
}

// lookAround makes sure that nothing was taken from the relay while it rested:
// its lock, which lives as long as its session, and the stream.
func (r *relayer) lookAround(ctx context.Context, lock *pgx.Conn, cursor int64) error {
	if err := lock.Ping(ctx); err != nil {
		return fmt.Errorf("the relay lost its lock: %w", err)
	}
	last, err := r.conn.BookLast(ctx)
	if err == nil && last != cursor {
		err = fmt.Errorf("the stream was changed: it ends at %d and not at %d", last, cursor)
	}
	return err
}

// advance publishes what lies behind the cursor.
func (r *relayer) advance(ctx context.Context, cursor int64) (int64, error) {
	for {
		events, err := r.reader.After(ctx, cursor, relayMost)
		if err != nil || len(events) == 0 {
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

// sameBook gives ErrAhead unless the stream, which ends at last, is the
// beginning of the book.
func sameBook(ctx context.Context, reader *Reader, conn *bus.Conn, last int64) error {
	if last == 0 {
		return nil
	}
	head, err := reader.Head(ctx)
	if err != nil {
		return err
	}
	if last > head.Position {
		return fmt.Errorf("stream at %d, book at %d: %w", last, head.Position, ErrAhead)
	}
	ours, err := reader.Event(ctx, last)
	if err != nil {
		return err
	}
	theirs, err := conn.BookEvent(ctx, last)
	if err != nil {
		return err
	}
	if !bytes.Equal(ours.Hash, theirs.Hash) {
		return fmt.Errorf("event %d of the stream is another one than that of the book: %w", last, ErrAhead)
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
