package repair

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// about is everything that a decision about a boat rests on.
type about struct {
	hull  *hull
	bench bench
	at    ledger.Expected
}

func (s *service) about(ctx context.Context, id boat.ID) (about, error) {
	if err := desk.GoodID("boat", id); err != nil {
		return about{}, err
	}
	h, err := s.hullOf(ctx, id)
	if err != nil {
		return about{}, err
	}
	b, at, err := desk.Load[bench](ctx, s.Log, message.RepairBoat(id))
	return about{h, b, at}, err
}

// on decides about one boat. No body means that there is nothing to say.
func (s *service) on(ctx context.Context, id boat.ID, decide func(h *hull, b *bench) (message.Body, error)) (desk.Decision, error) {
	a, err := s.about(ctx, id)
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := decide(a.hull, &a.bench)
	if err != nil || body == nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(a.at, id, body)
}

func (s *service) planWork(ctx context.Context, o desk.Order[message.PlanWork]) (desk.Decision, error) {
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) { return b.plan(h, o.Command, club) })
}

// finishWork rests on the skills of whoever signs it, as they stand now.
func (s *service) finishWork(ctx context.Context, o desk.Order[message.FinishWork]) (desk.Decision, error) {
	has, at, err := s.craftOf(ctx, o.Actor.Person)
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) { return b.finish(h, o.Command, has) })
	return resting(d, at), err
}

// resting lets a decision rest on one more stream, if there is any.
func resting(d desk.Decision, at ledger.Expected) desk.Decision {
	if at.Stream != "" {
		d.Expect = append(d.Expect, at)
	}
	return d
}

func (s *service) bookPart(ctx context.Context, o desk.Order[message.BookPart]) (desk.Decision, error) {
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	if o.Command.Pocket != "" {
		if err := s.goodMember(ctx, "pocket", o.Command.Pocket); err != nil {
			return desk.Decision{}, err
		}
	}
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) {
		return b.bookPart(h, o.Command, club, o.Actor.Person, o.Today())
	})
}

func (s *service) reversePart(ctx context.Context, o desk.Order[message.ReversePart]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(_ *hull, b *bench) (message.Body, error) { return b.reversePart(o.Command, o.Today()) })
}

func (s *service) reverseHours(ctx context.Context, o desk.Order[message.ReverseHours]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(_ *hull, b *bench) (message.Body, error) { return b.reverseHours(o.Command, o.Today()) })
}

func (s *service) bookHours(ctx context.Context, o desk.Order[message.BookHours]) (desk.Decision, error) {
	if err := s.goodMember(ctx, "who", o.Command.Who); err != nil {
		return desk.Decision{}, err
	}
	has, at, err := s.craftOf(ctx, o.Command.Who)
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) {
		return b.bookHours(h, o.Command, has, o.Today())
	})
	return resting(d, at), err
}

func (s *service) recoverMoney(ctx context.Context, o desk.Order[message.RecoverMoney]) (desk.Decision, error) {
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) {
		return b.recoverMoney(h, o.Command, club, o.Today())
	})
}

func (s *service) reverseRecovery(ctx context.Context, o desk.Order[message.ReverseRecovery]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(_ *hull, b *bench) (message.Body, error) { return b.reverseRecovery(o.Command, o.Today()) })
}

// goodMember wants a member.
func (s *service) goodMember(ctx context.Context, field string, who people.ID) error {
	if err := desk.GoodID(field, who); err != nil {
		return err
	}
	known, err := s.isMember(ctx, who)
	if err == nil && !known {
		err = fault.Field(field, "the club has no such member; register them first")
	}
	return err
}

func (s *service) recordTest(ctx context.Context, o desk.Order[message.RecordTest]) (desk.Decision, error) {
	if o.Actor.Person == "" {
		return desk.Decision{}, fault.New(fault.SignIn, "a test is a person's word; sign in as the member who made it")
	}
	a, err := s.about(ctx, o.Command.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	bodies, err := a.bench.record(a.hull, o.Command, o.Actor.Person, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(a.at, o.Command.Boat, bodies...)
}

// declareReady rests on the boat's stream in the intake room too: a finding that
// is noted in this moment must not be overlooked.
func (s *service) declareReady(ctx context.Context, o desk.Order[message.DeclareReady]) (desk.Decision, error) {
	a, err := s.about(ctx, o.Command.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := a.bench.declare(a.hull, o.Command)
	if err != nil || body == nil {
		return desk.Decision{}, err
	}
	d, err := desk.SayAt(a.at, o.Command.Boat, body)
	d.Expect = append(d.Expect, ledger.Expected{Stream: message.IntakeBoat(o.Command.Boat), Version: a.hull.intakeVersion})
	return d, err
}

// waiveTest is an administrator's; their name stands beside the reason.
func (s *service) waiveTest(ctx context.Context, o desk.Order[message.WaiveTest]) (desk.Decision, error) {
	if o.Actor.Person == "" {
		return desk.Decision{}, fault.New(fault.SignIn, "a waiver is a person's word; sign in as the administrator who gives it")
	}
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) { return b.waive(h, o.Command, o.Actor.Person) })
}

func (s *service) retireBoat(ctx context.Context, o desk.Order[message.RetireBoat]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) { return b.retire(h, o.Command) })
}
