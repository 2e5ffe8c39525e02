package assigncheck

import "fmt"

// A Bundle is two boats that one applicant takes together.
type Bundle struct {
	Boats     [2]string
	Applicant string
	Weight    int64
	Tier      int
}

// A Taken is what a round with bundles says of them.
type Taken struct {
	Possible, Taken []Bundle
	// Rest are the pairs of the round without the boats and applicants of the
	// bundles taken; the result that a Checker confirms is of that round.
	Rest         []Couple
	ServedByTier []int64 // of the whole round
	Total        int64   // of the whole round
	RestServed   []int64
	RestTotal    int64
}

// Bundles checks the bundles that a result takes: each of them was possible, no boat
// and no applicant stands in two of them or in a pair besides, and the counts and
// the total are those of the rest and of the bundles. It does not repeat the search:
// that another choice of bundles is no better is not checked here. The error is a
// *Refusal.
func Bundles(t Taken) error {
	held := map[string]string{}
	for _, p := range t.Rest {
		held["boat "+p.Boat], held["applicant "+p.Applicant] = "a pair", "a pair"
	}
	possible := map[Bundle]bool{}
	for _, b := range t.Possible {
		possible[b.sorted()] = true
	}
	served, total := [maxTier]int64{}, t.RestTotal
	copy(served[:], t.RestServed)
	for _, b := range t.Taken {
		if !possible[b.sorted()] {
			return &Refusal{Why: fmt.Sprintf("boats %q and %q together for applicant %q were not among what is possible", b.Boats[0], b.Boats[1], b.Applicant)}
		}
		for _, end := range []string{"boat " + b.Boats[0], "boat " + b.Boats[1], "applicant " + b.Applicant} {
			if held[end] != "" {
				return &Refusal{Why: fmt.Sprintf("%s of a bundle stands in %s too", end, held[end])}
			}
			held[end] = "another bundle"
		}
		served[b.Tier-1]++
		total += b.Weight
	}
	claimed := [maxTier]int64{}
	if len(t.ServedByTier) > maxTier {
		return &Refusal{Why: fmt.Sprintf("served_by_tier has %d entries, but there are at most %d tiers", len(t.ServedByTier), maxTier)}
	}
	copy(claimed[:], t.ServedByTier)
	switch {
	case served != claimed:
		return &Refusal{Why: fmt.Sprintf("served_by_tier is %v, but pairs and bundles serve %v", claimed, served)}
	case total != t.Total:
		return &Refusal{Why: fmt.Sprintf("total is %d, but pairs and bundles sum to %d", t.Total, total)}
	}
	return nil
}

func (b Bundle) sorted() Bundle {
	if b.Boats[0] > b.Boats[1] {
		b.Boats[0], b.Boats[1] = b.Boats[1], b.Boats[0]
	}
	return b
}
