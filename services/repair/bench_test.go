package repair

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func sorted(list []string) []string { slices.Sort(list); return list }

func TestAJobThatNeedsASkillIsSignedByOneWhoHasIt(t *testing.T) {
	b := benchAfter(planned("w1", "weld", "f1"), planned("w2", "patch", "f2"))
	_, err := b.finish(kayak(), message.FinishWork{Work: "w1", Words: "welded"}, craft{})
	faulttest.Want(t, err, fault.Forbidden, "")
	assert.Contains(t, err.Error(), "this is hot work, and you are not signed off for it")
	_, err = b.finish(kayak(), message.FinishWork{Work: "w1", Words: "welded"}, craft{map[mend.Skill]bool{mend.Laminating: true}})
	faulttest.Want(t, err, fault.Forbidden, "")
	_, err = b.finish(kayak(), message.FinishWork{Work: "w1", Words: "welded"}, master)
	require.NoError(t, err)
	_, err = b.finish(kayak(), message.FinishWork{Work: "w2", Words: "patched"}, craft{})
	require.NoError(t, err, "bolting a patch on is everybody's")

	hours := message.BookHours{Boat: "b1", Entry: "e1", Who: "p1", Minutes: 60, What: message.Welding, Doing: "welded", On: day}
	_, err = b.bookHours(kayak(), hours, craft{}, day)
	faulttest.Want(t, err, fault.Invalid, "what")
	hours.What = message.Learning
	_, err = b.bookHours(kayak(), hours, craft{}, day)
	require.NoError(t, err)
}

func TestWhoSignsWhomOff(t *testing.T) {
	c := message.SignSkill{Person: "p1", Skill: mend.HotWork, OfAge: true, Words: "three welds, cut open"}
	by := func(id people.ID, has craft, roles ...people.Role) signer {
		return signer{desk.Caller{Actor: people.Member(id), Roles: roles}, has}
	}
	for name, row := range map[string]struct {
		by    signer
		c     message.SignSkill
		minor bool
		kind  fault.Kind
		field string
	}{
		"an administrator":            {by("a", craft{}, people.Administrator), c, false, "", ""},
		"a welder":                    {by("r", master, people.Repairer), c, false, "", ""},
		"a repairer who cannot":       {by("r", craft{}, people.Repairer), c, false, fault.Forbidden, ""},
		"themselves":                  {by("p1", master, people.Administrator), c, false, fault.Invalid, "person"},
		"somebody known to be young":  {by("a", craft{}, people.Administrator), c, true, fault.Invalid, "person"},
		"nobody's word on the age":    {by("a", craft{}, people.Administrator), message.SignSkill{Person: "p1", Skill: mend.HotWork, Words: "x"}, false, fault.Invalid, "of_age"},
		"no skill":                    {by("a", craft{}, people.Administrator), message.SignSkill{Person: "p1", Skill: "magic", OfAge: true, Words: "x"}, false, fault.Invalid, "skill"},
		"without what was seen":       {by("a", craft{}, people.Administrator), message.SignSkill{Person: "p1", Skill: mend.HotWork, OfAge: true}, false, fault.Invalid, "words"},
		"the operator at the machine": {signer{desk.Caller{Actor: people.Service(desk.AtMachine)}, craft{}}, c, false, fault.SignIn, ""},
	} {
		body, err := sign(row.c, row.by, craft{}, row.minor)
		if row.kind != "" {
			faulttest.Want(t, err, row.kind, row.field, name)
			continue
		}
		require.NoError(t, err, name)
		assert.Equal(t, message.SkillSigned{Person: "p1", Skill: mend.HotWork, By: row.by.Actor.Person, Words: c.Words}, body)
	}
	body, err := sign(c, by("a", craft{}, people.Administrator), master, false)
	assert.NoError(t, err)
	assert.Nil(t, body, "it is so already")
}

func TestWhatAPassedTestStates(t *testing.T) {
	h := kayak()
	h.facts.RatedLoadG = 150_000
	for name, row := range map[string]struct {
		what    message.TestKind
		numbers message.TestNumbers
		field   string // empty: it passes
	}{
		"a leak test of 20 minutes":           {mend.Leak, message.TestNumbers{Minutes: 20, How: "on stands"}, ""},
		"a leak test of a moment":             {mend.Leak, message.TestNumbers{Minutes: 19}, "minutes"},
		"a load below the rated":              {mend.Load, message.TestNumbers{Minutes: 10, LoadG: 90_000}, ""},
		"a load above the maker's number":     {mend.Load, message.TestNumbers{Minutes: 10, LoadG: 151_500}, "load_g"},
		"no load":                             {mend.Load, message.TestNumbers{Minutes: 10}, "load_g"},
		"the rated pressure":                  {mend.Pressure, message.TestNumbers{Minutes: 60, PressureMbar: 1000, RatedMbar: 1000}, ""},
		"a little less, as a gauge reads":     {mend.Pressure, message.TestNumbers{Minutes: 60, PressureMbar: 900, RatedMbar: 1000}, ""},
		"much less than the rated pressure":   {mend.Pressure, message.TestNumbers{Minutes: 60, PressureMbar: 700, RatedMbar: 1000}, "pressure_mbar"},
		"above the maker's pressure":          {mend.Pressure, message.TestNumbers{Minutes: 60, PressureMbar: 1001, RatedMbar: 1000}, "pressure_mbar"},
		"without the maker's number":          {mend.Pressure, message.TestNumbers{Minutes: 60, PressureMbar: 1000}, "rated_mbar"},
		"valves above the maker's pressure":   {mend.Valves, message.TestNumbers{Minutes: 10, PressureMbar: 1100, RatedMbar: 1000}, "pressure_mbar"},
		"valves at some pressure":             {mend.Valves, message.TestNumbers{Minutes: 10, PressureMbar: 300, RatedMbar: 1000}, ""},
		"valves at no pressure":               {mend.Valves, message.TestNumbers{Minutes: 10, RatedMbar: 1000}, "pressure_mbar"},
		"flotation states nothing but itself": {mend.Flotation, message.TestNumbers{}, ""},
	} {
		c := message.RecordTest{Boat: "b1", Test: "t", What: row.what, Reading: "as read", TestNumbers: row.numbers, Passed: true, On: day}
		said, err := benchAfter().record(h, c, "p1", day)
		if row.field != "" {
			faulttest.Want(t, err, fault.Invalid, row.field, name)
			c.Passed = false
			_, err = benchAfter().record(h, c, "p1", day)
			assert.NoError(t, err, "what failed is written down as it was: %s", name)
			continue
		}
		require.NoError(t, err, name)
		if row.what == mend.Load {
			assert.Equal(t, 60, said[0].(message.TestRecorded).LoadPercent, "the share of the rated load")
		}
	}
}

func TestWhatCanBeWaived(t *testing.T) {
	h := kayak()
	h.findings = append(h.findings, finding{id: "s1", place: message.Place{Part: "seat"}, defect: "worn", severity: boat.Watch})
	said := append(mendedKayak(), planned("w3", "replace part", "s1"), done("w3", "s1"), tested("leak", true), tested("load", true), tested("flotation", true))
	waive := func(what message.TestKind) (message.Body, error) {
		return benchAfter(said...).waive(h, message.WaiveTest{Boat: "b1", What: what, Why: "the seat is for show"}, "admin")
	}
	for _, what := range []message.TestKind{mend.Leak, mend.Load, mend.Flotation, mend.Pressure, "luck"} {
		_, err := waive(what)
		faulttest.Want(t, err, fault.Invalid, "what", what)
	}
	_, err := waive(mend.Valves)
	faulttest.Want(t, err, fault.Conflict, "what")
	assert.Equal(t, []string{"a fittings test, because a fitting was worked on"}, benchAfter(said...).missing(h))
	body, err := waive(mend.Fittings)
	require.NoError(t, err)
	assert.Equal(t, message.TestWaived{Boat: "b1", What: mend.Fittings, Why: "the seat is for show", By: "admin"}, body)
	said = append(said, body)
	assert.Empty(t, benchAfter(said...).missing(h))
	_, err = waive(mend.Fittings)
	faulttest.Want(t, err, fault.Conflict, "what")
	assert.Contains(t, pageText(benchAfter(said...), h), "fittings: the seat is for show")

	failed := append(slices.Clone(said), tested("fittings", false))
	assert.NotEmpty(t, benchAfter(failed...).missing(h), "a test that was made counts more than a waiver")
	again := append(slices.Clone(said), planned("w4", "replace part", "f2"), done("w4", "f2"))
	assert.Contains(t, strings.Join(benchAfter(again...).missing(h), "; "), "fittings", "a waiver ends with the next work")
	assert.Contains(t, pageText(benchAfter(again...), h), "the seat is for show", "but its reason stays on the page")

	// Not even a waiver that stands in the book lets a boat out without a leak test.
	forged := append(slices.Clone(said), message.FindingReopened{Finding: "f1"}, planned("w5", "weld", "f1"), done("w5", "f1"), message.TestWaived{What: mend.Leak, Why: "x"})
	assert.Contains(t, strings.Join(benchAfter(forged...).missing(h), "; "), "a leak test after the last work")
	_, err = benchAfter().waive(h, message.WaiveTest{Boat: "b1", What: mend.Fittings}, "admin")
	faulttest.Want(t, err, fault.Invalid, "why")
}

func pageText(b *bench, h *hull) string {
	var lines []string
	for _, s := range b.page(h).Sections {
		lines = append(lines, s.Heading)
		for _, l := range s.Lines {
			lines = append(lines, l.Label+": "+l.Value)
		}
	}
	return strings.Join(lines, "\n")
}

func TestTheDisclosureSheetTellsEverything(t *testing.T) {
	h := kayak()
	h.facts = message.BoatFacts{Maker: "Oxlip", Model: "Reedling", NoHullNumber: "home-built"}
	h.findings = append(h.findings, finding{id: "f4", severity: boat.DoNotUse, defect: "dent", withdrawn: "it was mud"})
	said := []message.Body{
		planned("w1", "weld", "f1", "g1"), message.WorkFinished{Work: "w1", Findings: []string{"f1", "g1"}, Words: "welded from outside"},
		message.TestRecorded{Test: "t1", What: "leak", Reading: "a cup of water", On: day}, message.FindingReopened{Finding: "f1"}, message.FindingReopened{Finding: "g1"},
	}
	early := pageText(benchAfter(said...), h)
	assert.Contains(t, early, "welded from outside (a test showed that this did not hold). Open: the boat must not be used like this.")
	assert.Contains(t, early, "leak: missing: needed because its shell keeps the water out")
	said = append(said, planned("w2", "weld", "f1", "g1"), message.WorkFinished{Work: "w2", Findings: []string{"f1", "g1"}, Words: "welded from both sides"},
		message.TestRecorded{Test: "t2", What: "leak", Reading: "dry", Passed: true, On: day, TestNumbers: message.TestNumbers{How: "on stands, filled", Minutes: 30}},
		message.TestRecorded{Test: "t3", What: "load", Reading: "nothing moved", Passed: true, On: day, TestNumbers: message.TestNumbers{Minutes: 10, LoadG: 90_000, LoadPercent: 60}},
		tested("flotation", true))
	b := benchAfter(said...)
	body, err := b.declare(h, message.DeclareReady{Boat: "b1", Grade: 3})
	require.NoError(t, err)
	b.Fold(message.Event{Version: 99}, body)
	text := pageText(b, h)
	for _, want := range []string{
		"Maker and model: Oxlip Reedling", "Hull number: No hull number: home-built", "Condition: 3 of 5",
		"crack on the keel line (stern, centreline, outside): Found: mend before use. welded from outside (a test showed that this did not hold). welded from both sides The place carries load.",
		"abrasion on the deck (bow, port, outside): Found: watch. Left as it was found: keep an eye on it.",
		"Withdrawn as a mistake: it was mud", "(Two people saw it.)",
		"leak, 2026-04-01: failed: a cup of water", "leak, 2026-04-01: passed: dry; on stands, filled; for 30 minutes",
		"passed: nothing moved; for 10 minutes; with 90 kg; 60 % of the rated load",
		"mended: look for a new crack at its edges", "left: look whether it grows", "No number is given",
	} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, text, "missing")
	assert.Len(t, b.page(h).Signatures, 2)
}

func TestTheWorkSheetBeginsAnewAfterAFailedTest(t *testing.T) {
	plan, step := planned("w1", "weld", "f1", "g1"), func(id string) message.Body { return message.StepDone{Step: id} }
	b := benchAfter(plan, step(mend.Drain))
	_, err := b.doStep(kayak(), message.DoStep{Boat: "b1", Step: mend.LookAgain})
	faulttest.Want(t, err, fault.Conflict, "step") // nobody looks before it is clean
	body, err := b.doStep(kayak(), message.DoStep{Boat: "b1", Step: mend.Clean})
	require.NoError(t, err)
	assert.Equal(t, message.StepDone{Boat: "b1", Step: mend.Clean}, body)
	body, err = b.doStep(kayak(), message.DoStep{Boat: "b1", Step: mend.Drain})
	assert.NoError(t, err)
	assert.Nil(t, body, "it is ticked already")

	b = benchAfter(plan, step(mend.Drain), step(mend.Clean), step(mend.LookAgain), done("w1", "f1", "g1"))
	steps := mend.Sheet(b.job(kayak()))
	assert.True(t, steps[3].Done && steps[3].Work == "w1")
	failed := benchAfter(plan, step(mend.Drain), step(mend.Clean), step(mend.LookAgain), done("w1", "f1", "g1"), tested("leak", false),
		message.FindingReopened{Finding: "f1"}, message.FindingReopened{Finding: "g1"}, planned("w2", "weld", "f1", "g1"))
	steps = mend.Sheet(failed.job(kayak()))
	assert.Equal(t, "mend-w2", steps[3].ID, "the work that did not hold is on the disclosure, not on the sheet")
	assert.False(t, steps[0].Done, "the test has put water into it")
}

// The published rule: 24 hours at 25 °C are 48 at 15.
func TestATimerWaitsLongerInTheCold(t *testing.T) {
	now := time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
	c := message.SetTimer{Boat: "b1", Timer: "m1", What: "the resin cures", Minutes: 24 * 60, AtCelsius: 25, Celsius: 15, Cures: true}
	body, err := benchAfter().setTimer(kayak(), c, "p1", now)
	require.NoError(t, err)
	set := body.(message.TimerSet)
	assert.Equal(t, now.Add(48*time.Hour), set.Until)
	assert.Contains(t, set.Rule, "24 h at 25 °C by the label, 48 h at 15 °C")
	c.Celsius = 35
	body, err = benchAfter().setTimer(kayak(), c, "p1", now)
	require.NoError(t, err)
	assert.Equal(t, now.Add(24*time.Hour), body.(message.TimerSet).Until, "heat hurries nobody")
	c.Celsius = 5
	body, err = benchAfter().setTimer(kayak(), c, "p1", now)
	require.NoError(t, err)
	assert.Contains(t, body.(message.TimerSet).Rule, "may never cure")
	c.Cures = false
	body, err = benchAfter().setTimer(kayak(), c, "p1", now)
	require.NoError(t, err)
	assert.Equal(t, now.Add(24*time.Hour), body.(message.TimerSet).Until)
	_, err = benchAfter(set).setTimer(kayak(), c, "p1", now)
	faulttest.Want(t, err, fault.Conflict, "timer")
	_, err = benchAfter().setTimer(kayak(), c, "", now)
	faulttest.Want(t, err, fault.SignIn, "")
}

func TestStoppingIsAdvisedOnceAValue(t *testing.T) {
	h := kayak()
	h.worth = worth{"v1", "USD", 10_000, 25_000}
	plan := message.WorkPlanned{Work: "w1", Method: "weld", Findings: []string{"f1", "g1"}, Minutes: 120, Cost: usd(4_000)}
	book := func(minor int64) message.Body { return message.PartBooked{Entry: "e", Cost: usd(minor)} }
	hours := message.HoursBooked{Entry: "h", Minutes: 90}
	const rate = 1_000
	at := func(spent, toFinish int64, v message.StopVerdict) message.Body {
		return message.StopAdvised{Boat: "b1", Verdict: v, Spent: usd(spent), ToFinish: usd(toFinish), Gain: usd(15_000), Value: "v1"}
	}
	over := at(9_500, 6_000, message.MendingOver)
	for name, row := range map[string]struct {
		said     []message.Body
		material int64
		want     message.Body
	}{
		"it pays":                          {[]message.Body{plan, book(8_000)}, 0, nil},
		"to the cent it still pays":        {[]message.Body{plan, book(7_500), hours}, 0, nil},
		"over, and finishing still pays":   {[]message.Body{plan, book(8_000), hours}, 0, over},
		"what bins gave counts":            {[]message.Body{plan, book(3_000), hours}, 5_000, over},
		"what came in counts":              {[]message.Body{plan, book(8_000), hours, message.MoneyRecovered{Entry: "r", Amount: usd(900)}}, 0, nil},
		"what was taken back does not":     {[]message.Body{plan, book(8_000), hours, message.PartReversed{Entry: "e"}}, 0, nil},
		"hours taken back do not":          {[]message.Body{plan, book(8_000), hours, message.HoursReversed{Entry: "h"}}, 0, nil},
		"said already":                     {[]message.Body{plan, book(8_000), hours, over}, 0, nil},
		"said about another value":         {[]message.Body{plan, book(8_000), hours, message.StopAdvised{Verdict: message.MendingOver, Value: "v0"}}, 0, over},
		"from over to stop":                {[]message.Body{message.WorkPlanned{Work: "w1", Findings: []string{"f1"}, Cost: usd(15_001)}, over}, 0, at(0, 15_001, message.MendingStop)},
		"not from stop to over":            {[]message.Body{plan, book(8_000), hours, at(1, 1, message.MendingStop)}, 0, nil},
		"nobody is nagged about the ready": {append(mendedKayak(), book(99_999), message.BoatReady{}), 0, nil},
		"nor about the retired":            {[]message.Body{book(99_999), message.BoatRetired{}}, 0, nil},
	} {
		got := benchAfter(row.said...).weighed(h, "b1", row.material, rate)
		if row.want == nil {
			assert.Nil(t, got, name)
		} else {
			assert.Equal(t, row.want, got, name)
		}
	}
	h.worth = worth{}
	assert.Nil(t, benchAfter(book(99_999)).weighed(h, "b1", 0, rate), "without a value nothing is said")
}

// The value of an hour is for decisions; only this room reads it, and what it says
// to others holds no rate.
func TestTheValueOfAnHourReachesNoPaper(t *testing.T) {
	for _, room := range []string{"treasury", "matching", "intake", "people", "web"} {
		files, err := os.ReadDir("../" + room)
		require.NoError(t, err)
		for _, f := range files {
			if strings.HasSuffix(f.Name(), ".go") && !strings.HasSuffix(f.Name(), "_test.go") {
				text, err := os.ReadFile("../" + room + "/" + f.Name())
				require.NoError(t, err)
				assert.NotContains(t, string(text), "hour-value", "%s/%s", room, f.Name())
			}
		}
	}
}
