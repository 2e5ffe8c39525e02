package treasury

import (
	"context"
	"slices"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// maxOffice bounds an office, in characters: it stands below a signature.
const maxOffice = 60

// mandates is who may sign papers, in the order of appointment, each with the last
// day that it has by now.
type mandates []message.MandateGiven

// Fold adds an event.
func (m *mandates) Fold(_ message.Event, body message.Body) {
	switch e := body.(type) {
	case message.MandateGiven:
		*m = append(*m, e)
	case message.MandateEnded:
		if given := m.find(e.Mandate); given != nil {
			given.To = e.To
		}
	}
}

func (m mandates) find(id string) *message.MandateGiven {
	i := slices.IndexFunc(m, func(g message.MandateGiven) bool { return g.Mandate == id })
	if i < 0 {
		return nil
	}
	return &m[i]
}

// covers says whether a mandate is in force on a day, its first and last included.
func covers(g message.MandateGiven, day clock.Date) bool {
	return !day.Before(g.From) && (g.To.IsZero() || !day.After(g.To))
}

// inForce says whether mandates decide on a day. Before the first day of the club's
// earliest one treasurers sign by their role, as in books that know no mandates. One that was ended before it began
// changes nothing.
func (m mandates) inForce(day clock.Date) bool {
	return slices.ContainsFunc(m, func(g message.MandateGiven) bool { return !day.Before(g.From) && covers(g, g.From) })
}

// of gives the mandate by which a person signs on a day, or nil.
func (m mandates) of(who people.ID, day clock.Date) *message.MandateGiven {
	for i, g := range m {
		if who != "" && g.Person == who && covers(g, day) {
			return &m[i]
		}
	}
	return nil
}

// sign gives the mandate by which a person signs a paper of a day; nil where none is
// needed. It takes one for the day of the paper, and one for the day on which it is
// really signed: otherwise an earlier date on the paper would lend a mandate that has ended.
func (m mandates) sign(who people.ID, paper, today clock.Date) (*message.MandateGiven, error) {
	for _, day := range []clock.Date{paper, today} {
		if m.inForce(day) && m.of(who, day) == nil {
			return nil, fault.New(fault.Forbidden, "you have no mandate to sign papers on %s. The club's rule: only members whom an administrator has appointed for that day sign. Ask another signatory, or ask an administrator to appoint you (Club, “Who signs papers”)", day)
		}
	}
	return m.of(who, paper), nil
}

// give decides to appoint.
func (m mandates) give(c message.GiveMandate) (message.MandateGiven, error) {
	said := message.MandateGiven{Mandate: c.Mandate, Person: c.Person, Office: c.Office, From: c.From, To: c.To}
	err := desk.First(
		desk.GoodID("mandate", c.Mandate),
		desk.GoodID("person", c.Person),
		desk.Needed("office", c.Office, "say in which office they sign, like “treasurer”"),
		desk.OneLine("office", c.Office, maxOffice),
		mandateDay("from", c.From),
	)
	switch {
	case err != nil:
	case !c.To.IsZero() && c.To.Before(c.From):
		err = fault.Field("to", "lies before the first day")
	case !c.To.IsZero():
		err = mandateDay("to", c.To)
	}
	if err == nil && m.find(c.Mandate) != nil {
		err = desk.Conflict("mandate", "another mandate has this id already")
	}
	for _, g := range m {
		if err == nil && g.Person == c.Person && (g.To.IsZero() || !c.From.After(g.To)) && (c.To.IsZero() || !g.From.After(c.To)) {
			err = desk.Conflict("from", "this member is appointed from %s already; end that appointment first, or let the new one begin after it", g.From)
		}
	}
	return said, err
}

// mandateDay wants a day that a mandate may begin or end on, which may be to come.
func mandateDay(field string, day clock.Date) error {
	if day.IsZero() {
		return fault.Field(field, "state the day")
	}
	return desk.Within(field, day.Year(), firstYear, lastYear)
}

// end decides on another last day. It may be shortened down to the day before this
// one: what was signed meanwhile was signed by right.
func (m mandates) end(c message.EndMandate, today clock.Date) (message.MandateEnded, error) {
	said := message.MandateEnded{Mandate: c.Mandate, To: c.To, Why: c.Why}
	err := desk.First(
		desk.GoodID("mandate", c.Mandate),
		mandateDay("to", c.To),
		desk.Needed("why", c.Why, "say why it ends"),
	)
	given := m.find(c.Mandate)
	switch {
	case err != nil:
	case given == nil:
		err = desk.Unknown("mandate", "there is no such mandate")
	case !given.To.IsZero() && given.To.Before(today):
		err = desk.Conflict("to", "this mandate ended on %s already", given.To)
	case c.To.Before(today.AddDays(-1)):
		err = fault.Field("to", "lies before yesterday; papers may have been signed since, and stay signed")
	case !given.To.IsZero() && !c.To.Before(given.To):
		err = fault.Field("to", "is not earlier than the last day that it has, %s; make a new appointment for longer", given.To)
	}
	return said, err
}

func (s *service) giveMandate(ctx context.Context, o desk.Order[message.GiveMandate]) (desk.Decision, error) {
	m, at, err := desk.Load[mandates](ctx, s.Log, message.TreasuryMandates)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := m.give(o.Command)
	if err != nil {
		return desk.Decision{}, err
	}
	signs, err := s.hasRole(ctx, said.Person, people.Treasurer)
	if err == nil && !signs {
		err = desk.Conflict("person", "only members with the role of treasurer issue and sign papers; give them the role first")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", said)
}

func (s *service) endMandate(ctx context.Context, o desk.Order[message.EndMandate]) (desk.Decision, error) {
	m, at, err := desk.Load[mandates](ctx, s.Log, message.TreasuryMandates)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := m.end(o.Command, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", said)
}

func (s *service) mandateList(ctx context.Context, _ desk.Caller, _ message.Mandates) (message.MandateList, error) {
	m, _, err := desk.Load[mandates](ctx, s.Log, message.TreasuryMandates)
	return message.MandateList{Mandates: append([]message.MandateGiven{}, m...)}, err
}
