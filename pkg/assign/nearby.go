package assign

// draw draws lots among what is linked to a change, and gives the boats looked at.
// Every other best pairing differs from the present one along rings of arrows
// (see lottery) through something that changed: one elsewhere would give up offers
// for nothing. All such rings lie among the nodes ahead of the change, and among
// those behind it; the smaller of the two sets is drawn.
func (st *Standing) draw(linked []int32, freed int32) (boats []int32) {
	ahead, behind := newHalo(st, true, &st.marks[0]), newHalo(st, false, &st.marks[1])
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
	*marks
	number int32 // what seen holds for nodes of this set
	nodes  []int32
	done   int // how many of them were followed
	work   int // how many rows were looked at
}

// marks lets sets be told apart without clearing anything between changes.
type marks struct {
	seen   []int32 // of a node: the last set that it was in
	number int32
}

func newHalo(st *Standing, ahead bool, m *marks) *halo {
	boats, applicants := int32(len(st.boats.boatPrice)), int32(len(st.boats.applicantPrice))
	if m.seen == nil {
		m.seen = make([]int32, boats+applicants+1)
	}
	m.number++
	return &halo{Standing: st, ahead: ahead, applicants: boats, outside: boats + applicants, marks: m, number: m.number}
}

func (h *halo) has(n int32) bool { return h.seen[n] == h.number }

func (h *halo) visit(n int32) {
	h.work++
	if !h.has(n) {
		h.seen[n] = h.number
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
	mate := s.applicantOf[end]
	for e := range s.tight(end) {
		if h.work++; e.applicant != mate {
			h.visit(offset + e.applicant)
		}
	}
	if s.boatPrice[end] == 0 && mate != nobody {
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
// boats. Applicants without a tight row there have nothing to win or lose.
func (st *Standing) drawAmong(h *halo) (boats []int32) {
	s, part := st.boats, &round{}
	small, large := map[int32]int32{}, []int32(nil) // an applicant's number there, and here
	for _, b := range h.nodes {
		if b >= st.spare {
			continue
		}
		boats, part.boats = append(boats, b), append(part.boats, s.round.boats[b])
		for e := range s.tight(b) {
			if !h.has(h.applicants + e.applicant) {
				continue
			}
			at, known := small[e.applicant]
			if !known {
				at = int32(len(large))
				small[e.applicant], large = at, append(large, e.applicant)
				part.applicants = append(part.applicants, s.round.applicants[e.applicant])
			}
			part.edges = append(part.edges, edge{worth: e.worth, applicant: at})
		}
		part.addBoat()
	}
	p := newSearch(part)
	for at, b := range boats {
		if p.boatPrice[at] = s.boatPrice[b]; s.applicantOf[b] != nobody {
			p.pair(int32(at), small[s.applicantOf[b]])
		}
	}
	for at, a := range large {
		p.applicantPrice[at] = s.applicantPrice[a]
		s.boatOf[a] = nobody
	}
	p.drawLots(st.seed)
	for at, b := range boats {
		if s.applicantOf[b] = nobody; p.applicantOf[at] != nobody {
			s.pair(b, large[p.applicantOf[at]])
		}
	}
	return boats
}
