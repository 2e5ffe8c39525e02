package matching

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

func (s *service) keepBack(ctx context.Context, o desk.Order[message.KeepBack]) (desk.Decision, error) {
	c := o.Command
	if err := needed("why", c.Why, "say why the boat must not go out"); err != nil {
		return desk.Decision{}, err
	}
	return s.setHeld(ctx, c.Boat, func(p promises) error {
		switch {
		case p.handedOver:
			return desk.Conflict("boat", "this boat was handed over; tell its household to stop using it instead")
		case p.held != "":
			return desk.Conflict("boat", "this boat is kept back already: %s", p.held)
		}
		return nil
	}, message.BoatKeptBack{Boat: c.Boat, Why: c.Why})
}

func (s *service) letOut(ctx context.Context, o desk.Order[message.LetOut]) (desk.Decision, error) {
	c := o.Command
	if err := needed("why", c.Why, "say what has changed"); err != nil {
		return desk.Decision{}, err
	}
	return s.setHeld(ctx, c.Boat, func(p promises) error {
		if p.held == "" {
			return desk.Conflict("boat", "this boat is not kept back")
		}
		return nil
	}, message.BoatLetOut{Boat: c.Boat, Why: c.Why})
}

func (s *service) setHeld(ctx context.Context, id boat.ID, may func(promises) error, said message.Body) (desk.Decision, error) {
	p, at, err := s.book(ctx, id)
	if err == nil {
		_, err = s.boat(ctx, id)
	}
	if err == nil {
		err = may(p)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, id, said)
}
