package plan

import "math/bits"

// A set of positions, at most Largest of them. The lowest position is the
// highest bit of the first word, so that comparing sets as numbers finds the
// one that has the first position in which they differ.
type set [(Largest + 63) / 64]uint64

func (s *set) put(i int)     { s[i/64] |= 1 << (63 - i%64) }
func (s *set) drop(i int)    { s[i/64] &^= 1 << (63 - i%64) }
func (s set) has(i int) bool { return s[i/64]>>(63-i%64)&1 == 1 }

func (s set) union(t set) set {
	for k := range s {
		s[k] |= t[k]
	}
	return s
}

func (s set) common(t set) set {
	for k := range s {
		s[k] &= t[k]
	}
	return s
}

func (s set) minus(t set) set {
	for k := range s {
		s[k] &^= t[k]
	}
	return s
}

func (s set) isEmpty() bool { return s == set{} }

func (s set) within(t set) bool { return s.minus(t).isEmpty() }

// compare is 1 when s has the first position in which they differ, -1 when t
// has, 0 when they are equal.
func (s set) compare(t set) int {
	for k := range s {
		switch {
		case s[k] > t[k]:
			return 1
		case s[k] < t[k]:
			return -1
		}
	}
	return 0
}

// positions lists the members in ascending order.
func (s set) positions() []int {
	positions := []int{}
	for k, word := range s {
		for word != 0 {
			lead := bits.LeadingZeros64(word)
			positions = append(positions, 64*k+lead)
			word &^= 1 << (63 - lead)
		}
	}
	return positions
}
