package intake

import (
	"context"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

func (s *service) showRight(ctx context.Context, o desk.Order[message.ShowRight]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.showRight(o.Command, o.Actor.Person, o.Today()) })
}

func (s *service) stateIntent(ctx context.Context, o desk.Order[message.StateIntent]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.stateIntent(o.Command, o.Today()) })
}

func (s *service) noteRegistration(ctx context.Context, o desk.Order[message.NoteRegistration]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.noteRegistration(o.Command) })
}

func (s *service) raiseDoubt(ctx context.Context, o desk.Order[message.RaiseDoubt]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.raise(o.Command) })
}

func (s *service) settleDoubt(ctx context.Context, o desk.Order[message.SettleDoubt]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.settleDoubt(o.Command, o.Actor.Person) })
}

func (s *service) notePossession(ctx context.Context, o desk.Order[message.NotePossession]) (desk.Decision, error) {
	return s.onMany(ctx, o.Command.Boat, func(b *Boat) ([]message.Body, error) {
		if err := b.mayDeal(o.Actor.Person); err != nil {
			return nil, err
		}
		return b.possess(o.Command, o.Today())
	})
}

func (s *service) signTransfer(ctx context.Context, o desk.Order[message.SignTransfer]) (desk.Decision, error) {
	return s.onMany(ctx, o.Command.Boat, func(b *Boat) ([]message.Body, error) {
		if err := b.mayDeal(o.Actor.Person); err != nil {
			return nil, err
		}
		return b.sign(o.Command, o.Today())
	})
}
