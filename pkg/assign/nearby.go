package assign

import "slices"

// draw draws lots among what is linked to a change, and gives the boats looked at.
// Every other best pairing differs from the present one along rings of arrows
// (see lottery) through something that changed: one elsewhere would give up offers
// for nothing. All such rings lie among the nodes ahead of the change, and among
// those behind it; the smaller of the two sets is drawn.
func (st *Standing) draw(linked []int32, freed int32) (boats []int32) {
	ahead, behind := newHalo(st, true), newHalo(st, false)
	for _, h := range []*halo{ahead, behind} {
		for _, b := range linked {
			h.visit(b)
			if a := st.boats.applicantOf[b]; a != nobody {
				h.visit(h.applicants + a)
			}
		}
		if freed != nobody {
			h.visit(h.applicants + freed)
		}
	}
	for {
		near, far := ahead, behind
		if far.work < near.work {
			near, far = far, near
		}
		if near.done == len(near.nodes) {
			return st.drawAmong(near)
		}
		near.follow(near.nodes[near.done])
		near.done++
	}
}

// A halo is a growing set of nodes: those ahead of what it began with, or those
// behind it. Nodes are numbered as in a lottery.
type halo struct {
	*Standing
	ahead               bool
	applicants, outside int32
	seen                map[int32]bool
	nodes               []int32
	done                int // how many of them were followed
	work                int // how many rows were looked at
}

func newHalo(st *Standing, ahead bool) *halo {
	boats, applicants := int32(len(st.boats.boatPrice)), int32(len(st.boats.applicantPrice))
	return &halo{Standing: st, ahead: ahead, applicants: boats, outside: boats + applicants, seen: map[int32]bool{}}
}

func (h *halo) visit(n int32) {
	h.work++
	if !h.seen[n] {
		h.seen[n] = true
		h.nodes = append(h.nodes, n)
	}
}

// follow visits the nodes that a node's arrows lead to, or those whose arrows
// lead to it.
func (h *halo) follow(n int32) {
	switch {
	case n == h.outside:
		h.followOutside()
	case n < h.applicants && h.ahead:
		h.visitMate(h.boats.applicantOf[n], h.applicants)
	case n < h.applicants:
		h.visitTight(h.boats, n, h.applicants)
	case h.ahead:
		h.visitTight(h.Standing.applicants, n-h.applicants, 0)
	default:
		h.visitMate(h.boats.boatOf[n-h.applicants], 0)
	}
}

func (h *halo) visitMate(mate, offset int32) {
	if mate == nobody {
		h.visit(h.outside)
		return
	}
	h.visit(offset + mate)
}

// visitTight follows the tight rows of an end to the others, and to the outside
// if the end is paired and may be left out.
func (h *halo) visitTight(s *search, end, offset int32) {
	price, mate := s.boatPrice[end], s.applicantOf[end]
	for _, e := range s.round.of(end) {
		if h.work++; e.worth < price {
			break
		}
		if e.applicant != mate && price+s.applicantPrice[e.applicant] == e.worth {
			h.visit(offset + e.applicant)
		}
	}
	if price == 0 && mate != nobody {
		h.visit(h.outside)
	}
}

// followOutside: ahead of the outside stand applicants without a boat and boats
// that may be left, behind it boats without an applicant and applicants that may
// be left.
func (h *halo) followOutside() {
	unpaired, unpairedAt, paired, pairedAt := h.Standing.applicants, h.applicants, h.boats, int32(0)
	if !h.ahead {
		unpaired, unpairedAt, paired, pairedAt = paired, pairedAt, unpaired, unpairedAt
	}
	for n, mate := range unpaired.applicantOf {
		if mate == nobody {
			h.visit(unpairedAt + int32(n))
		}
	}
	for n, mate := range paired.applicantOf {
		if mate != nobody && paired.boatPrice[n] == 0 {
			h.visit(pairedAt + int32(n))
		}
	}
}

// drawAmong draws lots in the part of the round that a halo covers, and gives its
// boats.
func (st *Standing) drawAmong(h *halo) (boats []int32) {
	slices.Sort(h.nodes)
	part := &round{}
	small := map[int32]int32{} // of an applicant's node
	for _, n := range h.nodes {
		switch {
		case n < st.spare:
			boats, part.boats = append(boats, n), append(part.boats, st.boats.round.boats[n])
		case n >= h.applicants && n < h.outside:
			small[n-h.applicants] = int32(len(part.applicants))
			part.applicants = append(part.applicants, st.boats.round.applicants[n-h.applicants])
		}
	}
	s := st.boats
	for _, b := range boats {
		part.edges = append(part.edges, st.tightAmong(small, b)...)
		part.addBoat()
	}
	p := newSearch(part)
	for at, b := range boats {
		p.boatPrice[at] = s.boatPrice[b]
		if a := s.applicantOf[b]; a != nobody {
			p.pair(int32(at), small[a])
		}
	}
	large := make([]int32, len(small))
	for a, at := range small {
		p.applicantPrice[at], large[at] = s.applicantPrice[a], a
	}
	p.drawLots(st.seed)
	for a := range small {
		s.boatOf[a] = nobody
	}
	for at, b := range boats {
		if s.applicantOf[b] = nobody; p.applicantOf[at] != nobody {
			s.pair(b, large[p.applicantOf[at]])
		}
	}
	return boats
}

// tightAmong gives a boat's tight rows to the given applicants, under their
// numbers there.
func (st *Standing) tightAmong(small map[int32]int32, b int32) (tight []edge) {
	s := st.boats
	for _, e := range s.round.of(b) {
		if e.worth < s.boatPrice[b] {
			break
		}
		at, inside := small[e.applicant]
		if inside && s.boatPrice[b]+s.applicantPrice[e.applicant] == e.worth {
			tight = append(tight, edge{worth: e.worth, applicant: at})
		}
	}
	return tight
}
