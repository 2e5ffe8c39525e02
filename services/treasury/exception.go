package treasury

import (
	"context"
	"fmt"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
)

const (
	// mostWorks bounds what an improvement lists.
	mostWorks = 20
	// maxWork bounds one of them, and what the club uses a boat for, in characters:
	// both stand in box 5c.
	maxWork = 200
)

// excepting is what is known when a member attests an exception.
type excepting struct {
	record
	book  book
	club  money.Currency
	by    people.ID
	today clock.Date
}

// open refuses what can have no exception: not a gift, not received, under a paper
// that stands, or attested by its donor.
func (x excepting) open(country string, paperStands bool, on clock.Date) error {
	if country != taxpaper.US {
		return desk.Conflict("boat", "only papers of the United States know this; the club's papers are those of %s", country)
	}
	return x.aGift(paperStands, on)
}

// aGift refuses what is no gift yet, stands under a paper, or is its donor's to state.
func (x excepting) aGift(paperStands bool, on clock.Date) error {
	switch {
	case x.taking == message.Purchase:
		return desk.Conflict("boat", "%s was bought; its seller gets no donor's paper", x.name)
	case x.received.IsZero():
		return desk.Conflict("boat", "%s has not been received; there is no gift yet", x.name)
	case paperStands:
		return desk.Conflict("boat", "the paper %s stands for this boat; cancel it first if it is wrong", x.book.paper.Serial)
	}
	if err := apart(x.by, x.giver); err != nil {
		return err
	}
	return desk.Past("on", on, x.today)
}

// improvement gives work to the rules.
func improvement(work []string, by message.Payer, major bool) *taxpaper.Improvement {
	payer := "club"
	if by == message.DonorPays {
		payer = "donor"
	}
	return &taxpaper.Improvement{Work: work, PaidBy: payer, Major: major}
}

// improve decides that work counts.
func (x excepting) improve(c message.StateImprovement) (message.ExceptionStated, error) {
	said := message.ExceptionStated{Boat: c.Boat, Sort: message.Improved, By: x.by, On: c.On}
	for _, item := range strings.FieldsFunc(c.Work, func(r rune) bool { return r == ';' || r == '\n' || r == '\r' }) {
		if item = strings.TrimSpace(item); item != "" {
			said.Work = append(said.Work, item)
		}
	}
	err := desk.First(
		desk.Needed("work", c.Work, "say what was done"),
		desk.Within("work", len(said.Work), 1, mostWorks),
		boat.Known("paid_by", c.PaidBy, message.Payers),
	)
	for _, item := range said.Work {
		err = desk.First(err, desk.OneLine("work", item, maxWork))
	}
	const rule = " (Notice 2005-44 s. 7.01(2))"
	switch {
	case err != nil:
	case c.PaidBy == message.DonorPays:
		err = fault.Field("paid_by", "work that the donor pays for is no material improvement%s", rule)
	case !c.Major:
		err = fault.Field("major", "only a major repair or addition that raises the value significantly is a material improvement%s", rule)
	case !taxpaper.Material(*improvement(said.Work, c.PaidBy, true), x.received):
		err = fault.Field("work", "cleaning, cosmetic work, upholstery, locks, minor repairs and maintenance are no material improvement by themselves%s", rule)
	}
	return said, err
}

// use decides that the club's use counts.
func (x excepting) use(c message.StateUse) (message.ExceptionStated, error) {
	said := message.ExceptionStated{Boat: c.Boat, Sort: message.Used, By: x.by, On: c.On, Use: strings.TrimSpace(c.Use), From: c.From, To: c.To}
	const rule = " (Notice 2005-44 s. 7.01(1))"
	err := desk.First(desk.Needed("use", c.Use, "say what the club uses the boat for"), desk.OneLine("use", c.Use, maxWork))
	switch {
	case err != nil:
	case c.From.IsZero() || c.From.Before(x.received):
		err = fault.Field("from", "say from which day on, not before the gift, %s", x.received)
	case c.To.IsZero() || c.To.Before(c.From):
		err = fault.Field("to", "say up to which day, not before the use begins: the paper states how long it lasts")
	case !c.Regular:
		err = fault.Field("regular", "only a use that furthers what the club does regularly counts%s", rule)
	case !c.Significant:
		err = fault.Field("significant", "only a use that is significant, and was meant at the gift, counts; incidental use does not%s", rule)
	}
	return said, err
}

// place decides that a placement counts.
func (x excepting) place(c message.StatePlacement) (message.ExceptionStated, error) {
	said := message.ExceptionStated{Boat: c.Boat, Sort: message.Placed, By: x.by, On: c.On, Price: money.Of(c.Price.Minor, x.club)}
	err := desk.ClubMoney("price", c.Price, x.club)
	if err == nil && !c.TransportNeed {
		err = fault.Field("transport_need", "it counts only for a person in need of a means of transportation (Notice 2005-44 s. 3.02(3)); a boat for recreation does not clearly meet that")
	}
	return said, err
}

// attester names who attested an exception.
func attester(e message.ExceptionStated) string {
	if e.By == "" {
		return desk.AtMachine
	}
	return fmt.Sprint("member ", e.By)
}

func (s *service) stateImprovement(ctx context.Context, o desk.Order[message.StateImprovement]) (desk.Decision, error) {
	return s.except(ctx, o.Command.Boat, o.Command.On, o.Actor.Person, o.Today(), func(x excepting) (message.ExceptionStated, error) { return x.improve(o.Command) })
}

func (s *service) stateUse(ctx context.Context, o desk.Order[message.StateUse]) (desk.Decision, error) {
	return s.except(ctx, o.Command.Boat, o.Command.On, o.Actor.Person, o.Today(), func(x excepting) (message.ExceptionStated, error) { return x.use(o.Command) })
}

func (s *service) statePlacement(ctx context.Context, o desk.Order[message.StatePlacement]) (desk.Decision, error) {
	return s.except(ctx, o.Command.Boat, o.Command.On, o.Actor.Person, o.Today(), func(x excepting) (message.ExceptionStated, error) { return x.place(o.Command) })
}

// except says an exception in the boat's stream, if one may be attested.
func (s *service) except(ctx context.Context, id boat.ID, on clock.Date, by people.ID, today clock.Date, decide func(excepting) (message.ExceptionStated, error)) (desk.Decision, error) {
	var d desk.Decision
	x, at, country, stands, err := s.excepting(ctx, id, by, today, &d)
	if err != nil {
		return d, err
	}
	if err := x.open(country, stands, on); err != nil {
		return d, err
	}
	said, err := decide(x)
	if err != nil {
		return d, err
	}
	return d, d.Say(at.Stream, id, said)
}

// paperStands says whether a boat's newest paper was not cancelled.
func (s *service) paperStands(ctx context.Context, b book, d *desk.Decision) (bool, error) {
	if b.paper == nil {
		return false, nil
	}
	p, at, err := desk.Load[paper](ctx, s.Log, message.TreasuryPaper(b.paper.Paper))
	d.Expect = append(d.Expect, at)
	return !p.cancelled, err
}

// withdrawException takes back what was attested.
func (s *service) withdrawException(ctx context.Context, o desk.Order[message.WithdrawException]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(boat.Known("sort", c.Sort, message.Exceptions), desk.Needed("why", c.Why, "say why it does not hold"))
	if err != nil {
		return desk.Decision{}, err
	}
	r, b, at, err := s.open(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	if _, stated := b.excepted[c.Sort]; !stated {
		return desk.Decision{}, desk.Conflict("sort", "no %s is stated for %s", c.Sort, r.name)
	}
	return desk.SayAt(at, c.Boat, message.ExceptionWithdrawn{Boat: c.Boat, Sort: c.Sort, Why: c.Why})
}
