package intake

import (
	"fmt"
	"slices"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// match decides to note which findings of a look-over a person says are earlier
// ones, seen again. The tool proposes, and does not know.
func (b *Boat) match(c message.MatchFindings, by people.ID) (message.Body, error) {
	l := b.look(c.Look)
	if err := desk.First(b.notDeclined(), isMember(by), b.matchable(l), b.mayDeal(by)); err != nil {
		return nil, err
	}
	if err := b.goodPairs(c.Pairs, l); err != nil {
		return nil, err
	}
	said := message.FindingsMatched{Boat: c.Boat, Look: c.Look, Pairs: c.Pairs}
	after := b.copyOf()
	after.foldMatched(said)
	var err error
	said.Estimate, err = after.estimate(after.look(c.Look), after.sameness())
	return said, err
}

// copyOf gives the boat with findings and look-overs of its own.
func (b *Boat) copyOf() *Boat {
	c := *b
	c.looks, c.findings = slices.Clone(b.looks), slices.Clone(b.findings)
	return &c
}

// matchable wants a finished look-over with others before it.
func (b *Boat) matchable(l *look) error {
	switch {
	case l == nil:
		return desk.Unknown("look", "this boat has no look-over under this id")
	case l.finished == 0:
		return desk.Conflict("look", "this look-over is not finished; its list is still its inspector's own")
	case l.finished == 1:
		return desk.Conflict("look", "this was the first look-over of %s; match the one that came after it", b.name)
	}
	return nil
}

// goodPairs wants each finding of the look-over beside a finding of an earlier
// one, each once.
func (b *Boat) goodPairs(pairs []message.FindingPair, l *look) error {
	for i, p := range pairs {
		at := func(name string) string { return fmt.Sprintf("pairs[%d].%s", i, name) }
		mine, theirs := b.finding(p.Finding), b.finding(p.SameAs)
		switch {
		case mine == nil || mine.withdrawn || mine.Look != l.id:
			return fault.Field(at("finding"), "the look-over has no such finding that stands")
		case theirs == nil || theirs.withdrawn || !b.finishedBefore(theirs.Look, l):
			return fault.Field(at("same_as"), "no earlier look-over has such a finding that stands")
		case slices.ContainsFunc(pairs[:i], func(q message.FindingPair) bool { return q.Finding == p.Finding }):
			return fault.Field(at("finding"), "is matched twice")
		case slices.ContainsFunc(pairs[:i], func(q message.FindingPair) bool { return q.SameAs == p.SameAs }):
			return fault.Field(at("same_as"), "is matched twice; two findings of one person cannot be the same")
		}
	}
	return nil
}

func (b *Boat) finishedBefore(id string, l *look) bool {
	other := b.look(id)
	return other != nil && other.finished > 0 && other.finished < l.finished
}
