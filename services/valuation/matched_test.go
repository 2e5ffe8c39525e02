package valuation_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/valuation"
)

// What a person confirmed goes before the tool's own matching: the next ceiling
// asks with the confirmed numbers, or by the club's rule where they carry no
// weight.
func TestTheCeilingFollowsWhatAPersonConfirmed(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	log(c, "seller")
	for i, minor := range []int64{60_000, 70_000, 80_000, 65_000, 75_000} {
		c.Do(treasurer, sold(fmt.Sprint("k", i), minor))
	}
	lookOver(c, nil)
	lookOver(c, &message.MissedEstimate{First: 7, Second: 5, Both: 2})
	c.Do(treasurer, value("v1"))
	asked := func() string {
		c.Do(treasurer, message.SetCeiling{Boat: "b1", Repairs: []message.ExpectedWork{{What: "weld", Cost: money.Of(2000, "USD"), PercentLikely: 100, MinutesOfHands: 60}}})
		said := desktest.Said[message.CeilingSet](c, message.ValuationBoat("b1"))
		return said[len(said)-1].Input
	}
	assert.Contains(t, asked(), "allowance_minor", "two in common carry no weight: the club's rule")

	matched := message.FindingsMatched{Boat: "b1", Look: "l2", Estimate: &message.MissedEstimate{First: 7, Second: 5, Both: 4, Shown: true}}
	c.Say(message.IntakeBoat("b1"), "b1", matched)
	assert.Contains(t, asked(), `"found_by_both":4`)

	c.Say(message.IntakeBoat("b1"), "b1", message.FindingsMatched{Boat: "b1", Look: "l3"})
	assert.Contains(t, asked(), `"found_by_both":4`, "a look-over on which no estimate rests changes nothing")

	matched.Estimate = &message.MissedEstimate{First: 7, Second: 5, Both: 1}
	c.Say(message.IntakeBoat("b1"), "b1", matched)
	assert.Contains(t, asked(), "allowance_minor")
	c.RebuildIsTheSame(valuation.Name)
}
