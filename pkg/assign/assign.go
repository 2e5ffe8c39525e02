// Package assign pairs boats with applicants: exactly, reproducibly and with a
// proof that anybody can check.
//
// It promises that no other pairing serves more applicants of tier 1; that none
// which serves as many of tier 1 serves more of tier 2, and so on; and that
// among those none has a greater total weight. Where several pairings are best
// a lottery decides, so that the result is a function of the rows, the pins,
// the forbidden pairs and the seed: neither the order of the rows nor the
// number of processors changes it. Whole numbers only; no tie is decided by
// rounding.
//
// It does not say who fits which boat, what a weight means, or whether the
// tiers are fair. Those are decided before, by people and written rules.
//
// The proof is a price for every boat and every applicant. Package assigncheck
// verifies it without any code of this package.
package assign

import (
	"fmt"
	"slices"
)

// Bounds of the rows.
const (
	MaxWeight = 1_000_000_000
	MaxTier   = 9
	// MaxRows keeps all sums of the search within 64 bits.
	MaxRows = 1 << 24
)

// A Pair is one row: a boat that an applicant can use. No pair may stand twice.
type Pair struct {
	Boat, Applicant string
	// Weight is from 0 to MaxWeight. A pair of weight 0 still serves.
	Weight int64
	// Tier is from 1 (served first) to MaxTier, the same in all rows of an
	// applicant.
	Tier int
}

// A Couple names a boat and an applicant.
type Couple struct {
	Boat      string `json:"boat"`
	Applicant string `json:"applicant"`
}

// Options narrow the choice. The zero value narrows nothing.
type Options struct {
	// Pins are pairs that must stand. Each must be a row, must not be forbidden,
	// and no two may share an end.
	Pins []Couple
	// Forbids are pairs that must not stand, none of them twice. One that is no
	// row changes nothing.
	Forbids []Couple
	// Keep are pairs that stay where that costs nothing: the lottery chooses among
	// those of the best pairings that keep most of them. One that is no row changes
	// nothing.
	Keep []Couple
	// Seed decides between equal pairings.
	Seed string
}

// A Result is a best pairing and its proof.
type Result struct {
	// ServedByTier has one count for each tier up to the largest in the rows.
	ServedByTier []int `json:"served_by_tier"`
	// Total is the sum of the weights of the pairs.
	Total int64 `json:"total"`
	// Pairs are sorted by boat, in bytes.
	Pairs []Couple `json:"pairs"`
	Proof Proof    `json:"proof"`
}

// A Proof is a set of prices: whole numbers from 0 such that in every row the
// boat's and the applicant's price together reach the row's worth, while the sum
// of all prices is the sum of the worths of the pairs. No other pairing can then
// be worth more.
//
// Of all such prices these are the ones with the lowest boat prices (there is
// exactly one such set): an applicant's price is what the round would lose
// without the applicant.
type Proof struct {
	// Step is what one tier is worth: more than all weights of a pairing.
	Step       int64            `json:"step"`
	Applicants map[string]int64 `json:"applicants"`
	Boats      map[string]int64 `json:"boats"`
}

// A List says which of the inputs an InputError is about.
type List string

// The inputs of Solve.
const (
	Pairs   List = "pairs"
	Pins    List = "pins"
	Forbids List = "forbids"
)

// An InputError names the first entry that breaks a rule, and why. When several
// fields of one entry are at fault it names the first in the order boat,
// applicant, weight, tier.
type InputError struct {
	List   List
	Index  int    // from 0
	Field  string // boat, applicant, weight or tier
	Reason string
}

func (e *InputError) Error() string {
	return fmt.Sprintf("%s[%d].%s: %s", e.List, e.Index, e.Field, e.Reason)
}

// Solve finds the best pairing. The error is an *InputError. No pairs at all are
// answered with an empty result of step 1.
func Solve(pairs []Pair, o Options) (*Result, error) {
	p, err := Open(pairs, o)
	if err != nil {
		return nil, err
	}
	p.Find()
	return p.Settle(), nil
}

// A Pairing is Solve in its stages: Open reads the rows, Find finds a best
// pairing, and Settle its proof and the one among equals that is the result.
type Pairing struct {
	*search
	keep []Couple
	seed string
}

// Open reads the rows. The error is an *InputError.
func Open(pairs []Pair, o Options) (*Pairing, error) {
	r, err := newRound(pairs, o)
	if err != nil {
		return nil, err
	}
	return &Pairing{newSearch(r), o.Keep, o.Seed}, nil
}

// Find finds a best pairing.
func (p *Pairing) Find() { p.run() }

// Settle gives the result, after Find.
func (p *Pairing) Settle() *Result {
	p.lowerBoatPrices()
	if len(p.keep) > 0 {
		p.keepMost(p.keep).drawLots(p.seed)
	} else {
		p.drawLots(p.seed)
	}
	return p.result()
}

// Check says what Solve would refuse about the pairs alone, with the same error.
func Check(pairs []Pair) error {
	_, err := readRows(pairs)
	return err
}

func (s *search) result() *Result {
	r := s.round
	result := &Result{
		ServedByTier: make([]int, r.tiers),
		Pairs:        []Couple{},
		Proof:        Proof{Step: r.step, Applicants: named(r.applicants, s.applicantPrice), Boats: named(r.boats, s.boatPrice)},
	}
	for b, a := range s.applicantOf {
		if a == nobody {
			continue
		}
		result.Pairs = append(result.Pairs, Couple{Boat: r.boats[b], Applicant: r.applicants[a]})
		result.ServedByTier[r.tier[a]-1]++
		result.Total += r.weight(int32(b), a)
	}
	return result
}

func named(ids []string, prices []int64) map[string]int64 {
	m := make(map[string]int64, len(ids))
	for i, id := range ids {
		m[id] = prices[i]
	}
	return m
}

// weight finds the weight of a pair that is a row.
func (r *round) weight(b, a int32) int64 {
	of := r.of(b)
	worth := of[slices.IndexFunc(of, func(e edge) bool { return e.applicant == a })].worth
	return worth - r.tierWorth(int(r.tier[a]))
}
