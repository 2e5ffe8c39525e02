package treasury

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
)

// expenses is what a member laid out in a year and gave, when its paper is decided.
type expenses struct {
	member  people.ID
	year    int
	costs   []cost
	benefit *message.BenefitStated
}

// mostServices bounds the services that one paper describes.
const mostServices = 100

// services describe what the member did, in the order of the days, each once.
func (e expenses) services() []string {
	var list []string
	for _, c := range e.costs {
		if !slices.Contains(list, c.Service) {
			list = append(list, c.Service)
		}
	}
	return list
}

// sum adds the costs up, in the currency of the country's rules: nothing is converted.
func (e expenses) sum(country string) (money.Amount, error) {
	sum := money.Of(0, taxpaper.Currency(country))
	amounts := []money.Amount{}
	for _, c := range e.costs {
		amounts = append(amounts, c.Amount)
	}
	if e.benefit != nil && !e.benefit.Value.IsZero() {
		amounts = append(amounts, e.benefit.Value)
	}
	for i, a := range amounts {
		if a.Currency != sum.Currency {
			return sum, desk.Conflict("member", "papers for %s are reckoned in %s; %s cannot be converted here", country, sum.Currency, a)
		}
		if i < len(e.costs) {
			var err error
			if sum, err = sum.Add(a); err != nil {
				return sum, err
			}
		}
	}
	return sum, nil
}

// decide asks the rules which paper the member gets.
func (e expenses) decide(c club) (taxpaper.Letter, error) {
	sum, err := e.sum(c.country)
	if err != nil {
		return taxpaper.Letter{}, err
	}
	letter, err := ruledExpenses(c.country, e.year, sum, e.benefit)
	switch {
	case err != nil:
		return letter, err
	case !c.qualified:
		return thanksOnly(letter), nil
	case len(letter.Papers) == 0:
		return letter, desk.Conflict("member", "no paper can be given: %s", whyNot(letter))
	}
	return letter, nil
}

// ruledExpenses asks the rules about what a member laid out.
func ruledExpenses(country string, year int, sum money.Amount, benefit *message.BenefitStated) (taxpaper.Letter, error) {
	letter, err := taxpaper.DecideExpenses(taxpaper.Expenses{Country: country, Year: year, Amount: sum.Minor, Benefit: returned(benefit)})
	var misfit *taxpaper.Misfit
	if errors.As(err, &misfit) {
		return letter, desk.Conflict("member", "the facts contradict each other: %s %s", misfit.Field, misfit.Reason)
	}
	return letter, err
}

// issuable wants costs that were given by then, and a signatory who is not the member.
func (e expenses) issuable(by people.ID, on clock.Date) error {
	if len(e.costs) == 0 {
		return desk.Conflict("member", "nothing that this member laid out in %d is given", e.year)
	}
	if by != "" && by == e.member {
		return fault.New(fault.Forbidden, "these are your own costs; another treasurer has to see to their paper")
	}
	for _, c := range e.costs {
		if on.Before(c.ended) {
			return fault.Field("on", "lies before the day on which the last of these costs was given, %s", c.ended)
		}
	}
	if len(e.services()) > mostServices {
		return desk.Conflict("member", "the costs name more than %d services, which no paper can hold; say the same service in the same words", mostServices)
	}
	return nil
}

// seenByTwo refuses a signatory who wrote one of the costs down, where they come to more than
// the amount from which the club wants two signatures: such a paper states no amount, so that
// the two are whoever wrote the costs down and whoever signs.
func (e expenses) seenByTwo(by people.ID, sum, above money.Amount) error {
	if sum.Currency == above.Currency && sum.Minor <= above.Minor {
		return nil
	}
	const rule = "these costs come to more than the amount from which the club wants two members to see a paper; "
	if by == "" {
		return desk.Conflict("paper", rule+"nobody signs at the machine, so a treasurer issues it under “Volunteers’ costs”")
	}
	for _, c := range e.costs {
		if slices.Contains(c.by, people.Member(by).String()) {
			return fault.New(fault.Forbidden, rule+"you wrote some of them down, so another treasurer issues it")
		}
	}
	return nil
}

// aboutCosts writes the paper about what a volunteer laid out: services alone, no time, no
// amount of what was laid out.
func (w *writing) aboutCosts(p taxpaper.Paper) {
	w.line("Year of the services", strconv.Itoa(w.costsOf))
	for _, service := range w.services {
		w.line("Services of the volunteer", service)
	}
	w.line("Given in return", w.returnWords())
	if p.Name == message.ThankYou {
		w.content.Title = "Thank you for serving the club"
		w.state("Thank you for serving the club, and for not asking back what it cost you.", "This letter is not a receipt for tax purposes.")
		return
	}
	w.content.Title, w.content.Language = "Acknowledgment of a volunteer's unreimbursed expenses", "en-US"
	w.state(p.Says...)
	w.state(fmt.Sprintf("The member needs this letter by the day on which the return for %d is filed or due, whichever comes first.", w.costsOf))
}

// issueVolunteerPaper decides which paper a member's costs of a year get, and numbers it. It
// rests on the versions of the member's stream, of the books that its costs stand in, of the
// paper's stream and the series'.
func (s *service) issueVolunteerPaper(ctx context.Context, o desk.Order[message.IssueVolunteerPaper]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	if err := desk.First(desk.GoodID("paper", c.Paper), desk.Within("year", c.Year, firstYear, lastYear), desk.Past("on", c.On, o.Today())); err != nil {
		return d, err
	}
	v, at, err := s.volunteer(ctx, c.Member)
	if err != nil {
		return d, err
	}
	d.Expect = []ledger.Expected{at}
	e, err := s.expenses(ctx, c, &v, &d)
	if err == nil {
		err = e.issuable(o.Actor.Person, c.On)
	}
	if err != nil {
		return d, err
	}
	w, err := s.writeExpenses(ctx, e, c, v.papers[c.Year], signer{o.Actor.Person, o.Today()}, &d)
	if err != nil {
		return d, err
	}
	said, lodged, series, err := s.next(ctx, c.Paper, c.On, w, &d)
	if err != nil {
		return d, err
	}
	noted := message.VolunteerPaperNoted{Member: c.Member, Year: c.Year, Paper: c.Paper, Serial: said.Serial}
	for _, c := range e.costs {
		noted.Costs = append(noted.Costs, c.Cost)
	}
	own := message.TreasuryPaper(c.Paper)
	for _, say := range []struct {
		stream string
		body   message.Body
	}{
		{series, said}, {at.Stream, noted}, {own, message.PaperNoted{Paper: c.Paper, Serial: said.Serial, Donor: c.Member}}, {own, lodged},
	} {
		if err := d.Say(say.stream, "", say.body); err != nil {
			return d, err
		}
	}
	return d, nil
}

// expenses gives the costs of a year that are given, the oldest first. A booking that the
// workshop took back since is none.
func (s *service) expenses(ctx context.Context, c message.IssueVolunteerPaper, v *volunteer, d *desk.Decision) (e expenses, err error) {
	e = expenses{member: c.Member, year: c.Year}
	club, err := s.Currency(ctx)
	if err != nil {
		return e, err
	}
	benefit, err := excepting{club: club}.benefit(message.StateBenefit{On: c.On, What: c.What, Words: c.Words, Value: c.Value})
	if err != nil {
		return e, err
	}
	e.benefit = &benefit
	books := map[string]*book{}
	for _, of := range v.costs {
		if of.state != message.CostGiven || of.On.Year() != c.Year {
			continue
		}
		stream := bookOfCost(of.VolunteerCostStated)
		if of.Booked && books[stream] == nil {
			if books[stream], err = s.bookWith(ctx, v, of, d); err != nil {
				return e, err
			}
		}
		if b := books[stream]; b == nil || !b.reversed[of.Entry] {
			e.costs = append(e.costs, of)
		}
	}
	slices.SortStableFunc(e.costs, func(a, b cost) int { return a.On.Compare(b.On) })
	return e, nil
}

// writeExpenses refuses who may not sign, asks the rules, and writes what the paper says.
func (s *service) writeExpenses(ctx context.Context, e expenses, c message.IssueVolunteerPaper, newest message.VolunteerPaperNoted, by signer, d *desk.Decision) (w writing, err error) {
	w.on, w.giver, w.costsOf, w.services, w.benefit = c.On, c.Member, c.Year, e.services(), e.benefit
	var last *message.PaperNoted
	if newest.Paper != "" {
		last = &message.PaperNoted{Paper: newest.Paper, Serial: newest.Serial}
	}
	if w.replaces, err = s.replaced(ctx, c.Paper, last, "member", d); err != nil {
		return w, err
	}
	if w.club, err = s.club(ctx); err != nil {
		return w, err
	}
	if err := s.sign(ctx, &w, []signer{by}, d); err != nil {
		return w, err
	}
	if err := w.club.complete(); err != nil {
		return w, err
	}
	if err := s.fourEyes(ctx, e, w.club.country, by.who); err != nil {
		return w, err
	}
	if w.letter, err = e.decide(w.club); err != nil {
		return w, err
	}
	if w.donor, err = s.details(ctx, c.Member, "member"); err != nil {
		return w, err
	}
	w.content, err = write(w)
	return w, err
}

// fourEyes asks the club's rule of two signatures.
func (s *service) fourEyes(ctx context.Context, e expenses, country string, by people.ID) error {
	above, wanted, err := s.twoAbove(ctx)
	if err != nil || !wanted {
		return err
	}
	sum, err := e.sum(country)
	if err != nil {
		return err
	}
	return e.seenByTwo(by, sum, above)
}

// onNoPaper wants no paper that speaks of a cost.
func (s *service) onNoPaper(ctx context.Context, v *volunteer, c cost, d *desk.Decision) error {
	noted, there := v.papers[c.On.Year()]
	if !there || !slices.Contains(noted.Costs, c.Cost) {
		return nil
	}
	p, at, err := desk.Load[paper](ctx, s.Log, message.TreasuryPaper(noted.Paper))
	d.Expect = append(d.Expect, at)
	if err == nil && !p.cancelled {
		err = desk.Conflict("cost", "the paper %s speaks of this cost; cancel the paper first", noted.Serial)
	}
	return err
}

// whyNoLetters says of each year's sum without a paper why none can be issued by the rules.
func (s *service) whyNoLetters(ctx context.Context, sums []message.VolunteerSum) error {
	club, err := s.club(ctx)
	if err != nil {
		return err
	}
	for i := range sums {
		of := &sums[i]
		if of.Given.IsZero() || of.Paper != "" {
			continue
		}
		e := expenses{year: of.Year, costs: []cost{{VolunteerCostStated: message.VolunteerCostStated{Amount: of.Given}}}}
		_, err := e.decide(club)
		why, refused := refusal(err)
		if err != nil && !refused {
			return err
		}
		of.WhyNot = why
	}
	return nil
}

// keepVolunteerPaper keeps which paper spoke of a cost last.
func keepVolunteerPaper(exec desk.Executor, b message.VolunteerPaperNoted) error {
	return exec(`UPDATE treasury.volunteer_cost SET paper = $2 WHERE member = $1 AND cost = ANY($3)`, b.Member, b.Paper, b.Costs)
}
