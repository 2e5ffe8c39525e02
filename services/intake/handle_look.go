package intake

import (
	"context"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

func (s *service) answerPoints(ctx context.Context, o desk.Order[message.AnswerPoints]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.answer(o.Command, o.Actor.Person) })
}

func (s *service) matchFindings(ctx context.Context, o desk.Order[message.MatchFindings]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.match(o.Command, o.Actor.Person) })
}

func (s *service) holdBoat(ctx context.Context, o desk.Order[message.HoldBoat]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.hold(o.Command, o.Today()) })
}
