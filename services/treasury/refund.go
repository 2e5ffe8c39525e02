package treasury

import (
	"context"
	"encoding/json"
	"fmt"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

// takeBack decides that a boat's buyer brought it back.
func (b *book) takeBack(c message.TakeSaleBack, r record, club money.Currency, today clock.Date) (message.SaleTakenBack, error) {
	said := message.SaleTakenBack{Boat: c.Boat, On: c.On, Refund: money.Of(c.Refund.Minor, club), Words: c.Words}
	return said, b.refundable(c.On, c.Refund, c.Words, r, club, today)
}

// refund decides that a buyer who keeps the boat gets money back.
func (b *book) refund(c message.RefundBuyer, r record, club money.Currency, today clock.Date) (message.BuyerRefunded, error) {
	said := message.BuyerRefunded{Boat: c.Boat, On: c.On, Refund: money.Of(c.Refund.Minor, club), Words: c.Words}
	err := b.refundable(c.On, c.Refund, c.Words, r, club, today)
	if err == nil && said.Refund.IsZero() {
		err = fault.Field("refund", "say how much the buyer got back")
	}
	return said, err
}

// refundable wants a sale that stands, and no more back than was paid and not yet given
// back.
func (b *book) refundable(on clock.Date, refund money.Amount, words string, r record, club money.Currency, today clock.Date) error {
	err := desk.First(
		desk.Past("on", on, today),
		desk.ClubMoney("refund", refund, club),
		desk.Needed("words", words, "say why; the reason is kept with the sale"),
		desk.NotLonger("words", words, maxWords),
	)
	switch {
	case err != nil:
		return err
	case b.sold == nil:
		return desk.Conflict("boat", "no sale of %s stands", r.name)
	case on.Before(b.sold.On):
		return fault.Field("on", "lies before the sale, %s", b.sold.On)
	case refund.Minor > b.sold.Gross.Minor:
		return fault.Field("refund", "is more than the buyer paid and did not get back yet, %s", b.sold.Gross)
	}
	return nil
}

// refunded is the entry for what a buyer got back; none where that was nothing.
func (b *book) refunded(of message.BuyerRefunded, name string) []message.EntryPosted {
	return b.once(entry(of.Boat, b.fresh("refund-"+string(of.Boat)), of.On, "the buyer of "+name+" got back: "+of.Words, sales, cash, of.Refund))
}

// fresh gives an entry's id that the book does not have: a boat can be sold, and money
// given back, more than once.
func (b *book) fresh(id string) string {
	free := id
	for n := 2; b.entry(free) != nil; n++ {
		free = fmt.Sprintf("%s-%d", id, n)
	}
	return free
}

func (s *service) takeSaleBack(ctx context.Context, o desk.Order[message.TakeSaleBack]) (desk.Decision, error) {
	c := o.Command
	return s.unsell(ctx, message.RefundBuyer(c), func(b *book, r record, club money.Currency) (message.Body, error) {
		return b.takeBack(c, r, club, o.Today())
	})
}

func (s *service) refundBuyer(ctx context.Context, o desk.Order[message.RefundBuyer]) (desk.Decision, error) {
	return s.unsell(ctx, o.Command, func(b *book, r record, club money.Currency) (message.Body, error) {
		return b.refund(o.Command, r, club, o.Today())
	})
}

// unsell says what became of a sale and what it means in the books, in one.
func (s *service) unsell(ctx context.Context, c message.RefundBuyer, decide func(*book, record, money.Currency) (message.Body, error)) (desk.Decision, error) {
	r, b, at, err := s.open(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := decide(&b, r, club)
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at}}
	if err := d.Say(at.Stream, c.Boat, said); err != nil {
		return d, err
	}
	back := message.BuyerRefunded{Boat: c.Boat, On: c.On, Refund: money.Of(c.Refund.Minor, club), Words: c.Words}
	return d, s.sayEntries(ctx, &d, at.Stream, b.refunded(back, r.name))
}

// statedSale is the sale of which a standing paper speaks, in boxes 4b and 4c.
type statedSale struct {
	serial string
	on     string
	gross  int64
}

// saleOf reads it off a decision; nil where the paper states none.
func saleOf(serial, decision string) (*statedSale, error) {
	var letter struct {
		Papers []struct {
			Boxes struct {
				On    string `json:"4b"`
				Gross *int64 `json:"4c"`
			}
		}
	}
	if err := json.Unmarshal([]byte(decision), &letter); err != nil {
		return nil, err
	}
	for _, p := range letter.Papers {
		if p.Boxes.Gross != nil {
			return &statedSale{serial, p.Boxes.On, *p.Boxes.Gross}, nil
		}
	}
	return nil, nil
}

// staleSale says what is wrong with a standing paper whose sale did not stay as it states
// it, and what to do; empty where nothing is. That money given back lowers the gross
// proceeds is our reading, no source; the costs of a sale do not (instructions of Form
// 1098-C, from memory).
func (g gift) staleSale() string {
	p := g.stated
	if p == nil || g.sold != nil && g.sold.On.String() == p.on && g.sold.Gross.Minor == p.gross {
		return ""
	}
	now := "That sale stands no more: the buyer brought the boat back."
	next := "Give a new one once the club sells the boat again, within 30 days of that sale, or has decided what else becomes of it."
	if g.sold != nil {
		now = "As the books have it, the boat was sold on " + g.sold.On.String() + " and the club keeps " + g.sold.Gross.String() + "."
		next = "Then give a new one, which names the cancelled one."
	}
	return fmt.Sprintf("The paper %s is wrong now. It states in box 4c gross proceeds of %s from a sale on %s. %s The donor may not deduct more than the gross proceeds (IRC 170(f)(12)(A)(ii)), and the paper must state them (IRC 170(f)(12)(B)(iii)). Cancel the paper, ask the donor for its copies, and tell them why: they may have filed with it. %s If copy A was filed already, file a corrected one (General Instructions for Certain Information Returns, from memory).",
		p.serial, money.Of(p.gross, taxpaper.Currency(taxpaper.US)), p.on, now, next)
}
