package web

import (
	"testing"
	"time"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// TestPagesOfValuesInABrowser looks at what a boat is worth and why, over time, at
// the plan of the shop and at how good values were. Sources as in
// TestPagesOfPeopleAndMoneyInABrowser.
func TestPagesOfValuesInABrowser(t *testing.T) {
	c := openClub(t, intakeRoom, valuationRoom)
	facts := openCanoe()
	facts.YearBuilt = 2018
	heron := c.ready("Heron", facts)
	canoes(c, 24)
	of, at := string(heron), "/boats/"+string(heron)
	c.Say(message.RepairBoat(heron), of, message.PartBooked{
		Boat: heron, Entry: "p1", Words: "welding rod", Cost: usd(1250), PaidBy: message.ClubPays, On: clock.NewDate(2026, time.March, 5)})
	everything := c.enter("Marigold Finch", people.Roles...)
	valuer := people.Member(everything.who)
	c.Settle()
	for id, day := range map[string]string{"v1": "2026-03-02", "v2": "2026-04-01"} {
		c.Do(valuer, message.ValueBoat{Boat: heron, Value: id, On: clock.MustDate(day), Purpose: message.ForBook, AsItLies: 3, Repaired: 4, Conflict: "none"})
	}
	c.Do(valuer, message.ValueBoat{Boat: heron, Value: "v3", On: clock.MustDate("2026-03-02"), Purpose: message.ForBook, AsItLies: 2, Repaired: 4, Conflict: "none"})
	c.Say(message.IntakeBoat(heron), of, message.LookOverFinished{Boat: heron, Look: "l", Grade: 3, Estimate: &message.MissedEstimate{First: 6, Second: 5, Both: 4, Shown: true}})
	c.Do(valuer, message.SetCeiling{Boat: heron, Repairs: []message.ExpectedWork{{What: "weld the keel", Cost: usd(2000), PercentLikely: 80, MinutesOfHands: 90}}})
	c.Say(message.IntakeBoat(heron), of, message.PriceOffered{Boat: heron, Price: usd(20_000), Ceiling: usd(40_000)})
	c.Say(message.IntakeBoat(heron), of, message.AnswerNoted{Boat: heron, Answer: message.Countered, Price: usd(50_000), Ceiling: usd(40_000), Words: "it was my father's"})
	for id, steps := range map[string]int{"weld the keel": 1, "new seat": 1, "gold leaf": 0} {
		c.Do(valuer, message.ProposeRepair{Boat: heron, Repair: desktest.ID(), What: id, Minutes: 60, Cash: usd(2000), Steps: steps, Must: steps == 0})
	}
	c.Do(valuer, message.MakePlan{Plan: "p1", Minutes: 120, Cash: usd(10_000)})
	c.Settle()

	w := &viewer{browsertest.Open(t, 360, 800), t, "http://" + c.site.Addr(), axeScript(t)}
	w.enterAs(everything)
	for _, page := range [][2]string{
		{"value", at + "/values/v2"}, {"value-superseded", at + "/values/v1"}, {"values", at + "/values"}, {"value-boat", at}, {"value-new", at + "/value"},
		{"shop", "/shop?minutes=120&cash=100"}, {"shop-empty", "/shop"}, {"proposal", at + "/proposals"}, {"answer", at + "/answer"},
		{"track", "/comparables/track"}, {"prices", "/comparables"}, {"price-new", "/comparables/new"},
	} {
		w.look(page[0], page[1])
	}
}
