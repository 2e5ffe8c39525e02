package treasury

import (
	"context"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// signer is who signs a paper, and the day on which they really do.
type signer struct {
	who people.ID
	day clock.Date
}

// sign refuses who may not sign a paper of its day, and notes who does: by name and
// office where they have a mandate, else by the club's setting.
func (s *service) sign(ctx context.Context, w *writing, signers []signer, d *desk.Decision) error {
	m, at, err := desk.Load[mandates](ctx, s.Log, message.TreasuryMandates)
	if err != nil {
		return err
	}
	d.Expect = append(d.Expect, at)
	setting := w.club.signatory
	for i, by := range signers {
		if err := s.stillTreasurer(ctx, by.who); err != nil {
			return ofFirst(i, signers, err)
		}
		mandate, err := m.sign(by.who, w.on, by.day)
		if err != nil {
			return ofFirst(i, signers, err)
		}
		words, err := s.signature(ctx, by.who, mandate, setting, len(signers) > 1)
		if err != nil {
			return err
		}
		w.mandated = w.mandated || mandate != nil || len(signers) > 1
		if i == 0 {
			w.club.signatory = words
		} else {
			w.second = words
		}
	}
	return nil
}

// stillTreasurer refuses a member who lost the role since they signed first, or since they
// asked for papers that are issued one by one. At the machine nobody has one.
func (s *service) stillTreasurer(ctx context.Context, who people.ID) error {
	if who == "" {
		return nil
	}
	still, err := s.hasRole(ctx, who, people.Treasurer)
	if err == nil && !still {
		err = fault.New(fault.Forbidden, "only members with the role of treasurer issue and sign papers; whoever is to sign this one has it no more")
	}
	return err
}

// ofFirst words a refusal for whoever signs second, where it is the first who may not
// sign any more.
func ofFirst(i int, signers []signer, err error) error {
	if i == 0 && len(signers) > 1 {
		return desk.Conflict("paper", "whoever signed first may not sign this paper any more; drop it, and let another signatory prepare it (%s)", err)
	}
	return err
}

// signature gives the words below a signature. Where two sign, both are named.
func (s *service) signature(ctx context.Context, who people.ID, mandate *message.MandateGiven, setting string, named bool) (string, error) {
	if mandate == nil && !named {
		return setting, nil
	}
	name, err := s.nameOf(ctx, who)
	switch {
	case err != nil:
		return "", err
	case name == "":
		return "", desk.Conflict("", "the name of a signatory is not known to the club's book, and the paper bears it; an administrator enters it under People")
	case mandate == nil:
		return name + ", " + string(people.Treasurer), nil
	}
	return name + ", " + mandate.Office, nil
}

// wantsTwo says whether the club wants two signatures under the paper of a gift.
func (s *service) wantsTwo(ctx context.Context, g gift) (bool, error) {
	above, wanted, err := s.twoAbove(ctx)
	return err == nil && wanted && g.above(above), err
}

// twoAbove gives the amount above which the club wants two signatures, where it wants any.
func (s *service) twoAbove(ctx context.Context) (above money.Amount, wanted bool, err error) {
	value, err := s.Setting(ctx, "two-signatures-above")
	if err != nil || value == "none" {
		return above, false, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return above, false, err
	}
	above, err = money.Parse(value, club)
	return above, err == nil, err
}

// above says whether any amount that is known of a gift is more than another: its
// value on the day, what its donor means to claim, what it was appraised at, what it fetched. One in another
// currency cannot be held against it, and counts as more.
func (g gift) above(limit money.Amount) bool {
	var known []money.Amount
	if g.worth != nil {
		known = append(known, g.worth.amount)
	}
	if g.claim != nil {
		known = append(known, g.claim.Claim)
	}
	if g.appraised != nil {
		known = append(known, g.appraised.value)
	}
	if g.sold != nil {
		known = append(known, g.sold.Gross)
	}
	for _, a := range known {
		if a.Minor > limit.Minor || a.Currency != limit.Currency && !a.IsZero() {
			return true
		}
	}
	return false
}

// wording is the digest of what a first signatory signs: the content without its
// date and without whoever signs second.
func wording(salt string, content message.PaperContent) (string, error) {
	content.Date, content.Second = clock.Date{}, ""
	return digest(salt, content)
}

// prepare says that a paper has its first signature. Where two sign both are named
// on it, so the club's setting for one signatory is no part of what is compared.
func prepare(c message.IssuePaper, by people.ID, content message.PaperContent, d *desk.Decision) error {
	if by == "" {
		return desk.Conflict("paper", "the club wants two signatures under this paper, and nobody signs at the machine; a treasurer prepares it under Papers")
	}
	content.Signatory = ""
	said := message.PaperPrepared{Boat: c.Boat, Paper: c.Paper, By: by, On: c.On, Final: c.Final, Salt: newSalt()}
	var err error
	if said.Digest, err = wording(said.Salt, content); err != nil {
		return err
	}
	return d.Say(message.TreasuryBoat(c.Boat), c.Boat, said)
}

// second decides whether a member may put the second signature under what waits.
func (b *book) second(paper string, by people.ID, on clock.Date) error {
	switch {
	case b.prepared == nil || b.prepared.Paper != paper:
		return desk.Conflict("paper", "no such paper waits for its second signature; it was issued, dropped or prepared anew. Look at it under Papers")
	case by == b.prepared.By:
		return fault.New(fault.Forbidden, "you signed this paper first; the club's rule wants two, so another signatory signs second")
	case on.Before(b.prepared.On):
		return fault.Field("on", "lies before the first signature, %s", b.prepared.On)
	}
	return nil
}

// signPaper puts the second signature under a paper, and numbers it.
func (s *service) signPaper(ctx context.Context, o desk.Order[message.SignPaper]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	if err := desk.First(desk.GoodID("paper", c.Paper), desk.Past("on", c.On, o.Today())); err != nil {
		return d, err
	}
	_, b, _, err := s.open(ctx, c.Boat)
	if err == nil {
		err = b.second(c.Paper, o.Actor.Person, c.On)
	}
	if err != nil {
		return d, err
	}
	first := *b.prepared
	order := message.IssuePaper{Boat: c.Boat, Paper: c.Paper, On: c.On, Final: first.Final}
	w, now, err := s.gather(ctx, order, []signer{{first.By, c.On}, {o.Actor.Person, o.Today()}}, &d)
	if err == nil {
		err = now.second(c.Paper, o.Actor.Person, c.On) // on the versions that the decision rests on
	}
	if err != nil {
		return d, err
	}
	unsigned := w.content
	unsigned.Signatory = ""
	same, err := wording(first.Salt, unsigned)
	if err != nil {
		return d, err
	}
	if same != first.Digest {
		return d, desk.Conflict("paper", "what the paper says has changed since it was first signed on %s; prepare it anew, so that both sign the same words", first.On)
	}
	return d, s.number(ctx, order, w, &d)
}

// withdrawPreparation drops what waits for a second signature.
func (s *service) withdrawPreparation(ctx context.Context, o desk.Order[message.WithdrawPreparation]) (desk.Decision, error) {
	c := o.Command
	if err := desk.First(desk.GoodID("paper", c.Paper), desk.Needed("why", c.Why, "say why it is not to be issued")); err != nil {
		return desk.Decision{}, err
	}
	r, b, at, err := s.open(ctx, c.Boat)
	switch {
	case err != nil:
	case b.prepared == nil || b.prepared.Paper != c.Paper:
		err = desk.Conflict("paper", "no such paper waits for its second signature; it was issued, dropped or prepared anew. Look at it under Papers")
	default:
		err = apart(o.Actor.Person, r.giver)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, message.PreparationWithdrawn{Boat: c.Boat, Paper: c.Paper, Why: c.Why})
}
