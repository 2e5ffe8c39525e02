package assign

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// A Standing is a round whose pairs are offers on the table. After an answer it
// is best again at once: accepted pairs stay, and of the pairings that are then
// best it takes one that changes the fewest open offers, the lottery deciding
// between those. That is what Solve comes to with the accepted pairs pinned, the
// declined ones forbidden and all other offers to be kept, at the cost of one
// search instead of a round.
//
// It gives no proof: whoever needs one solves the round with those options.
//
// How: a row counts N + 1 times its worth, and one more while it is an open offer
// (N bounds the pairs). The pairing is then the only best one, so after a change
// only what is linked to the change can be paired otherwise.
type Standing struct {
	// The same pairing and prices, seen from the boats and from the applicants. A
	// last boat without rows stands in for a boat that was taken away.
	boats, applicants *search
	spare             int32
	offered           []int32 // the applicant of each boat before the present change
	seed              string
	marks             [2]marks // of halos
}

// A Change is what an answer leads to: offers that no longer stand, the answered
// one included, and those to be made. Both are sorted by boat.
type Change struct{ Ended, Made []Couple }

// Stand makes the pairs found the offers on the table, after Settle. It gives an
// error for rounds whose worths, N + 1 times over, do not fit in 62 bits.
func (p *Pairing) Stand() (*Standing, error) {
	s := p.search
	unit := int64(min(len(s.boatPrice), len(s.applicantPrice))) + 1
	for b := range s.boatPrice {
		if best := s.round.of(int32(b))[0].worth; best > math.MaxInt64/2/unit-1 {
			return nil, fmt.Errorf("the weights are too large for a round of this size to be changed; solve it anew")
		}
	}
	st := &Standing{spare: int32(len(s.boatPrice)), offered: append(slices.Clone(s.applicantOf), nobody), seed: p.seed}
	st.boats = newSearch(s.offers(unit))
	st.applicants = newSearch(st.boats.round.turned())
	st.applicants.applicantOf, st.applicants.boatOf = st.boats.boatOf, st.boats.applicantOf
	st.applicants.boatPrice, st.applicants.applicantPrice = st.boats.applicantPrice, st.boats.boatPrice
	copy(st.boats.applicantOf, s.applicantOf)
	copy(st.boats.boatOf, s.boatOf)
	for b, price := range s.boatPrice {
		st.boats.boatPrice[b] = price * unit
	}
	for a, price := range s.applicantPrice {
		st.boats.applicantPrice[a] = price * unit
		if s.boatOf[a] != nobody {
			st.boats.applicantPrice[a]++ // as the row
		}
	}
	return st, nil
}

// offers gives the round with worths in units, offers counting one more, and a
// spare boat with room for one row.
func (s *search) offers(unit int64) *round {
	from := s.round
	r := &round{boats: append(slices.Clone(from.boats), ""), applicants: from.applicants, edges: make([]edge, 0, len(from.edges)+1)}
	for b, a := range s.applicantOf {
		for _, e := range from.of(int32(b)) {
			e.worth *= unit
			r.edges = append(r.edges, e)
		}
		r.addBoat()
		if a != nobody {
			r.raise(int32(b), a, 1)
		}
	}
	r.addBoat()
	r.edges = append(r.edges, edge{})
	return r
}

// turned gives the round with the applicants' rows as edges: their number stands
// where a boat's does.
func (r *round) turned() *round {
	var ends []int32
	var rows []edge
	for b := range int32(len(r.boats)) {
		for _, e := range r.of(b) {
			ends, rows = append(ends, e.applicant), append(rows, edge{worth: e.worth, applicant: b})
		}
	}
	t := &round{boats: r.applicants, applicants: r.boats, edges: make([]edge, 0, len(rows))}
	first, order := group(ends, len(r.applicants))
	for a := range r.applicants {
		for _, i := range order[first[a]:first[a+1]] {
			t.edges = append(t.edges, rows[i])
		}
		t.addBoat()
		slices.SortFunc(t.of(int32(a)), func(x, y edge) int { return cmp.Compare(y.worth, x.worth) })
	}
	return t
}

// raise changes a row's worth and puts it into its place; a row that is gone is
// left alone.
func (r *round) raise(b, a int32, by int64) {
	of := r.of(b)
	i := find(of, a)
	if i < 0 {
		return
	}
	e := of[i]
	e.worth += by
	for ; i > 0 && of[i-1].worth < e.worth; i-- {
		of[i] = of[i-1]
	}
	for ; i+1 < len(of) && of[i+1].worth > e.worth; i++ {
		of[i] = of[i+1]
	}
	of[i] = e
}

// drop takes a row out, and says whether there was one.
func (r *round) drop(b, a int32) bool {
	of := r.of(b)
	i := find(of, a)
	if i < 0 {
		return false
	}
	copy(of[i:], of[i+1:])
	r.last[b]--
	return true
}

// find gives the place of an applicant among edges, or -1.
func find(of []edge, a int32) int {
	return slices.IndexFunc(of, func(e edge) bool { return e.applicant == a })
}

// Pairs gives the offers that stand, the accepted ones included, sorted by boat.
func (st *Standing) Pairs() []Couple {
	pairs := []Couple{}
	for b, a := range st.boats.applicantOf {
		if a != nobody {
			pairs = append(pairs, st.couple(int32(b), a))
		}
	}
	return pairs
}

func (st *Standing) couple(b, a int32) Couple {
	return Couple{Boat: st.boats.round.boats[b], Applicant: st.boats.round.applicants[a]}
}

// Accept keeps an offered pair, whatever comes. It gives an error when the pair is
// no offer.
func (st *Standing) Accept(c Couple) error {
	b, a, err := st.find(c)
	if err != nil {
		return err
	}
	if st.boats.applicantOf[b] != a {
		return fmt.Errorf("boat %q is not offered to %q", c.Boat, c.Applicant)
	}
	st.dropAll(st.boats.round, st.applicants.round, b, a)
	st.dropAll(st.applicants.round, st.boats.round, a, b)
	return nil
}

// dropAll takes out the rows of an end, but for the one with kept.
func (st *Standing) dropAll(of, turned *round, end, kept int32) {
	for _, e := range slices.Clone(of.of(end)) {
		if e.applicant != kept {
			of.drop(end, e.applicant)
			turned.drop(e.applicant, end)
		}
	}
}

// Decline takes a row out, offered or not. It gives an error when the pair is no
// row (any more), or was accepted.
func (st *Standing) Decline(c Couple) (Change, error) {
	b, a, err := st.find(c)
	if err != nil {
		return Change{}, err
	}
	if !st.boats.round.drop(b, a) {
		return Change{}, fmt.Errorf("%q and boat %q are no pair of this round", c.Applicant, c.Boat)
	}
	st.applicants.round.drop(a, b)
	if st.boats.applicantOf[b] != a {
		return Change{}, nil
	}
	// The two searches are made one after the other. Until the second one, the
	// applicant holds the spare boat, whose one row is worth what the applicant's
	// price is, so that all that a search relies on holds.
	r := st.boats.round
	r.edges[r.first[st.spare]] = edge{worth: st.boats.applicantPrice[a], applicant: a}
	r.last[st.spare]++
	st.boats.applicantOf[b] = nobody
	st.boats.pair(st.spare, a)
	linked := append(st.place(b), b)
	r.last[st.spare]--
	if st.boats.applicantOf[st.spare] == a {
		st.boats.applicantOf[st.spare], st.boats.boatOf[a] = nobody, nobody
		linked = append(linked, st.placeApplicant(a)...)
	}
	return st.settle(linked, a), nil
}

// WithdrawBoat takes a boat out of the round.
func (st *Standing) WithdrawBoat(id string) (Change, error) {
	b, known := slices.BinarySearch(st.boats.round.boats[:st.spare], id)
	if !known {
		return Change{}, fmt.Errorf("there is no boat %q in this round", id)
	}
	boat := int32(b)
	st.dropAll(st.boats.round, st.applicants.round, boat, nobody)
	a := st.boats.applicantOf[boat]
	st.boats.boatPrice[boat] = 0
	if a == nobody {
		return Change{}, nil
	}
	st.boats.applicantOf[boat], st.boats.boatOf[a] = nobody, nobody
	return st.settle(append(st.placeApplicant(a), boat), a), nil
}

// WithdrawApplicant takes an applicant out of the round.
func (st *Standing) WithdrawApplicant(id string) (Change, error) {
	at, known := slices.BinarySearch(st.boats.round.applicants, id)
	if !known {
		return Change{}, fmt.Errorf("there is no applicant %q in this round", id)
	}
	a := int32(at)
	st.dropAll(st.applicants.round, st.boats.round, a, nobody)
	b := st.boats.boatOf[a]
	st.boats.applicantPrice[a] = 0
	if b == nobody {
		return Change{}, nil
	}
	st.boats.applicantOf[b], st.boats.boatOf[a] = nobody, nobody
	return st.settle(append(st.place(b), b), nobody), nil
}

func (st *Standing) find(c Couple) (b, a int32, err error) {
	boat, isBoat := slices.BinarySearch(st.boats.round.boats[:st.spare], c.Boat)
	applicant, isApplicant := slices.BinarySearch(st.boats.round.applicants, c.Applicant)
	if !isBoat || !isApplicant {
		return 0, 0, fmt.Errorf("%q and boat %q are no pair of this round", c.Applicant, c.Boat)
	}
	return int32(boat), int32(applicant), nil
}

// place finds an applicant for a boat, and gives the other boats that were paired
// otherwise for it.
func (st *Standing) place(b int32) (changed []int32) {
	st.boats.place(b)
	for _, trade := range st.boats.trades {
		changed = append(changed, trade.boat)
	}
	if r := st.boats.end.released; r != nobody && r != st.spare {
		changed = append(changed, r)
	}
	return changed
}

// placeApplicant is place for an applicant.
func (st *Standing) placeApplicant(a int32) (changed []int32) {
	st.applicants.place(a)
	for _, trade := range st.applicants.trades {
		changed = append(changed, trade.applicant) // seen from there, a boat
	}
	return changed
}

// settle draws lots between the pairings that are best after a change, and makes
// the one drawn the offers. linked are the boats that were paired otherwise, freed
// an applicant who may be left without.
func (st *Standing) settle(linked []int32, freed int32) Change {
	linked = append(linked, st.draw(linked, freed)...)
	slices.Sort(linked)
	var change Change
	for _, b := range slices.Compact(linked) {
		old, now := st.offered[b], st.boats.applicantOf[b]
		if old == now {
			continue
		}
		if old != nobody {
			change.Ended = append(change.Ended, st.couple(b, old))
			st.raise(b, old, -1)
		}
		if now != nobody {
			change.Made = append(change.Made, st.couple(b, now))
			st.raise(b, now, 1)
			st.boats.applicantPrice[now]++
		}
		st.offered[b] = now
	}
	return change
}

func (st *Standing) raise(b, a int32, by int64) {
	st.boats.round.raise(b, a, by)
	st.applicants.round.raise(a, b, by)
}
