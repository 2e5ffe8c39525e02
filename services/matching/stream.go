package matching

import (
	"slices"

	"refloat.example/pkg/boat"
)

// ofBoat are the rules that ask nothing of the request.
var ofBoat = []string{"ready", "held", "quarantine"}

// byGroup are the rules by which boats are chosen before any pair is looked at.
var byGroup = []string{"type", "seats"}

// costly come last: a pair that another rule keeps out never gets there.
var costly = []string{"carry"}

// eachFit gives every pair that fits, with its points, one after the other: nothing
// is kept but an index of the boats by type and seats, so that a pair of another
// type, or with too few seats, is never looked at. Sentences are not made. The
// order is that of the requests, then of the boats' seats.
func (d draw) eachFit(yield func(c *craft, a *ask, points int64)) {
	index := d.index()
	order := pairRules()
	for i := range d.asks {
		a := &d.asks[i]
		if a.erased {
			continue
		}
		party := len(a.wish.Adults) + len(a.wish.Children)
		for _, t := range a.wish.Types {
			for _, c := range index[t] {
				if c.facts.Seats < party {
					break
				}
				m := match{craft: *c, ask: *a, club: d.club, quiet: true}
				if passesAll(m, order) {
					yield(c, a, total(score(m, d.now)))
				}
			}
		}
	}
}

// index gives the boats that pass the rules that ask nothing of the request, by
// type, those with most seats first.
func (d draw) index() map[boat.Type][]*craft {
	index := map[boat.Type][]*craft{}
	for i := range d.crafts {
		c := &d.crafts[i]
		if passesAll(match{craft: *c, club: d.club, quiet: true}, rulesNamed(ofBoat)) {
			index[c.facts.Type] = append(index[c.facts.Type], c)
		}
	}
	for _, list := range index {
		slices.SortStableFunc(list, func(a, b *craft) int { return b.facts.Seats - a.facts.Seats })
	}
	return index
}

func rulesNamed(names []string) []*rule {
	return slices.DeleteFunc(slices.Clone(rules), func(r *rule) bool { return !slices.Contains(names, r.name) })
}

// pairRules are the rules that are left for a pair, the costly ones last.
func pairRules() []*rule {
	var order []*rule
	for _, r := range rules {
		if !slices.Contains(slices.Concat(ofBoat, byGroup, costly), r.name) {
			order = append(order, r)
		}
	}
	return append(order, rulesNamed(costly)...)
}

func passesAll(m match, list []*rule) bool {
	for _, r := range list {
		if answer, _ := r.judge(m); !answer.passes() {
			return false
		}
	}
	return true
}
