package plan

import (
	"cmp"
	"math"
	"slices"
)

// Where gains follow costs, bounds tell next to nothing apart, but the amounts
// are often round: then the textbook table over both budgets, in their common
// steps, settles in bounded time what the search cannot. Families take the part
// of single items, each with the choices among its members that the bounds leave.

// The table is not made where it would be larger than this.
const (
	tableBytes = 200 << 20
	// choicesOfOne is how many choices one family may have.
	choicesOfOne = 64
	// workAtFirst is how much work a table may take after the narrowest passes;
	// after wider ones it is only bound by its size.
	workAtFirst = 2e8
)

// A choice is what may be done of one family: some members, with all that they
// need. Its value ranks it as better does, in one number.
type choice struct {
	label
	value int64
}

// A table holds the families that are still open, those with the earliest member
// first, and the budgets in steps of the amounts that occur.
type table struct {
	families      [][]choice
	earliest      []int // position of each family's first member that is still open
	fixed         label // what all hopeful sets have in common
	minuteStep    int64
	cashStep      int64
	minutes, cash int64 // budgets in steps
	optimal       []uint64
	starts        []int64 // where the marks of each family begin in optimal
}

// tabulate finds the best set by a table, if that takes no more work than
// allowed, in steps of one choice in one cell. It says whether it did.
func (s *search) tabulate(allowed float64) bool {
	t := &table{}
	for _, members := range s.choices() {
		if members == nil {
			return false
		}
		t.families = append(t.families, members)
	}
	s.prune(t)
	if !t.measure(s) || t.work() > allowed {
		return false
	}
	t.fill()
	best := t.best()
	if better(&best, &s.incumbent) < 0 {
		s.incumbent = best
	}
	return true
}

// choices lists what can be done of each family, nil where that is too much.
func (s *search) choices() [][]choice {
	byPosition, members := map[int]item{}, set{}
	for _, it := range s.items {
		byPosition[it.position] = it
		members.put(it.position)
	}
	var all [][]choice
	for _, family := range s.w.families(members) {
		all = append(all, s.choicesOf(family, byPosition))
	}
	return all
}

func (s *search) choicesOf(family set, byPosition map[int]item) []choice {
	found := []choice{{}}
	for _, i := range s.w.sequence(family, map[int]float64{}) {
		needs := s.w.needs[i].minus(s.musts).minus(only(i))
		for _, c := range found {
			if !needs.within(c.chosen) || !s.w.clashes[i].common(c.chosen).isEmpty() {
				continue
			}
			c.label = c.plus(byPosition[i].alone())
			if c.minutes <= s.minutes && c.cash <= s.cash {
				found = append(found, c)
			}
		}
		if len(found) > choicesOfOne {
			return nil
		}
	}
	return found
}

// prune drops the choices with which no set can beat or equal the incumbent.
func (s *search) prune(t *table) {
	for dropped := true; dropped; {
		dropped = false
		for i := range s.bounds {
			dropped = s.pruneAt(t, s.bounds[i].price) || dropped
		}
	}
}

// pruneAt drops what falls short at one price and says whether it did. A hopeful
// set is worth more than the incumbent, or no less and costs no more.
func (s *search) pruneAt(t *table, p price) (dropped bool) {
	sum := t.sumAt(p)
	spent := p.minute*float64(s.minutes) + p.each*float64(s.count)
	more := float64(s.incumbent.worth+s.worthStep) - p.cash*float64(s.cash)
	equal := float64(s.incumbent.worth) - p.cash*float64(s.incumbent.cash)
	needed := min(more, equal) - spent - s.slack
	for f, family := range t.families {
		others := sum - p.bestAt(family)
		t.families[f] = slices.DeleteFunc(family, func(c choice) bool { return others+p.worthAt(&c) < needed })
		dropped = dropped || len(t.families[f]) < len(family)
	}
	return dropped
}

// worthAt is what a choice is worth beyond its price.
func (p price) worthAt(c *choice) float64 {
	return float64(c.worth) - p.minute*float64(c.minutes) - p.cash*float64(c.cash) - p.each*float64(c.count)
}

// bestAt is the most that one choice of a family is worth beyond its price.
func (p price) bestAt(family []choice) float64 {
	best := math.Inf(-1)
	for i := range family {
		best = max(best, p.worthAt(&family[i]))
	}
	return best
}

func (t *table) sumAt(p price) (sum float64) {
	for _, family := range t.families {
		sum += p.bestAt(family)
	}
	return sum
}

// measure settles the budgets, the steps and the values, and says whether the
// table may be made.
func (t *table) measure(s *search) bool {
	t.settle()
	t.minutes, t.cash = s.minutes-t.fixed.minutes, s.cash-t.fixed.cash
	if t.minutes < 0 || t.cash < 0 {
		return false
	}
	most, worthStep := t.findSteps()
	t.minutes, t.cash = min(t.minutes, most.minutes)/t.minuteStep, min(t.cash, most.cash)/t.cashStep
	ranges := trail{most.minutes/t.minuteStep + 1, most.cash/t.cashStep + 1}
	if float64(most.worth/worthStep+1)*float64(ranges.minutes)*float64(ranges.cash) > 1<<59 {
		return false
	}
	t.rank(worthStep, ranges)
	return 8*t.cells() <= tableBytes && t.bytes() <= tableBytes
}

// findSteps finds the steps in which amounts move, and the most that all families
// together can come to.
func (t *table) findSteps() (most label, worthStep int64) {
	for _, family := range t.families {
		var of label
		for _, c := range family {
			t.minuteStep, t.cashStep, worthStep = gcd(t.minuteStep, c.minutes), gcd(t.cashStep, c.cash), gcd(worthStep, c.worth)
			of.minutes, of.cash, of.worth = max(of.minutes, c.minutes), max(of.cash, c.cash), max(of.worth, c.worth, -c.worth)
		}
		most = most.plus(of)
	}
	t.minuteStep, t.cashStep = max(t.minuteStep, 1), max(t.cashStep, 1)
	return most, max(worthStep, 1)
}

// rank counts amounts in steps and makes of worth, then less cash, then fewer
// minutes one number. The ranges are larger than any sum of minutes or cash.
func (t *table) rank(worthStep int64, ranges trail) {
	for _, family := range t.families {
		for i := range family {
			c := &family[i]
			c.minutes, c.cash = c.minutes/t.minuteStep, c.cash/t.cashStep
			c.value = (c.worth/worthStep*ranges.cash-c.cash)*ranges.minutes - c.minutes
		}
	}
}

// settle takes out the families with one choice left and puts the others in
// order.
func (t *table) settle() {
	open := t.families[:0]
	for _, family := range t.families {
		if len(family) == 1 {
			t.fixed = t.fixed.plus(family[0].label)
			continue
		}
		slices.SortFunc(family, func(a, b choice) int { return b.chosen.compare(a.chosen) })
		open = append(open, family)
	}
	slices.SortFunc(open, func(a, b []choice) int { return cmp.Compare(firstOpen(a), firstOpen(b)) })
	t.families = open
	for _, family := range open {
		t.earliest = append(t.earliest, firstOpen(family))
	}
}

// firstOpen is the first position in which the choices of a family differ.
func firstOpen(family []choice) int {
	all, common := set{}, family[0].chosen
	for _, c := range family {
		all, common = all.union(c.chosen), common.common(c.chosen)
	}
	return all.minus(common).positions()[0]
}

func (t *table) cells() float64 { return float64(t.minutes+1) * float64(t.cash+1) }

// work counts the choices tried in all cells.
func (t *table) work() float64 {
	choices := 0
	for _, family := range t.families {
		choices += len(family) - 1
	}
	return t.cells() * float64(choices)
}

// bytes is what the values and, for each family, the marks of its choices take.
func (t *table) bytes() float64 {
	return 8*t.cells() + float64(t.marks())/8
}

func (t *table) marks() (marks int64) {
	for _, family := range t.families {
		marks += t.marksOf(family)
	}
	return marks
}

// marksOf is how many bits a family's marks take: one for each choice that is
// marked, rows beginning at whole words.
func (t *table) marksOf(family []choice) int64 {
	return int64(marked(family)) * (t.cash + 1) * t.rowWords() * 64
}

func (t *table) rowWords() int64 { return (t.minutes + 64) / 64 }

// noSet is the value of a cell for which there is no set; no sum of values comes
// near it.
const noSet = -1 << 62

// fill works through the families from the last. A cell then holds the best value
// of the families worked through within its budgets; the choices that give it are
// marked.
func (t *table) fill() {
	t.optimal = make([]uint64, t.marks()/64)
	t.starts = make([]int64, len(t.families))
	for f := range len(t.families) - 1 {
		t.starts[f+1] = t.starts[f] + t.marksOf(t.families[f])/64
	}
	values := make([][]int64, t.cash+1)
	for c := range values {
		values[c] = make([]int64, t.minutes+1)
	}
	row := make([]int64, t.minutes+1)
	least := t.leastLeft()
	for f := len(t.families) - 1; f >= 0; f-- {
		for c := t.cash; c >= least[f].cash; c-- {
			t.fillRow(f, trail{least[f].minutes, c}, values, row)
		}
	}
}

// leastLeft is, for each family, the least that those before it can leave: cells
// below are never asked for.
func (t *table) leastLeft() []trail {
	left, least := trail{t.minutes, t.cash}, make([]trail, len(t.families))
	for f, family := range t.families {
		least[f] = trail{max(left.minutes, 0), max(left.cash, 0)}
		var most trail
		for _, c := range family {
			most.minutes, most.cash = max(most.minutes, c.minutes), max(most.cash, c.cash)
		}
		left.minutes, left.cash = left.minutes-most.minutes, left.cash-most.cash
	}
	return least
}

// fillRow finds the best choice of a family in the cells of one cash, from some
// minutes on.
func (t *table) fillRow(f int, from trail, values [][]int64, row []int64) {
	if family := t.families[f]; len(family) == 2 && family[1].chosen.isEmpty() && family[0].cash > 0 {
		if c := family[0]; c.cash <= from.cash {
			at := max(from.minutes, c.minutes)
			takeOrLeave(t.marksAt(f, 0, from.cash), values[from.cash], values[from.cash-c.cash][at-c.minutes:], at, c.value)
		}
		return
	}
	for m := from.minutes; m <= t.minutes; m++ {
		row[m] = noSet
	}
	for _, c := range t.families[f] {
		if at := max(from.minutes, c.minutes); c.cash <= from.cash && at <= t.minutes {
			take(row[at:], values[from.cash-c.cash][at-c.minutes:], c.value)
		}
	}
	for i, c := range t.families[f][:marked(t.families[f])] {
		if at := max(from.minutes, c.minutes); c.cash <= from.cash && at <= t.minutes {
			mark(t.marksAt(f, i, from.cash), row, values[from.cash-c.cash][at-c.minutes:], at, c.value)
		}
	}
	copy(values[from.cash][from.minutes:], row[from.minutes:])
}

// takeOrLeave is take and mark in one go where the only other choice is nothing:
// the cells hold its value already.
func takeOrLeave(marks []uint64, best, before []int64, at, value int64) {
	for at < int64(len(best)) {
		end := min(at|63+1, int64(len(best)))
		var word, bit uint64
		cells := best[at:end]
		for m, v := range before[:len(cells)] {
			v += value
			bit = 0
			if v >= cells[m] {
				bit = 1
			}
			word |= bit << (uint(at+int64(m)) & 63)
			cells[m] = max(cells[m], v)
		}
		marks[at/64] = word
		before = before[len(cells):]
		at = end
	}
}

// take raises the best values to those of one choice.
func take(best, before []int64, value int64) {
	before = before[:len(best)]
	for m, v := range before {
		best[m] = max(best[m], v+value)
	}
}

// mark marks the cells from one on in which a choice gives the best value.
func mark(marks []uint64, best, before []int64, at, value int64) {
	for at < int64(len(best)) {
		end := min(at|63+1, int64(len(best)))
		var word, bit uint64
		cells := best[at:end]
		for m, v := range before[:len(cells)] {
			bit = 0
			if v+value == cells[m] {
				bit = 1
			}
			word |= bit << (uint(at+int64(m)) & 63)
		}
		marks[at/64] = word
		before = before[len(cells):]
		at = end
	}
}

// marked is how many choices of a family are marked: where there are two, the
// second is followed where the first is not marked.
func marked(family []choice) int {
	if len(family) == 2 {
		return 1
	}
	return len(family)
}

func (t *table) marksAt(f, choice int, cash int64) []uint64 {
	words := t.rowWords()
	at := t.starts[f] + (int64(choice)*(t.cash+1)+cash)*words
	return t.optimal[at : at+words]
}

// gives says whether a choice gives the best value in a cell.
func (t *table) gives(f, choice int, at trail) bool {
	c := &t.families[f][choice]
	if at.cash < c.cash || at.minutes < c.minutes {
		return false
	}
	of := min(choice, marked(t.families[f])-1)
	isMarked := t.marksAt(f, of, at.cash)[at.minutes/64]>>(at.minutes%64)&1 == 1
	return isMarked == (of == choice)
}

// A trail is where a way through the table has come to: what is left.
type trail struct{ minutes, cash int64 }

// best follows all ways through the table that give the best value, and keeps
// the one that the order of sets prefers.
func (t *table) best() label {
	trails := map[trail]set{{t.minutes, t.cash}: t.fixed.chosen}
	for f := range t.families {
		trails = t.follow(f, trails)
		next := Largest
		if f+1 < len(t.families) {
			next = t.earliest[f+1]
		}
		keepAhead(trails, next)
	}
	var chosen set
	for _, c := range trails {
		chosen = c
	}
	return t.labelOf(chosen)
}

// follow extends the ways by one family. Of two that leave the same it keeps the
// one that the order of sets prefers.
func (t *table) follow(f int, trails map[trail]set) map[trail]set {
	next := map[trail]set{}
	for from, chosen := range trails {
		for i, c := range t.families[f] {
			if !t.gives(f, i, from) {
				continue
			}
			to, with := trail{from.minutes - c.minutes, from.cash - c.cash}, chosen.union(c.chosen)
			if known, ok := next[to]; !ok || with.compare(known) > 0 {
				next[to] = with
			}
		}
	}
	return next
}

// keepAhead drops the ways that are behind another in the positions before one,
// which no later family touches.
func keepAhead(trails map[trail]set, before int) {
	var decided, ahead set
	for i := range before {
		decided.put(i)
	}
	for _, chosen := range trails {
		if c := chosen.common(decided); c.compare(ahead) > 0 {
			ahead = c
		}
	}
	for at, chosen := range trails {
		if chosen.common(decided) != ahead {
			delete(trails, at)
		}
	}
}

// labelOf adds a set up in whole amounts again.
func (t *table) labelOf(chosen set) label {
	l := t.fixed
	for _, family := range t.families {
		members := set{}
		for _, c := range family {
			members = members.union(c.chosen)
		}
		for _, c := range family {
			if c.chosen == chosen.common(members) {
				c.minutes, c.cash = c.minutes*t.minuteStep, c.cash*t.cashStep
				l = l.plus(c.label)
			}
		}
	}
	return l
}
