package matching

import (
	"context"
	"slices"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/settings"
)

// Sizes of life jackets go by mass, in grams. Source: the harmonised labels; the
// border between infant and child is from memory.
const (
	infantBelow = 15_000
	childBelow  = 25_000
	youthUpTo   = 40_000
)

func jacketSize(grams int) string {
	switch {
	case grams < infantBelow:
		return "infant"
	case grams < childBelow:
		return "child"
	case grams <= youthUpTo:
		return "youth"
	}
	return "adult"
}

// jacketsWanted counts sizes, and the people whose size cannot be told.
func jacketsWanted(w message.Wish) (sizes map[string]int, unknown int) {
	sizes = map[string]int{}
	for _, people := range [][]message.Paddler{w.Adults, w.Children} {
		for _, p := range people {
			if p.MassG == 0 {
				unknown++
				continue
			}
			sizes[jacketSize(p.MassG)]++
		}
	}
	return sizes, unknown
}

// judgeJackets keeps no boat from a household for want of a jacket that can still
// be found: it makes that a condition of the hand-over. What the club has is
// compared with each household by itself here; jacketsShort counts over all.
func judgeJackets(m match) (answer, string) {
	wanted, unknown := jacketsWanted(m.household())
	switch {
	case m.ask.wish.OwnJackets:
		return fits, "Everybody has a life jacket that fits, as stated; it is tried on at the hand-over."
	case unknown > 0:
		return asks, m.say("Ask for the mass of %s, or whether they have jackets: the size goes by it.", plural(unknown, "person", "persons"))
	}
	var all, lacks []string
	for _, size := range settings.JacketSizes {
		if n := wanted[size]; n > 0 {
			all = append(all, m.say("%d %s", n, size))
			if missing := n - m.club.jackets[size]; missing > 0 {
				lacks = append(lacks, m.say("%d %s", missing, size))
			}
		}
	}
	slices.Sort(all)
	switch {
	case m.club.jackets == nil:
		return fitsIf, m.say("The boat fits if life jackets are found: %s. Nobody has counted the club's.", words(all))
	case len(lacks) > 0:
		return fitsIf, m.say("The boat fits if life jackets are found that the club does not have: %s.", words(lacks))
	}
	return fits, m.say("The club has life jackets in the sizes: %s.", words(all))
}

// jacketsShort counts life jackets over several households: two of one round may each
// be told that the club has one in their size. It is pure.
func jacketsShort(wishes []message.Wish, has map[string]int) message.JacketCounts {
	a := message.JacketCounts{Counted: has != nil, Short: []message.JacketCount{}}
	sum := map[string]int{}
	for _, w := range wishes {
		if w.OwnJackets {
			continue
		}
		sizes, unknown := jacketsWanted(w)
		a.Unknown += unknown
		for size, n := range sizes {
			sum[size] += n
		}
	}
	for _, size := range settings.JacketSizes {
		if sum[size] > has[size] {
			a.Short = append(a.Short, message.JacketCount{Size: size, Wanted: sum[size], Has: has[size]})
		}
	}
	return a
}

func (s *service) jacketsPromised(ctx context.Context, _ desk.Caller, q message.JacketsPromised) (message.JacketCounts, error) {
	var none message.JacketCounts
	rows, err := s.requests(ctx, `WHERE ended = '' AND offer <> ''`)
	if err != nil {
		return none, err
	}
	var ids []string
	for _, r := range rows {
		ids = append(ids, r.id)
	}
	if q.Round != "" {
		r, _, err := desk.Load[round](ctx, s.Log, message.MatchingRound(q.Round))
		if err != nil {
			return none, err
		}
		if r.solved != nil && !r.closed {
			for _, p := range r.solved.Pairs {
				ids = append(ids, p.Request)
			}
		}
	}
	slices.Sort(ids)
	var wishes []message.Wish
	for _, id := range slices.Compact(ids) {
		r, _, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(id))
		if err != nil {
			return none, err
		}
		if r.ended != "" {
			continue
		}
		w, err := s.wish(ctx, r)
		if fault.Is(err, fault.Unknown) {
			continue // erased
		}
		if err != nil {
			return none, err
		}
		wishes = append(wishes, w)
	}
	rules, err := s.club(ctx, s.Clock.Now())
	return jacketsShort(wishes, rules.jackets), err
}
