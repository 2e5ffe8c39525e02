package web

import (
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

var repairers = only(people.Repairer)

// onBench says whether the boat can be worked on: accepted, and still there.
func onBench(b *Boat) bool { return taken(b) && !b.Ended() }

// taken says whether the club ever accepted the boat. Bills come late, so money
// and hours are booked after it has left, too.
func taken(b *Boat) bool { return b.Decision != nil && b.Decision.Taken }

func workshopActs() []act {
	return []act{
		{
			name: "plan-work", path: "/boats/{boat}/work", may: repairers, title: "Plan work", button: "Plan it", done: "The work is planned.",
			part: partWorkshop, label: "Plan work", fits: onBench,
			words:    "What is to be done about which findings, and why so. Leave and watch is an answer, too. The page of methods says what suits this material, and what does not.",
			cautions: func(v *visit) []caution { return working(v.boat) },
			command:  func() desk.Commanded { return &message.PlanWork{} }, fields: (*visit).planFields,
		},
		{
			name: "finish-work", path: "/boats/{boat}/work/{work}/finish", may: repairers, title: "Finish work", button: "It is done", done: "The work is finished.",
			words:    "The findings that the work was for are ended with it. The next household reads your words.",
			cautions: func(v *visit) []caution { return working(v.boat) },
			command:  func() desk.Commanded { return &message.FinishWork{} },
			fields: func(v *visit) ([]Section, error) {
				w, ok := in(v.boat.Work, func(w *Work) bool { return w.Work == v.param("work") })
				if !ok {
					return nil, fault.New(fault.Unknown, "This boat has no such work.")
				}
				return []Section{{Words: "Planned: " + w.Method + ". " + v.boat.findingsInWords(w.Findings), Fields: []Field{area("words", "What was done").Needed()}}}, nil
			},
		},
		{
			name: "book-part", path: "/boats/{boat}/parts", may: repairers, title: "Book a part", button: "Book it", done: "The part is booked.",
			part: partWorkshop, label: "Book a part", fits: taken, receipt: true,
			words:   "Parts, consumables and outside work. Whose money it was matters: what the donor paid changes the donor's paper, and what a member paid is owed to them or given by them.",
			command: func() desk.Commanded { return &message.BookPart{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					fresh("entry"),
					one("what", "For", words(message.Spendings)).Needed().Starts(string(message.ForPart)),
					text("words", "What").Needed(),
					text("cost", "Cost").Needed(),
					one("paid_by", "Paid by", words(message.Payers)).Needed().With("A member's own pocket is yours, when you book it: the treasurer pays it back or writes down that you give it."),
					day("on", "Day").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "reverse-part", path: "/boats/{boat}/parts/{entry}/reverse", may: repairers, title: "Take a booking back", button: "Take it back", done: "The booking is taken back.", weighty: true,
			words:   "Nothing is deleted: the opposite entry is written. Book the right one anew.",
			command: func() desk.Commanded { return &message.ReversePart{} },
			fields: func(v *visit) ([]Section, error) {
				p, ok := in(v.boat.Parts, func(p *Part) bool { return p.Entry == v.param("entry") })
				if !ok {
					return nil, fault.New(fault.Unknown, "This boat has no such booking.")
				}
				return []Section{{Words: "Booked: " + p.Words + ", " + p.Cost.String(), Fields: []Field{
					area("why", "Why it was wrong").Needed(),
					day("on", "Day").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "book-hours", path: "/boats/{boat}/hours", may: repairers, title: "Book hours", button: "Book them", done: "The hours are booked.",
			part: partWorkshop, label: "Book hours", fits: taken,
			words:   "Time stays time: it never becomes money on a paper. Hot work and laminating are booked on those who are signed off for them; what others do beside them is learning.",
			command: func() desk.Commanded { return &message.BookHours{} }, fields: (*visit).hoursFields,
		},
		{
			name: "reverse-hours", path: "/boats/{boat}/hours/{entry}/reverse", may: repairers, title: "Take hours back", button: "Take them back", done: "The hours are taken back.", weighty: true,
			words:   "Nothing is deleted: the opposite entry is written. Book the right hours anew.",
			command: func() desk.Commanded { return &message.ReverseHours{} },
			fields: func(v *visit) ([]Section, error) {
				h, ok := in(v.boat.Hours, func(h *Hours) bool { return h.Entry == v.param("entry") })
				if !ok {
					return nil, fault.New(fault.Unknown, "This boat has no such booking of hours.")
				}
				return []Section{{Words: "Booked: " + hours(h.Minutes) + " on " + h.On.String() + ", " + h.Doing, Fields: []Field{
					area("why", "Why it was wrong").Needed(),
					day("on", "Day").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "record-test", path: "/boats/{boat}/tests", may: repairers, title: "Record a test", button: "Record it", done: "The test is recorded.",
			part: partWorkshop, label: "Record a test", fits: onBench,
			words:    "How each test is made, and what can hurt somebody, stands on the work sheet. No test asks for a person in a mended boat.",
			cautions: func(v *visit) []caution { return append(append(lifting(v.boat), coldWater), trialCautions(v.boat)...) },
			units:    bars,
			command:  func() desk.Commanded { return &message.RecordTest{} }, fields: (*visit).testFields,
		},
		{
			name: "declare-ready", path: "/boats/{boat}/ready", may: repairers, title: "Declare the boat ready", button: "It is ready", done: "The boat is ready.",
			part: partWorkshop, label: "Declare ready", fits: func(b *Boat) bool { return onBench(b) && b.State != Ready && b.State != OnOffer },
			words:   "Every test that this boat needs has to be passed, and no finding may be open that forbids use. The next household gets the list of findings and what was done.",
			command: func() desk.Commanded { return &message.DeclareReady{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{one("grade", "Overall condition now", grades).Needed()}}}, nil
			},
		},
		{
			name: "retire", path: "/boats/{boat}/retire", may: repairers, title: "Retire the boat", button: "Retire it", done: "The boat is retired.", weighty: true,
			part: partWorkshop, label: "Retire", fits: onBench,
			words:   "When mending does not pay or cannot be trusted, the boat ends as parts. What is reserved for it goes back to the bins; sound parts can then be kept in a bin, at a value.",
			command: func() desk.Commanded { return &message.RetireBoat{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					area("reason", "Why").Needed(),
					area("disposal", "What becomes of the hull and its parts").Needed().With(mend.Disposal(v.boat.Facts.Material)),
				}}}, nil
			},
		},
		{
			name: "recover-money", path: "/boats/{boat}/recovered", may: repairers, title: "Book money that came in", button: "Book it", done: "The money is booked.",
			part: partWorkshop, label: "Book money that came in", fits: taken,
			words:   "A supplier's refund, an old part sold on. A sale of the boat itself is the treasurer's.",
			command: func() desk.Commanded { return &message.RecoverMoney{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					fresh("entry"), text("words", "What for").Needed(), text("amount", "How much").Needed(),
					day("on", "Day").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "reverse-recovery", path: "/boats/{boat}/recovered/{entry}/reverse", may: repairers, title: "Take a booking back", button: "Take it back", done: "The booking is taken back.", weighty: true,
			words:   "Nothing is deleted: the opposite entry is written. Book the right one anew.",
			command: func() desk.Commanded { return &message.ReverseRecovery{} },
			fields: func(v *visit) ([]Section, error) {
				c, ok := in(v.boat.Came, func(c *Recovered) bool { return c.Entry == v.param("entry") })
				if !ok {
					return nil, fault.New(fault.Unknown, "This boat has no such booking.")
				}
				return []Section{{Words: "Booked: " + c.Words + ", " + c.Amount.String(), Fields: []Field{
					area("why", "Why it was wrong").Needed(), day("on", "Day").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "waive-test", path: "/boats/{boat}/waive", may: administrators, title: "Waive a test", button: "Waive it", done: "The test is waived.", weighty: true,
			part: partWorkshop, label: "Waive a test", fits: func(b *Boat) bool { return onBench(b) && len(b.waivable()) > 0 },
			words:   "Nobody can do without the tests that say whether the boat floats and carries, nor let a boat out that is not to be used. Your reason stands on every later paper about this boat, until it is worked on again and tested, and on its disclosure for good.",
			command: func() desk.Commanded { return &message.WaiveTest{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{one("what", "Which test", words(v.boat.waivable())).Needed(), area("why", "Why the boat may do without it").Needed()}}}, nil
			},
		},
	}
}

// waivable gives the tests that are missing and that an administrator may waive.
func (b *Boat) waivable() []mend.Test {
	var list []mend.Test
	for _, n := range b.Needs() {
		if mend.Waivable(n.Test) && !b.settled(n.Test) {
			list = append(list, n.Test)
		}
	}
	return list
}

// bars lets pressures be typed in bar and loads in kilograms.
var bars = units{"pressure_mbar": {"bar", 1000}, "rated_mbar": {"bar", 1000}}

// trialCautions warns of what each test that the boat still needs can do.
func trialCautions(b *Boat) []caution {
	var list []caution
	for _, n := range b.Needs() {
		if !b.settled(n.Test) {
			list = append(list, caution{"the " + string(n.Test) + " test", mend.TrialOf(n.Test).Cautions})
		}
	}
	return list
}

// today is the day by the club's clock, in UTC like the book.
func (v *visit) today() clock.Date { return clock.DateOf(v.Clock.Now().UTC()) }

func (v *visit) planFields() ([]Section, error) {
	query := v.r.URL.Query()
	findings := some("findings", "For which findings", v.boat.openFindings())
	findings.Required, findings.Value = true, query.Get("finding")
	return []Section{{Fields: []Field{
		fresh("work"), findings,
		one("method", "What is to be done", words(mend.Methods)).Needed().Starts(query.Get("method")),
		number("minutes", "Expected time in minutes").Needed().Starts(query.Get("minutes")),
		text("cost", "What parts and outside work will cost"),
		area("words", "Why so, and how"),
	}}}, nil
}

func (v *visit) hoursFields() ([]Section, error) {
	members, err := v.choosePeople(message.MemberSort)
	if err != nil {
		return nil, err
	}
	return []Section{{Fields: []Field{
		fresh("entry"),
		Field{Name: "who", Label: "Who worked", Kind: kindPick, Options: members}.Needed().Starts(string(v.Who.Person)),
		number("minutes", "Minutes").Needed(),
		one("what", "Kind of work", words(message.Doings)).Needed().Starts(string(message.OtherDoings)),
		text("doing", "Doing what").Needed(),
		day("on", "Day").Needed().Starts(v.today().String()),
	}}}, nil
}

func (v *visit) testFields() ([]Section, error) {
	return []Section{{Fields: []Field{
		fresh("test"),
		one("what", "Which test", words(mend.Tests)).Needed().Starts(v.r.URL.Query().Get("what")),
		text("how", "How").With("On stands and filled, afloat with bags, with a luggage scale …"),
		number("minutes", "For how many minutes").With("A passed leak test takes at least 20 minutes, a load test 5, pressure an hour."),
		number("load_g", "Load or pull, in kg").With("A load test needs it. Never above the maker's number."),
		number("pressure_mbar", "Pressure, in bar").With("Pressure and valves need it. Never above the maker's number."),
		number("rated_mbar", "The maker's rated pressure, in bar").With("As it stands on the boat."),
		text("reading", "Reading").Needed().With("As read: \"no water after 20 min\"."),
		one("passed", "Passed", []Option{{"yes", "yes"}, {"no", "no"}}).Needed(),
		day("on", "Day").Needed().Starts(v.today().String()),
		some("findings", "If it failed: what turns out not to be mended", v.boat.mendedFindings()),
	}}}, nil
}

// openFindings offers the findings that still stand, for a choice.
func (b *Boat) openFindings() []Option {
	return b.choose(func(f Finding) bool { return f.Open() })
}

func (b *Boat) mendedFindings() []Option {
	return b.choose(func(f Finding) bool { return f.Mended != "" })
}

func (b *Boat) choose(is func(Finding) bool) []Option {
	var options []Option
	for _, f := range b.Findings {
		if is(f) {
			options = append(options, Option{f.Finding, findingWords(f.DefectFound)})
		}
	}
	return options
}

// findingsInWords names findings of the boat in a sentence.
func (b *Boat) findingsInWords(ids []string) string {
	var list []string
	for _, id := range ids {
		if f, ok := b.Finding(id); ok {
			list = append(list, findingWords(f.DefectFound))
		}
	}
	if len(list) == 0 {
		return ""
	}
	return "For: " + strings.Join(list, "; ") + "."
}
