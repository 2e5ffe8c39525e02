package intake

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

func (s *service) noteAnswer(ctx context.Context, o desk.Order[message.NoteAnswer]) (desk.Decision, error) {
	d, err := s.dealOf(ctx, o.Command.Boat, o.Caller)
	if err != nil {
		return desk.Decision{}, err
	}
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.answered(o.Command, d) })
}

// answered decides to write down what the seller said. Any price may be asked; what
// the club may pay is decided when it names one.
func (b *Boat) answered(c message.NoteAnswer, d deal) (message.Body, error) {
	err := desk.First(
		b.is(offered, "a price is talked about"),
		b.mayDeal(d.by.Actor.Person),
		boat.Known("answer", c.Answer, message.SellersAnswers),
		pricedAnswer(c, d.club),
		desk.NotLonger("words", c.Words, desk.MaxWords),
	)
	if err == nil && b.taking == message.Gift {
		err = desk.Conflict("answer", "%s is a gift; no price is talked about", b.name)
	}
	if err != nil {
		return nil, err
	}
	said := message.AnswerNoted{Boat: c.Boat, Answer: c.Answer, Price: money.Of(c.Price.Minor, d.club), Words: c.Words}
	said.Ceiling.Currency = d.club
	if d.ceiling != nil {
		said.Ceiling = *d.ceiling
	}
	return said, nil
}

// pricedAnswer wants a price where the answer names one, and none elsewhere.
func pricedAnswer(c message.NoteAnswer, club money.Currency) error {
	named := c.Answer == message.Countered || c.Answer == message.Agrees
	switch {
	case named && c.Price.IsZero():
		return fault.Field("price", "state the price that the seller asks for or agrees to")
	case !named && !c.Price.IsZero():
		return fault.Field("price", "no price belongs to this answer")
	}
	return desk.ClubMoney("price", c.Price, club)
}
