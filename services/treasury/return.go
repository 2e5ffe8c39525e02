package treasury

import (
	"context"
	"errors"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
	"refloat.example/pkg/vault"
)

// appraised is an independent appraisal of a gift, opened.
type appraised struct {
	value money.Amount
	message.Appraiser
}

// benefit decides what the donor got in return.
func (x excepting) benefit(c message.StateBenefit) (message.BenefitStated, error) {
	said := message.BenefitStated{Boat: c.Boat, On: c.On, What: c.What, Words: strings.TrimSpace(c.Words), Value: c.Value, Cost: c.Cost, Logo: c.Logo}
	err := desk.First(
		boat.Known("what", c.What, message.Returns),
		desk.OneLine("words", c.Words, maxWork),
		desk.ClubMoney("value", c.Value, x.club),
		desk.ClubMoney("cost", c.Cost, x.club),
	)
	switch something := !c.Value.IsZero() || !c.Cost.IsZero() || c.Logo || said.Words != ""; {
	case err != nil:
	case c.What == message.NoReturn && something:
		err = fault.Field("what", "says that the donor got nothing; leave the rest empty, or choose what they got")
	case c.What == message.NoReturn:
	case said.Words == "":
		err = fault.Field("words", "describe what the donor got; it stands on the paper")
	case c.Value.IsZero():
		err = fault.Field("value", "estimate in good faith what it is worth; the paper states it")
	}
	return said, err
}

// appraise decides to keep an appraisal. Who made it is sealed by the caller.
func (x excepting) appraise(c message.StateAppraisal) (message.AppraisalStated, error) {
	said := message.AppraisalStated{Boat: c.Boat, On: c.On, Value: c.Value}
	err := desk.First(
		desk.ClubMoney("value", c.Value, x.club),
		desk.OneLine("by", c.By, desk.MaxLine),
		desk.OneLine("address", c.Address, maxWork),
	)
	by, address := strings.TrimSpace(c.By), strings.TrimSpace(c.Address)
	switch {
	case err != nil:
	case c.Value.IsZero() && (by != "" || address != ""):
		err = fault.Field("value", "say what the appraiser found; leave everything empty to take an appraisal back")
	case c.Value.IsZero():
	case by == "":
		err = fault.Field("by", "name the appraiser; a Canadian receipt bears name and address (Income Tax Regulations s. 3501(1)(e.1)(iii))")
	case address == "":
		err = fault.Field("address", "a Canadian receipt bears the appraiser's name and address (Income Tax Regulations s. 3501(1)(e.1)(iii))")
	}
	return said, err
}

// similar decides to keep what a donor claims for similar items.
func (x excepting) similar(c message.StateSimilar, country string) (message.SimilarStated, error) {
	said := message.SimilarStated{Boat: c.Boat, On: c.On, Amount: money.Of(c.Amount.Minor, x.club)}
	if country != taxpaper.US {
		return said, desk.Conflict("boat", "only forms of the United States go by similar items (IRC 170(f)(11)(F)); the club's papers are those of %s", country)
	}
	return said, desk.ClubMoney("amount", c.Amount, x.club)
}

func (s *service) stateBenefit(ctx context.Context, o desk.Order[message.StateBenefit]) (desk.Decision, error) {
	return s.stateOfGift(ctx, o.Command.Boat, o.Command.On, o.Actor.Person, o.Today(), func(x excepting, _ string) (message.Body, error) { return x.benefit(o.Command) })
}

func (s *service) stateSimilar(ctx context.Context, o desk.Order[message.StateSimilar]) (desk.Decision, error) {
	return s.stateOfGift(ctx, o.Command.Boat, o.Command.On, o.Actor.Person, o.Today(), func(x excepting, country string) (message.Body, error) {
		return x.similar(o.Command, country)
	})
}

func (s *service) stateAppraisal(ctx context.Context, o desk.Order[message.StateAppraisal]) (desk.Decision, error) {
	return s.stateOfGift(ctx, o.Command.Boat, o.Command.On, o.Actor.Person, o.Today(), func(x excepting, _ string) (message.Body, error) {
		said, err := x.appraise(o.Command)
		if err != nil || said.Value.IsZero() {
			return said, err
		}
		by := message.Appraiser{By: strings.TrimSpace(o.Command.By), Address: strings.TrimSpace(o.Command.Address)}
		sealed, err := s.Vault.Seal(ctx, string(x.giver), message.SealAppraiser, by)
		said.Sealed = string(sealed)
		return said, err
	})
}

// stateOfGift says a fact of a gift in the boat's stream, while no paper stands for it.
func (s *service) stateOfGift(ctx context.Context, id boat.ID, on clock.Date, by people.ID, today clock.Date, decide func(x excepting, country string) (message.Body, error)) (desk.Decision, error) {
	var d desk.Decision
	x, at, country, stands, err := s.excepting(ctx, id, by, today, &d)
	if err != nil {
		return d, err
	}
	if err := x.aGift(stands, on); err != nil {
		return d, err
	}
	said, err := decide(x, country)
	if err != nil {
		return d, err
	}
	return d, d.Say(at.Stream, id, said)
}

// excepting collects what is known when a member states something of a gift.
func (s *service) excepting(ctx context.Context, id boat.ID, by people.ID, today clock.Date, d *desk.Decision) (x excepting, at ledger.Expected, country string, stands bool, err error) {
	r, b, at, err := s.open(ctx, id)
	if err != nil {
		return x, at, "", false, err
	}
	d.Expect = []ledger.Expected{at}
	if country, err = s.Setting(ctx, "country"); err != nil {
		return x, at, "", false, err
	}
	x = excepting{record: r, book: b, by: by, today: today}
	if x.club, err = s.Currency(ctx); err != nil {
		return x, at, "", false, err
	}
	stands, err = s.paperStands(ctx, b, d)
	return x, at, country, stands, err
}

// appraisal opens what is kept of an appraisal; nil where there is none, or where it
// went with its donor's data.
func (s *service) appraisal(ctx context.Context, donor people.ID, e *message.AppraisalStated) (*appraised, error) {
	if e == nil || e.Value.IsZero() {
		return nil, nil
	}
	a := appraised{value: e.Value}
	err := s.Vault.Unseal(ctx, string(donor), message.SealAppraiser, vault.Sealed(e.Sealed), &a.Appraiser)
	if errors.Is(err, vault.ErrErased) {
		return nil, nil
	}
	return &a, err
}

// returned gives the same to the rules.
func returned(b *message.BenefitStated) *taxpaper.Benefit {
	if b == nil || b.What == message.NoReturn {
		return nil
	}
	asked := taxpaper.Benefit{Kind: string(b.What), Value: b.Value.Minor, Logo: b.Logo}
	if !b.Cost.IsZero() { // nothing is taken for not known
		asked.Cost = &b.Cost.Minor
	}
	return &asked
}

// returnWords says what the donor got; empty where that is nothing.
func (g gift) returnWords() string {
	if g.benefit == nil || g.benefit.What == message.NoReturn {
		return ""
	}
	return g.benefit.Words
}
