package assign

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"slices"
)

// A Bundle is two boats that one applicant takes together, say two single kayaks
// in place of a double. It serves the applicant once.
type Bundle struct {
	Boats     [2]string `json:"boats"`
	Applicant string    `json:"applicant"`
	Weight    int64     `json:"weight"` // from 0 to MaxWeight, of both boats together
	Tier      int       `json:"tier"`   // as in the applicant's pairs
}

// MaxBundles bounds the bundles of a round, all of which stand in the rounds of the
// search. To choose among bundles is hard in general (it is matching in three
// dimensions): what is exact and quick for pairs is a search here.
const MaxBundles = 20_000

// Bundles names SolveBundled's list of bundles in an InputError.
const Bundles List = "bundles"

// A Bundled is a best pairing with bundles.
type Bundled struct {
	// Result is the round without the bundles' boats and applicants: its pairs and
	// its proof are for those. ServedByTier and Total count the bundles too,
	// RestServed and RestTotal do not.
	Result
	RestServed []int
	RestTotal  int64
	Taken      []Bundle // sorted by applicant, each one's boats in the order of their ids
	// Proved says that nothing is better. Where the limit stopped the search,
	// nothing is better than Bound.
	Proved bool
	Bound  Rank
	Rounds int // how many rounds were solved
}

// Rank is what pairings are compared by: served in tier 1, 2 …, then the total
// weight.
type Rank struct {
	ServedByTier [MaxTier]int
	Total        int64
}

// Compare orders ranks; the better is the greater.
func (r Rank) Compare(other Rank) int {
	return cmp.Or(slices.Compare(r.ServedByTier[:], other.ServedByTier[:]), cmp.Compare(r.Total, other.Total))
}

// SolveBundled is Solve where some applicants may also take two boats together.
// Among pairings of the same rank it takes one with the fewest bundles, as boats
// are scarce. Bundles of pinned boats and applicants are left out. limit is how
// many rounds may be solved; where it stops the search the best pairing so far is
// given, never a worse one than without bundles. The error is an *InputError.
// Where the search has a choice it goes by the lottery's order, never by the order
// of ids: ids are made by those who ask.
//
// It branches on one household at a time: takes this bundle, that one, or none.
// The bound of a branch is a round in which an undecided household may have the
// scarcer boat of a bundle for the weight of both: whatever can be done with the
// bundle can be done so too, and leaves the other boat to somebody else. Where
// nobody else takes the other boat, the bound is reached.
func SolveBundled(pairs []Pair, bundles []Bundle, o Options, limit int) (*Bundled, error) {
	if err := checkBundles(pairs, bundles); err != nil {
		return nil, err
	}
	t := &bundling{pairs: pairs, o: o, limit: limit}
	plain, err := t.solve(branch{}, nil)
	if err != nil {
		return nil, err
	}
	t.best, t.result = plain.rank, plain.Result
	t.of, t.applicants, t.lot = byApplicant(unpinned(bundles, o.Pins), plain.Proof.Boats, o.Seed)
	t.open = []branch{{bound: Rank{ServedByTier: [MaxTier]int{len(pairs) + len(bundles)}}}}
	for len(t.open) > 0 && t.rounds < max(limit, 2) { // at least once, for a bound
		next := t.open[len(t.open)-1]
		t.open = t.open[:len(t.open)-1]
		if t.hopeless(next) {
			continue
		}
		if err := t.look(next); err != nil {
			return nil, err
		}
	}
	return t.answer(), nil
}

// checkBundles looks at what Solve does not see. The pairs must be in order.
func checkBundles(pairs []Pair, bundles []Bundle) error {
	if err := Check(pairs); err != nil {
		return err
	}
	if len(bundles) > MaxBundles {
		return &InputError{List: Bundles, Index: MaxBundles, Reason: fmt.Sprintf("there are more than %d bundles", MaxBundles)}
	}
	tier := map[string]int{}
	for _, p := range pairs {
		tier[p.Applicant] = p.Tier
	}
	seen := map[[3]string]bool{}
	for i, b := range bundles {
		fault := b.check(tier)
		key := [3]string{min(b.Boats[0], b.Boats[1]), max(b.Boats[0], b.Boats[1]), b.Applicant}
		if fault == nil && seen[key] {
			fault = &InputError{Field: "applicant", Reason: "these boats and this applicant stood in a bundle before"}
		}
		if fault != nil {
			fault.List, fault.Index = Bundles, i
			return fault
		}
		seen[key], tier[b.Applicant] = true, b.Tier
	}
	return nil
}

func (b Bundle) check(tiers map[string]int) *InputError {
	tier, known := tiers[b.Applicant]
	switch {
	case b.Boats[0] == "" || b.Boats[1] == "":
		return &InputError{Field: "boats", Reason: "a bundle names two boats"}
	case b.Boats[0] == b.Boats[1]:
		return &InputError{Field: "boats", Reason: "must be two different boats"}
	case b.Applicant == "":
		return &InputError{Field: "applicant", Reason: "must not be empty"}
	case b.Weight < 0 || b.Weight > MaxWeight:
		return &InputError{Field: "weight", Reason: fmt.Sprintf("must be a whole number from 0 to %d", MaxWeight)}
	case b.Tier < 1 || b.Tier > MaxTier:
		return &InputError{Field: "tier", Reason: fmt.Sprintf("must be a whole number from 1 to %d", MaxTier)}
	case known && tier != b.Tier:
		return &InputError{Field: "tier", Reason: fmt.Sprintf("this applicant stood in tier %d before; an applicant has one tier", tier)}
	}
	return nil
}

// unpinned gives the bundles that no pin stands against.
func unpinned(bundles []Bundle, pins []Couple) []Bundle {
	return slices.DeleteFunc(slices.Clone(bundles), func(b Bundle) bool {
		return slices.ContainsFunc(pins, func(p Couple) bool { return p.Applicant == b.Applicant || b.has(p.Boat) })
	})
}

func (b Bundle) has(boat string) bool { return boat == b.Boats[0] || boat == b.Boats[1] }

// byApplicant groups bundles, the heaviest of an applicant first. The first boat
// of each becomes the scarcer one, by the prices of the round without bundles.
// Equal ones, and the applicants, come in the lottery's order, which it gives too.
func byApplicant(bundles []Bundle, price map[string]int64, seed string) (of map[string][]Bundle, applicants []string, lot map[string]int) {
	lot = lots(bundles, seed)
	of = map[string][]Bundle{}
	for _, b := range bundles {
		x, y := b.Boats[0], b.Boats[1]
		if cmp.Or(cmp.Compare(price[y], price[x]), cmp.Compare(lot[x], lot[y])) > 0 {
			b.Boats = [2]string{y, x}
		}
		if of[b.Applicant] == nil {
			applicants = append(applicants, b.Applicant)
		}
		of[b.Applicant] = append(of[b.Applicant], b)
	}
	for _, a := range applicants {
		slices.SortFunc(of[a], func(x, y Bundle) int {
			return cmp.Or(cmp.Compare(y.Weight, x.Weight), cmp.Compare(lot[x.Boats[0]], lot[y.Boats[0]]), cmp.Compare(lot[x.Boats[1]], lot[y.Boats[1]]))
		})
	}
	slices.SortFunc(applicants, func(x, y string) int { return cmp.Compare(lot[x], lot[y]) })
	return of, applicants, lot
}

// lots gives the places in the lottery of all boats and applicants of bundles.
func lots(bundles []Bundle, seed string) map[string]int {
	var ids []string
	for _, b := range bundles {
		ids = append(ids, b.Boats[0], b.Boats[1], b.Applicant)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	key := sha256.Sum256([]byte(seed))
	lot := make(map[string]int, len(ids))
	for place, n := range lotteryOrder(key[:], ids) {
		lot[ids[n]] = place
	}
	return lot
}

// A bundling is a search over bundles.
type bundling struct {
	pairs      []Pair
	o          Options
	of         map[string][]Bundle // of an applicant
	applicants []string            // that have bundles
	lot        map[string]int      // their places in the lottery, and those of the bundles' boats
	limit      int
	rounds     int

	open   []branch // branches to look at, the next one last
	best   Rank
	taken  []Bundle // of the best
	result *Result
}

// A branch is a part of what is possible: some bundles are taken, some
// applicants take none, and the others are undecided.
type branch struct {
	taken   []Bundle
	decided []string // who takes one of taken, or none
	// Nothing in the branch is better than bound, nor as good with fewer bundles.
	bound   Rank
	bundles int
}

// hopeless says that a branch cannot hold what is wanted: something better than
// the best so far, or as good with fewer bundles.
func (t *bundling) hopeless(b branch) bool {
	c := b.bound.Compare(t.best)
	return c < 0 || c == 0 && b.bundles >= len(t.taken)
}

// look bounds a branch by a round, takes over what it comes to if that is
// possible, and parts the branch otherwise.
func (t *bundling) look(b branch) error {
	undecided := slices.DeleteFunc(slices.Clone(t.applicants), func(a string) bool { return slices.Contains(b.decided, a) })
	relaxed, err := t.solve(b, undecided)
	if err != nil {
		return err
	}
	wished := relaxed.wished()
	slices.SortFunc(wished, func(x, y Bundle) int { return cmp.Compare(t.lot[x.Applicant], t.lot[y.Applicant]) })
	if b.bound, b.bundles = relaxed.rank, len(b.taken)+len(wished); t.hopeless(b) {
		return nil
	}
	clash := relaxed.clash(wished)
	if clash == "" {
		return t.take(append(slices.Clone(b.taken), wished...))
	}
	b.decided = append(slices.Clone(b.decided), clash)
	t.open = append(t.open, b)
	for _, x := range slices.Backward(t.of[clash]) {
		if !slices.ContainsFunc(b.taken, x.meets) {
			with := b
			with.taken = append(slices.Clone(b.taken), x)
			t.open = append(t.open, with)
		}
	}
	return nil
}

func (b Bundle) meets(other Bundle) bool { return b.has(other.Boats[0]) || b.has(other.Boats[1]) }

// take takes over a set of bundles, with the best pairing of what it leaves.
func (t *bundling) take(taken []Bundle) error {
	rest, err := t.solve(branch{taken: taken}, nil)
	if err != nil {
		return err
	}
	slices.SortFunc(taken, func(x, y Bundle) int { return cmp.Compare(x.Applicant, y.Applicant) })
	t.best, t.taken, t.result = rest.rank, taken, rest.Result
	return nil
}

// A relaxation is the solved round of a branch.
type relaxation struct {
	*Result
	rank Rank
	rows []Pair
	at   map[Couple]int    // of a row
	wish map[Couple]Bundle // rows that stand for a bundle
}

// solve solves the round of a branch.
func (t *bundling) solve(b branch, undecided []string) (r relaxation, err error) {
	t.rounds++
	gone := func(applicant string, boats ...string) bool {
		return slices.ContainsFunc(b.taken, func(x Bundle) bool { return x.Applicant == applicant || slices.ContainsFunc(boats, x.has) })
	}
	r.at, r.wish = map[Couple]int{}, map[Couple]Bundle{}
	for _, p := range t.pairs {
		if !gone(p.Applicant, p.Boat) {
			r.add(p)
		}
	}
	for _, a := range undecided {
		for _, x := range t.of[a] {
			if !gone(a, x.Boats[:]...) {
				r.hope(x)
			}
		}
	}
	if r.Result, err = Solve(r.rows, r.options(t.o)); err != nil {
		return r, err
	}
	copy(r.rank.ServedByTier[:], r.ServedByTier)
	r.rank.Total = r.Total
	for _, x := range b.taken {
		r.rank.ServedByTier[x.Tier-1]++
		r.rank.Total += x.Weight
	}
	return r, nil
}

func (r *relaxation) add(p Pair) {
	r.at[Couple{p.Boat, p.Applicant}] = len(r.rows)
	r.rows = append(r.rows, p)
}

// hope lets a bundle's applicant have its scarcer boat for the weight of both,
// unless the boat alone is worth as much.
func (r *relaxation) hope(x Bundle) {
	c := Couple{x.Boats[0], x.Applicant}
	i, known := r.at[c]
	if !known {
		i = len(r.rows)
		r.add(Pair{Boat: x.Boats[0], Applicant: x.Applicant, Weight: -1, Tier: x.Tier})
	}
	if x.Weight > r.rows[i].Weight {
		r.rows[i].Weight = x.Weight
		r.wish[c] = x
	}
}

// options keep what the caller wants kept, or else all pairs that are no bundles:
// of equal pairings the one with the fewest bundles is wanted.
func (r *relaxation) options(o Options) Options {
	if len(r.wish) == 0 || len(o.Keep) > 0 {
		return o
	}
	for c := range r.at {
		if _, wish := r.wish[c]; !wish {
			o.Keep = append(o.Keep, c)
		}
	}
	return o
}

// wished gives the bundles that the pairing stands for.
func (r *relaxation) wished() (bundles []Bundle) {
	for _, c := range r.Pairs {
		if x, wish := r.wish[c]; wish {
			bundles = append(bundles, x)
		}
	}
	return bundles
}

// clash gives an applicant the other boat of whose bundle somebody else has, or "".
func (r *relaxation) clash(wished []Bundle) string {
	holders := map[string]int{}
	for _, c := range r.Pairs {
		holders[c.Boat]++
	}
	for _, x := range wished {
		holders[x.Boats[1]]++
	}
	for _, x := range wished {
		if holders[x.Boats[1]] > 1 {
			return x.Applicant
		}
	}
	return ""
}

func (t *bundling) answer() *Bundled {
	b := &Bundled{Result: *t.result, Taken: slices.Clone(t.taken), Proved: true, Bound: t.best, Rounds: t.rounds}
	for i := range b.Taken {
		slices.Sort(b.Taken[i].Boats[:])
	}
	for _, open := range t.open {
		if t.hopeless(open) {
			continue
		}
		b.Proved = false
		if open.bound.Compare(b.Bound) > 0 {
			b.Bound = open.bound
		}
	}
	tiers := len(b.ServedByTier)
	for _, x := range b.Taken {
		tiers = max(tiers, x.Tier)
	}
	b.RestServed, b.RestTotal = b.ServedByTier, b.Total
	b.ServedByTier, b.Total = slices.Clone(t.best.ServedByTier[:tiers]), t.best.Total
	return b
}
