package taxpaper

import (
	"fmt"
	"slices"
	"strings"

	"refloat.example/pkg/clock"
)

// summary writes what an answer says in one line, so that a table of cases can
// be read against the rules. Parts that are empty are left out.
func summary(l Letter) string {
	parts := []string{l.Receipt}
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	if l.WhyNot != nil {
		add("why: %s", *l.WhyNot)
	}
	for _, a := range []struct {
		name  string
		minor *int64
	}{{"cap", l.Cap}, {"eligible", l.Eligible}, {"stated", l.StatedValue}} {
		if a.minor != nil {
			add("%s %d", a.name, *a.minor)
		}
	}
	for _, p := range l.Papers {
		add("%s", paperSummary(p))
	}
	for _, f := range l.Filings {
		add("file %s %s", f.Name, days(f.PaperDue, f.ElectronicDue))
	}
	if l.DonorForms == nil {
		add("forms unknown")
	}
	if len(l.DonorForms) > 0 {
		add("forms %s", strings.Join(l.DonorForms, " + "))
	}
	for _, w := range l.Watch {
		add("watch %s %s", w.What, w.Until)
	}
	if l.Replace != nil {
		states := "none"
		if l.Replace.NewSerialStates != nil {
			states = *l.Replace.NewSerialStates
		}
		add("cancel %s, new states %s", l.Replace.Cancel, states)
	}
	add("keep %s", l.KeepUntil)
	if codes := warningCodes(l); len(codes) > 0 {
		add("! %s", strings.Join(codes, " "))
	}
	return strings.Join(parts, " | ")
}

func warningCodes(l Letter) []string {
	var codes []string
	for _, w := range l.Warnings {
		codes = append(codes, w.Code)
	}
	return codes
}

func paperSummary(p Paper) string {
	var boxes []string
	for box, value := range p.Boxes {
		boxes = append(boxes, fmt.Sprintf("%s=%v", box, value))
	}
	slices.Sort(boxes)
	return strings.TrimSpace(fmt.Sprintf("%s %s{%s} %s", p.Name, strings.Join(p.Copies, ""), strings.Join(boxes, ", "), days(p.Due)))
}

func days(dates ...*clock.Date) string {
	var texts []string
	for _, d := range dates {
		if d != nil {
			texts = append(texts, d.String())
		}
	}
	return strings.Join(texts, " ")
}

type change = func(*Gift)

// of makes a gift and changes it.
func of(country, what, date string, changes ...change) Gift {
	g := Gift{Country: country, What: what, Date: clock.MustDate(date)}
	for _, c := range changes {
		c(&g)
	}
	return g
}

func fair(minor int64) change   { return func(g *Gift) { g.FairValue = &minor } }
func claims(minor int64) change { return func(g *Gift) { g.Claims = &minor } }
func pays(minor int64) change   { return func(g *Gift) { g.Amount = minor } }
func paid(minor int64) change   { return func(g *Gift) { g.Paid = minor } }
func similar(minor int64) change {
	return func(g *Gift) { g.SimilarThisYear = minor }
}
func sold(date string, gross int64) change {
	return func(g *Gift) { g.Sold = &Sale{Date: clock.MustDate(date), Gross: gross, ArmsLength: true} }
}
func soldToAFriend(date string, gross int64) change {
	return func(g *Gift) { g.Sold = &Sale{Date: clock.MustDate(date), Gross: gross} }
}
func auctioned(date string, gross int64) change {
	return func(g *Gift) { g.Sold = &Sale{clock.MustDate(date), gross, true, true} }
}
func work(items ...string) change {
	return func(g *Gift) { g.Improvement = &Improvement{Work: items, PaidBy: "club", Major: true} }
}
func workBy(payer string, major bool, items ...string) change {
	return func(g *Gift) { g.Improvement = &Improvement{Work: items, PaidBy: payer, Major: major} }
}
func use(from, to, attestedBy string) change {
	return func(g *Gift) {
		g.Use = &Use{"learn-to-paddle fleet, weekly", clock.MustDate(from), clock.MustDate(to), true, attestedBy}
	}
}
func openUse(from string) change {
	return func(g *Gift) {
		g.Use = &Use{"learn-to-paddle fleet", clock.MustDate(from), clock.Date{}, true, "R. Alder"}
	}
}
func idleUse(from, to string) change {
	return func(g *Gift) {
		g.Use = &Use{"two demo days", clock.MustDate(from), clock.MustDate(to), false, "R. Alder"}
	}
}
func needy(by string, transport bool, price int64) change {
	return func(g *Gift) { g.Needy = &Needy{by, transport, price} }
}
func benefit(kind string, value int64) change {
	return func(g *Gift) { g.Benefit = &Benefit{Kind: kind, Value: value} }
}
func token(value, cost int64) change {
	return func(g *Gift) { g.Benefit = &Benefit{Token, value, &cost, true} }
}
func plainToken(value, cost int64) change {
	return func(g *Gift) { g.Benefit = &Benefit{Token, value, &cost, false} }
}
func acknowledged(date string) change {
	return func(g *Gift) { g.Acknowledged = clock.MustDate(date) }
}
func certified(box string) change { return func(g *Gift) { g.Certified = box } }
func final(g *Gift)               { g.Final = true }
func bought(date string, cost int64) change {
	return func(g *Gift) { g.Acquired, g.Cost = clock.MustDate(date), &cost }
}
func toGive(g *Gift) { g.AcquiredToGive = true }
func boughtFor(date string) change {
	return func(g *Gift) { g.Acquired = clock.MustDate(date) }
}
func appraised(minor int64) change {
	return func(g *Gift) { g.Appraisal = &Appraisal{minor, "I. Sorrel", "4 Mill Lane, Amberjay ON"} }
}
func earlier(serial, issued string, wrong ...string) change {
	return func(g *Gift) {
		g.History = append(g.History, Issued{serial, clock.MustDate(issued), wrong})
	}
}
