package treasury

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
)

// paperOutlook says what the rules make of a gift as things are today. It looks at
// the facts alone, not at who asks nor whether a paper stands.
func (s *service) paperOutlook(ctx context.Context, _ desk.Caller, q message.PaperOutlook) (message.Outlook, error) {
	if err := desk.GoodID("boat", q.Boat); err != nil {
		return message.Outlook{}, err
	}
	country, err := s.Setting(ctx, "country")
	if err != nil {
		return message.Outlook{}, err
	}
	g, err := s.giftNow(ctx, q.Boat)
	if err != nil {
		return message.Outlook{}, err
	}
	if g.received.IsZero() || g.taking == message.Purchase {
		return message.Outlook{}, desk.Conflict("boat", "%s is no gift that the club has received", g.name)
	}
	letter, err := g.ruled(country, clock.DateOf(s.Clock.Now()))
	if err != nil {
		return message.Outlook{}, err
	}
	return outlookOf(country, g, letter), nil
}

func outlookOf(country string, g gift, l taxpaper.Letter) message.Outlook {
	o := message.Outlook{Country: country, Papers: []string{}, Forms: append([]string{}, l.DonorForms...), Clocks: clocksOf(g, l, ""), Warnings: []string{}, Rules: []message.RuleShown{}, Holidays: holidaysOf(country, l)}
	if l.WhyNot != nil {
		o.WhyNot = *l.WhyNot
	}
	for _, p := range l.Papers {
		o.Papers = append(o.Papers, strings.TrimSpace(p.Name+" "+boxesOf(p)))
	}
	if words := g.staleSale(); words != "" {
		o.Warnings = append(o.Warnings, words)
	}
	for _, w := range l.Warnings {
		o.Warnings = append(o.Warnings, w.Text)
	}
	for _, r := range l.Rests {
		o.Rules = append(o.Rules, message.RuleShown{ID: r.ID, From: r.From, To: r.To, Value: r.Value, Source: r.Source, Mark: r.Mark, FromMemory: r.FromMemory()})
	}
	return o
}

// holidaysOf gives the holidays of the years in which something is filed.
func holidaysOf(country string, l taxpaper.Letter) []message.HolidayShown {
	var years []int
	for _, f := range l.Filings {
		for _, due := range []*clock.Date{f.Due, f.PaperDue, f.ElectronicDue} {
			if due != nil {
				years = append(years, due.Year())
			}
		}
	}
	slices.Sort(years)
	list := []message.HolidayShown{}
	for _, year := range slices.Compact(years) {
		for _, h := range taxpaper.FilingHolidays(country, year) {
			list = append(list, message.HolidayShown{On: h.On, Source: h.Source})
		}
	}
	return list
}

// boxesOf names the boxes of a 1098-C that are filled, as a list.
func boxesOf(p taxpaper.Paper) string {
	if p.Name != "1098-C" {
		return ""
	}
	var names []string
	for _, b := range boxNames {
		if v, stands := p.Boxes[b.box]; stands && v != false {
			names = append(names, b.box)
		}
	}
	return "(boxes " + strings.Join(names, ", ") + ")"
}

// giftNow gives what is known of a boat's gift, for questions.
func (s *service) giftNow(ctx context.Context, id boat.ID) (gift, error) {
	var d desk.Decision // nothing is decided
	g, _, err := s.gift(ctx, message.IssuePaper{Boat: id}, &d)
	return g, err
}

// clocks lists what falls due from a month ago on, the next first. Who comes by a link for
// a calendar is told no names, and nothing once its member reads the books no more.
func (s *service) clocks(ctx context.Context, by desk.Caller, _ message.Clocks) (message.ClockList, error) {
	if err := s.mayFollow(ctx, by); err != nil {
		return message.ClockList{}, err
	}
	list, err := s.due(ctx, clock.DateOf(s.Clock.Now()).AddDays(-31))
	if err != nil {
		return message.ClockList{}, err
	}
	slices.SortFunc(list, func(a, b message.Clock) int {
		return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.BoatName, b.BoatName), cmp.Compare(a.What, b.What))
	})
	if by.Link != nil {
		for i := range list {
			list[i].BoatName = ""
		}
	}
	return message.ClockList{Clocks: list}, nil
}

// mayFollow refuses a link whose member has lost the role for which it was given.
func (s *service) mayFollow(ctx context.Context, by desk.Caller) error {
	if by.Link == nil {
		return nil
	}
	var still bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM treasury.roster_role WHERE person = $1 AND role = $2)`, by.Link.Person, people.Treasurer).Scan(&still)
	if err == nil && !still {
		err = fault.New(fault.Forbidden, "this calendar is for treasurers; ask an administrator whether you still are one")
	}
	return err
}

// keptUpTo is what needs nobody to do anything; donorHasIt is done once a paper stands.
const (
	keptUpTo   = "The paper is kept up to here"
	donorHasIt = "The donor has the paper"
)

// clocksOf reads the days off a decision, and says how each is reckoned.
func clocksOf(g gift, l taxpaper.Letter, serial string) []message.Clock {
	var list []message.Clock
	add := func(due clock.Date, what, reckoned string) {
		if !due.IsZero() {
			list = append(list, message.Clock{Due: due, What: what, Reckoned: reckoned, Boat: g.boat, BoatName: g.name, Serial: serial})
		}
	}
	gift := "the gift on " + g.received.String()
	for _, p := range l.Papers {
		switch {
		case p.Due == nil:
		case p.Boxes["4b"] != nil:
			add(*p.Due, donorHasIt, fmt.Sprintf("30 days from the sale on %v; not moved off a weekend (IRC 170(f)(12)(C)(i))", p.Boxes["4b"]))
		case p.Boxes["5a"] != nil || p.Boxes["5b"] != nil:
			add(*p.Due, donorHasIt, "30 days from "+gift+"; not moved off a weekend (IRC 170(f)(12)(C)(ii))")
			add(g.received.AddMonths(6), "A sale up to here makes the certificate presumed false", "six months from "+gift+" (Form 1098-C instructions)")
		default:
			add(*p.Due, donorHasIt, fmt.Sprintf("the return for %d is due on 15 April, or filed earlier (IRC 170(f)(8)(C))", g.received.Year()))
		}
	}
	for _, f := range l.Filings {
		switch {
		case f.ElectronicDue != nil && f.PaperDue != nil:
			const moved = ", of the year after the donor got the paper, moved to a business day (Notice 2006-1)"
			add(*f.PaperDue, f.Name+" is filed, on paper", "28 February"+moved+"; from ten returns of all sorts on it is filed electronically (Treasury regulations of February 2023)")
			add(*f.ElectronicDue, f.Name+" is filed, electronically", "31 March"+moved)
		case f.Due != nil:
			add(*f.Due, "Form "+f.Name+" is filed, with a copy to the donor", "125 days from the sale, moved to a business day (Form 8282)")
		}
	}
	for _, w := range l.Watch {
		if w.What == form8282 {
			add(w.Until, "A sale up to here needs Form 8282", "three years from "+gift+" (IRC 6050L)")
			continue
		}
		add(w.Until, "Sell, or attest improvement, use or placement, and give the paper", "30 days from "+gift+": up to here boxes 5a and 5b are in time (IRC 170(f)(12)(C)(ii))")
	}
	if keep, err := clock.ParseDate(l.KeepUntil); err == nil && serial != "" {
		add(keep, keptUpTo, "the end of the seventh year after gift, sale and paper (the club's rule, the longest of the countries')")
	}
	return list
}
