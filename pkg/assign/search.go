package assign

// A search holds a pairing and prices for which two things are true whenever no
// method is at work: in every row the prices reach the worth, and in every pair
// they meet it exactly. An applicant without a boat has price 0. When no boat
// without an applicant has a price either, the pairing is best.
type search struct {
	round *round

	applicantOf    []int32 // of a boat, or nobody
	boatOf         []int32 // of an applicant, or nobody
	boatPrice      []int64
	applicantPrice []int64

	// Of the way that place looks for. far and from of an applicant count only
	// where mark holds the number of that way, so nothing needs clearing between.
	far     []int64 // the distance from the boat that looks for an applicant
	from    []int32 // the boat before the applicant
	mark    []int32
	number  int32
	settled []int32 // applicants whose distance is final
	queue   queue
	end     end // the nearest one found

	trades []couple // the pairs that the last way made
}

// An end is where a way can end: at an applicant without a boat; at an applicant
// whose boat had best stay unused; or, without an applicant, where it began.
type end struct {
	cost                int64
	applicant, released int32
}

func newSearch(r *round) *search {
	boats, applicants := len(r.boats), len(r.applicants)
	return &search{
		round:          r,
		applicantOf:    nobodies(boats),
		boatOf:         nobodies(applicants),
		boatPrice:      make([]int64, boats),
		applicantPrice: make([]int64, applicants),
		far:            make([]int64, applicants),
		from:           make([]int32, applicants),
		mark:           make([]int32, applicants),
	}
}

// run makes the pairing best.
func (s *search) run() {
	waiting := s.takeFirst()
	waiting = s.bid(waiting)
	for _, b := range waiting {
		s.place(b)
	}
}

// takeFirst gives each boat the price of its best row, and the applicant of that
// row if nobody has come before. It gives the boats that are left.
func (s *search) takeFirst() (waiting []int32) {
	for b := range int32(len(s.applicantOf)) {
		if len(s.round.of(b)) == 0 {
			continue // only where tight rows are searched
		}
		best := s.round.of(b)[0]
		s.boatPrice[b] = best.worth
		if s.boatOf[best.applicant] == nobody {
			s.pair(b, best.applicant)
			continue
		}
		waiting = append(waiting, b)
	}
	return waiting
}

func (s *search) pair(b, a int32) { s.applicantOf[b], s.boatOf[a] = a, b }

// bidsEach bounds the bids per waiting boat.
const bidsEach = 4

// bid lets each waiting boat outbid the one that holds its best applicant, for as
// long as that raises the applicant's price. It is the augmenting row reduction
// of Jonker and Volgenant (Computing 38, 1987, 325-340), and saves most of the
// longer searches. It gives the boats that are still left.
func (s *search) bid(waiting []int32) (left []int32) {
	bids := bidsEach * len(waiting)
	for len(waiting) > 0 {
		b := waiting[len(waiting)-1]
		waiting = waiting[:len(waiting)-1]
		best, value, second := s.twoBest(b)
		if value <= 0 {
			s.boatPrice[b] = 0
			continue
		}
		holder := s.boatOf[best]
		if bids--; bids < 0 || holder != nobody && value == second {
			s.boatPrice[b] = value
			left = append(left, b)
			continue
		}
		s.boatPrice[b] = second
		s.applicantPrice[best] += value - second
		s.pair(b, best)
		if holder != nobody {
			s.applicantOf[holder] = nobody
			waiting = append(waiting, holder)
		}
	}
	return left
}

// twoBest gives the applicant that leaves a boat most after the applicant's
// price, what it leaves, and what the next best leaves, which is at least 0 for
// leaving the boat unused.
func (s *search) twoBest(b int32) (best int32, value, second int64) {
	best = nobody
	for _, e := range s.round.of(b) {
		if e.worth <= second {
			break
		}
		left := e.worth - s.applicantPrice[e.applicant]
		switch {
		case left > value:
			best, value, second = e.applicant, left, value
		case left > second:
			second = left
		}
	}
	return best, value, second
}

// place finds an applicant for one boat, along the chain of trades that costs
// least: boat after boat takes the applicant of the next, until one takes an
// applicant without a boat, or stays unused. It is Dijkstra's search over what a
// row's prices have above its worth, stopped at the first end.
func (s *search) place(b int32) {
	_, s.boatPrice[b], _ = s.twoBest(b)
	s.findEnd(b)
	for _, a := range s.settled {
		rise := s.end.cost - s.far[a]
		s.applicantPrice[a] += rise
		s.boatPrice[s.boatOf[a]] -= rise
	}
	s.boatPrice[b] -= s.end.cost
	if s.end.released != nobody {
		s.applicantOf[s.end.released] = nobody
	}
	s.trades = s.trades[:0]
	for a := s.end.applicant; a != nobody; {
		taker := s.from[a]
		left := s.applicantOf[taker]
		s.pair(taker, a)
		s.trades = append(s.trades, couple{taker, a})
		a = left
	}
}

// findEnd finds the nearest end from a boat without an applicant.
func (s *search) findEnd(b int32) {
	s.number++
	s.settled, s.queue = s.settled[:0], s.queue[:0]
	s.end = end{cost: s.boatPrice[b], applicant: nobody, released: nobody}
	for at := int64(0); ; {
		s.look(b, at)
		var a int32
		if a, at = s.nextNearest(); a == nobody {
			return
		}
		s.settled = append(s.settled, a)
		b = s.boatOf[a]
		if cost := at + s.boatPrice[b]; cost < s.end.cost {
			s.end = end{cost: cost, applicant: a, released: b}
		}
	}
}

// look follows the rows of a boat at a distance.
func (s *search) look(b int32, at int64) {
	at += s.boatPrice[b]
	for _, e := range s.round.of(b) {
		if at-e.worth >= s.end.cost {
			return // and so would all lesser rows
		}
		a := e.applicant
		far := at - e.worth + s.applicantPrice[a]
		if far >= s.end.cost || s.mark[a] == s.number && far >= s.far[a] {
			continue
		}
		s.mark[a], s.far[a], s.from[a] = s.number, far, b
		if s.boatOf[a] == nobody {
			s.end = end{cost: far, applicant: a, released: nobody}
			continue
		}
		s.queue.push(mile{far, a})
	}
}

// nextNearest takes the nearest applicant that is nearer than the end.
func (s *search) nextNearest() (a int32, far int64) {
	for len(s.queue) > 0 && s.queue[0].far < s.end.cost {
		m := s.queue.pop()
		if m.far == s.far[m.node] {
			return m.node, m.far
		}
	}
	return nobody, 0
}

// A queue is a heap of nodes (applicants here, boats in prices.go) by distance. A
// node may stand in it more than once; only the entry with its present distance
// counts.
type queue []mile

type mile struct {
	far  int64
	node int32
}

func (q *queue) push(m mile) {
	h := append(*q, m)
	i := len(h) - 1
	for i > 0 {
		up := (i - 1) / 2
		if h[up].far <= m.far {
			break
		}
		h[i] = h[up]
		i = up
	}
	h[i] = m
	*q = h
}

func (q *queue) pop() mile {
	h := *q
	top, m := h[0], h[len(h)-1]
	h = h[:len(h)-1]
	for i := 0; len(h) > 0; {
		down := 2*i + 1
		if down >= len(h) {
			h[i] = m
			break
		}
		if down+1 < len(h) && h[down+1].far < h[down].far {
			down++
		}
		if h[down].far >= m.far {
			h[i] = m
			break
		}
		h[i] = h[down]
		i = down
	}
	*q = h
	return top
}
