package ledger

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/lifecycle"
)

// A Log is the book as a room uses it: reading goes to the database, writing to
// the elected writer, whether that is in this process or in another.
type Log struct {
	*Reader
	conn    *bus.Conn
	writer  *Writer
	leading atomic.Bool
	log     *slog.Logger
}

// NewLog makes the book's way in. conn is the relay's connection to the bus.
func NewLog(pool *pgxpool.Pool, conn *bus.Conn, now clock.Clock, log *slog.Logger) *Log {
	return &Log{Reader: NewReader(pool), conn: conn, writer: NewWriter(dialler(pool), now, log), log: log}
}

// dialler opens connections of its own like those of the pool.
func dialler(pool *pgxpool.Pool) func(context.Context) (*pgx.Conn, error) {
	cfg := pool.Config().ConnConfig
	return func(ctx context.Context) (*pgx.Conn, error) { return pgx.ConnectConfig(ctx, cfg.Copy()) }
}

// Append writes events; see Writer.Append for the faults. When no writer is
// elected yet it waits for one, within ctx.
func (l *Log) Append(ctx context.Context, a Append) (Receipt, error) {
	if l.leading.Load() {
		return l.writer.Append(ctx, a)
	}
	if err := a.check(); err != nil {
		return Receipt{}, err
	}
	request, err := json.Marshal(a)
	if err != nil {
		return Receipt{}, fmt.Errorf("sending an append: %w", err)
	}
	for {
		receipt, err := l.appendElsewhere(ctx, request)
		// Between two writers nobody listens; the key makes asking again safe.
		if !fault.Is(err, fault.Unavailable) || !rest(ctx, 50*time.Millisecond) {
			return receipt, err
		}
		if l.leading.Load() {
			return l.writer.Append(ctx, a)
		}
	}
}

// answer is how a receipt or a fault travels.
type answer struct {
	Receipt Receipt      `json:"receipt"`
	Fault   *fault.Fault `json:"fault,omitempty"`
}

func (l *Log) appendElsewhere(ctx context.Context, request []byte) (Receipt, error) {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	reply, err := l.conn.Request(ctx, bus.Append, request)
	if err != nil {
		return Receipt{}, err
	}
	var a answer
	if err := json.Unmarshal(reply, &a); err != nil {
		return Receipt{}, fmt.Errorf("reading the writer's answer: %w", err)
	}
	if a.Fault != nil {
		return Receipt{}, a.Fault
	}
	return a.Receipt, nil
}

// CheckStream makes the event stream where there is none, and refuses to go on
// when it is ahead of the book: see ErrAhead.
func (l *Log) CheckStream(ctx context.Context, replicas int) error {
	last, err := l.conn.EnsureBook(ctx, replicas)
	if err != nil {
		return err
	}
	head, err := l.Head(ctx)
	if err != nil {
		return err
	}
	return notAhead(last, head)
}

// Parts gives what has to run in a process for its rooms to write and to hear:
// the candidate for writing and the candidate for relaying.
func (l *Log) Parts(replicas int) (writer, relay lifecycle.Part) {
	r := &relayer{reader: l.Reader, conn: l.conn, replicas: replicas, connect: l.writer.connect, written: l.writer.Written(), log: l.log}
	return lifecycle.NewLoop("writer of the book", l.log, l.lead), lifecycle.NewLoop("relay of the book", l.log, r.lead)
}

func (l *Log) lead(ctx context.Context) error {
	defer l.leading.Store(false)
	var service *bus.Service
	defer func() {
		if service != nil {
			_ = service.Stop(context.Background())
		}
	}()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var serveErr error
	err := l.writer.Lead(ctx, func() {
		l.leading.Store(true)
		l.log.Info("this process writes the book", "position", l.writer.head.Position)
		if service, serveErr = l.conn.Serve(bus.Append, "writer", l.serve); serveErr != nil {
			cancel()
		}
	})
	if err == nil {
		err = serveErr
	}
	return err
}

// serve takes an append from another process.
func (l *Log) serve(ctx context.Context, _ string, data []byte) []byte {
	var a Append
	var out answer
	err := json.Unmarshal(data, &a)
	if err == nil {
		ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
		defer cancel()
		out.Receipt, err = l.writer.Append(ctx, a)
	}
	if err != nil {
		out.Fault = fault.Of(err)
	}
	reply, err := json.Marshal(out)
	if err != nil {
		l.log.Error("an answer could not be written", "err", err)
	}
	return reply
}
