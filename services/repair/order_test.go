package repair_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// order is a good order with what must have been done before it.
type order struct {
	good   desk.Commanded
	before []desk.Commanded
	said   message.Kind
}

func orders(who people.ID) map[string]order {
	plan := message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld", Minutes: 90}
	finish := message.FinishWork{Boat: "b1", Work: "w1", Words: "welded"}
	part := message.BookPart{Boat: "b1", Entry: "e1", Words: "rod", Cost: money.Of(1250, "USD"), PaidBy: message.ClubPays, On: today}
	timer := message.SetTimer{Boat: "b1", Timer: "m1", What: "the resin cures", Minutes: 60, AtCelsius: 25, Celsius: 15, Cures: true}
	came := message.RecoverMoney{Boat: "b1", Entry: "r1", Words: "old seat sold", Amount: money.Of(500, "USD"), On: today}
	failed := test("t1", "leak", false)
	failed.Findings = []string{"f1"}
	hours := message.BookHours{Boat: "b1", Entry: "e1", Who: who, Minutes: 60, Doing: "welding", On: today}
	return map[string]order{
		"plan":      {plan, nil, "repair.work-planned"},
		"part":      {part, nil, "repair.part-booked"},
		"reverse":   {message.ReversePart{Boat: "b1", Entry: "e1", On: today, Why: "twice"}, []desk.Commanded{part}, "repair.part-reversed"},
		"hours":     {hours, nil, "repair.hours-booked"},
		"unbook":    {message.ReverseHours{Boat: "b1", Entry: "e1", On: today, Why: "twice"}, []desk.Commanded{hours}, "repair.hours-reversed"},
		"finish":    {finish, []desk.Commanded{plan}, "repair.work-finished"},
		"test":      {failed, []desk.Commanded{plan, finish}, "repair.test-recorded"},
		"ready":     {message.DeclareReady{Boat: "b1", Grade: 3}, []desk.Commanded{plan, finish, test("t1", "leak", true), test("t2", "load", true)}, "repair.boat-ready"},
		"retire":    {message.RetireBoat{Boat: "b1", Reason: "brittle", Disposal: "fittings kept"}, nil, "repair.boat-retired"},
		"step":      {message.DoStep{Boat: "b1", Step: "drain"}, []desk.Commanded{plan}, "repair.step-done"},
		"timer":     {timer, nil, "repair.timer-set"},
		"look":      {message.EndTimer{Boat: "b1", Timer: "m1"}, []desk.Commanded{timer}, "repair.timer-ended"},
		"recover":   {came, nil, "repair.money-recovered"},
		"unrecover": {message.ReverseRecovery{Boat: "b1", Entry: "r1", On: today, Why: "another boat's"}, []desk.Commanded{came}, "repair.recovery-reversed"},
	}
}

// prepare starts a club in which the order can be given.
func prepare(t *testing.T, name string) (*desktest.Club, people.Actor, order) {
	c := start(t)
	repairer := master(c)
	intake(c, logged, crack, scratch, accepted, received)
	o := orders(repairer.Person)[name]
	for _, before := range o.before {
		c.Do(repairer, before)
	}
	return c, repairer, o
}

func TestWhoMayDoWhat(t *testing.T) {
	for name := range orders("") {
		t.Run(name, func(t *testing.T) {
			c, repairer, o := prepare(t, name)
			c.OnlyFor("donor", o.good, people.Repairer)
			reply := c.Do(repairer, o.good)
			assert.Equal(t, o.said, reply.Events[0].Kind)
		})
	}
}

func TestATestIsAPersonsWord(t *testing.T) {
	c, _, o := prepare(t, "test")
	_, err := c.Try(desktest.Operator, o.good)
	faulttest.Want(t, err, fault.SignIn, "")
}

func TestBadInputIsRefusedByName(t *testing.T) {
	type bad struct {
		key   string
		value any
		field string     // empty: the key itself
		kind  fault.Kind // empty: invalid
	}
	usd := func(minor int64) map[string]any { return map[string]any{"minor": minor, "currency": "USD"} }
	long := strings.Repeat("x", desk.MaxWords+1)
	ofBoat := []bad{{"boat", "", "", ""}, {"boat", "a b", "", ""}, {"boat", "nowhere", "", fault.Unknown}, {"bot", "b1", "", ""}, {"boat", 7, "", ""}}
	ofEntry := []bad{{"entry", "", "", ""}, {"entry", "a/b", "", ""}, {"on", "", "", ""}, {"on", "2026-04-02", "", ""}, {"on", "1926-04-01", "", ""}}
	ofFindings := []bad{
		{"findings", []string{"f9"}, "findings[0]", fault.Unknown}, {"findings", []string{"f1", "f1"}, "findings[1]", ""},
	}
	for name, rows := range map[string][]bad{
		"plan": slices.Concat(ofFindings, []bad{
			{"work", "", "", ""}, {"work", strings.Repeat("x", desk.MaxID+1), "", ""}, {"findings", []string{}, "", ""}, {"method", "pray", "", ""},
			{"method", "laminate", "", ""}, {"minutes", -1, "", ""}, {"minutes", 30_001, "", ""}, {"words", long, "", ""},
			{"cost", usd(-1), "", ""}, {"cost", map[string]any{"minor": 1, "currency": "EUR"}, "", ""},
		}),
		"part": slices.Concat(ofEntry, []bad{
			{"words", " ", "", ""}, {"words", long, "", ""}, {"cost", usd(0), "", ""}, {"cost", usd(-1), "", ""}, {"cost", usd(desk.MaxMinor + 1), "", ""},
			{"cost", map[string]any{"minor": 1, "currency": "EUR"}, "", ""}, {"paid_by", "nobody", "", ""},
			{"what", "bribe", "", ""}, {"pocket", "stranger", "", ""}, {"receipt", "12", "", ""}, {"receipt", strings.Repeat("A", 64), "", ""},
		}),
		"reverse": {
			{"entry", "e9", "", fault.Unknown}, {"on", "", "", ""}, {"on", "2026-04-02", "", ""}, {"on", "2026-03-31", "", ""}, {"why", "", "", ""}, {"why", long, "", ""},
		},
		"unbook": {
			{"entry", "e9", "", fault.Unknown}, {"on", "", "", ""}, {"on", "2026-04-02", "", ""}, {"on", "2026-03-31", "", ""}, {"why", "", "", ""}, {"why", long, "", ""},
		},
		"hours": slices.Concat(ofEntry, []bad{
			{"who", "", "", ""}, {"who", "stranger", "", ""}, {"minutes", 0, "", ""}, {"minutes", 1441, "", ""}, {"doing", "", "", ""}, {"doing", long, "", ""},
			{"what", "prayer", "", ""},
		}),
		"finish": {{"work", "w9", "", fault.Unknown}, {"words", "", "", ""}, {"words", long, "", ""}},
		"test": slices.Concat(ofFindings, []bad{
			{"test", "", "", ""}, {"what", "taste", "", ""}, {"reading", "", "", ""}, {"reading", long, "", ""}, {"passed", true, "findings", ""},
			{"on", "", "", ""}, {"on", "2026-04-02", "", ""}, {"findings", []string{"f2"}, "findings[0]", fault.Conflict},
			{"minutes", -1, "", ""}, {"minutes", 43_201, "", ""}, {"load_g", 2_000_001, "", ""}, {"pressure_mbar", 5_001, "", ""}, {"rated_mbar", -1, "", ""},
			{"load_percent", 50, "", ""}, {"how", "on\nstands", "", ""},
		}),
		"step": {{"step", "", "", ""}, {"step", "dance", "", fault.Unknown}, {"step", "clean", "", fault.Conflict}, {"step", "mend-w1", "", fault.Conflict}, {"step", "test-leak", "", fault.Conflict}},
		"timer": {
			{"timer", "", "", ""}, {"what", "", "", ""}, {"what", "two\nlines", "", ""}, {"minutes", 0, "", ""}, {"minutes", 43_201, "", ""},
			{"celsius", -21, "", ""}, {"at_celsius", 51, "", ""},
		},
		"look":      {{"timer", "m9", "", fault.Unknown}},
		"recover":   {{"entry", "", "", ""}, {"words", "", "", ""}, {"amount", usd(0), "", ""}, {"amount", usd(-5), "", ""}, {"on", "2026-04-02", "", ""}},
		"unrecover": {{"entry", "e9", "", fault.Unknown}, {"on", "2026-03-31", "", ""}, {"why", "", "", ""}},
		"ready":     {{"grade", 0, "", ""}, {"grade", 1, "", ""}, {"grade", 6, "", ""}},
		"retire":    {{"reason", "", "", ""}, {"reason", long, "", ""}, {"disposal", "", "", ""}, {"disposal", long, "", ""}},
	} {
		t.Run(name, func(t *testing.T) {
			c, repairer, o := prepare(t, name)
			c.WritesNothing(func() {
				for _, row := range append(rows, ofBoat...) {
					if row.kind == "" {
						row.kind = fault.Invalid
					}
					if row.field == "" {
						row.field = row.key
					}
					err := c.TryChanged(repairer, o.good, map[string]any{row.key: row.value})
					faulttest.Want(t, err, row.kind, row.field, row.key, row.value)
				}
			})
			c.Do(repairer, o.good) // the order is good when nothing is wrong with it
		})
	}
}
