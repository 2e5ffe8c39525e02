package web

import (
	"net/url"
	"slices"
	"strconv"

	"refloat.example/pkg/cure"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
)

func sheetRoutes() []route {
	return []route{
		get("/boats/{boat}/methods", anyMember, (*visit).methodsPage),
		get("/boats/{boat}/sheet", anyMember, (*visit).sheetPage),
		get("/boats/{boat}/disclosure.pdf", anyMember, (*visit).disclosurePDF),
		post("/boats/{boat}/sheet/{step}", repairers, (*visit).doStep, (*visit).sheetPage),
		post("/boats/{boat}/timers/{timer}/end", repairers, (*visit).endTimer, (*visit).sheetPage),
	}
}

func sheetActs() []act {
	return []act{{
		name: "set-timer", path: "/boats/{boat}/timers", may: repairers, title: "Set a timer", button: "Set it", done: "The timer is set. You get a letter when it is over.",
		words:   "The timer goes on when you close the page. When resin or adhesive cures and the shop is colder than the label's temperature, time is added: " + cure.Rule + ". It is a rule of thumb; the label governs, and the mix ratio never changes.",
		command: func() desk.Commanded { return &message.SetTimer{} },
		fields:  (*visit).timerFields,
		to:      func(v *visit, _ desk.Commanded) string { return "/boats/" + string(v.boat.ID) + "/sheet" },
	}}
}

func (v *visit) timerFields() ([]Section, error) {
	query := v.r.URL.Query()
	cures := tick("cures", "Resin or adhesive cures: the cold makes it longer")
	if query.Get("at_celsius") != "" {
		cures = cures.Starts("yes")
	}
	return []Section{{Fields: []Field{
		fresh("timer"),
		text("what", "What waits").Needed().Starts(query.Get("what")),
		number("minutes", "Minutes by the label").Needed().Starts(query.Get("minutes")).With("A day has 1440."),
		cures,
		number("at_celsius", "The label's temperature, in °C").Starts(query.Get("at_celsius")),
		number("celsius", "The shop's temperature now, in °C").Starts(query.Get("at_celsius")),
	}}}, nil
}

// methodsPage is what suits each open finding, and what does not.
type methodsPage struct {
	Frame
	Boat     *Boat
	Findings []advised
}

// advised is a finding with what is known of each method for it.
type advised struct {
	marked
	Suit, Unsure, Fail []mend.Advice
	Tests              []mend.Test // that mending it asks for
}

func (v *visit) methodsPage() error {
	p := methodsPage{Frame: v.frame("Methods for " + v.boat.Name), Boat: v.boat}
	for _, m := range numbered(v.visibleFindings(v.boat)) {
		if !m.Open() || v.blindHint(v.boat) {
			continue
		}
		p.Findings = append(p.Findings, adviseOn(v.boat, m))
	}
	return v.show("methods", p)
}

func adviseOn(b *Boat, m marked) advised {
	a := advised{marked: m}
	for _, advice := range mend.Advise(m.toMend(), b.Facts.Material) {
		switch {
		case !advice.Suits:
			a.Fail = append(a.Fail, advice)
		case advice.Unsure:
			a.Unsure = append(a.Unsure, advice)
		default:
			a.Suit = append(a.Suit, advice)
		}
	}
	mended := mend.Boat{Type: b.Facts.Type, Material: b.Facts.Material, Found: []mend.Finding{m.toMend()}, Mended: []mend.Finding{m.toMend()}}
	for _, n := range mend.Needed(mended) {
		a.Tests = append(a.Tests, n.Test)
	}
	return a
}

// sheetPage is the work sheet of a boat.
type sheetPage struct {
	Frame
	Boat   *Boat
	Steps  []sheetStep
	Hours  int // expected minutes that are left
	Timers []timerLine
	Advice string
}

// sheetStep is a step with what can be done about it now.
type sheetStep struct {
	mend.Step
	Number  int
	Open    bool
	Tick    *Form
	Address string // of the form by which the step is done
	Label   string
}

// timerLine is a timer as it stands at the time of the page.
type timerLine struct {
	Timer
	Over bool
	End  Form
}

func (v *visit) sheetPage() error {
	b := v.boat
	p := sheetPage{Frame: v.frame("Work sheet of " + b.Name), Boat: b, Timers: v.timers(b)}
	if b.Advice != nil && !b.Ended() {
		p.Advice = adviceWords(*b.Advice)
	}
	steps := mend.Sheet(b.Job())
	if !onBench(b) {
		steps = nil
	}
	for i, s := range steps {
		if !s.Done {
			p.Hours += s.Minutes
		}
		p.Steps = append(p.Steps, v.sheetStep(b, s, i+1, s.Open(steps)))
	}
	return v.show("sheet", p)
}

func (v *visit) sheetStep(b *Boat, s mend.Step, number int, open bool) sheetStep {
	step, boat := sheetStep{Step: s, Number: number, Open: open && !s.Done}, "/boats/"+string(b.ID)
	if !v.Who.Has("repairer") || s.Done {
		return step
	}
	switch {
	case s.Work != "":
		step.Address, step.Label = boat+"/work/"+s.Work+"/finish", "Finish this work"
	case s.Test != "":
		step.Address, step.Label = boat+"/tests?what="+url.QueryEscape(string(s.Test)), "Record the test"
	case open:
		form := v.button("done-"+s.ID, boat+"/sheet/"+s.ID, "Done")
		step.Tick = &form
	}
	if s.Wait != nil && open {
		query := url.Values{"what": {s.Wait.What}, "minutes": {strconv.Itoa(s.Wait.Minutes)}}
		if s.Wait.Celsius != 0 {
			query.Set("at_celsius", strconv.Itoa(s.Wait.Celsius))
		}
		step.Address, step.Label = boat+"/timers?"+query.Encode(), "Set a timer"
	}
	return step
}

// timers gives what waits on a boat, what is over first.
func (v *visit) timers(b *Boat) []timerLine {
	var list []timerLine
	for _, t := range b.Running() {
		list = append(list, timerLine{t, !v.Clock.Now().Before(t.Until), v.button("end-"+t.id(), "/boats/"+string(b.ID)+"/timers/"+t.id()+"/end", "Seen to")})
	}
	slices.SortStableFunc(list, func(a, b timerLine) int { return a.Until.Compare(b.Until) })
	return list
}

func (v *visit) doStep() error {
	if _, err := v.order(&message.DoStep{Boat: v.boat.ID, Step: v.param("step")}); err != nil {
		return err
	}
	return v.goTo("/boats/"+string(v.boat.ID)+"/sheet", "step-done")
}

func (v *visit) endTimer() error {
	if _, err := v.order(&message.EndTimer{Boat: v.boat.ID, Timer: v.param("timer")}); err != nil {
		return err
	}
	return v.goTo("/boats/"+string(v.boat.ID)+"/sheet", "timer-ended")
}

func (v *visit) disclosurePDF() error {
	if v.blindHint(v.boat) || v.boat.openLookOf(v.Who) != nil {
		return fault.New(fault.Conflict, "This page tells what the first look-over found. Finish yours first.")
	}
	sheet, err := ask[message.Sheet](v, message.DisclosureSheet{Boat: v.boat.ID})
	if err != nil {
		return err
	}
	return v.download(sheet.Name, "application/pdf", sheet.PDF)
}

// timerTasks gives the timers that are over and that nobody has seen to, and
// those of the viewer that run.
func (v *visit) timerTasks() ([]task, error) {
	boats, err := findAll[Boat](v.ctx, v.Site, `SELECT doc FROM web.boat WHERE doc ? 'timers' ORDER BY lower(name)`)
	var list []task
	for _, b := range boats {
		for _, t := range b.Running() {
			switch over := !v.Clock.Now().Before(t.Until); {
			case over:
				list = append(list, task{"timer-" + t.id(), b.Name + ": the time is over: " + t.What, "/boats/" + string(b.ID) + "/sheet"})
			case t.Who == v.Who.Person:
				list = append(list, task{"timer-" + t.id(), b.Name + ": waits until " + t.Until.UTC().Format("15:04 UTC on 2 January") + ": " + t.What, "/boats/" + string(b.ID) + "/sheet"})
			}
		}
	}
	return list, err
}

// lowTasks counts the bins that somebody should fill.
func (v *visit) lowTasks() ([]task, error) {
	bins, err := v.bins()
	low := 0
	for _, b := range bins {
		if b.IsLow() {
			low++
		}
	}
	if err != nil || low == 0 {
		return nil, err
	}
	return []task{{"low-stock", count(low, "bin is low", "bins are low"), "/stock"}}, nil
}
