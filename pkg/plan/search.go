package plan

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// An item is a repair that is still open once the musts are done.
type item struct {
	position      int
	worth         int64 // in sixtieths
	minutes, cash int64
}

// A label is a beginning: some items decided, all others open.
type label struct {
	chosen        set
	worth         int64
	minutes, cash int64
	count         int32
	state         int32
	hope          float64 // an upper bound of what it can become
}

// better orders labels: more worth, less cash, fewer minutes, then the set that
// has the first position in which they differ.
func better(a, b *label) int {
	return cmp.Or(cmp.Compare(b.worth, a.worth), cmp.Compare(a.cash, b.cash),
		cmp.Compare(a.minutes, b.minutes), b.chosen.compare(a.chosen))
}

// A search decides the items one by one and carries along every beginning that
// is neither dominated by another nor without hope of beating the best set
// known. Beginnings are dominated by one that bars no more, is worth no less
// and takes no more; hope is measured by Lagrangian bounds over the items left,
// at several pairs of prices for a minute and a unit of cash.
type search struct {
	w              web
	items          []item
	minutes, cash  int64 // what the musts leave
	count          int64 // no more items than this fit into both
	musts          set
	tree           *tree
	bounds         []bound
	plain, counted *price // of these, what does not depend on the incumbent
	stubborn       bool   // narrow passes were not enough
	scratch        []float64
	guide          int // the bound that narrow passes rank by
	open           ways
	portion        int // see the constants of these names; tests lower them
	widest         int
	incumbent      label
	worthStep      int64 // every worth is a multiple of it
	cashStep       int64 // every cash is a multiple of it
	slack          float64
	cut            bool       // a narrow pass dropped labels
	effort, done   int64      // labels that may be, and were, looked at; no effort: any number
	spent          bool       // the effort was
	draw           *rand.Rand // the same every time
}

func newSearch(task Task, w web, musts set) *search {
	s := &search{w: w, musts: musts, minutes: task.Minutes, cash: task.CashMinor, draw: rand.New(rand.NewPCG(1, 2)), portion: portion, widest: widest, effort: task.Effort}
	for _, i := range musts.positions() {
		s.minutes -= task.Repairs[i].Minutes
		s.cash -= task.Repairs[i].CashMinor
	}
	for _, family := range w.families(s.free(task)) {
		for _, i := range family.positions() {
			r := task.Repairs[i]
			s.items = append(s.items, item{i, task.worth(r), r.Minutes, r.CashMinor})
		}
	}
	s.measure()
	return s
}

// free gives what can still be done beside the musts, alone with what it needs.
func (s *search) free(task Task) set {
	var free set
	for i := range task.Repairs {
		if s.musts.has(i) {
			continue
		}
		need := s.w.needs[i].minus(s.musts)
		if s.w.conflict(need.union(s.musts)) {
			continue
		}
		total := task.total(need)
		if total.Minutes <= s.minutes && total.CashMinor <= s.cash {
			free.put(i)
		}
	}
	return free
}

// measure finds the steps in which sums move, caps budgets at what could be
// used, and sets the slack that keeps rounding from ever discarding a label.
func (s *search) measure() {
	var minutes, cash int64
	size := 0.0
	for _, it := range s.items {
		s.worthStep = gcd(s.worthStep, it.worth)
		s.cashStep = gcd(s.cashStep, it.cash)
		minutes += it.minutes
		cash += it.cash
		size += math.Abs(float64(it.worth))
	}
	s.worthStep, s.cashStep = max(s.worthStep, 1), max(s.cashStep, 1)
	s.minutes, s.cash = min(s.minutes, minutes), min(s.cash, cash)
	s.slack = 1e-12*size + 1e-9
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}

// Narrow passes carry a few labels and find good sets fast; they are widened as
// long as they had to drop some. The last pass drops nothing.
const (
	narrowest = 100
	widening  = 6
	broadest  = 25_000
	attempts  = 3 // at one width, while it still finds something better
	// Polishing takes as long as a pass of this width.
	polishFrom = 3600
)

// portion is how many labels the last pass carries at once; more are worked off in
// portions, which costs time but not memory.
const portion = 1 << 17

// best gives the best set, musts included.
func (s *search) best() set {
	s.arrange()
	allowed := float64(workAtFirst)
	for width := narrowest; width < broadest && !s.spent; width *= widening {
		if s.narrow(width) || s.tabulate(min(allowed, s.cells())) {
			s.spent = false
			return s.incumbent.chosen.union(s.musts)
		}
		allowed, s.stubborn = math.Inf(1), width > narrowest
	}
	if !s.spent {
		s.pass(0)
	}
	return s.incumbent.chosen.union(s.musts)
}

// cellsOfOne is how many cells of a table take as long as one label.
const cellsOfOne = 200

// cells is how much of a table the effort that is left pays for.
func (s *search) cells() float64 {
	if s.effort == 0 {
		return math.Inf(1)
	}
	return cellsOfOne * float64(max(0, s.effort-s.done))
}

// works counts labels that are looked at, and says whether the effort is spent.
func (s *search) works(labels int64) bool {
	s.done += labels
	s.spent = s.spent || s.effort > 0 && s.done > s.effort
	return s.spent
}

// more is the most that any set can be worth beyond the incumbent: what the
// sharpest of the bounds leaves, in whole steps.
func (s *search) more() int64 {
	least := math.Inf(1)
	for _, b := range s.bounds {
		least = min(least, b.rest[0]+b.minute*float64(s.minutes)+b.cash*float64(s.cash)+b.each*float64(s.count))
	}
	left := least + s.slack - float64(s.incumbent.worth)
	return max(0, int64(left/float64(s.worthStep))*s.worthStep)
}

// narrow makes passes of one width and says whether the last one dropped nothing.
func (s *search) narrow(width int) bool {
	for range attempts {
		before := s.incumbent
		s.pass(width)
		if !s.cut {
			return true
		}
		if s.spent {
			break
		}
		if width >= polishFrom {
			s.polish()
			s.works(int64(len(pools)) << (freed/2 + 2))
		}
		if s.incumbent.chosen == before.chosen {
			break
		}
	}
	return false
}

func (s *search) pass(width int) {
	s.cut = false
	s.choosePrices()
	s.run(0, []label{{}}, []state{{}}, width)
}

// A state is what the decided items bar among the open ones, and where that
// stands in the tree of bounds.
type state struct {
	barred set
	node   int32
}

// run decides the items from level on. A width of 0 drops nothing.
func (s *search) run(level int, labels []label, states []state, width int) {
	for ; level < len(s.items) && len(labels) > 0; level++ {
		if s.works(int64(len(labels))) {
			s.cut = true
			return
		}
		var next []state
		labels, next = s.decide(level, labels, states)
		labels = undominated(labels)
		states = next
		switch {
		case width > 0 && len(labels) > width:
			s.cut = true
			byHope(labels)
			labels = labels[:width]
		case width == 0 && len(labels) > s.portion:
			byHope(labels)
			for part := range slices.Chunk(labels, s.portion/2) {
				s.run(level+1, s.hopeful(part, states), states, width)
			}
			return
		}
	}
	for i := range labels {
		if better(&labels[i], &s.incumbent) < 0 {
			s.incumbent = labels[i]
		}
	}
}

func byHope(labels []label) {
	slices.SortFunc(labels, func(a, b label) int {
		return cmp.Or(cmp.Compare(b.hope, a.hope), better(&a, &b))
	})
}

// hopeful drops what a better incumbent has meanwhile made hopeless.
func (s *search) hopeful(labels []label, states []state) []label {
	kept := make([]label, 0, len(labels))
	for _, l := range labels {
		if s.hopes(&l, states[l.state].node) {
			kept = append(kept, l)
		}
	}
	return kept
}

// decide makes of each label one without and, where it can be, one with the item
// of the level.
func (s *search) decide(level int, labels []label, states []state) ([]label, []state) {
	it, steps := s.items[level], s.steps(level, states)
	next := make([]label, 0, 2*len(labels))
	for _, l := range labels {
		step := steps.of[l.state]
		with := l
		l.state = step.out
		if s.hopes(&l, steps.states[l.state].node) {
			next = append(next, l)
		}
		if step.in < 0 || with.minutes+it.minutes > s.minutes || with.cash+it.cash > s.cash {
			continue
		}
		with.worth += it.worth
		with.minutes += it.minutes
		with.cash += it.cash
		with.count++
		with.chosen.put(it.position)
		with.state = step.in
		if s.hopes(&with, steps.states[with.state].node) {
			next = append(next, with)
		}
	}
	return next, steps.states
}

// steps is where the states of one level lead.
type steps struct {
	of     []struct{ out, in int32 } // in is -1 when the item is barred
	states []state
}

func (s *search) steps(level int, states []state) steps {
	var all steps
	known := map[set]int32{}
	intern := func(barred set, node int32) int32 {
		barred.drop(s.items[level].position)
		at, ok := known[barred]
		if !ok {
			at = int32(len(all.states))
			known[barred] = at
			all.states = append(all.states, state{barred, node})
		}
		return at
	}
	for _, from := range states {
		node := s.tree.nodes[from.node]
		step := struct{ out, in int32 }{in: -1}
		step.out = intern(from.barred.union(s.tree.fallen[level]), node.out)
		if !from.barred.has(s.items[level].position) {
			step.in = intern(from.barred.union(s.tree.struck[level]), node.in)
		}
		all.of = append(all.of, step)
	}
	return all
}

// undominated keeps, of labels in the same state, those that no other beats or
// equals in worth, cash and minutes together. Of full equals it keeps the one
// that the order of sets prefers.
func undominated(labels []label) []label {
	order := make([]*label, len(labels))
	for i := range labels {
		order[i] = &labels[i]
	}
	slices.SortFunc(order, func(a, b *label) int { return cmp.Or(cmp.Compare(a.state, b.state), better(a, b)) })
	kept := make([]label, 0, len(labels))
	var front stairs
	for i, l := range order {
		if i == 0 || l.state != order[i-1].state {
			front = front[:0]
		}
		if front.add(l.cash, l.minutes) {
			kept = append(kept, *l)
		}
	}
	return kept
}

// stairs are the cheapest pairs so far: cash rising, minutes falling.
type stairs []struct{ cash, minutes int64 }

// add puts a pair in, unless one already there takes no more of either.
func (f *stairs) add(cash, minutes int64) bool {
	pairs := *f
	at, _ := slices.BinarySearchFunc(pairs, cash, func(p struct{ cash, minutes int64 }, cash int64) int {
		if p.cash <= cash {
			return -1
		}
		return 1
	})
	if at > 0 && pairs[at-1].minutes <= minutes {
		return false
	}
	from, to := at, at
	if from > 0 && pairs[from-1].cash == cash {
		from--
	}
	for to < len(pairs) && pairs[to].minutes >= minutes {
		to++
	}
	*f = slices.Replace(pairs, from, to, struct{ cash, minutes int64 }{cash, minutes})
	return true
}
