package repair

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// ofBin decides about one bin. No body means that there is nothing to say. The
// decision rests on the bin's version: of two who reach for the last piece, one
// decides again and finds nothing.
func (s *service) ofBin(ctx context.Context, id string, of boat.ID, decide func(b *bin) (message.Body, error)) (desk.Decision, error) {
	if err := desk.GoodID("bin", id); err != nil {
		return desk.Decision{}, err
	}
	b, at, err := desk.Load[bin](ctx, s.Log, message.RepairBin(id))
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := decide(&b)
	if err != nil || body == nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, of, body)
}

func (s *service) openBin(ctx context.Context, o desk.Order[message.OpenBin]) (desk.Decision, error) {
	return s.ofBin(ctx, o.Command.Bin, "", func(b *bin) (message.Body, error) { return b.open(o.Command) })
}

func (s *service) changeBin(ctx context.Context, o desk.Order[message.ChangeBin]) (desk.Decision, error) {
	return s.ofBin(ctx, o.Command.Bin, "", func(b *bin) (message.Body, error) { return b.change(o.Command) })
}

func (s *service) buyStock(ctx context.Context, o desk.Order[message.BuyStock]) (desk.Decision, error) {
	club, err := s.Currency(ctx)
	if err == nil && o.Command.Pocket != "" {
		err = s.goodMember(ctx, "pocket", o.Command.Pocket)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return s.ofBin(ctx, o.Command.Bin, "", func(b *bin) (message.Body, error) {
		return b.buy(o.Command, club, o.Actor.Person, o.Today())
	})
}

// here wants a boat that can be worked on.
func (s *service) here(ctx context.Context, id boat.ID) error {
	a, err := s.about(ctx, id)
	if err == nil {
		err = a.hull.isHere(&a.bench)
	}
	return err
}

// reserveStock ends a reservation for every boat that the book knows, and makes
// one for a boat that can be worked on.
func (s *service) reserveStock(ctx context.Context, o desk.Order[message.ReserveStock]) (desk.Decision, error) {
	c := o.Command
	err := desk.GoodID("boat", c.Boat)
	if err == nil && c.Quantity != 0 {
		err = s.here(ctx, c.Boat)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return s.ofBin(ctx, c.Bin, c.Boat, func(b *bin) (message.Body, error) { return b.reserve(c) })
}

func (s *service) takeStock(ctx context.Context, o desk.Order[message.TakeStock]) (desk.Decision, error) {
	if err := s.here(ctx, o.Command.Boat); err != nil {
		return desk.Decision{}, err
	}
	return s.ofBin(ctx, o.Command.Bin, o.Command.Boat, func(b *bin) (message.Body, error) { return b.take(o.Command, o.Today()) })
}

// returnStock is said about the boat for which it had left.
func (s *service) returnStock(ctx context.Context, o desk.Order[message.ReturnStock]) (desk.Decision, error) {
	var of boat.ID
	d, err := s.ofBin(ctx, o.Command.Bin, "", func(b *bin) (message.Body, error) {
		if t := b.takes[o.Command.Of]; t != nil {
			of = t.boat
		}
		return b.giveBack(o.Command, o.Today())
	})
	for i := range d.Events {
		d.Events[i].Boat = of
	}
	return d, err
}

func (s *service) writeOffStock(ctx context.Context, o desk.Order[message.WriteOffStock]) (desk.Decision, error) {
	return s.ofBin(ctx, o.Command.Bin, "", func(b *bin) (message.Body, error) { return b.writeOff(o.Command, o.Today()) })
}

// salvagePart rests on the boat's stream, too: only a retired boat ends as parts.
func (s *service) salvagePart(ctx context.Context, o desk.Order[message.SalvagePart]) (desk.Decision, error) {
	a, err := s.about(ctx, o.Command.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	if !a.bench.retired {
		return desk.Decision{}, desk.Conflict("boat", "%s is not retired; only a retired boat ends as parts", a.hull.name)
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := s.ofBin(ctx, o.Command.Bin, o.Command.Boat, func(b *bin) (message.Body, error) { return b.salvage(o.Command, club, o.Today()) })
	return resting(d, ledger.Expected{Stream: message.RepairBoat(o.Command.Boat), Version: a.at.Version}), err
}
