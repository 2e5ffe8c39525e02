package assign

import (
	"bytes"
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"slices"
	"strings"
)

// lotteryOrder gives the numbers of ids in ascending order of HMAC-SHA256(key,
// id). An id's place relative to another does not depend on who else is listed.
func lotteryOrder(key []byte, ids []string) []int32 {
	type lot struct {
		digest [sha256.Size]byte
		number int32
	}
	lots := make([]lot, len(ids))
	mac := hmac.New(sha256.New, key)
	for i, id := range ids {
		mac.Reset()
		mac.Write([]byte(id))
		mac.Sum(lots[i].digest[:0])
		lots[i].number = int32(i)
	}
	slices.SortFunc(lots, func(x, y lot) int {
		return cmp.Or(bytes.Compare(x.digest[:], y.digest[:]), strings.Compare(ids[x.number], ids[y.number]))
	})
	order := make([]int32, len(ids))
	for i, l := range lots {
		order[i] = l.number
	}
	return order
}

// drawLots turns a best pairing into the one that the lottery chooses among all
// best ones. The key is the SHA-256 of the seed. Applicants come in lottery
// order; each takes, of the boats with which a best pairing can still be
// completed, the first in lottery order, and it is settled. Whether an applicant
// is served and with which boat is one decision: where an earlier applicant's
// boat leaves a later one without, another boat would have been better for the
// later one, but the order is the order.
func (s *search) drawLots(seed string) {
	key := sha256.Sum256([]byte(seed))
	l := newLottery(s, lotteryOrder(key[:], s.round.boats))
	for _, a := range lotteryOrder(key[:], s.round.applicants) {
		l.settle(l.applicants + a)
	}
	for b := range l.applicants {
		s.applicantOf[b] = nobody
	}
	for a := range int32(len(s.boatOf)) {
		s.boatOf[a] = l.mate[l.applicants+a]
		if s.boatOf[a] != nobody {
			s.applicantOf[s.boatOf[a]] = a
		}
	}
}

// A lottery moves from one best pairing to another. It knows all of them: they
// are the pairings that use only tight rows (where the prices meet the worth
// exactly) and leave nobody out who has a price.
//
// Boats, applicants and the outside are nodes of one graph with arrows from an
// applicant to the boats that it could take, from a boat to the applicant that
// it would have to leave, and through the outside for what starts or stops being
// used. A ring of arrows is exactly a change to another best pairing, so an
// applicant can take a boat if the boat's arrows lead back to the applicant.
type lottery struct {
	applicants int32 // the node of the first applicant; boats start at 0
	outside    int32 // the last node

	mate  []int32 // of a node, or nobody
	first []int   // tight rows of node n: tight[first[n]:first[n+1]],
	tight []int32 // those of an applicant in the boats' lottery order
	free  []bool  // nodes without a price: they may be left out
	frees []int32

	// part numbers the parts that the graph is known to fall into: no ring
	// crosses from one to another. Settled nodes are in part settledPart.
	part  []int32
	parts int32

	ahead, back side
	number      int32 // of the search at work
}

const settledPart int32 = -1

// A side is one half of a search from both ends.
type side struct {
	ahead bool
	seen  []int32 // the number of the search that last came to a node
	from  []int32 // the node before it on the way
	nodes []int32 // those seen by this search, in the order of being seen
	done  int     // how many of them were followed
	work  int     // how many rows were looked at
}

func newSide(ahead bool, nodes int32) side {
	return side{ahead: ahead, seen: make([]int32, nodes), from: make([]int32, nodes)}
}

func newLottery(s *search, boatOrder []int32) *lottery {
	boats, applicants := int32(len(s.boatPrice)), int32(len(s.applicantPrice))
	nodes := boats + applicants + 1
	l := &lottery{
		applicants: boats,
		outside:    nodes - 1,
		mate:       nobodies(int(nodes)),
		part:       make([]int32, nodes),
		free:       make([]bool, nodes),
		ahead:      newSide(true, nodes),
		back:       newSide(false, nodes),
	}
	l.addRows(s, boatOrder)
	for b, a := range s.applicantOf {
		if a != nobody {
			l.pair(boats+a, int32(b))
		}
	}
	for n := range l.outside {
		tight := l.first[n] < l.first[n+1]
		l.free[n] = tight && (n < boats && s.boatPrice[n] == 0 || n >= boats && s.applicantPrice[n-boats] == 0)
		if l.free[n] {
			l.frees = append(l.frees, n)
		}
	}
	return l
}

// addRows keeps the tight rows, at both of their ends.
func (l *lottery) addRows(s *search, boatOrder []int32) {
	var ends, others []int32
	for _, b := range boatOrder {
		for e := range s.tight(b) {
			a := l.applicants + e.applicant
			ends, others = append(ends, a, b), append(others, b, a)
		}
	}
	first, order := group(ends, int(l.outside)+1)
	l.first, l.tight = first, make([]int32, len(order))
	for i, at := range order {
		l.tight[i] = others[at]
	}
}

func (l *lottery) pair(a, b int32) { l.mate[a], l.mate[b] = b, a }

func (l *lottery) rows(n int32) []int32 { return l.tight[l.first[n]:l.first[n+1]] }

// settle gives an applicant the first boat that it can have, for good.
func (l *lottery) settle(a int32) {
	for _, b := range l.rows(a) {
		if l.part[b] == settledPart {
			continue
		}
		if l.mate[a] == b || l.take(a, b) {
			l.part[b] = settledPart
			break
		}
	}
	l.part[a] = settledPart
}

// take moves to a best pairing in which the applicant has the boat, if there is
// one. It looks from both ends in turn, so that a search in vain costs no more
// than twice its smaller half; that half is then known as a part of its own. A
// row is thus looked at in vain at most a logarithm of times in the whole draw.
func (l *lottery) take(a, b int32) bool {
	if l.part[a] != l.part[b] {
		return false
	}
	l.number++
	l.ahead.begin(b, l.number)
	l.back.begin(a, l.number)
	for {
		near, far := &l.ahead, &l.back
		if far.work < near.work {
			near, far = far, near
		}
		if near.done == len(near.nodes) {
			l.split(near.nodes)
			return false
		}
		n := near.nodes[near.done]
		near.done++
		if meeting := l.follow(near, far, n); meeting != nobody {
			l.change(l.ring(a, b, meeting))
			return true
		}
	}
}

func (d *side) begin(n, number int32) {
	d.nodes, d.done, d.work = append(d.nodes[:0], n), 0, 0
	d.seen[n] = number
}

func (l *lottery) split(nodes []int32) {
	l.parts++
	for _, n := range nodes {
		l.part[n] = l.parts
	}
}

// follow goes one step from a node, along the arrows or against them. It gives
// the node where the two sides meet, or nobody.
func (l *lottery) follow(d, other *side, n int32) (meeting int32) {
	if n == l.outside {
		return l.followOutside(d, other)
	}
	mate := l.mate[n]
	if d.ahead != (n >= l.applicants) {
		if mate == nobody {
			mate = l.outside
		}
		return l.visit(d, other, n, mate)
	}
	for _, next := range l.rows(n) {
		if next == mate {
			continue
		}
		if meeting = l.visit(d, other, n, next); meeting != nobody {
			return meeting
		}
	}
	if l.free[n] && mate != nobody {
		return l.visit(d, other, n, l.outside)
	}
	return nobody
}

// followOutside: ahead of the outside stand applicants without a boat and boats
// that may be left, behind it boats without an applicant and applicants that may
// be left.
func (l *lottery) followOutside(d, other *side) (meeting int32) {
	for _, n := range l.frees {
		paired, applicant := l.mate[n] != nobody, n >= l.applicants
		if d.ahead == (paired == applicant) {
			d.work++
			continue
		}
		if meeting = l.visit(d, other, l.outside, n); meeting != nobody {
			return meeting
		}
	}
	return nobody
}

func (l *lottery) visit(d, other *side, from, n int32) (meeting int32) {
	d.work++
	if l.part[n] != l.part[from] || d.seen[n] == l.number {
		return nobody
	}
	d.seen[n], d.from[n] = l.number, from
	d.nodes = append(d.nodes, n)
	if other.seen[n] == l.number {
		return n
	}
	return nobody
}

// ring gives the nodes of a found ring along its arrows, from the boat to the
// applicant that takes it.
func (l *lottery) ring(a, b, meeting int32) []int32 {
	ring := []int32{meeting}
	for n := meeting; n != b; {
		n = l.ahead.from[n]
		ring = append(ring, n)
	}
	slices.Reverse(ring)
	for n := meeting; n != a; {
		n = l.back.from[n]
		ring = append(ring, n)
	}
	return ring
}

// change carries out a ring: every applicant in it takes the node ahead, and who
// stands next to the outside is taken in or left out.
func (l *lottery) change(ring []int32) {
	for i, n := range ring {
		next := ring[(i+1)%len(ring)]
		switch {
		case n == l.outside && next < l.applicants, n >= l.applicants && next == l.outside:
			l.mate[min(n, next)] = nobody
		case n >= l.applicants && n != l.outside:
			l.pair(n, next)
		}
	}
}
