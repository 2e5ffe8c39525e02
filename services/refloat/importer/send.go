package importer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

const (
	// atOnce is how many lanes run beside each other. The book writes what waits
	// together, so more than one is much quicker than one.
	atOnce = 8
	// tries is how often an order is repeated while a room does not answer.
	tries = 5
	// tellEvery is after how many rows progress is told.
	tellEvery = 500
	// blindAtOnce is the people room's own bound.
	blindAtOnce = 500
)

var operator = who.Service(desk.AtMachine)

// nameRows gives every row, and every giver, without a reference a name that is
// always the same for the same content. The people room blinds the content with
// the master key: a plain digest of a name would tell whoever guesses the name
// that it stands here.
func (r *run) nameRows(ctx context.Context, rows []*row) error {
	var texts []string
	var names []*string
	ask := func(name *string, text string) {
		texts, names = append(texts, text), append(names, name)
	}
	for _, row := range rows {
		row.name, row.giver = row.text(reference), row.text("Giver reference")
		if row.name == "" {
			ask(&row.name, "row of "+r.list.kind+" "+row.digest())
		}
		if row.giver == "" && r.list == &boats {
			ask(&row.giver, row.giverText())
		}
	}
	for len(texts) > 0 {
		n := min(len(texts), blindAtOnce)
		answer, err := desk.Ask[message.TextsBlinded](ctx, r.client, desk.Asking{By: operator}, message.BlindTexts{Texts: texts[:n]})
		if err == nil && len(answer.Blinded) != n {
			err = errors.New("the people room gave another number of names than it was asked for")
		}
		if err != nil {
			return fmt.Errorf("naming rows without a reference: %w", err)
		}
		for i, blinded := range answer.Blinded {
			*names[i] = blinded
		}
		texts, names = texts[n:], names[n:]
	}
	return nil
}

// give gives all orders, or rehearses them, lane by lane.
func (r *run) give(ctx context.Context, rehearsal bool) error {
	g := &giver{run: r, rehearsal: rehearsal, refused: map[int]bool{}, introduced: map[string]bool{}}
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(atOnce)
	for _, lane := range lanes(r.orders) {
		group.Go(func() error { return g.lane(ctx, lane) })
	}
	err := group.Wait()
	r.orders = slices.DeleteFunc(r.orders, func(o order) bool { return g.refused[o.line] })
	return err
}

// lanes parts orders by lane, in the order of lines, those that are late last.
func lanes(orders []order) [][]order {
	at := map[string]int{}
	var all [][]order
	for _, o := range orders {
		i, there := at[o.lane]
		if !there {
			i = len(all)
			at[o.lane] = i
			all = append(all, nil)
		}
		all[i] = append(all[i], o)
	}
	for _, lane := range all {
		slices.SortStableFunc(lane, func(a, b order) int { return cmp.Compare(late(a), late(b)) })
	}
	return all
}

func late(o order) int {
	if o.late {
		return 1
	}
	return 0
}

// giver gives orders from several goroutines; what it counts is under mu.
type giver struct {
	run       *run
	rehearsal bool

	mu         sync.Mutex
	done       int
	refused    map[int]bool    // by line
	introduced map[string]bool // persons, by orders that were taken
}

// lane gives the orders of one lane one after the other. Each has seen what the
// one before it wrote.
func (g *giver) lane(ctx context.Context, orders []order) error {
	var seen int64
	for _, o := range orders {
		reply, err := g.giveEither(ctx, o, seen)
		if f := fault.Of(err); f != nil && isOurs(f.Kind) {
			return fmt.Errorf("line %d: %w", o.line, err)
		}
		seen = max(seen, reply.Position)
		g.note(o, reply, err)
	}
	return nil
}

// isOurs says whether a fault is not the row's.
func isOurs(kind fault.Kind) bool {
	switch kind {
	case fault.Unavailable, fault.Busy, fault.Internal, fault.SignIn, fault.Forbidden:
		return true
	}
	return false
}

// giveEither gives an order that introduces a person, and when the club knows
// the person, or the row came in earlier without introducing them, the order
// that does not.
func (g *giver) giveEither(ctx context.Context, o order, seen int64) (message.Reply, error) {
	reply, err := g.giveOne(ctx, o, o.command, seen)
	if err == nil || o.known == nil || !(isAboutKnown(err) || fault.Is(err, fault.Conflict)) {
		return reply, err
	}
	again, other := g.giveOne(ctx, o, o.known, seen)
	if other == nil || isAboutKnown(err) {
		return again, other
	}
	return reply, err
}

// isAboutKnown says whether a room refused details of a person whom it knows.
func isAboutKnown(err error) bool {
	f := fault.Of(err)
	return f.Field == "new_giver" || f.Field == "details"
}

// giveOne gives one order, again while the room does not answer: its key makes
// that safe.
func (g *giver) giveOne(ctx context.Context, o order, command desk.Commanded, seen int64) (reply message.Reply, err error) {
	asking := desk.Asking{By: operator, Key: o.key, Seen: seen, HappenedAt: o.happened, Check: g.rehearsal}
	for try := range tries {
		reply, err = g.run.client.Do(ctx, asking, command)
		if !fault.Is(err, fault.Unavailable) && !fault.Is(err, fault.Busy) {
			return reply, err
		}
		select {
		case <-time.After(100 * time.Millisecond << try):
		case <-ctx.Done():
			return reply, err
		}
	}
	return reply, err
}

// note counts what came of an order.
func (g *giver) note(o order, reply message.Reply, err error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	s := &g.run.summary
	s.Position = max(s.Position, reply.Position)
	if err != nil && g.willBeKnown(o, err) {
		err = nil
	}
	if err == nil {
		g.introduced[o.introduces] = true
	}
	switch {
	case err != nil:
		g.refuse(o, fault.Of(err))
	case reply.Repeated:
		s.Already++
	case g.rehearsal:
		s.Good++
	default:
		s.Imported++
	}
	if g.done++; g.done%tellEvery == 0 {
		_, _ = fmt.Fprintf(g.run.progress, "%s: %d of %d rows\n", s.File, g.done, len(g.run.orders))
	}
}

// willBeKnown says whether a rehearsal missed only a person whom an earlier order
// of its lane will have introduced.
func (g *giver) willBeKnown(o order, err error) bool {
	if !g.rehearsal || o.restsOn == "" || !g.introduced[o.restsOn] {
		return false
	}
	switch fault.Of(err).Field {
	case "giver", "household", "guardian", "details":
		return true
	}
	return false
}

func (g *giver) refuse(o order, f *fault.Fault) {
	column, found := g.run.list.columnOf(f.Field)
	reason := f.Text
	switch {
	case !found && f.Field != "":
		reason = f.Field + ": " + reason
	case f.Kind == fault.Conflict && f.Field == "":
		reason += "; an import does not change what came in before"
	}
	g.run.add(Problem{Line: o.line, Column: column, Reason: reason})
	g.run.summary.Bad++
	g.refused[o.line] = true
}
