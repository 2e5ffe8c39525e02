package ledger

import (
	"bytes"
	"context"
	"errors"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// A plan is what the appends of a batch become, in order.
type plan struct {
	how      care
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

// now is the clock's time, or that of the last event if the clock went back: times in
// the book never decrease.
func (w *Writer) now() time.Time {
	now := w.clock.Now()
	if behind := w.head.RecordedAt.Sub(now) > clockSlack; behind != w.behind {
		w.behind = behind
		if behind {
			w.log.Warn("the clock went back: events keep the time of the last one until it has caught up", "clock", now, "book", w.head.RecordedAt)
		} else {
			w.log.Info("the clock has caught up with the book")
		}
	}
	return laterOf(now, w.head.RecordedAt)
}

// clockSlack is how far a clock is set back in its ordinary care.
const clockSlack = time.Second

func newPlan(batch []*waiting, how care) *plan {
	events := 0
	for _, item := range batch {
		events += len(item.append.Events)
	}
	n := len(batch)
	return &plan{how: how, rows: make([]Row, 0, events), items: make([]planned, 0, n), repeats: make(map[string][]*waiting, n),
		versions: make(map[string]int64, n), assumed: make(map[string]bool, n)}
}

// plan decides, in order, what each append becomes. Answers from the past are given
// at once; what is left stands in the plan.
func (w *Writer) plan(ctx context.Context, batch []*waiting, how care) (*plan, error) {
	p := newPlan(batch, how)
	p.at = w.now()
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
		moved, err := w.pen.insert(ctx, w.head, p.rows)
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
