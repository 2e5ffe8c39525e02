package intake

import (
	"context"
	"errors"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/hin"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/vault"
)

// load gives a boat that stands in the book.
func (s *service) load(ctx context.Context, id boat.ID) (Boat, ledger.Expected, error) {
	if err := desk.GoodID("boat", id); err != nil {
		return Boat{}, ledger.Expected{}, err
	}
	b, at, err := desk.Load[Boat](ctx, s.Log, message.IntakeBoat(id))
	if err == nil && b.stage == "" {
		err = desk.Unknown("boat", "the club's book has no boat under this id; log it first")
	}
	return b, at, err
}

// on decides about one boat. No body means that there is nothing to say.
func (s *service) on(ctx context.Context, id boat.ID, decide func(*Boat) (message.Body, error)) (desk.Decision, error) {
	return s.onMany(ctx, id, func(b *Boat) ([]message.Body, error) {
		body, err := decide(b)
		if err != nil || body == nil {
			return nil, err
		}
		return []message.Body{body}, nil
	})
}

// onMany decides about one boat and may say several things.
func (s *service) onMany(ctx context.Context, id boat.ID, decide func(*Boat) ([]message.Body, error)) (desk.Decision, error) {
	b, at, err := s.load(ctx, id)
	if err != nil {
		return desk.Decision{}, err
	}
	bodies, err := decide(&b)
	if err != nil || len(bodies) == 0 {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, id, bodies...)
}

func (s *service) logBoat(ctx context.Context, o desk.Order[message.LogBoat]) (desk.Decision, error) {
	c := o.Command
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := logged(c, club, o.Today())
	more, tellErr := told(c, o.Today())
	if err := desk.First(desk.GoodID("boat", c.Boat), err, tellErr, s.goodGiver(ctx, c)); err != nil {
		return desk.Decision{}, err
	}
	b, at, err := desk.Load[Boat](ctx, s.Log, message.IntakeBoat(c.Boat))
	if err == nil && b.stage != "" {
		err = desk.Conflict("boat", "a boat under this id, %s, stands in the book already", b.name)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	if body.NewGiver, err = s.introduce(ctx, c); err != nil {
		return desk.Decision{}, err
	}
	d, err := desk.SayAt(at, c.Boat, append([]message.Body{body}, more...)...)
	if err != nil {
		return d, err
	}
	family, err := s.comeBack(ctx, &d, c)
	if err != nil {
		return d, err
	}
	if err := s.takeName(ctx, &d, c.Boat, body.Name, family); err != nil {
		return d, err
	}
	err = s.takeHullNumber(ctx, &d, c.Boat, body.Facts, family)
	return d, err
}

// goodGiver wants a giver whom the club knows, or one who is told of now.
func (s *service) goodGiver(ctx context.Context, c message.LogBoat) error {
	known, err := s.knows(ctx, c.Giver)
	switch {
	case err != nil:
		return err
	case c.NewGiver == nil && !known:
		return fault.Field("giver", "the club does not know this person; fill in who they are")
	case c.NewGiver == nil && c.Consent != "":
		return fault.Field("consent", "belongs to a new giver; leave it out for somebody the club knows")
	case c.NewGiver == nil:
		return nil
	case known:
		return fault.Field("new_giver", "the club knows this person already; leave this out, or use a new id for somebody else")
	}
	return desk.First(
		goodDetails(*c.NewGiver),
		desk.Needed("consent", c.Consent, "say which text about personal data the giver agreed to"),
		desk.OneLine("consent", c.Consent, desk.MaxLine),
	)
}

// introduce seals what is told of a new giver.
func (s *service) introduce(ctx context.Context, c message.LogBoat) (*message.NewPerson, error) {
	if c.NewGiver == nil {
		return nil, nil
	}
	sealed, err := s.Vault.Seal(ctx, string(c.Giver), message.SealDetails, c.NewGiver)
	if errors.Is(err, vault.ErrErased) {
		return nil, fault.Field("giver", "this id belonged to somebody whose data were erased; use a new one")
	}
	if err != nil {
		return nil, err
	}
	return &message.NewPerson{Person: c.Giver, Sort: message.DonorSort, Sealed: string(sealed), Consent: c.Consent}, nil
}

func (s *service) correctFacts(ctx context.Context, o desk.Order[message.CorrectFacts]) (desk.Decision, error) {
	c := o.Command
	b, at, err := s.load(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	if c.Stood != nil && !sameButBlanks(*c.Stood, b.facts) && !sameButBlanks(c.Facts, b.facts) {
		return desk.Decision{}, desk.Conflict("why", "somebody else put facts of %s right meanwhile; send the form again to see theirs beside yours", b.name)
	}
	body, err := b.correct(c, o.Today())
	if err != nil || sameFacts(b.facts, c.Facts) {
		return desk.Decision{}, err
	}
	d, err := desk.SayAt(at, c.Boat, body)
	if err != nil || hin.Key(c.Facts.HullNumber) == hin.Key(b.facts.HullNumber) {
		return d, err
	}
	family, err := s.family(ctx, b.earlier)
	if err != nil {
		return d, err
	}
	err = s.takeHullNumber(ctx, &d, c.Boat, c.Facts, family)
	return d, err
}

func (s *service) beginLookOver(ctx context.Context, o desk.Order[message.BeginLookOver]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.begin(o.Command, o.Actor.Person) })
}

func (s *service) noteDefect(ctx context.Context, o desk.Order[message.NoteDefect]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.note(o.Command, o.Actor.Person) })
}

func (s *service) withdrawDefect(ctx context.Context, o desk.Order[message.WithdrawDefect]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.withdraw(o.Command, o.Actor.Person) })
}

func (s *service) finishLookOver(ctx context.Context, o desk.Order[message.FinishLookOver]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.finish(o.Command, o.Actor.Person) })
}

func (s *service) setQuarantine(ctx context.Context, o desk.Order[message.SetQuarantine]) (desk.Decision, error) {
	rule, err := s.Setting(ctx, "drying-rule")
	if err != nil {
		return desk.Decision{}, err
	}
	days, err := s.SettingWhole(ctx, "drying-days")
	if err != nil {
		return desk.Decision{}, err
	}
	rules := dryingRules{rule, days}
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.dry(o.Command, rules, o.Today()) })
}

// dealOf gathers what a decision about a price rests on.
func (s *service) dealOf(ctx context.Context, id boat.ID, by desk.Caller) (deal, error) {
	club, err := s.Currency(ctx)
	if err != nil {
		return deal{}, err
	}
	foundDays, err := s.SettingWhole(ctx, "found-days")
	if err != nil {
		return deal{}, err
	}
	ceiling, err := s.ceiling(ctx, id)
	if err != nil {
		return deal{}, err
	}
	apart, err := s.apart(ctx, id, by.Actor.Person)
	return deal{by: by, club: club, ceiling: ceiling, foundDays: foundDays, today: clock.DateOf(s.Clock.Now()), apart: apart}, err
}

func (s *service) offerPrice(ctx context.Context, o desk.Order[message.OfferPrice]) (desk.Decision, error) {
	d, err := s.dealOf(ctx, o.Command.Boat, o.Caller)
	if err != nil {
		return desk.Decision{}, err
	}
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.offer(o.Command, d) })
}

func (s *service) acceptBoat(ctx context.Context, o desk.Order[message.AcceptBoat]) (desk.Decision, error) {
	d, err := s.dealOf(ctx, o.Command.Boat, o.Caller)
	if err != nil {
		return desk.Decision{}, err
	}
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.accept(o.Command, d) })
}

func (s *service) declineBoat(ctx context.Context, o desk.Order[message.DeclineBoat]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.decline(o.Command, o.Caller) })
}

func (s *service) receiveBoat(ctx context.Context, o desk.Order[message.ReceiveBoat]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) {
		if err := b.mayDeal(o.Actor.Person); err != nil {
			return nil, err
		}
		return b.receive(o.Command, o.Today())
	})
}
