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
		states = t.addLevel(states, it.position)
	}
	t.nodes = append(t.nodes, node{-1, -1})
	t.levels = append(t.levels, len(t.nodes))
	s.tree = t
}

// addLevel adds the nodes of the states before an item and gives those after it.
func (t *tree) addLevel(states []set, position int) []set {
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
			at = widest - 1
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

// A price is what a minute and a unit of cash are taken to cost, in sixtieths,
// and what can then still be gained from each node of the tree.
type price struct {
	minute, cash float64
	rest         []float64
}

// gains fills in what each node can still gain at these prices.
func (s *search) gains(minute, cash float64, rest []float64) []float64 {
	rest = slices.Grow(rest[:0], len(s.tree.nodes))[:len(s.tree.nodes)]
	rest[len(rest)-1] = 0
	for level := len(s.items) - 1; level >= 0; level-- {
		it := s.items[level]
		left := float64(it.worth) - minute*float64(it.minutes) - cash*float64(it.cash)
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
	worth := float64(s.incumbent.worth)
	more, equal := worth+float64(s.worthStep)-s.slack, worth-s.slack
	byWorth, byCash := true, s.incumbent.cash-s.cashStep >= l.cash
	byRest := s.incumbent.cash >= l.cash && s.incumbent.minutes >= l.minutes
	for i := range s.prices {
		p := &s.prices[i]
		base := float64(l.worth) + p.rest[node]
		minutes, cash := p.minute*float64(s.minutes-l.minutes), p.cash*float64(s.cash-l.cash)
		cashLeft := p.cash * float64(s.incumbent.cash-l.cash)
		byWorth = byWorth && base+minutes+cash >= more
		byCash = byCash && base+minutes+cashLeft-p.cash*float64(s.cashStep) >= equal
		byRest = byRest && base+p.minute*float64(s.incumbent.minutes-l.minutes)+cashLeft >= equal
		if !byWorth && !byCash && !byRest {
			return false
		}
		if i == 0 {
			l.hope = base + minutes + cash
		}
	}
	return true
}

// choosePrices finds the prices at which the bounds are sharpest: for the whole
// budgets, for those of the incumbent, and some around them for what is left
// over late in the search.
func (s *search) choosePrices() {
	s.prices = nil
	minute, cash := s.sharpest(s.minutes, s.cash)
	s.addPrice(minute, cash)
	s.addPrice(s.sharpest(s.minutes, max(0, s.incumbent.cash-s.cashStep)))
	s.addPrice(s.sharpest(s.incumbent.minutes, s.incumbent.cash))
	for _, f := range []float64{0.97, 1.03, 0.9, 1.1, 0.75, 1.3, 0.4, 2, 0} {
		s.addPrice(minute*f, cash)
		s.addPrice(minute, cash*f)
		s.addPrice(minute*f, cash*f)
		if f > 0 {
			s.addPrice(minute*f, cash/f)
		}
	}
}

func (s *search) addPrice(minute, cash float64) {
	for _, p := range s.prices {
		if p.minute == minute && p.cash == cash {
			return
		}
	}
	s.prices = append(s.prices, price{minute, cash, s.gains(minute, cash, nil)})
}

// sharpest gives the prices that minimise the bound for two budgets. The bound
// is convex, so it is enough to close in on the minimum, once within the other.
func (s *search) sharpest(minutes, cash int64) (perMinute, perCash float64) {
	var rest []float64
	bound := func(m, c float64) float64 {
		rest = s.gains(m, c, rest)
		return rest[0] + m*float64(minutes) + c*float64(cash)
	}
	highMinute, highCash := s.highestPrices()
	innermost := func(m float64) (c, value float64) {
		return closeIn(highCash, func(c float64) float64 { return bound(m, c) })
	}
	perMinute, _ = closeIn(highMinute, func(m float64) float64 {
		_, value := innermost(m)
		return value
	})
	perCash, _ = innermost(perMinute)
	return perMinute, perCash
}

// highestPrices are those at which no single item pays any more.
func (s *search) highestPrices() (minute, cash float64) {
	total := 0.0
	for _, it := range s.items {
		total += max(0, float64(it.worth))
	}
	for _, it := range s.items {
		if it.minutes > 0 {
			minute = max(minute, min(total, max(0, float64(it.worth))/float64(it.minutes)))
		}
		if it.cash > 0 {
			cash = max(cash, min(total, max(0, float64(it.worth))/float64(it.cash)))
		}
	}
	return minute, cash
}

// closeIn finds the minimum of a convex function on [0, high] by golden section.
func closeIn(high float64, f func(float64) float64) (x, value float64) {
	const ratio = 0.6180339887498949
	low := 0.0
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := f(a), f(b)
	for range 32 {
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
	minute, cash := s.sharpest(s.minutes, s.cash)
	clear := map[int]float64{}
	members, byPosition := set{}, map[int]item{}
	for _, it := range s.items {
		clear[it.position] = math.Abs(float64(it.worth) - minute*float64(it.minutes) - cash*float64(it.cash))
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
