package ledger

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/watch"
)

// A Log is the book as a room uses it: reading goes to the database, writing to
// the elected writer, whether that is in this process or in another.
type Log struct {
	*Reader
	conn    *bus.Conn
	writer  *Writer
	leading atomic.Bool
	figures *watch.Figures
	log     *slog.Logger
}

// NewLog makes the book's way in. conn is the relay's connection to the bus.
func NewLog(pool *pgxpool.Pool, conn *bus.Conn, now clock.Clock, log *slog.Logger) *Log {
	return &Log{Reader: NewReader(pool), conn: conn, writer: NewWriter(dialler(pool), now, log), log: log}
}

// Watch lets the book measure its work. Before its parts start.
func (l *Log) Watch(f *watch.Figures) {
	l.figures, l.writer.figures = f, f
	f.Queue(func() int { return len(l.writer.queue) }, cap(l.writer.queue))
}

// dialler opens connections of its own like those of the pool. The server is
// told to look after them: the lock of a machine that vanished must come free
// within half a minute.
func dialler(pool *pgxpool.Pool) func(context.Context) (*pgx.Conn, error) {
	cfg := pool.Config().ConnConfig
	for name, value := range map[string]string{"tcp_keepalives_idle": "10", "tcp_keepalives_interval": "5", "tcp_keepalives_count": "3"} {
		if _, said := cfg.RuntimeParams[name]; !said {
			cfg.RuntimeParams[name] = value
		}
	}
	return func(ctx context.Context) (*pgx.Conn, error) { return pgx.ConnectConfig(ctx, cfg.Copy()) }
}

// Append writes events; see Writer.Append for the faults. While the book has no
// writer, or changes hands, it tries again until ctx ends: the key makes that
// safe.
func (l *Log) Append(ctx context.Context, a Append) (receipt Receipt, err error) {
	ctx, span := watch.Within(ctx, "append")
	begin := time.Now()
	defer func() {
		l.figures.Appended(time.Since(begin), receipt.Repeated, err)
		span.Note("position", strconv.FormatInt(receipt.Position(), 10))
		span.End(err)
	}()
	if err := a.check(); err != nil {
		return Receipt{}, err
	}
	for {
		receipt, err := l.appendOnce(ctx, a)
		if !fault.Is(err, fault.Unavailable) || !rest(ctx, againAfter) {
			return receipt, err
		}
	}
}

// againAfter is the pause before an append is tried again.
const againAfter = 50 * time.Millisecond

func (l *Log) appendOnce(ctx context.Context, a Append) (Receipt, error) {
	if l.leading.Load() {
		return l.writer.submit(ctx, a)
	}
	return l.appendElsewhere(ctx, a)
}

// answer is how a receipt or a fault travels.
type answer struct {
	Receipt Receipt      `json:"receipt"`
	Fault   *fault.Fault `json:"fault,omitempty"`
}

func (l *Log) appendElsewhere(ctx context.Context, a Append) (Receipt, error) {
	var request bytes.Buffer
	enc := json.NewEncoder(&request)
	enc.SetEscapeHTML(false) // the largest append has to fit into a message
	if err := enc.Encode(a); err != nil {
		return Receipt{}, fmt.Errorf("sending an append: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	reply, err := l.conn.Request(ctx, bus.Append, request.Bytes())
	if err != nil {
		return Receipt{}, err
	}
	var out answer
	if err := json.Unmarshal(reply, &out); err != nil {
		return Receipt{}, fmt.Errorf("reading the writer's answer: %w", err)
	}
	if out.Fault != nil {
		return Receipt{}, out.Fault
	}
	return out.Receipt, nil
}

// CheckStream makes the event stream where there is none, and refuses to go on
// when it is not the beginning of the book: see ErrAhead.
func (l *Log) CheckStream(ctx context.Context, replicas int) error {
	last, err := l.conn.EnsureBook(ctx, replicas)
	for begin := time.Now(); err != nil && time.Since(begin) < streamFor && rest(ctx, time.Second); {
		l.log.Warn("the event stream is not ready; trying again", "err", err)
		last, err = l.conn.EnsureBook(ctx, replicas)
	}
	if err != nil {
		return err
	}
	return sameBook(ctx, l.Reader, l.conn, last)
}

// streamFor is how long a cluster may take to agree on its leaders before a start
// gives up.
const streamFor = 30 * time.Second

// Parts gives what has to run in a process for its rooms to write and to hear:
// the candidate for writing and the candidate for relaying.
func (l *Log) Parts(replicas int) (writer, relay lifecycle.Part) {
	r := &relayer{reader: l.Reader, conn: l.conn, replicas: replicas, connect: l.writer.connect, written: l.writer.Written(), log: l.log}
	return lifecycle.NewLoop("writer of the book", l.log, l.lead), lifecycle.NewLoop("relay of the book", l.log, r.lead)
}

func (l *Log) lead(ctx context.Context) error {
	defer func() { l.leading.Store(false); l.figures.Leads(false) }()
	var service *bus.Service
	defer func() {
		if service != nil {
			stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), serveFor)
			defer cancel()
			if err := service.Stop(stopping); err != nil {
				l.log.Warn("appends of other processes were still waiting", "err", err)
			}
		}
	}()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var serveErr error
	err := l.writer.Lead(ctx, func() {
		l.leading.Store(true)
		l.figures.Leads(true)
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

// serveFor bounds the work on another process's append.
const serveFor = 5 * time.Second

// serve takes an append from another process.
func (l *Log) serve(ctx context.Context, _ string, data []byte) []byte {
	var a Append
	var out answer
	err := json.Unmarshal(data, &a)
	if err != nil {
		err = fault.Because(fault.Invalid, err, "the append cannot be read")
	} else {
		ctx, cancel := context.WithTimeout(ctx, serveFor)
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
