package valuation_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/valuation"
)

func usd(minor int64) money.Amount { return money.Of(minor, "USD") }

func proposed(id string, change ...func(*message.ProposeRepair)) message.ProposeRepair {
	p := message.ProposeRepair{Boat: "b1", Repair: id, What: "weld the keel", Minutes: 60, Cash: usd(1000), Steps: 1}
	for _, f := range change {
		f(&p)
	}
	return p
}

// inShop brings a valued boat into the shop.
func inShop(c *desktest.Club) people.Actor {
	ready(c)
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatAccepted{Boat: "b1"})
	return c.Member(people.Repairer)
}

func TestAPlanOverTheShop(t *testing.T) {
	c := start(t)
	repairer := inShop(c)
	c.Do(repairer, proposed("r1"))
	c.Do(repairer, proposed("r2", func(p *message.ProposeRepair) { p.Requires, p.Minutes = []string{"r1"}, 120 }))
	c.Do(repairer, proposed("r3", func(p *message.ProposeRepair) { p.Must, p.Steps, p.Excludes = true, 0, []string{"r2"} }))

	tried := desktest.Ask[message.ShopPlan](c, repairer, message.TryPlan{Minutes: 120, Cash: usd(5000)})
	assert.Equal(t, "optimal", tried.Status)
	var chosen []string
	for _, l := range tried.Repairs {
		assert.Equal(t, "Heron", l.BoatName)
		if l.Chosen {
			chosen = append(chosen, l.Repair)
		}
	}
	assert.Equal(t, []string{"r1", "r3"}, chosen, "the must, and of the others what it does not rule out")
	// 600.00 · 1.15 · 0.95 − 600.00.
	assert.Equal(t, usd(5550), tried.Gain)

	c.Do(repairer, message.MakePlan{Plan: "p1", Minutes: 120, Cash: usd(5000)})
	made := desktest.Said[message.PlanMade](c, message.ValuationPlan("p1"))[0]
	assert.Equal(t, []string{"r1", "r3"}, made.Chosen)
	assert.Equal(t, tried.Output, made.Output)
	_, err := c.Try(repairer, message.MakePlan{Plan: "p1", Minutes: 1, Cash: usd(1)})
	faulttest.Want(t, err, fault.Conflict, "plan")
	_, err = c.Try(repairer, message.MakePlan{Plan: "p2", Minutes: 59, Cash: usd(5000)})
	faulttest.Want(t, err, fault.Conflict, "")

	_, err = c.Try(repairer, message.DropRepair{Boat: "b1", Repair: "r1", Why: "done"})
	faulttest.Want(t, err, fault.Conflict, "repair", "another requires it")
	c.Do(repairer, message.DropRepair{Boat: "b1", Repair: "r2", Why: "done"})
	c.Do(repairer, message.DropRepair{Boat: "b1", Repair: "r1", Why: "done"})
	assert.Len(t, desktest.Ask[message.ShopPlan](c, repairer, message.TryPlan{Minutes: 120, Cash: usd(5000)}).Repairs, 1)
	c.Say(message.TreasuryBoat("b1"), "b1", message.BoatSold{Boat: "b1", On: today, Gross: usd(40_000), ArmsLength: true})
	c.Settle()
	assert.Empty(t, desktest.Ask[message.ShopPlan](c, repairer, message.TryPlan{Minutes: 120, Cash: usd(5000)}).Repairs, "it has left the shop")
	c.RebuildIsTheSame(valuation.Name)
}

func TestOrdersAboutTheShop(t *testing.T) {
	c := start(t)
	repairer := inShop(c)
	c.Do(repairer, proposed("r1"))
	good := map[string]desk.Commanded{
		"propose": proposed("r2", func(p *message.ProposeRepair) { p.Requires = []string{"r1"} }), "drop": message.DropRepair{Boat: "b1", Repair: "r1", Why: "done"},
		"plan": message.MakePlan{Plan: "p1", Minutes: 120, Cash: usd(5000)},
	}
	for _, order := range good {
		c.OnlyFor("seller", order, people.Repairer, people.Steward, people.Treasurer)
	}
	c.WritesNothing(func() {
		for name, bads := range map[string][]struct {
			field string
			value any
			kind  fault.Kind
		}{
			"propose": {
				{"boat", "", fault.Invalid}, {"boat", "nowhere", fault.Unknown}, {"repair", "", fault.Invalid}, {"repair", "r1", fault.Conflict}, {"what", " ", fault.Invalid},
				{"minutes", -1, fault.Invalid}, {"minutes", 100_001, fault.Invalid}, {"cash", usd(-1), fault.Invalid}, {"cash", money.Of(1, "EUR"), fault.Invalid},
				{"steps", -1, fault.Invalid}, {"steps", 5, fault.Invalid}, {"requires", []string{"r9"}, fault.Invalid}, {"excludes", []string{"r1"}, fault.Invalid}, {"requires", []string{"r1", "r1"}, fault.Invalid},
			},
			"drop": {{"repair", "r9", fault.Unknown}, {"why", "", fault.Invalid}, {"boat", "", fault.Invalid}},
			"plan": {{"plan", "", fault.Invalid}, {"minutes", -1, fault.Invalid}, {"minutes", 60_001, fault.Invalid}, {"cash", usd(-1), fault.Invalid}},
		} {
			for _, b := range bads {
				faulttest.Want(t, c.TryChanged(repairer, good[name], map[string]any{b.field: b.value}), b.kind, b.field, name, b.value)
			}
		}
	})
}

// The way of valuing changes by an event, and only when it changes.
func TestTheWayOfValuingNeverChangesInSilence(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	ready(c) // gives v1
	c.Do(steward, value("v2"))
	changes := func() []message.ModelChanged {
		return desktest.Said[message.ModelChanged](c, message.ValuationModel)
	}
	require.Len(t, changes(), 1)
	assert.Equal(t, "2.1", changes()[0].Model)
	c.Set("year-effect-percent", "9")
	c.Do(steward, value("v3"))
	c.Do(steward, value("v4"))
	require.Len(t, changes(), 2)
	assert.Equal(t, []string{"2.2", "2.1"}, []string{changes()[1].Model, changes()[1].Before})
	assert.Contains(t, changes()[1].Rules, `"year_percent":9`)
	values := desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))
	assert.Equal(t, []string{"2.1", "2.1", "2.2", "2.2"}, []string{values[0].Model, values[1].Model, values[2].Model, values[3].Model})
}

// What look-overs found and could not see counts, and the book's own history of
// costs when it is long enough.
func TestLookOversAndHistoryStandBehindACeiling(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	ready(c)
	look := func(severity boat.Severity, unseen ...boat.Part) {
		id := desktest.ID()
		c.Say(message.IntakeBoat("b1"), "b1", message.DefectFound{Boat: "b1", Finding: "f" + id, Look: id, Severity: severity, Defect: "crack"})
		_, err := c.Try(treasurer, value("open"+id))
		assert.NoError(t, err, "a look-over that goes on tells nobody what it found")
		c.Say(message.IntakeBoat("b1"), "b1", message.LookOverFinished{Boat: "b1", Look: id, Inspector: "i", Grade: 3, CouldNotSee: unseen})
	}
	c.Say(message.IntakeBoat("b2"), "b2", message.BoatLogged{Boat: "b2", Name: "Tern", Facts: message.BoatFacts{Type: boat.Canoe}})
	look(boat.Use, "flotation", "keel line")
	_, err := c.Try(treasurer, message.SetCeiling{Boat: "b1"})
	assert.NoError(t, err, "the look-over before had seen it")

	look(boat.DoNotUse)
	_, err = c.Try(treasurer, value("v2"))
	faulttest.Want(t, err, fault.Invalid, "as_it_lies")
	c.Say(message.RepairBoat("b1"), "b1", message.WorkFinished{Boat: "b1", Work: "w", Findings: []string{"none"}})
	_, err = c.Try(treasurer, value("v2"))
	faulttest.Want(t, err, fault.Invalid, "as_it_lies")

	for i := range 5 {
		id := boat.ID("old-" + string(rune('a'+i)))
		c.Say(message.IntakeBoat(id), string(id), message.BoatLogged{Boat: id, Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Rotomoulded}})
		c.Say(message.RepairBoat(id), string(id), message.PartBooked{Boat: id, Entry: "e", Cost: usd(3000)})
		c.Say(message.RepairBoat(id), string(id), message.PartReversed{Boat: id, Entry: "e", Cost: usd(1000)})
		c.Say(message.RepairBoat(id), string(id), message.WorkFinished{Boat: id, Work: "w", Findings: []string{"f1", "f2"}})
		c.Say(message.RepairBoat(id), string(id), message.BoatReady{Boat: id, Grade: 4})
	}
	lookOver(c, &message.MissedEstimate{First: 6, Second: 5, Both: 4, Shown: true})
	c.Do(treasurer, message.SetCeiling{Boat: "b1"})
	said := desktest.Said[message.CeilingSet](c, message.ValuationBoat("b1"))
	newest := said[len(said)-1]
	assert.Contains(t, newest.CostsFrom, "mending 5 boats of rotomoulded polyethylene")
	assert.Contains(t, newest.Input, `"cost_minor":1000`, "20.00 for two findings")
	assert.Equal(t, treasurer.Person, newest.By)
	assert.NotEmpty(t, newest.Value)
	c.RebuildIsTheSame(valuation.Name)
}
