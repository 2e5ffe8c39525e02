package intake

import (
	"context"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// place is what the stream of a place adds up to.
type place struct {
	set    message.PlaceSet // no id: not in the book
	closed bool
	boats  []boat.ID // that lie there
}

// Fold adds an event.
func (p *place) Fold(_ message.Event, body message.Body) {
	switch e := body.(type) {
	case message.PlaceSet:
		p.set, p.closed = e, false
	case message.PlaceClosed:
		p.closed = true
	case message.BerthTaken:
		p.boats = append(p.boats, e.Boat)
	case message.BerthLeft:
		p.boats = slices.DeleteFunc(p.boats, func(id boat.ID) bool { return id == e.Boat })
	}
}

func (s *service) loadPlace(ctx context.Context, field, id string) (place, ledger.Expected, error) {
	if err := desk.GoodID(field, id); err != nil {
		return place{}, ledger.Expected{}, err
	}
	return desk.Load[place](ctx, s.Log, message.IntakePlace(id))
}

func (s *service) setPlace(ctx context.Context, o desk.Order[message.SetPlace]) (desk.Decision, error) {
	c := o.Command
	p, at, err := s.loadPlace(ctx, "place", c.Place)
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.PlaceSet{Place: c.Place, Shed: tidy(c.Shed), Name: tidy(c.Name), LengthMM: c.LengthMM, WidthMM: c.WidthMM}
	err = desk.First(
		desk.Needed("shed", c.Shed, "say in which shed or yard it is"), desk.OneLine("shed", c.Shed, maxName),
		desk.Needed("name", c.Name, "say which place it is"), desk.OneLine("name", c.Name, maxName),
		desk.Within("length_mm", c.LengthMM, 1000, 30_000),
		desk.Within("width_mm", c.WidthMM, 200, 30_000),
	)
	if err != nil || p.set == said && !p.closed {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", said)
}

func (s *service) closePlace(ctx context.Context, o desk.Order[message.ClosePlace]) (desk.Decision, error) {
	c := o.Command
	p, at, err := s.loadPlace(ctx, "place", c.Place)
	switch {
	case err != nil:
		return desk.Decision{}, err
	case p.set.Place == "":
		return desk.Decision{}, desk.Unknown("place", "there is no such place")
	case len(p.boats) > 0:
		return desk.Decision{}, desk.Conflict("place", "boats lie at %s; move them first", p.set.Name)
	}
	if err := desk.Needed("why", c.Why, "say why nothing is to lie there"); err != nil || p.closed {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", message.PlaceClosed{Place: c.Place, Why: c.Why})
}

func (s *service) moveBoat(ctx context.Context, o desk.Order[message.MoveBoat]) (desk.Decision, error) {
	c := o.Command
	b, at, err := s.load(ctx, c.Boat)
	if err == nil {
		err = desk.NotLonger("words", c.Words, desk.MaxWords)
	}
	if err != nil || b.place == c.To {
		return desk.Decision{}, err
	}
	gone, err := s.departed(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	if gone {
		return desk.Decision{}, desk.Conflict("boat", "%s has left the club", b.name)
	}
	d, err := desk.SayAt(at, c.Boat, message.BoatMoved{Boat: c.Boat, From: b.place, To: c.To, Words: c.Words})
	if err != nil {
		return d, err
	}
	if c.To != "" {
		if err := s.take(ctx, &d, c.Boat, &b, c.To); err != nil {
			return d, err
		}
	}
	return d, s.leave(ctx, &d, c.Boat, b.place)
}

// take adds to a decision that a boat takes room at a place, where there is room
// for it.
func (s *service) take(ctx context.Context, d *desk.Decision, id boat.ID, b *Boat, to string) error {
	p, at, err := s.loadPlace(ctx, "to", to)
	if err != nil {
		return err
	}
	if p.set.Place == "" || p.closed {
		return desk.Unknown("to", "there is no such place, or nothing is to lie there any more")
	}
	taken := 0
	for _, other := range p.boats {
		o, _, err := s.load(ctx, other)
		if err != nil {
			return err
		}
		taken += o.facts.BeamMM
	}
	if err := fits(b, p.set, taken); err != nil {
		return err
	}
	d.Expect = append(d.Expect, at)
	return d.Say(at.Stream, "", message.BerthTaken{Place: to, Boat: id})
}

// fits wants a boat that is no longer than a place and no wider than what is left
// of it. Boats lie flat, beside each other: one on its side needs less (common
// practice, no source).
func fits(b *Boat, p message.PlaceSet, taken int) error {
	switch {
	case b.facts.LengthMM == 0 || b.facts.BeamMM == 0:
		return fault.Field("to", "whether %s fits is not known; measure its length and beam first", b.name)
	case b.facts.LengthMM > p.LengthMM:
		return desk.Conflict("to", "%s is %d mm long and the place %d mm", b.name, b.facts.LengthMM, p.LengthMM)
	case b.facts.BeamMM > p.WidthMM-taken:
		return desk.Conflict("to", "%s is %d mm wide and %d mm of the place are left", b.name, b.facts.BeamMM, max(0, p.WidthMM-taken))
	}
	return nil
}

// leave adds to a decision that a boat gives up its room at a place.
func (s *service) leave(ctx context.Context, d *desk.Decision, id boat.ID, from string) error {
	if from == "" {
		return nil
	}
	_, at, err := s.loadPlace(ctx, "from", from)
	if err != nil {
		return err
	}
	d.Expect = append(d.Expect, at)
	return d.Say(at.Stream, "", message.BerthLeft{Place: from, Boat: id})
}

// clear takes a boat that has left from its place.
func (s *service) clear(ctx context.Context, e message.Event, id boat.ID) error {
	return s.SayAnew(ctx, e, "berth", func() (desk.Decision, error) {
		b, at, err := s.load(ctx, id)
		if fault.Is(err, fault.Unknown) || err == nil && b.place == "" {
			return desk.Decision{}, nil
		}
		if err != nil {
			return desk.Decision{}, err
		}
		d, err := desk.SayAt(at, id, message.BoatMoved{Boat: id, From: b.place, Words: "it has left the club"})
		if err != nil {
			return d, err
		}
		return d, s.leave(ctx, &d, id, b.place)
	})
}
