package assign

import (
	"cmp"
	"iter"
	"slices"
)

// keepMost moves to a best pairing that keeps most of the given pairs. It gives
// the search for which exactly those pairings are best, with the same pairing, for
// the lottery to choose from.
//
// The best pairings are those that use only tight rows and leave nobody out who
// has a price. Among tight rows, let one be worth as many times N + 1 as it has
// ends with a price, and one more if it is to be kept (N bounds the pairs, and so
// the kept ones). Then a pairing of the greatest worth covers every end with a
// price, as some pairing does, and of those that do it keeps most.
func (s *search) keepMost(keep []Couple) *search {
	wanted := s.numbered(keep)
	r := s.round
	tight := &round{boats: r.boats, applicants: r.applicants}
	unit := int64(min(len(r.boats), len(r.applicants))) + 1
	for b := range int32(len(r.boats)) {
		for e := range s.tight(b) {
			e.worth = 0
			for _, price := range []int64{s.boatPrice[b], s.applicantPrice[e.applicant]} {
				if price > 0 {
					e.worth += unit
				}
			}
			if wanted[couple{b, e.applicant}] {
				e.worth++
			}
			tight.edges = append(tight.edges, e)
		}
		tight.addBoat()
		slices.SortStableFunc(tight.of(b), func(x, y edge) int { return cmp.Compare(y.worth, x.worth) })
	}
	kept := newSearch(tight)
	kept.run()
	copy(s.applicantOf, kept.applicantOf)
	copy(s.boatOf, kept.boatOf)
	kept.applicantOf, kept.boatOf = s.applicantOf, s.boatOf
	return kept
}

// numbered gives those pairs both of whose ends are in the round.
func (s *search) numbered(pairs []Couple) map[couple]bool {
	known := make(map[couple]bool, len(pairs))
	for _, c := range pairs {
		b, isBoat := slices.BinarySearch(s.round.boats, c.Boat)
		a, isApplicant := slices.BinarySearch(s.round.applicants, c.Applicant)
		if isBoat && isApplicant {
			known[couple{int32(b), int32(a)}] = true
		}
	}
	return known
}

// tight gives those rows of a boat whose prices meet the worth exactly.
func (s *search) tight(b int32) iter.Seq[edge] {
	return func(yield func(edge) bool) {
		price := s.boatPrice[b]
		for _, e := range s.round.of(b) {
			if e.worth < price {
				return // and so have all lesser rows
			}
			if price+s.applicantPrice[e.applicant] == e.worth && !yield(e) {
				return
			}
		}
	}
}
