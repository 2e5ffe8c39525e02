package plan

import (
	"cmp"
	"slices"
)

// Where gains hardly tell repairs apart, the best set is the one that fills both
// budgets to the last unit, and ranking beginnings does not find it. Polishing
// does: it frees a few repairs of the best set known, and of those left out, and
// chooses anew among all that can be made of them.
const freed = 28 // in two halves of 2^14 sets each

// pools are the numbers of the most doubtful repairs among which each round
// draws the freed ones.
var pools = []int{28, 32, 36, 40, 48, 56, 64, 72, 84, 100, 120, 150}

// polish betters the incumbent by exchanging repairs that are tied to no other.
// Its draws are the same every time.
func (s *search) polish() {
	singles := s.singles()
	guide := s.bounds[s.guide].price
	slices.SortFunc(singles, func(a, b item) int { return cmp.Compare(a.clear(guide), b.clear(guide)) })
	for _, width := range pools {
		pool := slices.Clone(singles[:min(width, len(singles))])
		s.draw.Shuffle(len(pool), func(i, j int) { pool[i], pool[j] = pool[j], pool[i] })
		pool = pool[:min(freed, len(pool))]
		s.exchange(pool, s.incumbent)
		s.exchange(pool, s.inclined(singles, guide))
	}
}

// inclined is the incumbent with each single item as its price inclines it.
func (s *search) inclined(singles []item, p price) label {
	l := s.incumbent
	for _, it := range singles {
		l = l.without(it)
		if it.gain(p) > 0 {
			l = l.plus(it.alone())
		}
	}
	return l
}

func (s *search) singles() []item {
	var members set
	for _, it := range s.items {
		members.put(it.position)
	}
	var singles []item
	for _, it := range s.items {
		if s.w.touching(it.position).common(members) == only(it.position) {
			singles = append(singles, it)
		}
	}
	return singles
}

// exchange finds the best choice among some items beside the rest of a set:
// every half of a choice meets the best other half that still fits.
func (s *search) exchange(items []item, rest label) {
	for _, it := range items {
		rest = rest.without(it)
	}
	minutes, cash := s.minutes-rest.minutes, s.cash-rest.cash
	first, second := everySet(items[:len(items)/2]), everySet(items[len(items)/2:])
	costs := make([]int64, len(second))
	for i := range second {
		costs[i] = second[i].cash
	}
	slices.Sort(costs)
	fits := prefixes{costs: slices.Compact(costs)}
	fits.best = make([]*label, len(fits.costs)+1)
	next := 0
	for i := len(first) - 1; i >= 0; i-- {
		one := &first[i]
		for next < len(second) && second[next].minutes <= minutes-one.minutes {
			fits.add(&second[next])
			next++
		}
		other := fits.within(cash - one.cash)
		if other == nil {
			continue
		}
		if whole := rest.plus(*one).plus(*other); better(&whole, &s.incumbent) < 0 {
			s.incumbent = whole
		}
	}
}

// without takes an item out, if it is in.
func (l label) without(it item) label {
	if !l.chosen.has(it.position) {
		return l
	}
	l = l.plus(label{worth: -it.worth, minutes: -it.minutes, cash: -it.cash, count: -1})
	l.chosen.drop(it.position)
	return l
}

// alone is the label of one item.
func (it item) alone() label {
	return label{chosen: only(it.position), worth: it.worth, minutes: it.minutes, cash: it.cash, count: 1}
}

// plus joins two labels that decide different items.
func (l label) plus(m label) label {
	l.chosen = l.chosen.union(m.chosen)
	l.worth += m.worth
	l.minutes += m.minutes
	l.cash += m.cash
	l.count += m.count
	return l
}

// everySet gives a label for each set of some items, by rising minutes.
func everySet(items []item) []label {
	labels := []label{{}}
	for _, it := range items {
		for _, l := range labels {
			labels = append(labels, l.plus(it.alone()))
		}
	}
	slices.SortFunc(labels, func(a, b label) int { return cmp.Compare(a.minutes, b.minutes) })
	return labels
}

// prefixes answer which label put in so far is the best of those that cost no
// more than some cash (Fenwick 1994).
type prefixes struct {
	costs []int64
	best  []*label
}

func (p *prefixes) add(l *label) {
	at, _ := slices.BinarySearch(p.costs, l.cash)
	for at++; at < len(p.best); at += at & -at {
		if p.best[at] == nil || better(l, p.best[at]) < 0 {
			p.best[at] = l
		}
	}
}

func (p *prefixes) within(cash int64) *label {
	at, exact := slices.BinarySearch(p.costs, cash)
	if exact {
		at++
	}
	var best *label
	for ; at > 0; at -= at & -at {
		if l := p.best[at]; l != nil && (best == nil || better(l, best) < 0) {
			best = l
		}
	}
	return best
}
