package intake

import (
	"context"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/hin"
	"refloat.example/pkg/message"
)

// takeName adds to a decision that a boat gets a name, or refuses a name that
// another boat has or had. family are entries of the same boat.
func (s *service) takeName(ctx context.Context, d *desk.Decision, id boat.ID, name string, family []boat.ID) error {
	stream := message.IntakeMark(message.NameMark, nameKey(name))
	m, at, err := desk.Load[mark](ctx, s.Log, stream)
	if err != nil {
		return err
	}
	if slices.ContainsFunc(m.taken, func(other boat.ID) bool { return !slices.Contains(family, other) }) {
		return desk.Conflict("name", "another boat is or was called %s; choose a name that tells them apart", name)
	}
	d.Expect = append(d.Expect, at)
	return d.Say(stream, "", message.MarkTaken{Mark: message.NameMark, Text: nameKey(name), Boat: id})
}

// takeHullNumber adds to a decision that a boat bears a hull number, and a doubt
// when another boat of the club bears it now. That is written down and not
// refused: the boat stands in the yard, and somebody has to find out. family are
// entries of the same boat.
func (s *service) takeHullNumber(ctx context.Context, d *desk.Decision, id boat.ID, facts message.BoatFacts, family []boat.ID) error {
	key := hin.Key(facts.HullNumber)
	if key == "" {
		return nil
	}
	stream := message.IntakeMark(message.HullMark, key)
	m, at, err := desk.Load[mark](ctx, s.Log, stream)
	if err != nil {
		return err
	}
	for _, other := range slices.Compact(slices.Sorted(slices.Values(m.taken))) {
		if other == id || slices.Contains(family, other) {
			continue
		}
		bears, err := s.bears(ctx, other, key)
		if err != nil {
			return err
		}
		if bears {
			said := message.DoubtRaised{Boat: id, Doubt: "number-of-" + string(other), About: message.NumberTwice, Other: other}
			if err := d.Say(message.IntakeBoat(id), id, said); err != nil {
				return err
			}
		}
	}
	d.Expect = append(d.Expect, at)
	return d.Say(stream, "", message.MarkTaken{Mark: message.HullMark, Text: key, Boat: id})
}

// bears says whether a boat that took a number is with the club and still bears
// it: it was neither declined nor corrected, and has not left.
func (s *service) bears(ctx context.Context, other boat.ID, key string) (bool, error) {
	b, _, err := s.load(ctx, other)
	if err != nil || b.stage == declined || hin.Key(b.facts.HullNumber) != key {
		return false, err
	}
	gone, err := s.departed(ctx, other)
	return !gone, err
}
