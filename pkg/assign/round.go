package assign

import (
	"fmt"
	"slices"
	"strings"
)

// nobody stands for no boat and for no applicant.
const nobody int32 = -1

// An edge is a row seen from its boat.
type edge struct {
	worth     int64
	applicant int32
}

// A round is what is left of the input after pins and forbidden pairs. Boats and
// applicants are numbered in the byte order of their ids, and the edges of a
// boat stand from the greatest worth down, so nothing depends on the rows' order.
type round struct {
	boats, applicants []string
	tier              []int8 // of an applicant
	tiers             int    // T, the largest tier
	step              int64  // S = N·W + 1
	first, last       []int  // edges of boat b: edges[first[b]:last[b]]
	edges             []edge
}

func (r *round) of(b int32) []edge { return r.edges[r.first[b]:r.last[b]] }

// addBoat adds the next boat, whose edges were appended.
func (r *round) addBoat() {
	begin := 0
	if n := len(r.last); n > 0 {
		begin = r.last[n-1]
	}
	r.first, r.last = append(r.first, begin), append(r.last, len(r.edges))
}

// tierWorth is what serving an applicant of this tier is worth besides the
// weight. Why a step linear in N·W keeps the order of the tiers: suppose that a
// pairing serves fewer of the first tiers than another one does. Among the
// chains and rings in which the two differ, one must add an applicant or trade
// one for a better tier. Following that chain gains a step at least, and costs
// at most N·W in weight, which is less.
//
// With at most MaxRows rows a worth stays below 2⁶⁰. Prices never exceed the
// largest worth and distances never twice that, so 64 bits hold them all; their
// sums are not formed here.
func (r *round) tierWorth(tier int) int64 { return int64(r.tiers+1-tier) * r.step }

// An indexer numbers ids in the order of their first appearance.
type indexer struct {
	number map[string]int32
	ids    []string
	last   string // rows come in runs of one id
	lastAt int32
}

func newIndexer() *indexer { return &indexer{number: map[string]int32{}, lastAt: nobody} }

func (x *indexer) index(id string) int32 {
	if x.lastAt != nobody && id == x.last {
		return x.lastAt
	}
	at, known := x.number[id]
	if !known {
		at = int32(len(x.ids))
		x.number[id] = at
		x.ids = append(x.ids, id)
	}
	x.last, x.lastAt = id, at
	return at
}

// find gives the number of an id, or nobody.
func (x *indexer) find(id string) int32 {
	if at, known := x.number[id]; known {
		return at
	}
	return nobody
}

// rows are the input's pairs by number. A dropped row's boat is nobody.
type rows struct {
	pairs             []Pair
	boats, applicants *indexer
	boat, applicant   []int32 // of a row
	tier              []int   // of an applicant
}

func newRound(pairs []Pair, o Options) (*round, error) {
	in, err := readRows(pairs)
	if err != nil {
		return nil, err
	}
	if err := in.narrow(o); err != nil {
		return nil, err
	}
	return in.round(), nil
}

func readRows(pairs []Pair) (*rows, error) {
	if len(pairs) > MaxRows {
		return nil, &InputError{List: Pairs, Index: MaxRows, Reason: fmt.Sprintf("there are more than %d rows", MaxRows)}
	}
	in := &rows{pairs: pairs, boats: newIndexer(), applicants: newIndexer(),
		boat: make([]int32, 0, len(pairs)), applicant: make([]int32, 0, len(pairs))}
	var fault *InputError
	for i, p := range pairs {
		if fault = in.add(p); fault != nil {
			fault.List, fault.Index = Pairs, i
			break
		}
	}
	if again := in.repeated(); again != nil {
		fault = again // in a row before the other fault
	}
	if fault != nil {
		return nil, fault
	}
	return in, nil
}

func (in *rows) add(p Pair) *InputError {
	switch {
	case p.Boat == "":
		return &InputError{Field: "boat", Reason: "must not be empty"}
	case p.Applicant == "":
		return &InputError{Field: "applicant", Reason: "must not be empty"}
	case p.Weight < 0 || p.Weight > MaxWeight:
		return &InputError{Field: "weight", Reason: fmt.Sprintf("must be a whole number from 0 to %d", MaxWeight)}
	case p.Tier < 1 || p.Tier > MaxTier:
		return &InputError{Field: "tier", Reason: fmt.Sprintf("must be a whole number from 1 to %d", MaxTier)}
	}
	a := in.applicants.index(p.Applicant)
	if int(a) == len(in.tier) {
		in.tier = append(in.tier, p.Tier)
	}
	if in.tier[a] != p.Tier {
		return &InputError{Field: "tier", Reason: fmt.Sprintf("this applicant stood in tier %d before; an applicant has one tier", in.tier[a])}
	}
	in.boat = append(in.boat, in.boats.index(p.Boat))
	in.applicant = append(in.applicant, a)
	return nil
}

// repeated finds the first row whose pair stood in an earlier row.
func (in *rows) repeated() *InputError {
	first, order := group(in.boat, len(in.boats.ids))
	seen := make([]int32, len(in.applicants.ids)) // the boat it was last seen with, from 1
	at := len(in.boat)
	for b := range in.boats.ids {
		for _, i := range order[first[b]:first[b+1]] {
			a := in.applicant[i]
			if seen[a] == int32(b)+1 {
				at = min(at, int(i))
			}
			seen[a] = int32(b) + 1
		}
	}
	if at == len(in.boat) {
		return nil
	}
	return &InputError{List: Pairs, Index: at, Field: "applicant", Reason: "this boat and applicant stood in a row before"}
}

// group sorts the positions of keys by key, keeping their order within a key;
// those of key k are order[first[k]:first[k+1]]. Keys of nobody are left out.
func group(keys []int32, n int) (first []int, order []int32) {
	first = make([]int, n+1)
	for _, k := range keys {
		if k != nobody {
			first[k+1]++
		}
	}
	for k := range n {
		first[k+1] += first[k]
	}
	order = make([]int32, first[n])
	next := slices.Clone(first)
	for i, k := range keys {
		if k != nobody {
			order[next[k]] = int32(i)
			next[k]++
		}
	}
	return first, order
}

// couple is a Couple by number.
type couple struct{ boat, applicant int32 }

// narrow drops the forbidden rows, and the other rows of pinned ends.
func (in *rows) narrow(o Options) error {
	if len(o.Pins)+len(o.Forbids) == 0 {
		return nil
	}
	forbidden, err := in.forbidden(o.Forbids)
	if err != nil {
		return err
	}
	pinnedTo, pinnedBy, err := in.pins(o.Pins, forbidden)
	if err != nil {
		return err
	}
	for i, a := range in.applicant {
		b := in.boat[i]
		elsewhere := pinnedTo[b] != nobody && pinnedTo[b] != a || pinnedBy[a] != nobody && pinnedBy[a] != b
		if elsewhere || forbidden[couple{b, a}] {
			in.boat[i] = nobody
		}
	}
	return nil
}

// forbidden gives the forbidden pairs whose ends are known.
func (in *rows) forbidden(forbids []Couple) (map[couple]bool, error) {
	forbidden := make(map[couple]bool, len(forbids))
	seen := make(map[Couple]bool, len(forbids))
	for i, f := range forbids {
		switch {
		case f.Boat == "":
			return nil, &InputError{List: Forbids, Index: i, Field: "boat", Reason: "must not be empty"}
		case f.Applicant == "":
			return nil, &InputError{List: Forbids, Index: i, Field: "applicant", Reason: "must not be empty"}
		case seen[f]:
			return nil, &InputError{List: Forbids, Index: i, Field: "applicant", Reason: "this boat and applicant are forbidden before"}
		}
		seen[f] = true
		if c := in.couple(f); c.boat != nobody && c.applicant != nobody {
			forbidden[c] = true
		}
	}
	return forbidden, nil
}

func (in *rows) couple(c Couple) couple {
	return couple{boat: in.boats.find(c.Boat), applicant: in.applicants.find(c.Applicant)}
}

// pins gives the applicant pinned to each boat and the boat pinned to each
// applicant.
func (in *rows) pins(pins []Couple, forbidden map[couple]bool) (to, by []int32, err error) {
	to, by = nobodies(len(in.boats.ids)), nobodies(len(in.applicants.ids))
	present := in.present(pins)
	for i, pin := range pins {
		c := in.couple(pin)
		fault := in.pin(c, to, by)
		switch {
		case fault != nil:
		case forbidden[c]:
			fault = &InputError{Field: "applicant", Reason: "this boat and applicant are forbidden too"}
		case !present[c]:
			fault = &InputError{Field: "applicant", Reason: "no row has this boat and applicant"}
		}
		if fault != nil {
			fault.List, fault.Index = Pins, i
			return nil, nil, fault
		}
		to[c.boat], by[c.applicant] = c.applicant, c.boat
	}
	return to, by, nil
}

// present says which of the pins are rows.
func (in *rows) present(pins []Couple) map[couple]bool {
	present := make(map[couple]bool, len(pins))
	for _, pin := range pins {
		present[in.couple(pin)] = false
	}
	for i, b := range in.boat {
		c := couple{b, in.applicant[i]}
		if _, asked := present[c]; asked {
			present[c] = true
		}
	}
	return present
}

// pin says what is wrong with the ends of one pin, given the pins before it.
func (in *rows) pin(c couple, to, by []int32) *InputError {
	switch {
	case c.boat == nobody:
		return &InputError{Field: "boat", Reason: "no row has this boat"}
	case c.applicant == nobody:
		return &InputError{Field: "applicant", Reason: "no row has this applicant"}
	case to[c.boat] != nobody:
		return &InputError{Field: "boat", Reason: "this boat is pinned before"}
	case by[c.applicant] != nobody:
		return &InputError{Field: "applicant", Reason: "this applicant is pinned before"}
	}
	return nil
}

func nobodies(n int) []int32 { return slices.Repeat([]int32{nobody}, n) }

// round numbers what is left.
func (in *rows) round() *round {
	r := &round{}
	hasRow := make([]bool, len(in.applicants.ids))
	heaviest := int64(0)
	for i, b := range in.boat {
		if b == nobody {
			continue
		}
		hasRow[in.applicant[i]] = true
		heaviest = max(heaviest, in.pairs[i].Weight)
		r.tiers = max(r.tiers, in.pairs[i].Tier)
	}
	first, order := group(in.boat, len(in.boats.ids))
	boatOrder := ordered(in.boats.ids, func(b int32) bool { return first[b] < first[b+1] })
	applicantOrder := ordered(in.applicants.ids, func(a int32) bool { return hasRow[a] })
	r.boats, r.applicants = pick(in.boats.ids, boatOrder), pick(in.applicants.ids, applicantOrder)
	r.step = int64(min(len(r.boats), len(r.applicants)))*heaviest + 1

	numberOf := make([]int32, len(in.applicants.ids))
	r.tier = make([]int8, len(applicantOrder))
	for a, old := range applicantOrder {
		numberOf[old] = int32(a)
		r.tier[a] = int8(in.tier[old])
	}
	r.edges = make([]edge, 0, len(order))
	for _, old := range boatOrder {
		r.addEdges(in, order[first[old]:first[old+1]], numberOf)
		r.addBoat()
	}
	return r
}

// addEdges appends the edges of the next boat, from the greatest worth down.
// Tier, weight and applicant fit in 4 + 30 + 30 bits, and sorting numbers is
// several times faster than sorting with a comparison.
func (r *round) addEdges(in *rows, at []int32, numberOf []int32) {
	const bits = 30
	keys := make([]uint64, len(at))
	for k, i := range at {
		p := &in.pairs[i]
		keys[k] = uint64(p.Tier)<<(2*bits) | uint64(1<<bits-1-p.Weight)<<bits | uint64(numberOf[in.applicant[i]])
	}
	slices.Sort(keys)
	for _, key := range keys {
		weight := 1<<bits - 1 - int64(key>>bits&(1<<bits-1))
		r.edges = append(r.edges, edge{worth: weight + r.tierWorth(int(key>>(2*bits))), applicant: int32(key & (1<<bits - 1))})
	}
}

// ordered gives the numbers of the wanted ids in the byte order of the ids.
func ordered(ids []string, wanted func(int32) bool) []int32 {
	var order []int32
	for i := range ids {
		if wanted(int32(i)) {
			order = append(order, int32(i))
		}
	}
	slices.SortFunc(order, func(i, j int32) int { return strings.Compare(ids[i], ids[j]) })
	return order
}

func pick(ids []string, order []int32) []string {
	picked := make([]string, len(order))
	for i, at := range order {
		picked[i] = ids[at]
	}
	return picked
}
