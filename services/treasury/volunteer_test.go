package treasury

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

func laidOut() message.StateVolunteerCost {
	return message.StateVolunteerCost{Cost: "c1", Member: "m1", On: day, Service: "fetched donated boats with the club's trailer", Bought: "fuel", Amount: usd(4_200), Receipt: true}
}

// stated is a member with one cost, as the room would have it.
func stated(t *testing.T) *volunteer {
	t.Helper()
	v := &volunteer{}
	said, err := v.state(laidOut(), "USD", day)
	require.NoError(t, err)
	v.Fold(message.Event{}, said)
	v.Fold(message.Event{}, owes(said))
	return v
}

func TestWhatAMemberLaidOutIsCheckedByField(t *testing.T) {
	v := stated(t)
	good := laidOut()
	good.Cost = "c2"
	_, err := v.state(good, "USD", day)
	require.NoError(t, err)
	for name, row := range map[string]struct {
		change func(*message.StateVolunteerCost)
		kind   fault.Kind
		field  string
	}{
		"the id of another":    {func(c *message.StateVolunteerCost) { c.Cost = "c1" }, fault.Conflict, "cost"},
		"an id that is none":   {func(c *message.StateVolunteerCost) { c.Cost = "a b" }, fault.Invalid, "cost"},
		"a day to come":        {func(c *message.StateVolunteerCost) { c.On = day.AddDays(1) }, fault.Invalid, "on"},
		"no day":               {func(c *message.StateVolunteerCost) { c.On = clock.Date{} }, fault.Invalid, "on"},
		"no service":           {func(c *message.StateVolunteerCost) { c.Service = " " }, fault.Invalid, "service"},
		"hours":                {func(c *message.StateVolunteerCost) { c.Service = "fetched boats, 3 hours" }, fault.Invalid, "service"},
		"two lines of service": {func(c *message.StateVolunteerCost) { c.Service = "two\nlines" }, fault.Invalid, "service"},
		"a long service":       {func(c *message.StateVolunteerCost) { c.Service = strings.Repeat("x", 201) }, fault.Invalid, "service"},
		"nothing bought":       {func(c *message.StateVolunteerCost) { c.Bought = "" }, fault.Invalid, "bought"},
		"much bought":          {func(c *message.StateVolunteerCost) { c.Bought = strings.Repeat("x", 201) }, fault.Invalid, "bought"},
		"for nothing":          {func(c *message.StateVolunteerCost) { c.Amount = usd(0) }, fault.Invalid, "amount"},
		"less than nothing":    {func(c *message.StateVolunteerCost) { c.Amount = usd(-1) }, fault.Invalid, "amount"},
		"in other money":       {func(c *message.StateVolunteerCost) { c.Amount = money.Of(1, "EUR") }, fault.Invalid, "amount"},
	} {
		c := good
		row.change(&c)
		_, err := v.state(c, "USD", day)
		faulttest.Want(t, err, row.kind, row.field, name)
	}
}

// 26 CFR 1.170A-1(g): the value of services is not deductible; a paper states none.
func TestTimeStandsInNoService(t *testing.T) {
	faulttest.Want(t, goodService("sanded hulls, 2 h"), fault.Invalid, "service")
	err := goodService("sanded hulls for three evenings")
	require.Error(t, err)
	assert.Contains(t, err.Error(), "26 CFR 1.170A-1(g)")
	assert.Contains(t, err.Error(), "three evenings")
	assert.NoError(t, goodService("sanded hulls"))
}

func TestACostIsOwedThenPaidBackOrGiven(t *testing.T) {
	for how, credit := range map[message.Settling]string{message.PaidBack: "cash", message.Given: "gifts of volunteers"} {
		v := stated(t)
		c, err := v.ends("c1", day, day)
		require.NoError(t, err)
		e, err := v.ended(c.Entry, how, day, "")
		require.NoError(t, err)
		assert.Equal(t, []message.EntryLine{{Account: "owed to volunteers", Amount: usd(4_200)}, {Account: credit, Amount: usd(-4_200)}}, e.Lines)
		require.NoError(t, balanced(e))
		if how == message.Given {
			v.Fold(message.Event{}, message.VolunteerCostGiven{Cost: "c1", Member: "m1", On: day, Amount: usd(4_200)})
		} else {
			v.Fold(message.Event{}, message.VolunteerCostPaidBack{Cost: "c1", Member: "m1", On: day, Amount: usd(4_200)})
		}
		_, err = v.ends("c1", day, day)
		faulttest.Want(t, err, fault.Conflict, "cost", how)
	}
	v := stated(t)
	_, err := v.ends("c9", day, day)
	faulttest.Want(t, err, fault.Unknown, "cost")
	_, err = v.ends("c1", day.AddDays(-1), day)
	faulttest.Want(t, err, fault.Invalid, "on")
	_, err = v.ends("c1", day.AddDays(1), day)
	faulttest.Want(t, err, fault.Invalid, "on")
	faulttest.Want(t, ownCost("m1", "m1"), fault.Forbidden, "")
	assert.NoError(t, ownCost("m2", "m1"))
	assert.NoError(t, ownCost("", "m1"), "at the machine")
}

func TestACostForABoatIsTheBoats(t *testing.T) {
	c := laidOut()
	said, err := (&volunteer{}).state(c, "USD", day)
	require.NoError(t, err)
	assert.Equal(t, []message.EntryLine{{Account: "volunteer costs", Amount: usd(4_200)}, {Account: "owed to volunteers", Amount: usd(-4_200)}}, owes(said).Lines)
	assert.Equal(t, "treasury.volunteer/m1", bookOfCost(said))
	c.Boat = "b1"
	said, err = (&volunteer{}).state(c, "USD", day)
	require.NoError(t, err)
	assert.Equal(t, []message.EntryLine{{Account: "boat:volunteer costs", Amount: usd(4_200)}, {Account: "owed to volunteers", Amount: usd(-4_200)}}, owes(said).Lines)
	assert.Equal(t, "treasury.boat/b1", bookOfCost(said))
	assert.NotEqual(t, costEntry("m1", "c1"), costEntry("m2", "c1"), "two members may have costs of one id")
}

func TestABookingBecomesOneCost(t *testing.T) {
	booking := message.PartBooked{Boat: "b1", Entry: "e", Words: "rod", Cost: usd(900), PaidBy: message.OwnPocket, On: day}
	fresh := func() *book {
		b := &book{}
		b.fold(b.booked(booking))
		b.fold(b.booked(message.PartBooked{Boat: "b1", Entry: "club", Words: "rod", Cost: usd(900), PaidBy: message.ClubPays, On: day}))
		return b
	}
	settled := func(how message.Settling) *book {
		b := fresh()
		e, err := b.settle(message.SettlePocket{Boat: "b1", Entry: "part-e", How: how, On: day}, day)
		require.NoError(t, err)
		b.fold([]message.EntryPosted{e})
		return b
	}
	noted, back := fresh(), fresh()
	noted.Fold(message.Event{}, message.VolunteerCostNoted{Boat: "b1", Entry: "part-e", Cost: "c0"})
	back.fold(back.takenBack("part-e", day, "wrong boat"))
	freed := fresh()
	freed.Fold(message.Event{}, message.VolunteerCostNoted{Boat: "b1", Entry: "part-e", Cost: "c0"})
	freed.Fold(message.Event{}, message.VolunteerCostNoted{Boat: "b1", Entry: "part-e"})
	c := message.TakeVolunteerCost{Cost: "c1", Member: "m1", Boat: "b1", Entry: "part-e", Service: "welded boats"}
	with := func(change func(*message.TakeVolunteerCost)) message.TakeVolunteerCost { c := c; change(&c); return c }
	for _, row := range []struct {
		name  string
		order message.TakeVolunteerCost
		book  *book
		says  string
		kind  fault.Kind
		field string
	}{
		{"of who the booking says", c, fresh(), "m1", "", ""},
		{"of whom it does not say", c, fresh(), "", "", ""},
		{"of somebody else", c, fresh(), "m2", fault.Invalid, "member"},
		{"one that was given before", c, settled(message.Given), "m1", "", ""},
		{"one that was paid back", c, settled(message.PaidBack), "m1", fault.Conflict, "entry"},
		{"one that is a cost", c, noted, "m1", fault.Conflict, "entry"},
		{"one that was freed", c, freed, "m1", "", ""},
		{"one that was taken back", c, back, "m1", fault.Conflict, "entry"},
		{"the club's own", with(func(c *message.TakeVolunteerCost) { c.Entry = "part-club" }), fresh(), "m1", fault.Conflict, "entry"},
		{"none", with(func(c *message.TakeVolunteerCost) { c.Entry = "part-x" }), fresh(), "m1", fault.Unknown, "entry"},
		{"with hours", with(func(c *message.TakeVolunteerCost) { c.Service = "welded, 2 hours" }), fresh(), "m1", fault.Invalid, "service"},
		{"an id of two words", with(func(c *message.TakeVolunteerCost) { c.Cost = "a b" }), fresh(), "m1", fault.Invalid, "cost"},
	} {
		said, err := (&volunteer{}).take(row.order, row.book, people.ID(row.says))
		if row.kind != "" {
			faulttest.Want(t, err, row.kind, row.field, row.name)
			continue
		}
		require.NoError(t, err, row.name)
		assert.Equal(t, message.VolunteerCostStated{Cost: "c1", Member: "m1", On: day, Service: "welded boats", Bought: "rod", Amount: usd(900), Boat: "b1", Entry: "part-e", Booked: true}, said, row.name)
	}
	_, err := noted.settle(message.SettlePocket{Boat: "b1", Entry: "part-e", How: message.Given, On: day}, day)
	faulttest.Want(t, err, fault.Conflict, "entry")
}

func TestWhatWasWrittenDownWrongLeavesNothing(t *testing.T) {
	c := message.WithdrawVolunteerCost{Member: "m1", Cost: "c1", Why: "twice"}
	given := message.VolunteerCostGiven{Cost: "c1", Member: "m1", On: day, Amount: usd(4_200)}
	for name, end := range map[string]func(v *volunteer){
		"owed": func(*volunteer) {},
		"given": func(v *volunteer) {
			e, err := v.ended(v.cost("c1").Entry, message.Given, day, "")
			require.NoError(t, err)
			v.Fold(message.Event{}, e)
			v.Fold(message.Event{}, given)
		},
	} {
		v := stated(t)
		end(v)
		of, err := v.withdraw(c)
		require.NoError(t, err, name)
		v.fold(v.takenBack(of.Entry, day, c.Why))
		lines, err := balances(v.entries)
		require.NoError(t, err)
		for _, l := range lines {
			assert.True(t, l.Amount.IsZero(), "%s leaves %s on %s", name, l.Amount, l.Account)
		}
		v.Fold(message.Event{}, message.VolunteerCostWithdrawn{Cost: "c1", Member: "m1", Why: "twice"})
		_, err = v.withdraw(c)
		faulttest.Want(t, err, fault.Conflict, "cost", name)
		_, err = v.ends("c1", day, day)
		faulttest.Want(t, err, fault.Conflict, "cost", name)
	}
	v := stated(t)
	v.Fold(message.Event{}, message.VolunteerCostPaidBack{Cost: "c1", Member: "m1", On: day})
	_, err := v.withdraw(c)
	faulttest.Want(t, err, fault.Conflict, "cost", "paid back")
	booked := &volunteer{}
	booked.Fold(message.Event{}, message.VolunteerCostStated{Cost: "c1", Member: "m1", Booked: true})
	_, err = booked.withdraw(c)
	require.NoError(t, err)
	booked.Fold(message.Event{}, given)
	_, err = booked.withdraw(c)
	faulttest.Want(t, err, fault.Conflict, "cost", "booked and given")
	none := c
	none.Why = " "
	_, err = stated(t).withdraw(none)
	faulttest.Want(t, err, fault.Invalid, "why")
	none = c
	none.Cost = "c9"
	_, err = stated(t).withdraw(none)
	faulttest.Want(t, err, fault.Unknown, "cost")
}

func TestWhatAMemberGaveGoesWithABookingThatIsTakenBack(t *testing.T) {
	for how, left := range map[message.Settling]int64{message.Given: 0, message.PaidBack: 900} {
		b := &book{}
		b.fold(b.booked(message.PartBooked{Boat: "b1", Entry: "e", Words: "rod", Cost: usd(900), PaidBy: message.OwnPocket, On: day}))
		e, err := b.settle(message.SettlePocket{Boat: "b1", Entry: "part-e", How: how, On: day}, day)
		require.NoError(t, err)
		b.fold([]message.EntryPosted{e})
		b.fold(b.takenBack("part-e", day, "another boat's"))
		lines, err := balances(b.entries)
		require.NoError(t, err)
		for _, l := range lines {
			if l.Account == owed {
				assert.Equal(t, left, l.Amount.Minor, "%s: what was paid back is the club's again, what was given never was", how)
			}
		}
	}
}
