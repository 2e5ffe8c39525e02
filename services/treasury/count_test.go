package treasury_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/treasury"
)

func TestBoatsAreCountedAndWrittenDown(t *testing.T) {
	c := start(t)
	season(t, c) // "bought" was sold, "given" placed, "=tired" retired
	treasurer := c.Member(people.Treasurer)
	for _, id := range []boat.ID{"here", "dented", "lost"} {
		gift(t, c, id)
	}
	c.Say(message.RepairBoat("dented"), "dented", part("dented", "d1", 1_000, message.ClubPays))
	c.Settle()
	count := func(id boat.ID, n string, found message.Found, worth int64) message.CountBoat {
		order := message.CountBoat{Boat: id, Count: n, On: today, Found: found, Words: "looked twice"}
		if worth > 0 {
			order.Worth = usd(worth)
		}
		return order
	}
	c.Do(treasurer, count("here", "c1", message.FoundThere, 0))
	c.Do(treasurer, count("dented", "c2", message.FoundLess, 20_000))
	c.Do(treasurer, count("lost", "c3", message.FoundMissing, 0))
	c.Settle()
	held := desktest.Ask[message.HeldBoats](c, c.Member(people.Auditor), message.BoatStock{Year: 2026})
	require.Len(t, held.Boats, 3, "what is not there any more is not counted")
	assert.Equal(t, []money.Amount{usd(20_000)}, held.Boats[0].Carried, "910.00 written down to 200.00")
	assert.Equal(t, []money.Amount{usd(90_000)}, held.Boats[1].Carried)
	assert.Empty(t, held.Boats[2].Carried)
	assert.Equal(t, message.FoundMissing, held.Boats[2].Found)
	assert.Empty(t, desktest.Ask[message.HeldBoats](c, treasurer, message.BoatStock{Year: 2025}).Boats, "all came in 2026")

	// At a year's end a boat is held by the day of its sale, whenever that was written down.
	lastYear := clock.MustDate("2025-12-20")
	for id, sold := range map[boat.ID]clock.Date{"before": clock.MustDate("2025-12-31"), "after": clock.MustDate("2026-01-01")} {
		boatOf(t, c, id, message.Gift, usd(0))
		c.Say(message.IntakeBoat(id), string(id), message.BoatReceived{Boat: id, Possession: lastYear, Signed: lastYear, On: lastYear})
		c.Settle()
		c.Do(treasurer, message.SellBoat{Boat: id, On: sold, Gross: usd(10_000), ArmsLength: true})
	}
	c.Settle()
	ended := desktest.Ask[message.HeldBoats](c, treasurer, message.BoatStock{Year: 2025}).Boats
	require.Len(t, ended, 1)
	assert.Equal(t, boat.ID("after"), ended[0].Boat)
	assert.Len(t, desktest.Ask[message.HeldBoats](c, treasurer, message.BoatStock{Year: 2026}).Boats, 3)

	statement := func(known clock.Date) message.Accounts {
		return desktest.Ask[message.Accounts](c, treasurer, message.Statement{From: giftOn, To: today, Known: known})
	}
	a := statement(clock.Date{})
	assert.Equal(t, message.BoatsCounted{There: 1, Less: 1, Missing: 1}, a.Counted)
	changes := map[string]int64{}
	for _, l := range a.Lines {
		changes[l.Account] = l.Change.Minor
	}
	assert.EqualValues(t, 71_000+90_000, changes["boat losses"])
	assert.EqualValues(t, -71_000-90_000, changes["boat:written down"])
	assert.Zero(t, statement(giftOn.AddDays(-1)).Counted)
	assert.Equal(t, oursFor(c, 2026), balancesByHledger(t, journalOf(c, 2026)))

	// It is found again, and counts as that.
	c.Do(treasurer, count("lost", "c4", message.FoundThere, 0))
	c.Settle()
	assert.Equal(t, message.BoatsCounted{There: 2, Less: 1}, statement(clock.Date{}).Counted)
	assert.Equal(t, []money.Amount{usd(90_000)}, desktest.Ask[message.HeldBoats](c, treasurer, message.BoatStock{Year: 2026}).Boats[2].Carried)

	c.Do(treasurer, count("dented", "c5", message.FoundLess, 30_000))
	c.Settle()
	assert.Equal(t, []money.Amount{usd(30_000)}, desktest.Ask[message.HeldBoats](c, treasurer, message.BoatStock{Year: 2026}).Boats[0].Carried, "written up, not beyond what it was")

	good := count("here", "c9", message.FoundLess, 100)
	c.OnlyFor("donor-of-here", good, people.Treasurer)
	c.WritesNothing(func() {
		for _, bad := range []struct {
			change map[string]any
			field  string
			kind   fault.Kind
		}{
			{map[string]any{"boat": ""}, "boat", fault.Invalid}, {map[string]any{"boat": "nowhere"}, "boat", fault.Unknown},
			{map[string]any{"boat": "bought"}, "boat", fault.Conflict}, {map[string]any{"boat": "given"}, "boat", fault.Conflict}, {map[string]any{"boat": "asked"}, "boat", fault.Conflict},
			{map[string]any{"count": ""}, "count", fault.Invalid}, {map[string]any{"count": "c1"}, "count", fault.Conflict},
			{map[string]any{"on": ""}, "on", fault.Invalid}, {map[string]any{"on": "2026-04-02"}, "on", fault.Invalid}, {map[string]any{"on": "2026-03-19"}, "on", fault.Invalid},
			{map[string]any{"found": "somewhere"}, "found", fault.Invalid}, {map[string]any{"words": ""}, "words", fault.Invalid},
			{map[string]any{"worth": usd(-1)}, "worth", fault.Invalid}, {map[string]any{"worth": usd(90_001)}, "worth", fault.Invalid},
			{map[string]any{"worth": money.Of(1, "EUR")}, "worth", fault.Invalid}, {map[string]any{"found": "missing"}, "worth", fault.Invalid},
		} {
			faulttest.Want(t, c.TryChanged(treasurer, good, bad.change), bad.kind, bad.field, bad.change)
		}
	})
	c.RebuildIsTheSame(treasury.Name)
}
