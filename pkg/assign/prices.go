package assign

// lowerBoatPrices moves a best pairing's prices to the ones with the lowest boat
// prices. The prices that prove a pairing form a lattice, so there is exactly one
// such set, and it does not depend on which of several best pairings was found.
//
// A boat's price may fall by at most what its rows to applicants without a boat
// have to spare, and, since its own applicant's price rises with it, by at most
// its spare towards an applicant plus the fall of that applicant's boat. The
// greatest falls are therefore shortest distances.
func (s *search) lowerBoatPrices() {
	fall := s.ownFalls()
	first, reach := s.reaches(fall)
	s.queue = s.queue[:0]
	for b, far := range fall {
		s.queue.push(mile{far, int32(b)})
	}
	for len(s.queue) > 0 {
		m := s.queue.pop()
		if m.far > fall[m.node] {
			continue
		}
		for _, r := range reach[first[m.node]:first[m.node+1]] {
			if far := m.far + r.far; far < fall[r.node] {
				fall[r.node] = far
				s.queue.push(mile{far, r.node})
			}
		}
	}
	for b, a := range s.applicantOf {
		if a != nobody {
			s.boatPrice[b] -= fall[b]
			s.applicantPrice[a] += fall[b]
		}
	}
}

// ownFalls gives how far each boat's price may fall for its own sake and that of
// the applicants without a boat.
func (s *search) ownFalls() []int64 {
	fall := make([]int64, len(s.boatPrice))
	for b, price := range s.boatPrice {
		fall[b] = price
		for _, e := range s.round.of(int32(b)) {
			if price-e.worth >= fall[b] {
				break
			}
			if s.boatOf[e.applicant] == nobody {
				fall[b] = price - e.worth
			}
		}
	}
	return fall
}

// reaches lists for each boat the boats whose fall its own may bound further, and
// what is added on the way.
func (s *search) reaches(fall []int64) (first []int, reach []mile) {
	var holders []int32
	var found []mile
	for b, price := range s.boatPrice {
		for _, e := range s.round.of(int32(b)) {
			if price-e.worth >= fall[b] {
				break
			}
			spare := price - e.worth + s.applicantPrice[e.applicant]
			if holder := s.boatOf[e.applicant]; holder != nobody && holder != int32(b) && spare < fall[b] {
				holders = append(holders, holder)
				found = append(found, mile{spare, int32(b)})
			}
		}
	}
	first, order := group(holders, len(fall))
	reach = make([]mile, len(found))
	for i, at := range order {
		reach[i] = found[at]
	}
	return first, reach
}
