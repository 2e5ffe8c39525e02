// Package plan chooses which repairs to do with the hours and the cash at hand.
//
// It promises the best set there is, not a good one: every repair is done whole
// or not at all, a repair comes with all that it requires, two that exclude one
// another are never both chosen, musts are done, and neither budget is passed.
// Equal sets are told apart the same way every time. The work grows with how
// tightly the repairs hang together and how hard they are to tell apart: up to a
// handful a boat, with amounts as they occur, the largest list takes about a
// second in bounded memory. Where gains follow costs, round amounts are settled by
// a table over both budgets; a few hundred repairs that gain their cash, their
// minutes and a constant, with budgets of some tens of thousands of steps, can
// take very long. Who cannot wait bounds the effort, and gets the best set found
// with what a better one could bring at most. It knows only the numbers it is given: a repair that makes a
// boat safe is a must, not a gain.
package plan

import (
	"math/big"
	"slices"

	"refloat.example/pkg/fault"
)

// Largest is how many repairs one plan may hold.
const Largest = 300

// A Repair is one piece of work that is done whole or not at all.
type Repair struct {
	Minutes   int64 // not negative
	CashMinor int64 // not negative
	GainMinor int64 // rise in value once what it requires is done; may be negative
	Requires  []int // positions in the list; without a circle
	Excludes  []int // positions in the list
	Must      bool
}

// A Task is what there is to do, and to do it with.
type Task struct {
	Repairs   []Repair
	Minutes   int64 // at most
	CashMinor int64 // at most
	// Net weighs the gain against cash and hours instead of taking it alone.
	Net       bool
	HourMinor int64 // value of an hour, for Net
	// Effort bounds the work, in beginnings of sets that are looked at: some five
	// million a second (a machine of 2026). 0 is as much as it takes. The same effort
	// gives the same plan everywhere.
	Effort int64
}

// The reasons why no set will do.
const (
	MustsExceedLimits = "must_do_exceeds_limits"
	MustsConflict     = "must_do_conflict"
)

// A Plan is the best set, or the reason why there is none.
type Plan struct {
	// Infeasible is the reason, or "".
	Infeasible string
	// Chosen holds positions in ascending order.
	Chosen []int
	// Sixtieths is the objective in sixtieths of a minor unit.
	Sixtieths int64
	GainMinor int64
	Minutes   int64
	CashMinor int64
	// Cut is set when the effort was spent before the set was known to be the best:
	// another may then bring at most MoreSixtieths more.
	Cut           bool
	MoreSixtieths int64
	// MustMinutes and MustCashMinor are what the musts take, with all that they
	// require.
	MustMinutes   int64
	MustCashMinor int64
}

// Choose gives the set with the greatest objective; among equals the one that
// takes less cash, then fewer minutes, then the one whose list of positions
// comes first in dictionary order. Amounts whose sums no int64 holds are
// refused.
func Choose(task Task) (Plan, error) {
	if len(task.Repairs) > Largest {
		return Plan{}, fault.Field("repairs", "at most %d repairs can be planned at once", Largest)
	}
	if !task.addsUp() {
		return Plan{}, fault.Field("repairs", "the amounts are too large to add exactly")
	}
	w := newWeb(task.Repairs)
	musts := w.musts(task.Repairs)
	plan := task.total(musts)
	plan.MustMinutes, plan.MustCashMinor = plan.Minutes, plan.CashMinor
	switch {
	case w.conflict(musts):
		plan.Infeasible = MustsConflict
	case plan.Minutes > task.Minutes || plan.CashMinor > task.CashMinor:
		plan.Infeasible = MustsExceedLimits
	}
	if plan.Infeasible != "" {
		return Plan{Infeasible: plan.Infeasible, MustMinutes: plan.MustMinutes, MustCashMinor: plan.MustCashMinor}, nil
	}
	s := newSearch(task, w, musts)
	best := task.total(w.firstOfEquals(task, musts, s.best()))
	if best.Cut = s.spent; best.Cut {
		best.MoreSixtieths = s.more()
	}
	best.MustMinutes, best.MustCashMinor = plan.MustMinutes, plan.MustCashMinor
	return best, nil
}

// worth is what a repair adds to the objective, in sixtieths of a minor unit.
func (t Task) worth(r Repair) int64 {
	if !t.Net {
		return 60 * r.GainMinor
	}
	return 60*(r.GainMinor-r.CashMinor) - r.Minutes*t.HourMinor
}

// addsUp says whether every sum that can arise fits into an int64, with room to
// spare for comparisons.
func (t Task) addsUp() bool {
	sum := new(big.Int)
	add := func(a, b int64) {
		product := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
		sum.Add(sum, product.Abs(product))
	}
	for _, r := range t.Repairs {
		add(60, r.GainMinor)
		add(60, r.CashMinor)
		add(1, r.Minutes)
		add(r.Minutes, t.HourMinor)
	}
	return sum.BitLen() <= 61
}

// total adds up a set.
func (t Task) total(chosen set) Plan {
	plan := Plan{Chosen: chosen.positions()}
	for _, i := range plan.Chosen {
		r := t.Repairs[i]
		plan.Sixtieths += t.worth(r)
		plan.GainMinor += r.GainMinor
		plan.Minutes += r.Minutes
		plan.CashMinor += r.CashMinor
	}
	return plan
}

// firstOfEquals turns the set that the search prefers into the first of the
// equally good ones in dictionary order. The search prefers, at the first
// position in which two sets differ, the one that has it. Dictionary order says
// the same unless the other list ends there; then the other is a beginning of
// this one. So the first is the shortest beginning that is as good.
func (w web) firstOfEquals(task Task, musts, best set) set {
	want := task.total(best)
	var beginning set
	for _, i := range want.Chosen {
		if w.closed(beginning) && musts.within(beginning) && sameTotals(task.total(beginning), want) {
			return beginning
		}
		beginning.put(i)
	}
	return best
}

func sameTotals(a, b Plan) bool {
	return a.Sixtieths == b.Sixtieths && a.CashMinor == b.CashMinor && a.Minutes == b.Minutes
}

// Circle gives the first repair in input order that, by way of what it
// requires, requires itself; -1 when there is none.
func Circle(repairs []Repair) int {
	for i := range repairs {
		var seen set
		waiting := slices.Clone(repairs[i].Requires)
		for len(waiting) > 0 {
			j := waiting[len(waiting)-1]
			waiting = waiting[:len(waiting)-1]
			if j == i {
				return i
			}
			if !seen.has(j) {
				seen.put(j)
				waiting = append(waiting, repairs[j].Requires...)
			}
		}
	}
	return -1
}
