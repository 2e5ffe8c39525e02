package treasury_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func costs(c *desktest.Club, q message.VolunteerCosts) message.VolunteerCostList {
	c.Settle()
	return desktest.Ask[message.VolunteerCostList](c, c.Member(people.Auditor), q)
}

func statementNow(c *desktest.Club) message.Accounts {
	c.Settle()
	return desktest.Ask[message.Accounts](c, c.Member(people.Auditor), message.Statement{From: giftOn, To: today})
}

// What members laid out is written down by member, and paid back or given; nothing of it is
// a gift in kind of a boat, and a booking of the workshop becomes one cost and not two.
func TestWhatMembersLayOutIsPaidBackOrGiven(t *testing.T) {
	c := start(t)
	treasurer, other := c.Member(people.Treasurer), c.Member(people.Treasurer)
	member := c.Member(people.Repairer).Person
	gift(t, c, "b1")
	booked := part("b1", "own", 900, message.OwnPocket)
	booked.Pocket = member
	c.Say(message.RepairBoat("b1"), "b1", booked)
	c.Say(message.RepairBin("n1"), "", message.StockBought{Bin: "n1", Entry: "e1", Quantity: 1_000, Cost: usd(2_000), PaidBy: message.OwnPocket, Pocket: member, On: today})
	c.Say(message.RepairBoat("b1"), "b1", part("b1", "whose", 300, message.OwnPocket))

	open := costs(c, message.VolunteerCosts{}).Bookings
	require.Len(t, open, 3)
	assert.Equal(t, message.VolunteerBooking{Boat: "b1", Entry: "part-own", Member: member, On: today, Words: "seat", Amount: usd(900)}, open[0])
	assert.Equal(t, "n1", open[1].Bin)
	assert.Empty(t, open[2].Member, "an old booking does not say whose pocket it was")

	// A booking is taken over once, of whom it says.
	take := message.TakeVolunteerCost{Cost: "t1", Member: member, Boat: "b1", Entry: "part-own", Service: "repaired donated boats", Receipt: true}
	wrong := take
	wrong.Member = other.Person
	_, err := c.Try(treasurer, wrong)
	faulttest.Want(t, err, fault.Invalid, "member")
	c.Do(treasurer, take)
	c.WritesNothing(func() {
		again := take
		again.Cost = "t2"
		_, err := c.Try(treasurer, again)
		faulttest.Want(t, err, fault.Conflict, "entry", "twice")
		_, err = c.Try(treasurer, message.SettlePocket{Boat: "b1", Entry: "part-own", How: message.PaidBack, On: today})
		faulttest.Want(t, err, fault.Conflict, "entry", "beside its cost")
	})
	assert.Equal(t, member, desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1"}).Owed[0].Member)
	c.Do(treasurer, message.TakeVolunteerCost{Cost: "t3", Member: member, Bin: "n1", Entry: "bought-n1-e1", Service: "kept the stores"})

	// Costs that nobody booked: one for a boat, one for none.
	c.Do(treasurer, message.StateVolunteerCost{Cost: "c1", Member: member, On: today, Service: "fetched donated boats", Bought: "fuel", Amount: usd(4_200), Receipt: true})
	c.Do(treasurer, message.StateVolunteerCost{Cost: "c2", Member: member, On: giftOn, Service: "fetched donated boats", Bought: "ferry", Amount: usd(1_500), Boat: "b1"})
	assert.Equal(t, usd(900+300+1_500), desktest.Ask[message.Totals](c, treasurer, message.YearTotals{Year: 2026}).Sum.Parts, "it is among what the boat cost")
	assert.Equal(t, []message.LaidOut{{LaidOut: usd(8_900), PaidBack: usd(0), Given: usd(0), Owed: usd(8_900)}}, statementNow(c).Volunteers)

	c.Do(treasurer, message.PayVolunteerCostBack{Member: member, Cost: "c1", On: today, How: "by transfer"})
	c.Do(treasurer, message.GiveVolunteerCost{Member: member, Cost: "c2", On: today})
	c.Do(treasurer, message.GiveVolunteerCost{Member: member, Cost: "t3", On: today})
	_, err = c.Try(treasurer, message.GiveVolunteerCost{Member: member, Cost: "c1", On: today})
	faulttest.Want(t, err, fault.Conflict, "cost", "it is paid back")

	// Nobody decides that the club pays them.
	own := message.StateVolunteerCost{Cost: "own", Member: treasurer.Person, On: today, Service: "kept the books", Bought: "stamps", Amount: usd(800)}
	c.Do(treasurer, own)
	pay := message.PayVolunteerCostBack{Member: treasurer.Person, Cost: "own", On: today, How: "in cash"}
	_, err = c.Try(treasurer, pay)
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Do(other, pay)

	list := costs(c, message.VolunteerCosts{Year: 2026})
	assert.Len(t, list.Costs, 5)
	assert.Contains(t, list.Members, message.VolunteerSum{Member: member, Year: 2026, Owed: usd(900), PaidBack: usd(4_200), Given: usd(3_500),
		WhyNot: "no paper can be given: below 250 USD of unreimbursed expenses no acknowledgment is required: the member's own records do."})
	given := costs(c, message.VolunteerCosts{State: message.CostGiven}).Costs
	require.Len(t, given, 2)
	assert.Equal(t, today, given[0].Ended)
	assert.Empty(t, costs(c, message.VolunteerCosts{Year: 2025}).Costs)
	require.Len(t, list.Bookings, 1)
	assert.Equal(t, "part-whose", list.Bookings[0].Entry)

	a := statementNow(c)
	assert.Equal(t, []message.LaidOut{{LaidOut: usd(9_700), PaidBack: usd(5_000), Given: usd(3_500), Owed: usd(1_200)}}, a.Volunteers)
	require.Len(t, a.Gifts, 1)
	assert.Equal(t, usd(90_000), a.Gifts[0].Value, "a cost that is given is no gift in kind of a boat")

	// A mistake leaves nothing; a booking that the workshop takes back leads its cost along.
	c.Do(treasurer, message.WithdrawVolunteerCost{Member: member, Cost: "c2", Why: "another member's"})
	c.Say(message.RepairBoat("b1"), "b1", message.PartReversed{Boat: "b1", Entry: "own", Cost: usd(900), PaidBy: message.OwnPocket, On: today, Why: "another boat's"})
	assert.Equal(t, []message.LaidOut{{LaidOut: usd(7_300), PaidBack: usd(5_000), Given: usd(2_000), Owed: usd(300)}}, statementNow(c).Volunteers)
	_, err = c.Try(treasurer, message.GiveVolunteerCost{Member: member, Cost: "t1", On: today})
	faulttest.Want(t, err, fault.Conflict, "cost", "its booking was taken back")
	states := map[string]message.CostState{}
	for _, cost := range costs(c, message.VolunteerCosts{}).Costs {
		states[cost.Cost] = cost.State
	}
	assert.Equal(t, map[string]message.CostState{"c1": message.CostPaidBack, "c2": message.CostWithdrawn, "t1": message.CostUndone, "t3": message.CostGiven, "own": message.CostPaidBack}, states)
	assert.Equal(t, oursFor(c, 2026), balancesByHledger(t, journalOf(c, 2026)))
	c.RebuildIsTheSame("treasury")
}

// What was settled as given before the book knew whose pocket it was can still be said of a
// member, as given; a withdrawn cost frees its booking.
func TestABookingThatWasSettledAsGivenIsItsMembers(t *testing.T) {
	c := start(t)
	treasurer, member := c.Member(people.Treasurer), c.Member(people.Steward).Person
	gift(t, c, "b1")
	c.Say(message.RepairBoat("b1"), "b1", part("b1", "old", 900, message.OwnPocket))
	c.Say(message.RepairBoat("b1"), "b1", part("b1", "owed", 400, message.OwnPocket))
	c.Settle()
	c.Do(treasurer, message.SettlePocket{Boat: "b1", Entry: "part-old", How: message.Given, On: today})
	bookings := costs(c, message.VolunteerCosts{}).Bookings
	require.Len(t, bookings, 2)
	assert.True(t, bookings[0].Given)
	c.Do(treasurer, message.TakeVolunteerCost{Cost: "c1", Member: member, Boat: "b1", Entry: "part-old", Service: "repaired boats"})
	take := message.TakeVolunteerCost{Cost: "c2", Member: member, Boat: "b1", Entry: "part-owed", Service: "repaired boats"}
	c.Do(treasurer, take)
	c.Do(treasurer, message.WithdrawVolunteerCost{Member: member, Cost: "c2", Why: "another member's"})
	assert.Len(t, costs(c, message.VolunteerCosts{}).Bookings, 1, "it is open again")
	take.Cost = "c3"
	c.Do(treasurer, take)
	list := costs(c, message.VolunteerCosts{State: message.CostGiven}).Costs
	require.Len(t, list, 1)
	assert.Equal(t, "c1", list[0].Cost)
	c.RebuildIsTheSame("treasury")
}

// Two members' costs of one id, in one boat's book, are two.
func TestIdsOfCostsAreTheirMembers(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	for _, of := range []boat.ID{"", "b1"} {
		for range 2 {
			c.Do(treasurer, message.StateVolunteerCost{Cost: "c" + string(of), Member: c.Member(people.Steward).Person, On: today, Service: "fetched boats", Bought: "fuel", Amount: usd(100), Boat: of})
		}
	}
	assert.Len(t, costs(c, message.VolunteerCosts{}).Costs, 4)
	c.RebuildIsTheSame("treasury")
}
