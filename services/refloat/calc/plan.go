package calc

import (
	"slices"

	"refloat.example/pkg/plan"
)

var planCalculator = Calculator{
	Name:    "plan",
	Summary: "choose the repairs that are worth most within hours and cash",
	Explain: `
Formula: of all sets of repairs that hold every must, all that their members
require and no excluded pair, and that pass neither minutes_available nor
cash_available_minor, the one with the greatest objective: the sum of gains, or
with "net" the sum of gain − cash − minutes·hour_value_minor/60, compared in
sixtieths of a minor unit. Between equals: less cash, then fewer minutes, then
the list of input positions that comes first in dictionary order. The answer is
exact, for up to 300 repairs.

Source: the 0/1 knapsack problem with two budgets; dominance between partial sets
after Nemhauser and Ullmann, Management Science 15:494 (1969), bounds by
Lagrangian relaxation. What counts as gain is common practice, no source.

Limits: gain_minor is the rise in value by that repair once what it requires is
done; repairs that only pay together are one item. A repair without which a boat
must not be used is a must, whatever it gains. Hours have a value for decisions only.`,
	Example: `{"currency":"USD","minutes_available":300,"cash_available_minor":6000,"repairs":[` +
		`{"id":"p","minutes":120,"cash_minor":2000,"gain_minor":7000},` +
		`{"id":"q","minutes":120,"cash_minor":2500,"gain_minor":6000,"requires":["p"]},` +
		`{"id":"r","minutes":200,"cash_minor":1500,"gain_minor":9000},` +
		`{"id":"s","minutes":60,"cash_minor":1000,"gain_minor":0,"must":true}]}`,
	Answer: func(in *Object) (any, error) {
		task, ids := readTask(in)
		if err := in.Done(); err != nil {
			return nil, err
		}
		best, err := plan.Choose(task)
		if err != nil {
			return nil, err
		}
		return best.Answer(task, ids), nil
	},
}

func readTask(in *Object) (plan.Task, []string) {
	in.Currency()
	task := plan.Task{
		Minutes:   in.Int("minutes_available", NotNegative),
		CashMinor: in.Int("cash_available_minor", NotNegative),
		Net:       in.TextOr("objective", "gain", "gain", "net") == "net",
		HourMinor: in.IntOr("hour_value_minor", 0, NotNegative),
	}
	repairs := in.Objects("repairs")
	if len(repairs) > plan.Largest {
		in.Fail("repairs", "at most %d repairs can be planned at once", plan.Largest)
		return task, nil
	}
	positions, ids := map[string]int{}, []string{}
	for i, repair := range repairs {
		id := repair.Text("id")
		if _, again := positions[id]; again {
			repair.Fail("id", "stands twice in the list")
		}
		positions[id] = i
		ids = append(ids, id)
	}
	for _, repair := range repairs {
		task.Repairs = append(task.Repairs, plan.Repair{
			Minutes:   repair.Int("minutes", NotNegative),
			CashMinor: repair.Int("cash_minor", NotNegative),
			GainMinor: repair.Int("gain_minor"),
			Requires:  namedIn(repair, "requires", positions),
			Excludes:  namedIn(repair, "excludes", positions),
			Must:      repair.BoolOr("must", false),
		})
	}
	if i := plan.Circle(task.Repairs); i >= 0 {
		repairs[i].Fail("requires", "requires itself, by way of what it requires")
	}
	return task, ids
}

// namedIn reads a list of other repairs' ids as positions.
func namedIn(repair *Object, field string, positions map[string]int) []int {
	if !repair.Has(field) {
		return nil
	}
	var named []int
	for _, id := range repair.Texts(field) {
		i, known := positions[id]
		switch {
		case !known:
			repair.Fail(field, "there is no repair %q", id)
		case slices.Contains(named, i):
			repair.Fail(field, "names %q twice", id)
		case field == "excludes" && i == positions[repair.Text("id")]:
			repair.Fail(field, "excludes itself")
		}
		named = append(named, i)
	}
	return named
}
