package matching

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// react answers what other rooms say.
func (s *service) react(ctx context.Context, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PersonErased:
		return s.SayAnew(ctx, e, "erased", func() (desk.Decision, error) { return s.forget(ctx, b.Person, clock.DateOf(e.RecordedAt)) })
	case message.BoatRetired:
		return s.SayAnew(ctx, e, "gone", func() (desk.Decision, error) { return s.takeBack(ctx, b.Boat, "the boat was retired") })
	case message.BoatSold:
		return s.SayAnew(ctx, e, "gone", func() (desk.Decision, error) { return s.takeBack(ctx, b.Boat, "the boat was sold") })
	case message.SaleTakenBack:
		return s.SayAnew(ctx, e, "brought-back", func() (desk.Decision, error) { return s.holdBroughtBack(ctx, b.Boat) })
	}
	return nil
}

// broughtBack is why a boat that its buyer brought back does not go out by itself: nobody
// of the club knows what happened to it meanwhile, nor in which water it was.
const broughtBack = "its buyer brought it back: look it over anew, and note the water that it comes from, before it goes out"

// holdBroughtBack keeps such a boat back, unless it is kept back already.
func (s *service) holdBroughtBack(ctx context.Context, id boat.ID) (desk.Decision, error) {
	p, at, err := s.book(ctx, id)
	if err != nil || p.held != "" || p.handedOver {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, id, message.BoatKeptBack{Boat: id, Why: broughtBack})
}

// forget ends the open requests of a household that was erased.
func (s *service) forget(ctx context.Context, id people.ID, on clock.Date) (desk.Decision, error) {
	h, _, err := desk.Load[household](ctx, s.Log, message.MatchingHousehold(id))
	var all desk.Decision
	for _, id := range h.requests {
		r, at, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(id))
		if err != nil {
			return all, err
		}
		if r.ended != "" {
			continue
		}
		d, err := s.end(ctx, r, at, message.RequestEnded{Request: id, How: withdrawn, Why: "the household's data were erased", KeepUntil: on})
		if err != nil {
			return all, err
		}
		all.Expect, all.Events = append(all.Expect, d.Expect...), append(all.Events, d.Events...)
	}
	return all, err
}

// takeBack ends the offer or promise of a boat that has left the club. The
// request may take part in rounds again.
func (s *service) takeBack(ctx context.Context, id boat.ID, why string) (desk.Decision, error) {
	p, at, err := s.book(ctx, id)
	if err != nil || p.handedOver {
		return desk.Decision{}, err
	}
	o := p.standing()
	if o == nil {
		return desk.Decision{}, nil
	}
	r, requestAt, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(o.Request))
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at, requestAt}}
	if err := d.Say(at.Stream, id, o.over(why)); err != nil {
		return d, err
	}
	var other promises
	if o.With != "" { // one of two is not what the household asked for
		if other, _, err = s.book(ctx, o.With); err != nil {
			return d, err
		}
		if err := s.letGo(ctx, &d, tie{o.WithOffer, o.With}, why); err != nil {
			return d, err
		}
	}
	if r.ended != "" {
		return d, nil
	}
	return d, d.Say(requestAt.Stream, "", o.freed(other))
}

// freed lets the request of an offer take part in rounds again, when its boat has left
// the club. The household may have fetched the other of two boats already: that one
// counts as got.
func (o *offer) freed(other promises) message.RequestFreed {
	if other.handedOver && other.after.request == o.Request {
		return message.RequestFreed{Request: o.Request, Offer: o.WithOffer, Placed: true}
	}
	return message.RequestFreed{Request: o.Request, Offer: o.Offer}
}
