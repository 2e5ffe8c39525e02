package repair

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

var day = clock.MustDate("2026-04-01")

// kayak is a polyethylene kayak of the club with a crack that forbids use (f1),
// the same seen by another person (g1), and a scratch that does not (f2).
func kayak() *hull {
	keel := message.Place{Zone: "stern", Side: "centreline", Face: "outside", Part: "keel line"}
	deck := message.Place{Zone: "bow", Side: "port", Face: "outside", Part: "deck"}
	return &hull{name: "Heron", kind: boat.SitInside, material: boat.Rotomoulded, accepted: true, received: true, findings: []finding{
		{id: "f1", place: keel, defect: "crack", severity: boat.MendBefore, loadBearing: true},
		{id: "f2", place: deck, defect: "abrasion", severity: boat.Watch},
		{id: "g1", place: keel, defect: "crack", severity: boat.DoNotUse, sameAs: "f1"},
	}}
}

// benchAfter folds events, numbered as the book would.
func benchAfter(bodies ...message.Body) *bench {
	b := &bench{}
	for i, body := range bodies {
		b.Fold(message.Event{Version: int64(i + 1)}, body)
	}
	return b
}

func planned(work, method string, findings ...string) message.Body {
	return message.WorkPlanned{Work: work, Method: method, Findings: findings}
}

func done(work string, findings ...string) message.Body {
	return message.WorkFinished{Work: work, Findings: findings, Words: "done as " + work}
}

// master is signed off for everything.
var master = craft{map[mend.Skill]bool{mend.HotWork: true, mend.Laminating: true}}

func minutes(n int) message.TestNumbers { return message.TestNumbers{Minutes: n} }

func tested(what message.TestKind, passed bool) message.Body {
	return message.TestRecorded{Test: "t", What: what, Passed: passed}
}

func TestWhichMethodSuitsWhichMaterial(t *testing.T) {
	crack := kayak().findings[0]
	crack.severity = boat.Watch
	on := func(p boat.Part) finding { f := crack; f.place.Part = p; return f }
	brittle := crack
	brittle.defect = "brittleness"
	grave := crack
	grave.severity = boat.MendBefore
	// Published repair guides, drawn together: polyethylene is welded with the same
	// polymer, epoxy alone does not hold on it; cross-linked polyethylene cannot be
	// welded; ABS and composites are laminated; inflatables get glued patches and
	// no flame; wood is scarfed; rivets are set anew in aluminium.
	for name, row := range map[string]struct {
		method   string
		finding  finding
		material boat.Material
		suits    bool
	}{
		"weld polyethylene":                   {"weld", crack, boat.Rotomoulded, true},
		"weld cross-linked polyethylene":      {"weld", crack, boat.CrossLinked, false},
		"patch cross-linked polyethylene":     {"patch", crack, boat.CrossLinked, true},
		"epoxy alone on polyethylene":         {"laminate", crack, boat.Rotomoulded, false},
		"glue alone on polyethylene":          {"adhesive patch", crack, boat.Rotomoulded, false},
		"laminate ABS":                        {"laminate", crack, boat.ABSSandwich, true},
		"weld ABS over its foam":              {"weld", crack, boat.ABSSandwich, false},
		"laminate a composite":                {"laminate", crack, boat.Composite, true},
		"weld a composite":                    {"weld", crack, boat.Composite, false},
		"glue a patch on an inflatable":       {"adhesive patch", crack, boat.PVC, true},
		"hot air on an inflatable":            {"weld", crack, boat.PVC, false},
		"scarf wood":                          {"scarf", crack, boat.Wood, true},
		"weld wood":                           {"weld", crack, boat.Wood, false},
		"rivet aluminium":                     {"re-rivet", crack, boat.Aluminium, true},
		"weld aluminium":                      {"weld", crack, boat.Aluminium, true},
		"rivet polyethylene":                  {"re-rivet", crack, boat.Rotomoulded, false},
		"laminate aluminium":                  {"laminate", crack, boat.Aluminium, false},
		"weld brittle polyethylene":           {"weld", brittle, boat.Rotomoulded, false},
		"scrap brittle polyethylene":          {"scrap", brittle, boat.Rotomoulded, true},
		"laminate a wooden yoke in plastic":   {"laminate", on("yoke"), boat.Rotomoulded, true},
		"replace a seat":                      {"replace part", on("seat"), boat.CrossLinked, true},
		"leave what may be left":              {"leave and watch", crack, boat.CrossLinked, true},
		"leave what must be mended":           {"leave and watch", grave, boat.CrossLinked, false},
		"fill an altered hull number":         {"fill", on("hull number"), boat.Rotomoulded, false},
		"leave an altered hull number":        {"leave and watch", on("hull number"), boat.Rotomoulded, true},
		"brittle wood is not brittle plastic": {"scarf", brittle, boat.Wood, true},
	} {
		err := suits(row.method, row.finding, row.material)
		if row.suits {
			assert.NoError(t, err, name)
		} else {
			faulttest.Want(t, err, fault.Invalid, "method")
		}
	}
}

func TestPlanning(t *testing.T) {
	weld := message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld", Minutes: 90}
	body, err := benchAfter().plan(kayak(), weld, "USD")
	require.NoError(t, err)
	assert.Equal(t, []string{"f1", "g1"}, body.(message.WorkPlanned).Findings, "what two people saw is planned together")

	weld.Findings = []string{"g1", "f2", "f1"}
	body, err = benchAfter().plan(kayak(), weld, "USD")
	require.NoError(t, err)
	assert.Equal(t, []string{"f1", "g1", "f2"}, body.(message.WorkPlanned).Findings)

	withdrawn := kayak()
	withdrawn.findings[0].withdrawn = "mud"
	weld.Findings = []string{"g1"}
	body, err = benchAfter().plan(withdrawn, weld, "USD")
	require.NoError(t, err)
	assert.Equal(t, []string{"g1"}, body.(message.WorkPlanned).Findings, "it stands by itself when the first is withdrawn")

	body, err = benchAfter(planned("w0", "weld", "f1"), done("w0", "f1")).plan(kayak(), weld, "USD")
	require.NoError(t, err)
	assert.Equal(t, []string{"g1"}, body.(message.WorkPlanned).Findings, "what is ended is not planned again")

	three := withdrawn
	three.findings = append(three.findings, finding{id: "h1", place: three.findings[2].place, sameAs: "f1"})
	body, err = benchAfter().plan(three, weld, "USD")
	require.NoError(t, err)
	assert.Equal(t, []string{"g1", "h1"}, body.(message.WorkPlanned).Findings, "two who saw what the first withdrew saw the same")
	lines := benchAfter().disclosure(three)
	assert.NotContains(t, lines[2].End, "Two people saw it")
	assert.Contains(t, lines[3].End, "Two people saw it")

	weld.Findings = []string{"f1"}
	for name, row := range map[string]struct {
		bench *bench
		hull  *hull
		kind  fault.Kind
		field string
	}{
		"an id that is taken":  {benchAfter(planned("w1", "weld", "f2")), kayak(), fault.Conflict, "work"},
		"a withdrawn finding":  {benchAfter(), withdrawn, fault.Conflict, "findings[0]"},
		"an ended finding":     {benchAfter(planned("w0", "weld", "f1"), done("w0", "f1")), kayak(), fault.Conflict, "findings[0]"},
		"a boat without it":    {benchAfter(), &hull{accepted: true}, fault.Unknown, "findings[0]"},
		"a boat not accepted":  {benchAfter(), &hull{}, fault.Conflict, "boat"},
		"a boat declined":      {benchAfter(), &hull{accepted: true, declined: true}, fault.Conflict, "boat"},
		"a boat that has left": {benchAfter(), &hull{accepted: true, departed: true}, fault.Conflict, "boat"},
		"a boat retired":       {benchAfter(message.BoatRetired{}), kayak(), fault.Conflict, "boat"},
	} {
		_, err := row.bench.plan(row.hull, weld, "USD")
		t.Log(name)
		faulttest.Want(t, err, row.kind, row.field)
	}

	mild := kayak()
	mild.findings[0].severity = boat.Watch
	_, err = benchAfter().plan(mild, message.PlanWork{Work: "w1", Findings: []string{"f1"}, Method: "leave and watch"}, "USD")
	faulttest.Want(t, err, fault.Invalid, "method") // the other inspector thinks worse of it
}

func TestAPlanGivesWayToANewerOne(t *testing.T) {
	b := benchAfter(planned("w1", "weld", "f1", "f2"), planned("w2", "patch", "f1"))
	body, err := b.finish(kayak(), message.FinishWork{Work: "w1", Words: "welded"}, master)
	require.NoError(t, err)
	assert.Equal(t, []string{"f2"}, body.(message.WorkFinished).Findings)

	b = benchAfter(planned("w1", "weld", "f1"), planned("w2", "patch", "f1"))
	_, err = b.finish(kayak(), message.FinishWork{Work: "w1", Words: "welded"}, master)
	faulttest.Want(t, err, fault.Conflict, "work")
}

func TestFinishing(t *testing.T) {
	end := message.FinishWork{Work: "w1", Words: "welded from both sides"}
	for name, row := range map[string]struct {
		bench *bench
		end   message.FinishWork
		kind  fault.Kind
		field string
	}{
		"nothing planned": {benchAfter(), end, fault.Unknown, "work"},
		"done before":     {benchAfter(planned("w1", "weld", "f1"), done("w1", "f1")), end, fault.Conflict, "work"},
		"scrap":           {benchAfter(planned("w1", "scrap", "f1")), end, fault.Conflict, "work"},
		"without words":   {benchAfter(planned("w1", "weld", "f1")), message.FinishWork{Work: "w1"}, fault.Invalid, "words"},
		"retired":         {benchAfter(planned("w1", "weld", "f1"), message.BoatRetired{}), end, fault.Conflict, "boat"},
	} {
		_, err := row.bench.finish(kayak(), row.end, master)
		t.Log(name)
		faulttest.Want(t, err, row.kind, row.field)
	}
	withdrawn := kayak()
	withdrawn.findings[0].withdrawn = "mud"
	_, err := benchAfter(planned("w1", "weld", "f1")).finish(withdrawn, end, master)
	faulttest.Want(t, err, fault.Conflict, "work")
}

func TestWhatAFailedTestReopens(t *testing.T) {
	mended := []message.Body{planned("w1", "weld", "f1", "g1"), done("w1", "f1", "g1"), planned("w2", "leave and watch", "f2"), done("w2", "f2")}
	for name, row := range map[string]struct {
		before []message.Body
		passed bool
		named  []string
		want   []string
	}{
		"nothing when it is passed":                {mended, true, nil, nil},
		"what is named, with what others saw":      {mended, false, []string{"f1"}, []string{"f1", "g1"}},
		"what was left, when it is named":          {mended, false, []string{"f2"}, []string{"f2"}},
		"all that was mended":                      {mended, false, nil, []string{"f1", "g1"}},
		"nothing mended before the last pass":      {append(mended, tested("leak", true)), false, nil, nil},
		"a pass of another kind does not matter":   {append(mended, tested("load", true)), false, nil, []string{"f1", "g1"}},
		"a failure of the same kind is not a pass": {append(mended, tested("leak", false)), false, nil, []string{"f1", "g1"}},
		"nothing on a boat without work":           {nil, false, nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			c := message.RecordTest{Boat: "b1", Test: "t9", What: "leak", Reading: "a cup after 20 min", TestNumbers: minutes(20), Passed: row.passed, On: day, Findings: row.named}
			said, err := benchAfter(row.before...).record(kayak(), c, "tester", day)
			require.NoError(t, err)
			assert.Equal(t, row.want, said[0].(message.TestRecorded).Findings)
			var reopened []string
			for _, body := range said[1:] {
				reopened = append(reopened, body.(message.FindingReopened).Finding)
			}
			assert.Equal(t, row.want, reopened)
		})
	}
	_, err := benchAfter(tested("leak", true)).record(kayak(), message.RecordTest{Test: "t", What: "leak", Reading: "dry", TestNumbers: minutes(20), Passed: true, On: day}, "tester", day)
	faulttest.Want(t, err, fault.Conflict, "test") // recorded under this id before

	withdrawn := kayak()
	withdrawn.findings[2].withdrawn = "the same crack, noted twice"
	b := benchAfter(mended...)
	said, err := b.record(withdrawn, message.RecordTest{Test: "t9", What: "leak", Reading: "a cup", On: day}, "tester", day)
	require.NoError(t, err)
	assert.Equal(t, []string{"f1"}, said[0].(message.TestRecorded).Findings, "what was withdrawn since is not reopened")
}

func TestHoursAreTakenBackOnce(t *testing.T) {
	booked := message.HoursBooked{Boat: "b1", Entry: "e1", Who: "w", Minutes: 600, On: day.AddDays(-3)}
	back := message.ReverseHours{Boat: "b1", Entry: "e1", On: day, Why: "an hour, not ten"}
	body, err := benchAfter(booked).reverseHours(back, day)
	require.NoError(t, err)
	assert.Equal(t, message.HoursReversed{Boat: "b1", Entry: "e1", Who: "w", Minutes: 600, On: day, Why: back.Why}, body)
	assert.Zero(t, benchAfter(booked, body).minutes())
	_, err = benchAfter(booked, body).reverseHours(back, day)
	faulttest.Want(t, err, fault.Conflict, "entry")
	_, err = benchAfter(booked, body).bookHours(kayak(), message.BookHours{Entry: "e1", Who: "w", Minutes: 60, Doing: "welding", On: day}, master, day)
	faulttest.Want(t, err, fault.Conflict, "entry")
}

func TestBookings(t *testing.T) {
	cost := money.Of(1250, "USD")
	booked := message.PartBooked{Entry: "e1", Cost: cost, PaidBy: message.DonorPays, On: day.AddDays(-3)}
	back := message.ReversePart{Boat: "b1", Entry: "e1", On: day.AddDays(-3), Why: "wrong boat"}

	body, err := benchAfter(booked).reversePart(back, day)
	require.NoError(t, err)
	assert.Equal(t, message.PartReversed{Boat: "b1", Entry: "e1", Cost: cost, PaidBy: message.DonorPays, On: back.On, Why: back.Why}, body)
	_, err = benchAfter(booked, body).reversePart(back, day)
	faulttest.Want(t, err, fault.Conflict, "entry")
	back.On = day.AddDays(-4)
	_, err = benchAfter(booked).reversePart(back, day)
	faulttest.Want(t, err, fault.Invalid, "on")

	part := message.BookPart{Entry: "e1", Words: "rod", Cost: cost, PaidBy: message.ClubPays, On: day}
	hours := message.BookHours{Entry: "e1", Who: "w", Minutes: 1440, Doing: "welding", On: day}
	for name, row := range map[string]struct {
		bench *bench
		hull  *hull
		field string // empty: taken
	}{
		"on the bench":         {benchAfter(), kayak(), ""},
		"an id used for money": {benchAfter(booked), kayak(), "entry"},
		"an id used for hours": {benchAfter(message.HoursBooked{Entry: "e1"}), kayak(), "entry"},
		"a boat that has left": {benchAfter(), &hull{accepted: true, departed: true}, ""},
		"a boat retired":       {benchAfter(message.BoatRetired{}), kayak(), ""},
		"declined after a yes": {benchAfter(), &hull{accepted: true, declined: true}, ""},
		"a boat only offered":  {benchAfter(), &hull{}, "boat"},
	} {
		_, partErr := row.bench.bookPart(row.hull, part, "USD", "p1", day)
		_, hoursErr := row.bench.bookHours(row.hull, hours, master, day)
		for _, err := range []error{partErr, hoursErr} {
			if row.field == "" {
				assert.NoError(t, err, name)
			} else {
				faulttest.Want(t, err, fault.Conflict, row.field)
			}
		}
	}
}
