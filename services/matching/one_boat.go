package matching

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// A boat that is free goes through a round of its own, with the same lottery, proof
// and second member as any other, in fewer steps: a coordinator begins it with one
// secret, another member puts in the second one, with which the list is frozen and
// paired at once, and the first one approves it and offers the boat. The list is
// every request that is free at that moment, so that nobody chooses it. The round
// holds the boat and no requests: a household may stand in several, and is offered
// one boat at a time all the same, because an offer ties its request.

// mayBeginFor decides whether a round of one boat can begin.
func (s *service) mayBeginFor(ctx context.Context, by desk.Caller, r round, id boat.ID, today clock.Date) error {
	if err := desk.GoodID("boat", id); err != nil {
		return err
	}
	switch {
	case !isCoordinator(by):
		return fault.New(fault.Forbidden, "a coordinator finds a household for a boat; then any other member puts in the second secret")
	case len(r.secrets) > 0:
		return fault.Field("boat", "is said with the first secret of a round only; leave it out")
	}
	rows, err := s.boatsNamed(ctx, []boat.ID{id})
	if err == nil && len(rows) == 0 {
		err = desk.Unknown("boat", "the club's book has no boat under this id")
	}
	if err == nil {
		err = rows[0].mayTakePart(today)
	}
	return err
}

// pairOne freezes the list of a round of one boat and pairs it, after the second
// secret.
func (s *service) pairOne(ctx context.Context, d *desk.Decision, stream, id string, r round, o desk.Order[message.CommitSecret]) error {
	list, err := s.freeze(ctx, message.OpenRound{Round: id, Boats: []boat.ID{r.one}}, o.Today())
	if err != nil {
		return err
	}
	r.Fold(message.Event{}, list)
	solved, _, err := s.pairUp(ctx, id, r, o.Actor.Person, o.Now)
	if err != nil {
		return err
	}
	if err := d.Say(stream, "", list); err != nil {
		return err
	}
	return d.Say(stream, "", solved)
}

// closeOne ends a round of one boat whose boat was accepted.
func (s *service) closeOne(ctx context.Context, d *desk.Decision, id string) error {
	r, at, err := desk.Load[round](ctx, s.Log, message.MatchingRound(id))
	if err != nil || r.one == "" || r.closed {
		return err
	}
	d.Expect = append(d.Expect, at)
	return d.Say(at.Stream, "", message.RoundClosed{Round: id, Why: "the household takes the boat"})
}
