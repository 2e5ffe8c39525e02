package people

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// maxWhy bounds the reason for a skip, in characters.
const maxWhy = 300

// skips folds what a room may go on without.
type skips struct{ allowed map[message.SkipAllowed]bool }

// Fold notes a skip without its reason.
func (s *skips) Fold(_ message.Event, body message.Body) {
	if b, ok := body.(message.SkipAllowed); ok {
		if s.allowed == nil {
			s.allowed = map[message.SkipAllowed]bool{}
		}
		b.Why = ""
		s.allowed[b] = true
	}
}

// allowSkip says that a room may go on without an event. Whether the room has
// stopped there it knows alone; a permission that it does not need changes
// nothing.
func (s *service) allowSkip(ctx context.Context, o desk.Order[message.AllowSkip]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(
		boat.Known("room", c.Room, message.Rooms),
		boat.Known("part", c.Part, []string{message.TablesPart, message.ReactionsPart}),
		desk.Needed("why", c.Why, "say why the room has to go on without this event"),
		desk.OneLine("why", c.Why, maxWhy),
	)
	if err != nil {
		return desk.Decision{}, err
	}
	e, err := s.Log.Event(ctx, c.Position)
	if fault.Is(err, fault.Unknown) {
		return desk.Decision{}, desk.Unknown("position", "the book has no event %d", c.Position)
	}
	if err == nil && string(e.Kind) != c.Event {
		err = fault.Field("event", "event %d is of the kind %s", c.Position, e.Kind)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.SkipAllowed{Room: c.Room, Part: c.Part, Position: c.Position, Event: c.Event}
	before, at, err := desk.Load[skips](ctx, s.Log, message.Skips(c.Room))
	if err != nil || before.allowed[said] {
		return desk.Decision{}, err
	}
	said.Why = c.Why
	d, err := say(at.Stream, said)
	d.Expect = []ledger.Expected{at}
	return d, err
}
