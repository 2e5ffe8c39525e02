package assign

import (
	"cmp"
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
		tight.edges = s.tightRows(tight.edges, b, func(a int32, ends int64) int64 {
			if wanted[couple{b, a}] {
				return ends*unit + 1
			}
			return ends * unit
		})
		tight.addBoat()
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

// tightRows appends a boat's tight rows, the worthiest first; worth is told the
// applicant and how many ends of the row have a price.
func (s *search) tightRows(to []edge, b int32, worth func(a int32, ends int64) int64) []edge {
	price, at := s.boatPrice[b], len(to)
	for _, e := range s.round.of(b) {
		if e.worth < price {
			break
		}
		if price+s.applicantPrice[e.applicant] != e.worth {
			continue
		}
		ends := int64(0)
		for _, p := range []int64{price, s.applicantPrice[e.applicant]} {
			if p > 0 {
				ends++
			}
		}
		to = append(to, edge{worth: worth(e.applicant, ends), applicant: e.applicant})
	}
	slices.SortStableFunc(to[at:], func(x, y edge) int { return cmp.Compare(y.worth, x.worth) })
	return to
}
