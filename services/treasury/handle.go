package treasury

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// open gives a boat that stands in the book, with its cost book.
func (s *service) open(ctx context.Context, id boat.ID) (r record, b book, at ledger.Expected, err error) {
	if err = desk.GoodID("boat", id); err != nil {
		return r, b, at, err
	}
	if r, err = s.record(ctx, id); err != nil {
		return r, b, at, err
	}
	b, at, err = desk.Load[book](ctx, s.Log, message.TreasuryBoat(id))
	return r, b, at, err
}

// sellBoat says the sale and what it means in the books, in one.
func (s *service) sellBoat(ctx context.Context, o desk.Order[message.SellBoat]) (desk.Decision, error) {
	c := o.Command
	r, b, at, err := s.open(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := b.sell(c, r, club, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at}}
	if err := s.warned(ctx, c, said); err != nil {
		return d, err
	}
	if err := d.Say(at.Stream, c.Boat, said); err != nil {
		return d, err
	}
	return d, s.sayEntries(ctx, &d, at.Stream, b.sale(said, r.name))
}

func (s *service) stateClaim(ctx context.Context, o desk.Order[message.StateClaim]) (desk.Decision, error) {
	c := o.Command
	r, _, at, err := s.open(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := stateClaim(c, r, club, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at}}
	return d, d.Say(at.Stream, c.Boat, said)
}

func (s *service) cancelPaper(ctx context.Context, o desk.Order[message.CancelPaper]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(
		desk.GoodID("paper", c.Paper),
		desk.Needed("why", c.Why, "say why the paper is void; the reason is kept with it"),
	)
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[paper](ctx, s.Log, message.TreasuryPaper(c.Paper))
	switch {
	case err != nil:
	case p.noted == nil:
		err = desk.Unknown("paper", noPaper)
	case p.cancelled:
		err = desk.Conflict("paper", "%s was cancelled already", p.noted.Serial)
	default:
		err = apart(o.Actor.Person, p.noted.Donor)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at}}
	said := message.PaperCancelled{Paper: c.Paper, Serial: p.noted.Serial, Boat: p.noted.Boat, Why: c.Why}
	return d, d.Say(at.Stream, p.noted.Boat, said)
}

// settlePocket ends a debt to a member: they were paid, or gave it.
func (s *service) settlePocket(ctx context.Context, o desk.Order[message.SettlePocket]) (desk.Decision, error) {
	c := o.Command
	stream, err := bookOf(c)
	if err != nil {
		return desk.Decision{}, err
	}
	b, at, err := desk.Load[book](ctx, s.Log, stream)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := b.settle(c, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at}}
	return d, s.sayEntries(ctx, &d, stream, []message.EntryPosted{said})
}

// bookOf gives the book in which the debt stands: a boat's or a bin's.
func bookOf(c message.SettlePocket) (string, error) {
	switch {
	case (c.Boat == "") == (c.Bin == ""):
		return "", fault.Field("boat", "say either the boat or the bin")
	case c.Boat != "":
		return message.TreasuryBoat(c.Boat), desk.GoodID("boat", c.Boat)
	}
	return message.TreasuryBin(c.Bin), desk.GoodID("bin", c.Bin)
}
