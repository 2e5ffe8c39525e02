package ledger

import (
	"context"
	"fmt"
	"log/slog"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/watch"
)

const (
	// queueLength bounds the appends that wait; beyond it callers hear "busy".
	queueLength = 4096
	// batchEvents and batchBytes bound one statement.
	batchEvents = 512
	batchBytes  = 1 << 20
	// gatherFor is the longest that a batch waits for callers who were seen a
	// moment ago and are likely to come again, gatherPause the longest that it
	// waits for the next of them.
	gatherFor   = 400 * time.Microsecond
	gatherPause = 50 * time.Microsecond
	// cachedVersions bounds the versions kept in memory.
	cachedVersions = 200_000
	// resolveFor bounds how long a lost connection may leave callers waiting.
	resolveFor = 20 * time.Second
	// writerLock is the session lock that elects the one writer.
	writerLock = 0x5245464c4f415401
)

// A Writer is the one goroutine that writes the book while its process holds
// the writer's lock. Make it with NewWriter and let Lead own it.
type Writer struct {
	connect func(context.Context) (*pgx.Conn, error)
	clock   clock.Clock
	log     *slog.Logger
	queue   chan *waiting
	written *Signal
	figures *watch.Figures

	// mu lets nothing into the queue of a writer that does not lead: nobody
	// would answer it, or it would be written long after its caller has gone.
	mu      sync.RWMutex
	leading bool

	// Owned by Lead.
	conn     *pgx.Conn
	pen      *pen // of conn
	head     Head
	versions map[string]int64
	chain    *chainer
	behind   bool // the clock is behind what stands in the book
	inAir    int  // so many appends are likely to come together again
}

// waiting is an append with the channel on which its caller waits.
type waiting struct {
	ctx    context.Context // of the caller
	append Append
	answer chan outcome // buffered: the writer never waits for a caller
}

type outcome struct {
	receipt Receipt
	err     error
}

func (w *waiting) done(r Receipt, err error) { w.answer <- outcome{r, err} }

// NewWriter makes a writer that opens its own connection with connect.
func NewWriter(connect func(context.Context) (*pgx.Conn, error), now clock.Clock, log *slog.Logger) *Writer {
	return &Writer{connect: connect, clock: now, log: log, queue: make(chan *waiting, queueLength), written: NewSignal()}
}

// Written is signalled after each batch, for a relay in the same process.
func (w *Writer) Written() *Signal { return w.written }

// Append hands an append to the writer and waits for its answer. Faults:
// Invalid (the append itself is wrong), Conflict (a stream is at another version,
// or the key was used for something else), Busy (the queue is full; nothing was
// written), Unavailable (this writer does not lead, or ctx ended, or the writer
// stopped: it may have been written; repeating it with the same key is safe).
func (w *Writer) Append(ctx context.Context, a Append) (Receipt, error) {
	if err := a.check(); err != nil {
		return Receipt{}, err
	}
	return w.submit(ctx, a)
}

// submit is Append for what was checked.
func (w *Writer) submit(ctx context.Context, a Append) (Receipt, error) {
	item := &waiting{ctx, a, make(chan outcome, 1)}
	if err := w.enqueue(item); err != nil {
		return Receipt{}, err
	}
	select {
	case out := <-item.answer:
		return out.receipt, out.err
	case <-ctx.Done():
		return Receipt{}, fault.Because(fault.Unavailable, ctx.Err(), "the book did not answer in time; try again, nothing will be doubled")
	}
}

func (w *Writer) enqueue(item *waiting) error {
	w.mu.RLock()
	defer w.mu.RUnlock()
	if !w.leading {
		return stepDown(nil)
	}
	select {
	case w.queue <- item:
		return nil
	default:
		return fault.New(fault.Busy, "the book is being written in too many places at once; nothing was written; try again in a moment")
	}
}

func (w *Writer) setLeading(leading bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.leading = leading
}

// Lead waits for the writer's lock and then writes until ctx ends or the lock is
// lost, in which case it gives an error; everything that still waits is then
// answered. led is called once the lock is held.
func (w *Writer) Lead(ctx context.Context, led func()) error {
	if err := w.takeLock(ctx); err != nil {
		if ctx.Err() != nil {
			return nil // stopped while it waited
		}
		return err
	}
	defer w.leave()
	w.setLeading(true)
	led()
	for {
		batch, err := w.gather(ctx)
		if err != nil {
			return nil // ctx ended: stopping is no failure
		}
		if err := w.write(ctx, batch); err != nil {
			return err
		}
	}
}

func (w *Writer) takeLock(ctx context.Context) error {
	conn, err := w.connect(ctx)
	if err != nil {
		return fmt.Errorf("connecting to the book: %w", err)
	}
	w.conn, w.chain = conn, newChainer()
	if err := waitForLock(ctx, conn, writerLock); err != nil {
		hangUp(conn)
		return fmt.Errorf("waiting for the writer's lock: %w", err)
	}
	if err := w.reload(ctx); err != nil {
		hangUp(conn)
		return err
	}
	return nil
}

// reload fences off whatever an earlier writer may still have on its way and
// starts from the head as it is then. What is answered has to be on disk, so a
// server that is set to answer sooner is told not to.
func (w *Writer) reload(ctx context.Context) error {
	_, err := w.conn.Exec(ctx, `SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off'`)
	if err != nil {
		return fmt.Errorf("setting up the writer's session: %w", err)
	}
	head, err := fence(ctx, w.conn)
	if err != nil {
		return err
	}
	w.head, w.versions = head, map[string]int64{}
	if w.pen == nil || w.pen.conn != w.conn {
		w.pen, err = newPen(ctx, w.conn)
	}
	return err
}

// leave answers everything that waits and gives the lock back.
func (w *Writer) leave() {
	w.setLeading(false)
	hangUp(w.conn)
	for {
		select {
		case item := <-w.queue:
			item.done(Receipt{}, stepDown(nil))
		default:
			return
		}
	}
}

// stepDown is the answer to those who wait while the book has no writer.
func stepDown(err error) error {
	return fault.Because(fault.Unavailable, err, "the book is changing hands; try again in a moment, nothing will be doubled")
}

// gather waits for a first append and takes along what else is there, waiting a
// little for callers who took part in the last batch.
func (w *Writer) gather(ctx context.Context) ([]*waiting, error) {
	var g gathered
	for len(g.items) == 0 {
		select {
		case item := <-w.queue:
			g.take(item)
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	w.gatherMore(ctx, &g)
	// Some may have come late this time: the number is forgotten by and by.
	w.inAir = max(len(g.items), w.inAir-w.inAir/8-1)
	return g.items, nil
}

// gatherMore takes along what waits. While fewer wait than came a moment ago it lets
// them run, as long as one after the other still comes: the server has nothing to do
// meanwhile, and all of them share one commit.
func (w *Writer) gatherMore(ctx context.Context, g *gathered) {
	begun := time.Now()
	for latest := begun; !g.full(); {
		select {
		case item := <-w.queue:
			g.take(item)
			latest = time.Now()
			continue
		default:
		}
		now := time.Now()
		if len(g.items) >= w.inAir || now.Sub(latest) > gatherPause || now.Sub(begun) > gatherFor || ctx.Err() != nil {
			return
		}
		runtime.Gosched() // a timer would be too coarse, and sleep too long
	}
}

// gathered is a batch in the making.
type gathered struct {
	items        []*waiting
	events, size int
}

// take adds an append, unless its caller has gone: nobody would hear the answer.
func (g *gathered) take(item *waiting) {
	if err := item.ctx.Err(); err != nil {
		item.done(Receipt{}, stepDown(err))
		return
	}
	g.items = append(g.items, item)
	g.events += len(item.append.Events)
	g.size += item.append.size()
}

func (g *gathered) full() bool { return g.events >= batchEvents || g.size >= batchBytes }

// write answers every append of a batch. It gives an error only when this
// writer can no longer lead; the batch is answered then too.
func (w *Writer) write(ctx context.Context, batch []*waiting) error {
	// What was begun is finished even while the program stops.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), resolveFor)
	defer cancel()
	begin, from := time.Now(), w.head.Position
	err := w.attempt(ctx, batch, hopeful)
	if written := w.head.Position - from; written > 0 {
		w.figures.Committed(len(batch), int(written), time.Since(begin))
	}
	return err
}

// care is how much is read before a plan is made. A hopeful plan reads no keys, and
// takes streams for new that every caller expects to be new: the constraints of the
// table refuse what was hoped wrongly. A thorough one reads all of it first.
type care int

const (
	hopeful care = iota
	thorough
)

// noRoom begins the SQLSTATEs of a server that lacks disk, memory or connections
// (PostgreSQL 15, appendix A, class 53): it is not the append's fault.
const noRoom = "53"

func (w *Writer) attempt(ctx context.Context, batch []*waiting, how care) error {
	p, err := w.plan(ctx, batch, how)
	if err == nil {
		err = w.commit(ctx, p)
	}
	if err == nil {
		return nil
	}
	answer, certain := refusedByServer(err)
	switch {
	case !certain:
		return w.resolve(ctx, p, err)
	case answer.Code == uniqueViolation && how == hopeful:
		clear(w.versions)
		return w.attempt(ctx, p.unanswered(), thorough)
	case strings.HasPrefix(answer.Code, noRoom):
		w.log.Error("the book has no room: the database refuses to write until there is some", "events", len(p.rows), "err", err)
		clear(w.versions)
		answerAll(p.unanswered(), fault.Because(fault.Busy, err, "the book has no room to write in; nothing was written; whoever looks after the machine has to make room first"))
		return nil
	}
	return w.writeOneByOne(ctx, p, err)
}
