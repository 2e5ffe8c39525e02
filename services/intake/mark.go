package intake

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// takeName adds to a decision that a boat gets a name, or refuses a name that
// another boat has or had.
func (s *service) takeName(ctx context.Context, d *desk.Decision, id boat.ID, name string) error {
	stream := message.IntakeMark(message.NameMark, nameKey(name))
	m, at, err := desk.Load[mark](ctx, s.Log, stream)
	if err != nil {
		return err
	}
	if m.taken != nil {
		return desk.Conflict("name", "another boat is or was called %s; choose a name that tells them apart", name)
	}
	d.Expect = append(d.Expect, at)
	return d.Say(stream, "", message.MarkTaken{Mark: message.NameMark, Text: nameKey(name), Boat: id})
}

// takeHullNumber adds to a decision that a boat gets a hull number, or refuses a
// number that another boat of the club has now.
func (s *service) takeHullNumber(ctx context.Context, d *desk.Decision, id boat.ID, facts message.BoatFacts) error {
	key := hullKey(facts.HullNumber)
	if key == "" {
		return nil
	}
	stream := message.IntakeMark(message.HullMark, key)
	m, at, err := desk.Load[mark](ctx, s.Log, stream)
	if err != nil {
		return err
	}
	if m.taken != nil {
		if err := s.numberIsFree(ctx, m.taken.Boat, key); err != nil {
			return err
		}
	}
	d.Expect = append(d.Expect, at)
	return d.Say(stream, "", message.MarkTaken{Mark: message.HullMark, Text: key, Boat: id})
}

// numberIsFree says whether the boat that took a number last no longer has it:
// it was declined or corrected, or has left.
func (s *service) numberIsFree(ctx context.Context, holder boat.ID, key string) error {
	b, _, err := s.load(ctx, holder)
	if err != nil {
		return err
	}
	if b.stage == declined || hullKey(b.facts.HullNumber) != key {
		return nil
	}
	gone, err := s.departed(ctx, holder)
	if err == nil && !gone {
		err = desk.Conflict("facts.hull_number", "this number stands in the book for %s; compare the two hulls, and tell an administrator if both bear it", b.name)
	}
	return err
}
