package ledger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// maxStream bounds the events of one stream, so that folding it stays quick.
const maxStream = 50_000

// Reader reads the book. It is safe for concurrent use.
type Reader struct{ pool *pgxpool.Pool }

// NewReader makes a reader over the application role's pool.
func NewReader(pool *pgxpool.Pool) *Reader { return &Reader{pool} }

// Head gives where the book ends.
func (r *Reader) Head(ctx context.Context) (Head, error) { return readHead(ctx, r.pool) }

// After gives at most limit events behind a position, in order.
func (r *Reader) After(ctx context.Context, position int64, limit int) ([]message.Event, error) {
	return r.events(ctx, `WHERE position > $1 ORDER BY position LIMIT $2`, position, limit)
}

// Stream gives all events of a stream, in order.
func (r *Reader) Stream(ctx context.Context, stream string) ([]message.Event, error) {
	events, err := r.events(ctx, `WHERE stream = $1 ORDER BY version LIMIT $2`, stream, maxStream+1)
	if err == nil && len(events) > maxStream {
		err = fmt.Errorf("%s has more than %d events", stream, maxStream)
	}
	return events, err
}

// At gives a stream with the version that it is at, 0 where it has no events,
// without reading them: for decisions that rest on nothing else of it.
func (r *Reader) At(ctx context.Context, stream string) (Expected, error) {
	at := Expected{Stream: stream}
	err := r.pool.QueryRow(ctx, `SELECT coalesce(max(version), 0) FROM ledger.event WHERE stream = $1`, stream).Scan(&at.Version)
	if err != nil {
		err = fmt.Errorf("reading the book: %w", err)
	}
	return at, err
}

// Boat gives all events about a boat, of whatever room, in order.
func (r *Reader) Boat(ctx context.Context, id boat.ID) ([]message.Event, error) {
	return r.events(ctx, `WHERE boat = $1 AND boat <> '' ORDER BY position LIMIT $2`, string(id), maxStream)
}

// BoatAsOf gives the events about a boat that the club knew at one instant about
// another: those that were written up to known and were so up to about. A zero time
// sets no limit.
func (r *Reader) BoatAsOf(ctx context.Context, id boat.ID, known, about time.Time) ([]message.Event, error) {
	return r.events(ctx, `WHERE boat = $1 AND boat <> '' AND ($2::timestamptz IS NULL OR recorded_at <= $2) AND ($3::timestamptz IS NULL OR happened_at <= $3)
		ORDER BY position LIMIT $4`, string(id), timeOrNull(known), timeOrNull(about), maxStream)
}

func timeOrNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// Event gives one event by its position; a fault of kind Unknown if there is
// none.
func (r *Reader) Event(ctx context.Context, position int64) (message.Event, error) {
	events, err := r.events(ctx, `WHERE position = $1`, position)
	if err == nil && len(events) == 0 {
		return message.Event{}, fault.New(fault.Unknown, "the book has no event %d", position)
	}
	if err != nil {
		return message.Event{}, err
	}
	return events[0], nil
}

// Repeat gives the first answer to a request key, when there is one. The same
// key with another digest is a Conflict.
func (r *Reader) Repeat(ctx context.Context, key string, digest []byte) (receipt Receipt, found bool, err error) {
	rows, err := byKey(ctx, r.pool, key)
	if err != nil || len(rows) == 0 {
		return Receipt{}, false, err
	}
	receipt, err = receiptOf(rows, digest)
	return receipt, true, err
}

func (r *Reader) events(ctx context.Context, where string, args ...any) ([]message.Event, error) {
	rows, err := collect(r.pool.Query(ctx, `SELECT `+columns+` FROM ledger.event `+where, append([]any{inBinary}, args...)...))
	if err != nil {
		return nil, fmt.Errorf("reading the book: %w", err)
	}
	events := make([]message.Event, len(rows))
	for i := range rows {
		events[i] = rows[i].Event
	}
	return events, nil
}

// each hands every row behind a position to f, streaming, in order. A row is only good
// during the call.
func (r *Reader) each(ctx context.Context, after int64, f func(*Row) error) error {
	tx, err := r.snapshot(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }()
	return eachIn(ctx, tx, after+1, f)
}

// snapshot begins a transaction that sees the book as it is now and can only read. Its
// statements go along indexes: before the server knows how long the book has become it
// would rather sort it, which means to write all of it to the disk once more.
func (r *Reader) snapshot(ctx context.Context) (pgx.Tx, error) {
	tx, err := r.pool.BeginTx(ctx, pgx.TxOptions{BeginQuery: `BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY; SET LOCAL enable_sort = off`})
	if err != nil {
		return nil, fmt.Errorf("reading the book: %w", err)
	}
	return tx, nil
}

// rowError says that a row cannot be read: it holds what no writer wrote.
type rowError struct{ error }

func (e *rowError) Unwrap() error { return e.error }

// eachIn hands every row from a position on to f.
func eachIn(ctx context.Context, db querier, from int64, f func(*Row) error) error {
	rows, err := db.Query(ctx, `SELECT `+columns+` FROM ledger.event WHERE position >= $1 ORDER BY position`, inBinary, from)
	if err != nil {
		return fmt.Errorf("reading the book: %w", err)
	}
	return eachRow(rows, f)
}

func eachRow(rows pgx.Rows, f func(*Row) error) error {
	defer rows.Close()
	for reader := new(rowReader); rows.Next(); {
		row, err := reader.scan(rows)
		if err != nil {
			return fmt.Errorf("reading the book: %w", &rowError{err})
		}
		if err := f(row); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("reading the book: %w", err)
	}
	return nil
}

// EachOf hands every event of some kinds to f, in order and streaming.
func (r *Reader) EachOf(ctx context.Context, kinds []message.Kind, f func(message.Event) error) error {
	rows, err := r.pool.Query(ctx, `SELECT `+columns+` FROM ledger.event WHERE kind = ANY($1) ORDER BY position`, inBinary, kinds)
	if err != nil {
		return fmt.Errorf("reading the book: %w", err)
	}
	return eachRow(rows, func(row *Row) error { return f(row.own().Event) })
}

// errEnough ends a walk early without being a failure.
var errEnough = errors.New("enough")

// Each hands every event behind a position to f, in order and streaming, up to
// and including the position last (0: to the end).
func (r *Reader) Each(ctx context.Context, after, last int64, f func(message.Event) error) error {
	err := r.each(ctx, after, func(row *Row) error {
		if last > 0 && row.Position > last {
			return errEnough
		}
		return f(row.own().Event)
	})
	if errors.Is(err, errEnough) {
		return nil
	}
	return err
}
