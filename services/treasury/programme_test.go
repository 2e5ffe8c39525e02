package treasury_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Which programmes there are is the club's own choice (common practice, no source);
// what their boats cost is the cost of all boats, parted.
func TestTheStatementPartsCostByProgrammeAsItWasKnown(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	for id, cost := range map[boat.ID]int64{"b1": 700, "b2": 200, "b3": 50} {
		gift(t, c, id)
		c.Say(message.RepairBoat(id), string(id), part(id, "p-"+string(id), cost, message.ClubPays))
	}
	c.Settle()
	_, err := c.Try(treasurer, message.ChooseProgramme{Boat: "b1", Programme: "youth group"})
	faulttest.Want(t, err, fault.Invalid, "programme", "has named no programmes")
	c.Say(message.Club, "", message.SettingChanged{Name: "programmes", Value: " youth group;; households ;"})
	c.Settle()
	_, err = c.Try(treasurer, message.ChooseProgramme{Boat: "b1", Programme: "racing"})
	faulttest.Want(t, err, fault.Invalid, "programme", "youth group, households")
	_, err = c.Try(treasurer, message.ChooseProgramme{Boat: "b1"})
	faulttest.Want(t, err, fault.Conflict, "programme", "stands so already")

	c.Do(treasurer, message.ChooseProgramme{Boat: "b1", Programme: "youth group"})
	c.Do(treasurer, message.ChooseProgramme{Boat: "b2", Programme: "households"})
	c.Clock.Advance(48 * time.Hour)
	c.Do(treasurer, message.ChooseProgramme{Boat: "b2", Programme: "youth group"})
	c.Do(treasurer, message.ChooseProgramme{Boat: "b1"})
	parted := func(known clock.Date) []message.CostOfProgramme {
		return desktest.Ask[message.Accounts](c, c.Member(people.Auditor), message.Statement{From: giftOn, To: today, Known: known}).Programmes
	}
	assert.Equal(t, []message.CostOfProgramme{{Boats: 1, Cost: usd(50)}, {Programme: "households", Boats: 1, Cost: usd(200)}, {Programme: "youth group", Boats: 1, Cost: usd(700)}}, parted(today), "as it was known then")
	assert.Equal(t, []message.CostOfProgramme{{Boats: 2, Cost: usd(750)}, {Programme: "youth group", Boats: 1, Cost: usd(200)}}, parted(clock.Date{}))
	c.RebuildIsTheSame("treasury")
}
