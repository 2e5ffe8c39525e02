package plan

import (
	"cmp"
	"math"
	"slices"
)

// A tree holds, level by level, what earlier decisions can bar. Where a level
// would grow too wide, nodes are merged into one that bars only what all of
// them bar: bounds taken from it stay true, if less sharp.
type tree struct {
	nodes  []node
	levels []int // where each level begins in nodes, and the end
	fallen []set // by level: what falls when the item is not done
	struck []set // by level: what its being done bars
}

type node struct{ out, in int32 } // in is -1 when the item is barred

// widest is how many nodes a level of the tree may have.
const widest = 256

func (s *search) grow() {
	t := &tree{levels: []int{0}}
	open := set{}
	for _, it := range s.items {
		open.put(it.position)
	}
	states := []set{{}}
	for _, it := range s.items {
		open.drop(it.position)
		fallen, struck := s.w.needless[it.position].common(open), s.w.barredBy(it.position).common(open)
		t.fallen, t.struck = append(t.fallen, fallen), append(t.struck, struck)
		states = t.addLevel(states, it.position, s.widest)
	}
	t.nodes = append(t.nodes, node{-1, -1})
	t.levels = append(t.levels, len(t.nodes))
	s.tree = t
}

// addLevel adds the nodes of the states before an item and gives those after it.
func (t *tree) addLevel(states []set, position, widest int) []set {
	level := len(t.levels) - 1
	first := len(t.nodes) + len(states) // where the next level begins
	var next []set
	known := map[set]int32{}
	intern := func(barred set) int32 {
		barred.drop(position)
		at, ok := known[barred]
		switch {
		case ok:
		case len(next) < widest:
			at = int32(len(next))
			next = append(next, barred)
		default:
			at = int32(widest - 1)
			next[at] = next[at].common(barred)
		}
		known[barred] = at
		return int32(first) + at
	}
	for _, barred := range states {
		n := node{out: intern(barred.union(t.fallen[level])), in: -1}
		if !barred.has(position) {
			n.in = intern(barred.union(t.struck[level]))
		}
		t.nodes = append(t.nodes, n)
	}
	t.levels = append(t.levels, len(t.nodes))
	return next
}

// A price is what a minute, a unit of cash and one more item are taken to cost,
// in sixtieths.
type price struct{ minute, cash, each float64 }

// clear says how far an item is from being taken as gladly as not.
func (it item) clear(p price) float64 {
	return math.Abs(it.gain(p))
}

// gain is what an item is worth beyond its price.
func (it item) gain(p price) float64 {
	return float64(it.worth) - p.minute*float64(it.minutes) - p.cash*float64(it.cash) - p.each
}

// A bound is what can still be gained from each node of the tree when all that
// is used has its price.
type bound struct {
	price
	rest []float64
}

// gains fills in what each node can still gain at a price.
func (s *search) gains(p price, rest []float64) []float64 {
	rest = slices.Grow(rest[:0], len(s.tree.nodes))[:len(s.tree.nodes)]
	rest[len(rest)-1] = 0
	for level := len(s.items) - 1; level >= 0; level-- {
		it := s.items[level]
		left := it.gain(p)
		for n := s.tree.levels[level]; n < s.tree.levels[level+1]; n++ {
			best := rest[s.tree.nodes[n].out]
			if in := s.tree.nodes[n].in; in >= 0 {
				best = max(best, left+rest[in])
			}
			rest[n] = best
		}
	}
	return rest
}

// hopes says whether a label may yet beat the incumbent: in worth, or with equal
// worth in cash, or with both equal in minutes or the order of sets.
func (s *search) hopes(l *label, node int32) bool {
	left := s.open
	left.cash = left.cash && s.incumbent.cash-s.cashStep >= l.cash
	left.rest = left.rest && s.incumbent.cash >= l.cash && s.incumbent.minutes >= l.minutes
	worth := float64(s.incumbent.worth)
	more, equal := worth+float64(s.worthStep)-s.slack, worth-s.slack
	for i := range s.bounds {
		b := &s.bounds[i]
		base := float64(l.worth) + b.rest[node] + b.each*float64(s.count-int64(l.count))
		minutes, cash := b.minute*float64(s.minutes-l.minutes), b.cash*float64(s.cash-l.cash)
		cashLeft := b.cash * float64(s.incumbent.cash-l.cash)
		left.worth = left.worth && base+minutes+cash >= more
		left.cash = left.cash && base+minutes+cashLeft-b.cash*float64(s.cashStep) >= equal
		left.rest = left.rest && base+b.minute*float64(s.incumbent.minutes-l.minutes)+cashLeft >= equal
		if left == (ways{}) {
			return false
		}
		if i == s.guide {
			l.hope = base + minutes + cash
		}
	}
	return true
}

// ways are the ways in which the incumbent may yet be beaten.
type ways struct{ worth, cash, rest bool }

// choosePrices finds the prices at which the bounds are sharpest: for the whole
// budgets, for less cash or fewer minutes than the incumbent at no less worth,
// and some around the first for what is left over late in the search.
func (s *search) choosePrices() {
	high := s.highest()
	if s.plain == nil {
		plain := s.sharpestAt(high, 0)
		s.plain, s.counted = &plain, nil
	}
	if s.counted == nil && (s.stubborn || s.taken(*s.plain) > s.count) {
		counted := s.sharpestCounted(high, *s.plain)
		s.counted = &counted
	}
	plain, counted := *s.plain, *cmp.Or(s.counted, s.plain)
	forCash, forMinutes := s.sharpestForCash(high, counted.each), s.sharpestForMinutes(high, counted.each)
	s.bounds = nil
	for _, p := range []price{plain, counted, forCash, forMinutes} {
		s.bounds = append(s.bounds, bound{p, s.gains(p, nil)})
	}
	for _, f := range []float64{0.97, 1.03, 0.9, 1.1, 0.75, 1.3, 0.4, 2, 0} {
		s.addBound(price{plain.minute * f, plain.cash, 0})
		s.addBound(price{plain.minute, plain.cash * f, 0})
		s.addBound(price{plain.minute * f, plain.cash * f, 0})
		if f > 0 {
			s.addBound(price{plain.minute * f, plain.cash / f, 0})
		}
	}
	s.chooseGuide()
}

// chooseGuide finds by what narrow passes should rank labels: by the first thing
// in which the incumbent is not yet known to be best.
func (s *search) chooseGuide() {
	s.open = ways{true, true, true}
	for i, way := range []ways{{worth: true}, {cash: true}, {rest: true}} {
		s.open = way
		if s.hopes(&label{}, 0) {
			s.guide = []int{0, 2, 3}[i]
			break
		}
	}
	s.open = ways{true, true, true}
}

func (s *search) addBound(p price) {
	if !slices.ContainsFunc(s.bounds, func(b bound) bool { return b.price == p }) {
		s.bounds = append(s.bounds, bound{p, s.gains(p, nil)})
	}
}

// ceiling is the bound of the whole search at a price.
func (s *search) ceiling(p price) float64 {
	s.scratch = s.gains(p, s.scratch)
	return s.scratch[0] + p.minute*float64(s.minutes) + p.cash*float64(s.cash) + p.each*float64(s.count)
}

// sharpestCounted also puts a price on each item. It comes to bear when items gain
// by number rather than by size. It takes its time, so it is asked for only where
// more items pay than fit, or where narrow passes were not enough.
func (s *search) sharpestCounted(high, plain price) price {
	each, _ := closeIn(high.each, outerSteps, func(each float64) float64 { return s.ceiling(s.sharpestAt(high, each)) })
	if counted := s.sharpestAt(high, each); s.ceiling(counted) < s.ceiling(plain) {
		return counted
	}
	return plain
}

// sharpestAt gives the prices of minutes and cash that minimise the bound. It is
// convex, so it is enough to close in on the minimum, one within the other.
func (s *search) sharpestAt(high price, each float64) price {
	best := price{each: each}
	inner := func(minute float64) (cash, value float64) {
		return closeIn(high.cash, innerSteps, func(cash float64) float64 { return s.ceiling(price{minute, cash, each}) })
	}
	best.minute, _ = closeIn(high.minute, innerSteps, func(minute float64) float64 {
		_, value := inner(minute)
		return value
	})
	best.cash, _ = inner(best.minute)
	return best
}

// sharpestForCash gives the price at which a set of the incumbent's worth is
// shown to need the most cash.
func (s *search) sharpestForCash(high price, each float64) price {
	best := price{each: each}
	inner := func(cash float64) (minute, value float64) {
		return closeIn(high.minute, innerSteps, func(minute float64) float64 {
			return s.ceiling(price{minute, cash, each}) - cash*float64(s.cash)
		})
	}
	best.cash, _ = closeIn(high.cash, innerSteps, func(cash float64) float64 {
		_, value := inner(cash)
		return shortfall(value-float64(s.incumbent.worth), cash)
	})
	best.minute, _ = inner(best.cash)
	return best
}

// sharpestForMinutes gives the price at which a set of the incumbent's worth
// and no more cash is shown to need the most minutes.
func (s *search) sharpestForMinutes(high price, each float64) price {
	best := price{each: each}
	inner := func(minute float64) (cash, value float64) {
		return closeIn(high.cash, innerSteps, func(cash float64) float64 {
			p := price{minute, cash, each}
			return s.ceiling(p) - minute*float64(s.minutes) - cash*float64(s.cash-s.incumbent.cash)
		})
	}
	best.minute, _ = closeIn(high.minute, innerSteps, func(minute float64) float64 {
		_, value := inner(minute)
		return shortfall(value-float64(s.incumbent.worth), minute)
	})
	best.cash, _ = inner(best.minute)
	return best
}

// shortfall is how much of what has a price is missing for a worth; nothing can
// be said when it costs nothing.
func shortfall(worth, price float64) float64 {
	if price == 0 {
		return math.Inf(1)
	}
	return worth / price
}

// taken counts the items that pay at a price.
func (s *search) taken(p price) (count int64) {
	for _, it := range s.items {
		if it.gain(p) > -1e-9*math.Abs(float64(it.worth)) {
			count++
		}
	}
	return count
}

// highest are the prices at which no single item pays any more.
func (s *search) highest() (high price) {
	for _, it := range s.items {
		worth := max(0, float64(it.worth))
		high.each = max(high.each, worth)
		if it.minutes > 0 {
			high.minute = max(high.minute, worth/float64(it.minutes))
		}
		if it.cash > 0 {
			high.cash = max(high.cash, worth/float64(it.cash))
		}
	}
	return high
}

// mostItems is how many items fit into the budgets at most.
func (s *search) mostItems() int64 {
	alike := *s
	alike.items = slices.Clone(s.items)
	for i := range alike.items {
		alike.items[i].worth = 1
	}
	return int64(alike.ceiling(alike.sharpestAt(alike.highest(), 0)) + 1e-6)
}

// How often closeIn narrows its range, by the golden ratio each time: for one
// price of two, and for the price of an item around both.
const (
	innerSteps = 32
	outerSteps = 20
)

// closeIn finds the minimum of a function on [0, high] that first falls and then
// rises, by golden section.
func closeIn(high float64, steps int, f func(float64) float64) (x, value float64) {
	const ratio = 0.6180339887498949
	low := 0.0
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := f(a), f(b)
	for range steps {
		if fa <= fb {
			high, b, fb = b, a, fa
			a = high - ratio*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + ratio*(high-low)
			fb = f(b)
		}
	}
	x, value = a, fa
	if fb < fa {
		x, value = b, fb
	}
	if zero := f(0); zero <= value {
		return 0, zero
	}
	return x, value
}

// arrange puts the items into the order of decision: families together, the
// clearest first and the doubtful last, each repair after all that it needs.
func (s *search) arrange() {
	s.grow()
	s.count = s.mostItems()
	best := s.sharpestAt(s.highest(), 0)
	clear := map[int]float64{}
	members, byPosition := set{}, map[int]item{}
	for _, it := range s.items {
		clear[it.position] = it.clear(best)
		members.put(it.position)
		byPosition[it.position] = it
	}
	families := s.w.families(members)
	doubt := func(family set) float64 {
		least := math.Inf(1)
		for _, i := range family.positions() {
			least = min(least, clear[i])
		}
		return least
	}
	slices.SortStableFunc(families, func(a, b set) int { return cmp.Compare(doubt(b), doubt(a)) })
	s.items = s.items[:0]
	for _, family := range families {
		for _, i := range s.w.sequence(family, clear) {
			s.items = append(s.items, byPosition[i])
		}
	}
	s.grow()
}

// sequence orders a family so that few open repairs are tied to decided ones.
func (w web) sequence(family set, clear map[int]float64) []int {
	var sequence []int
	var reached set
	for open := family; !open.isEmpty(); {
		next, fewest := -1, 0
		for _, i := range open.positions() {
			if w.needs[i].common(open) != only(i) {
				continue // something that it needs is still open
			}
			fresh := len(w.touching(i).common(open).minus(reached).positions())
			if next < 0 || fresh < fewest || fresh == fewest && clear[i] > clear[next] {
				next, fewest = i, fresh
			}
		}
		sequence = append(sequence, next)
		open.drop(next)
		reached = reached.union(w.touching(next))
	}
	return sequence
}

func only(i int) set {
	var s set
	s.put(i)
	return s
}
