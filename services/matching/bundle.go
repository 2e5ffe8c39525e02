package matching

import (
	"slices"
	"time"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// Two adults may say that two boats with one seat each would do in place of one with
// two. Each boat is then weighed with one of them, and with all the gear and animals:
// who takes what along is theirs to decide. What is asked of the household as a
// whole, the roof and the life jackets, is asked of both boats together. The points
// of a bundle are the mean of its boats', so that two boats count no more than one.

// bundleFit is two boats that fit a request together, by their places among crafts.
type bundleFit struct {
	one, other int
	points     int64
}

// bundlesOf gives every two boats that fit a request together.
func bundlesOf(a ask, crafts []craft, club club, now time.Time) []bundleFit {
	if !takesTwo(a) {
		return nil
	}
	var list []bundleFit
	points := make([][2]int64, len(crafts)) // by adult, where the boat by itself fits
	alone := make([][2]bool, len(crafts))
	for i, c := range crafts {
		for adult := range a.wish.Adults {
			m := half(c, craft{}, a, adult, club)
			m.quiet = true
			if alone[i][adult] = c.facts.Seats == 1 && passesAll(m, rules); alone[i][adult] {
				points[i][adult] = total(score(m, now))
			}
		}
		for j := range i {
			best := int64(-1)
			for adult := range a.wish.Adults {
				if alone[j][adult] && alone[i][1-adult] && bothOnTheRoof(crafts[j], c, a, club) {
					best = max(best, (points[j][adult]+points[i][1-adult])/2)
				}
			}
			if best >= 0 {
				list = append(list, bundleFit{one: j, other: i, points: best})
			}
		}
	}
	return list
}

func takesTwo(a ask) bool {
	return !a.erased && a.wish.TwoSingles && len(a.wish.Adults) == 2 && len(a.wish.Children) == 0
}

// bothOnTheRoof asks the one rule that looks at both boats of a bundle.
func bothOnTheRoof(x, y craft, a ask, club club) bool {
	answer, _ := judgeRoof(match{craft: x, ask: a, club: club, beside: onRoofOf(y), quiet: true})
	return answer.passes()
}

// onRoofOf is what a boat adds to the load on a roof, in grams.
func onRoofOf(c craft) int {
	if packs(c.facts.Type) {
		return 0
	}
	return c.facts.MassG
}

// half is a boat held against one adult of a household that takes two.
func half(c, beside craft, a ask, adult int, club club) match {
	whole := a.wish
	a.wish.Adults = a.wish.Adults[adult : adult+1]
	return match{craft: c, ask: a, club: club, beside: onRoofOf(beside), whole: &whole}
}

// seat puts each adult of a household into one of two boats, as fits best. When the
// boats do not fit together it gives them in order and false.
func seat(x, y craft, a ask, club club, now time.Time) (best [2]match, ok bool) {
	if !takesTwo(a) {
		return best, false
	}
	most := int64(-1)
	for adult := range a.wish.Adults {
		both := [2]match{half(x, y, a, adult, club), half(y, x, a, 1-adult, club)}
		fit := len(against(weigh(both[0])))+len(against(weigh(both[1]))) == 0
		points := total(score(both[0], now)) + total(score(both[1], now))
		if adult == 0 || fit && (!ok || points > most) {
			best, most, ok = both, points, fit
		}
	}
	return best, ok
}

// searchEffort bounds the choice of bundles: rows that are looked at in all. It takes
// about a second where it is used up, and is not in rounds of ordinary clubs.
const searchEffort = 2_000_000

// searchLimit is how many pairings the choice of bundles may compute. It follows from
// the list, not from the clock, so that the same list has the same solution.
func searchLimit(rows, bundles int) int {
	return max(50, min(20_000, searchEffort/(rows+bundles+1)))
}

// bundles gives those that the round can choose from, and by request their places.
func (d draw) bundles() (list []assign.Bundle, fits map[string][]bundleFit) {
	fits = map[string][]bundleFit{}
	for _, a := range d.asks {
		if d.fates.hasRequest(a.id) {
			continue
		}
		for _, f := range bundlesOf(a, d.crafts, d.club, d.now) {
			one, other := d.crafts[f.one].id, d.crafts[f.other].id
			if d.fates.hasBoat(string(one)) || d.fates.hasBoat(string(other)) || d.fates.leftTogether(one, other, a.id) || d.isOut(one, a.id) || d.isOut(other, a.id) {
				continue
			}
			fits[a.id] = append(fits[a.id], f)
			list = append(list, assign.Bundle{Boats: [2]string{string(one), string(other)}, Applicant: a.id, Weight: f.points, Tier: a.tier})
		}
	}
	return list, fits
}

// pair finds the best pairing, with bundles where there are any to choose from.
func pair(rows []assign.Pair, bundles []assign.Bundle, o assign.Options, limit int) (*assign.Bundled, error) {
	if len(bundles) > 0 {
		return assign.SolveBundled(rows, bundles, o, limit)
	}
	plain, err := assign.Solve(rows, o)
	if err != nil {
		return nil, err
	}
	return &assign.Bundled{Result: *plain, RestServed: plain.ServedByTier, RestTotal: plain.Total, Proved: true}, nil
}

// addBundle tells of two boats that a request gets together.
func (s *solution) addBundle(d draw, a ask, b assign.Bundle) {
	x, y := d.craft(b.Boats[0]), d.craft(b.Boats[1])
	both, _ := seat(x, y, a, d.club, d.now)
	for i, m := range both {
		p := message.RoundPair{Boat: m.craft.id, Request: a.id, Score: b.Weight, With: both[1-i].craft.id, Reasons: []string{}}
		for _, v := range weigh(m) {
			if v.rule.yes != "" {
				p.Reasons = append(p.Reasons, v.plain())
				s.reasons[reasonsOf(p)] = append(s.reasons[reasonsOf(p)], v.because)
			}
		}
		s.Pairs = append(s.Pairs, p)
	}
}

// reasonsOf names the reasons of a pair among those of a solution.
func reasonsOf(p message.RoundPair) string {
	if p.With == "" {
		return p.Request
	}
	return p.Request + " " + string(p.Boat)
}

// addStanding takes over two boats that a household was offered together and has
// not left. They are out of the pairing until it does.
func (s *solution) addStanding(d draw, a ask, pairs []message.RoundPair) {
	for _, p := range pairs {
		p.Stands = d.fates.stands(couple(p.Boat, p.Request))
		s.Pairs = append(s.Pairs, p)
	}
	s.Total += pairs[0].Score
	for len(s.ServedByTier) < a.tier {
		s.ServedByTier = append(s.ServedByTier, 0)
	}
	s.ServedByTier[a.tier-1]++
	if len(pairs) == 2 { // the other may have left the club after this one was fetched
		s.Bundles = append(s.Bundles, message.RoundBundle{Request: a.id, Boats: [2]int{d.place(pairs[0].Boat), d.place(pairs[1].Boat)}, Score: pairs[0].Score})
	}
}

// standing gives the pairs of a request that has two boats on offer together, or
// has accepted them.
func (d draw) standing(request string) []message.RoundPair {
	if d.earlier == nil || !slices.ContainsFunc(d.fates.together, func(o *offer) bool { return o.Request == request }) {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(d.earlier.Pairs), func(p message.RoundPair) bool {
		return p.Request != request || p.With == "" || d.fates.stands(couple(p.Boat, request)) == ""
	})
}

func (d draw) place(id boat.ID) int {
	return slices.IndexFunc(d.crafts, func(c craft) bool { return c.id == id })
}

func (d draw) craft(id string) craft { return d.crafts[d.place(boat.ID(id))] }

// searched tells how the bundles were chosen.
func searched(b *assign.Bundled, limit int) *message.RoundSearch {
	s := &message.RoundSearch{Rounds: b.Rounds, Limit: limit, Stopped: !b.Proved}
	if s.Stopped {
		s.BoundServed, s.BoundTotal = b.Bound.ServedByTier[:len(b.ServedByTier)], b.Bound.Total
	}
	return s
}
