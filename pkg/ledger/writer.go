package ledger

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

const (
	// queueLength bounds the appends that wait; beyond it callers hear "busy".
	queueLength = 4096
	// batchEvents and batchBytes bound one statement.
	batchEvents = 512
	batchBytes  = 1 << 20
	// gatherFor is the longest that a batch waits for callers who were seen a
	// moment ago and are likely to come again.
	gatherFor = 150 * time.Microsecond
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

	// mu lets nothing into the queue of a writer that does not lead: nobody
	// would answer it, or it would be written long after its caller has gone.
	mu      sync.RWMutex
	leading bool

	// Owned by Lead.
	conn     *pgx.Conn
	head     Head
	versions map[string]int64
	chain    *chainer
	inAir    int // appends of the last batch: as many are likely to come again
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
	return nil
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
	w.inAir = len(g.items)
	return g.items, nil
}

func (w *Writer) gatherMore(ctx context.Context, g *gathered) {
	var patience <-chan time.Time
	for !g.full() {
		select {
		case item := <-w.queue:
			g.take(item)
			continue
		default:
		}
		if len(g.items) >= w.inAir {
			return
		}
		if patience == nil {
			patience = time.After(gatherFor)
		}
		select {
		case item := <-w.queue:
			g.take(item)
		case <-patience:
			return
		case <-ctx.Done():
			return // write what is there, then stop
		}
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
	return w.attempt(ctx, batch, hopeful)
}

// A hopeful plan reads no keys, and takes streams for new that every caller expects
// to be new: the constraints of the table refuse what was hoped wrongly. A thorough
// one reads all of it first.
const (
	hopeful  = false
	thorough = true
)

func (w *Writer) attempt(ctx context.Context, batch []*waiting, how bool) error {
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
	}
	return w.writeOneByOne(ctx, p, err)
}

// A plan is what the appends of a batch become, in order.
type plan struct {
	how      bool
	rows     []Row
	items    []planned
	repeats  map[string][]*waiting // by the key of an item
	versions map[string]int64      // what the streams will be at
	assumed  map[string]bool       // streams taken for new; false: they had to be read
	at       time.Time
}

// planned is an append with the end of its rows in the plan, or with the fault
// that it meets if the plan holds: a conflict with what stands before it in the
// batch is none when that is not written after all.
type planned struct {
	*waiting
	end     int
	refusal error
}

// plan decides, in order, what each append becomes. Answers from the past are given
// at once; what is left stands in the plan.
func (w *Writer) plan(ctx context.Context, batch []*waiting, how bool) (*plan, error) {
	p := &plan{how: how, repeats: map[string][]*waiting{}, versions: map[string]int64{}, assumed: map[string]bool{}}
	p.at = laterOf(w.clock.Now(), w.head.RecordedAt)
	batch, err := w.prepare(ctx, p, batch)
	if err != nil {
		p.leaveOver(batch)
		return p, err
	}
	for _, item := range batch {
		if _, here := p.repeats[item.append.Key]; here {
			p.repeats[item.append.Key] = append(p.repeats[item.append.Key], item)
		} else if conflict := w.conflictOf(p, &item.append); conflict != nil {
			p.items = append(p.items, planned{item, len(p.rows), conflict})
		} else {
			w.add(p, item)
		}
	}
	return p, w.answerRefused(ctx, p)
}

// prepare reads what the plan needs to know, and gives what is left of the batch.
func (w *Writer) prepare(ctx context.Context, p *plan, batch []*waiting) ([]*waiting, error) {
	if p.how == thorough {
		var err error
		if batch, err = w.answerOld(ctx, batch); err != nil {
			return batch, err
		}
	}
	return batch, w.fillVersions(ctx, p, batch)
}

// answerOld gives those appends whose key is known their first answer, and gives
// the others.
func (w *Writer) answerOld(ctx context.Context, items []*waiting) ([]*waiting, error) {
	keys := make([]string, len(items))
	for i, item := range items {
		keys[i] = item.append.Key
	}
	old, err := byKeys(ctx, w.conn, keys)
	if err != nil {
		return items, err
	}
	var others []*waiting
	for _, item := range items {
		if rows := old[item.append.Key]; rows != nil {
			item.done(receiptOf(rows, item.append.Digest))
		} else {
			others = append(others, item)
		}
	}
	return others, nil
}

// answerRefused looks whether appends that the plan refuses were written before:
// one that is repeated has the version that it expected then.
func (w *Writer) answerRefused(ctx context.Context, p *plan) error {
	var refused []*waiting
	for _, item := range p.items {
		if item.refusal != nil {
			refused = append(refused, item.waiting)
		}
	}
	if len(refused) == 0 || p.how == thorough {
		return nil
	}
	others, err := w.answerOld(ctx, refused)
	if err == nil && len(others) < len(refused) {
		p.items = slices.DeleteFunc(p.items, func(item planned) bool {
			return item.refusal != nil && !slices.Contains(others, item.waiting)
		})
	}
	return err
}

// leaveOver takes in appends of which nothing is known yet, to be answered by
// whoever handles the error.
func (p *plan) leaveOver(items []*waiting) {
	for _, item := range items {
		p.items = append(p.items, planned{item, len(p.rows), nil})
	}
}

// fillVersions reads, in one trip, the versions that are not in memory and that
// cannot be taken for granted.
func (w *Writer) fillVersions(ctx context.Context, p *plan, batch []*waiting) error {
	if len(w.versions) > cachedVersions {
		clear(w.versions)
	}
	missing := w.assume(p, batch)
	if len(missing) == 0 {
		return nil
	}
	found, err := streamVersions(ctx, w.conn, missing)
	if err != nil {
		return err
	}
	for _, stream := range missing {
		w.versions[stream] = found[stream] // 0 when it has no event yet
	}
	return nil
}

// assume takes for new those streams that are not in memory and that every append
// of the batch which names them both expects to be new and writes to: were one of
// them not new, its first version would stand in the book already, and PostgreSQL
// would refuse the batch. It gives the streams that have to be read.
func (w *Writer) assume(p *plan, batch []*waiting) (missing []string) {
	doubtful := func(stream string) {
		if known, seen := p.assumed[stream]; known || !seen {
			p.assumed[stream] = false
			missing = append(missing, stream)
		}
	}
	for _, item := range batch {
		a := &item.append
		for i := range a.Events {
			stream := a.Events[i].Stream
			if _, cached := w.versions[stream]; cached || i > 0 && stream == a.Events[i-1].Stream {
				continue
			}
			if _, seen := p.assumed[stream]; p.how == thorough || !a.expectsNew(stream) {
				doubtful(stream)
			} else if !seen {
				p.assumed[stream] = true
			}
		}
		for _, e := range a.Expect {
			if _, cached := w.versions[e.Stream]; !cached && (!p.assumed[e.Stream] || !a.writes(e.Stream)) {
				doubtful(e.Stream)
			}
		}
	}
	return missing
}

func (a *Append) expectsNew(stream string) bool {
	return slices.Contains(a.Expect, Expected{stream, 0})
}

func (a *Append) writes(stream string) bool {
	return slices.ContainsFunc(a.Events, func(e New) bool { return e.Stream == stream })
}

// version gives a stream's version as it will be after what is planned.
func (w *Writer) version(p *plan, stream string) int64 {
	if v, planned := p.versions[stream]; planned {
		return v
	}
	return w.versions[stream] // 0 when it is assumed to be new
}

func (w *Writer) conflictOf(p *plan, a *Append) error {
	for _, e := range a.Expect {
		if now := w.version(p, e.Stream); e.Version != AnyVersion && e.Version != now {
			return fault.New(fault.Conflict, "somebody else wrote meanwhile: %s is at version %d, not %d", e.Stream, now, e.Version)
		}
	}
	return nil
}

// receiptOf gives the first answer again, unless the key was used for something
// else.
func receiptOf(rows []Row, digest []byte) (Receipt, error) {
	if !bytes.Equal(rows[0].RequestDigest, digest) {
		return Receipt{}, fault.New(fault.Conflict, "this request key was used before for something else; nothing was written")
	}
	return Receipt{Repeated: true, Events: asSaid(rows)}, nil
}

// add gives an append its rows at the end of the plan.
func (w *Writer) add(p *plan, item *waiting) {
	a := &item.append
	prev, position := w.head.Hash, w.head.Position
	if n := len(p.rows); n > 0 {
		prev, position = p.rows[n-1].Hash, p.rows[n-1].Position
	}
	happened := a.HappenedAt
	if happened.IsZero() {
		happened = p.at
	}
	for i, e := range a.Events {
		version := w.version(p, e.Stream) + 1
		p.versions[e.Stream] = version
		position++
		row := Row{
			Event: message.Event{
				Position: position, ID: uuid.Must(uuid.NewV7()).String(), Stream: e.Stream, Version: version,
				Kind: e.Kind, Schema: e.Schema, Boat: e.Boat,
				HappenedAt: happened.UTC().Truncate(time.Microsecond), RecordedAt: p.at,
				Actor: a.Actor, Cause: a.Cause, Correlation: a.Correlation, RequestKey: a.Key,
				Data: []byte(e.Data), PrevHash: prev,
			},
			RequestPart: i, RequestDigest: a.Digest,
		}
		row.Hash = w.chain.hash(&row)
		prev = row.Hash
		p.rows = append(p.rows, row)
	}
	p.items = append(p.items, planned{item, len(p.rows), nil})
	p.repeats[a.Key] = nil
}

// errMoved says that the head was not where this writer left it.
var errMoved = errors.New("another writer moved the head of the book")

func (w *Writer) commit(ctx context.Context, p *plan) error {
	if len(p.rows) > 0 {
		moved, err := insert(ctx, w.conn, w.head, p.rows)
		if err != nil {
			return err
		}
		if !moved {
			return errMoved
		}
		w.take(p)
	}
	p.settle()
	return nil
}

// take takes over what was written.
func (w *Writer) take(p *plan) {
	last := &p.rows[len(p.rows)-1]
	w.head.Position, w.head.Hash, w.head.RecordedAt = last.Position, last.Hash, last.RecordedAt
	maps.Copy(w.versions, p.versions)
	w.written.Set()
}

// settle answers the callers of a plan that holds.
func (p *plan) settle() {
	begin := 0
	for _, item := range p.items {
		if item.refusal != nil {
			item.done(Receipt{}, item.refusal)
			continue
		}
		rows := p.rows[begin:item.end]
		begin = item.end
		item.done(Receipt{Events: asSaid(rows)}, nil)
		for _, again := range p.repeats[item.append.Key] {
			again.done(receiptOf(rows, again.append.Digest))
		}
	}
}

// unanswered gives every append of a plan that does not hold, in order.
func (p *plan) unanswered() []*waiting {
	var all []*waiting
	for _, item := range p.items {
		all = append(all, item.waiting)
		all = append(all, p.repeats[item.append.Key]...)
		delete(p.repeats, item.append.Key)
	}
	return all
}

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
