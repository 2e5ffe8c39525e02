package calc

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/valuation"
)

// Whoever pastes what stands in a record into the calculator gets the same
// text back.
func TestRecordsOfTheValuationRoomAreTheCalculatorsOwn(t *testing.T) {
	c := desktest.Start(t, desktest.Room{Name: valuation.Name, Migrations: valuation.Migrations(), New: valuation.New})
	day, by := clock.MustDate("2026-04-01"), c.Member(people.Treasurer)
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{
		Boat: "b1", Taking: message.Purchase, Giver: "seller", Facts: message.BoatFacts{Type: boat.Canoe, LengthMM: 5030, YearBuilt: 2014},
	})
	c.Say(message.IntakeBoat("b1"), "b1", message.LookOverFinished{Boat: "b1", Grade: 2})
	value := func(id string) {
		c.Do(by, message.ValueBoat{Boat: "b1", Value: id, On: day, Purpose: message.ForBook, AsItLies: 2, Repaired: 4, Conflict: "none"})
	}
	ceiling := func() {
		c.Do(by, message.SetCeiling{Boat: "b1", Repairs: []message.ExpectedWork{
			{What: "new gunwale <port>", Cost: money.Of(4000, "USD"), PercentLikely: 35, MinutesOfHands: 240},
			{What: "patch & paint", Cost: money.Of(1550, "USD"), PercentLikely: 100},
		}})
	}
	value("none")
	for n := range 12 { // refused, a grid, and from nine sales on a ridge
		c.Do(by, message.RecordComparable{Comparable: message.Comparable{
			Comparable: fmt.Sprint("k", n), Price: money.Of(int64(40_000+2713*n), "USD"), On: day.AddDays(-40 * n), PriceKind: message.Sold, ArmsLength: n != 3,
			Type: boat.Canoe, LengthMM: 4800 + 31*n, AgeYears: 2 * n, Grade: boat.Grade(1 + n%5), Source: `a "board"`,
		}})
		value(fmt.Sprint("v", n))
	}
	ceiling()
	c.Say(message.IntakeBoat("b1"), "b1", message.LookOverFinished{Boat: "b1", Grade: 2, Estimate: &message.MissedEstimate{First: 7, Second: 5, Both: 3, Shown: true}})
	ceiling()

	compared := map[string]int{}
	for _, body := range c.Bodies(message.ValuationBoat("b1")) {
		var name, input, output string
		switch b := body.(type) {
		case message.BoatValued:
			name, input, output = "value", b.Input, b.Output
		case message.CeilingSet:
			name, input, output = "offer", b.Input, b.Output
		}
		code, out, problems := run(map[string]Calculator{"value": valueCalculator, "offer": offerCalculator}[name], input)
		require.Equal(t, ExitOK, code, problems)
		assert.Equal(t, output+"\n", out)
		compared[name]++
	}
	assert.Equal(t, map[string]int{"value": 13, "offer": 2}, compared)
}
