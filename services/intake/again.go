package intake

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// comeBack adds to a decision that the boat was with the club before, and gives
// the entries of the times before. It is said in both entries' streams: an entry
// is continued once, whoever logs the boat at the same moment.
func (s *service) comeBack(ctx context.Context, d *desk.Decision, c message.LogBoat) ([]boat.ID, error) {
	if c.Again == "" {
		return nil, nil
	}
	b, at, err := s.load(ctx, c.Again)
	if fault.Is(err, fault.Invalid) || fault.Is(err, fault.Unknown) {
		return nil, fault.Field("again", "the club's book has no such boat; choose the entry of the time before")
	}
	if err == nil {
		err = s.isAway(ctx, c.Again, &b)
	}
	if err != nil {
		return nil, err
	}
	said := message.BoatCameBack{Boat: c.Boat, Earlier: c.Again, Time: max(b.time, 1) + 1}
	d.Expect = append(d.Expect, at)
	if err := desk.First(d.Say(at.Stream, c.Again, said), d.Say(message.IntakeBoat(c.Boat), c.Boat, said)); err != nil {
		return nil, err
	}
	earlier, err := s.family(ctx, b.earlier)
	return append(earlier, c.Again), err
}

// isAway wants a boat that can come back: one that is not with the club, and has
// not come back already.
func (s *service) isAway(ctx context.Context, id boat.ID, b *Boat) error {
	gone, err := s.departed(ctx, id)
	switch {
	case err != nil:
		return err
	case b.stage != declined && !gone:
		return desk.Conflict("again", "%s is with the club now; go on with its own entry", b.name)
	case b.later != "":
		return desk.Conflict("again", "%s came back already; choose the entry of its last time", b.name)
	}
	return nil
}

// family gives an entry of a boat with those of the times before it.
func (s *service) family(ctx context.Context, id boat.ID) ([]boat.ID, error) {
	var entries []boat.ID
	for id != "" {
		b, _, err := s.load(ctx, id)
		if err != nil {
			return nil, err
		}
		entries, id = append(entries, id), b.earlier
	}
	return entries, nil
}
