package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/matching"
)

func TestABoatThatIsKeptBackGoesNowhere(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.ready("b2", "Coot", canoe())
	c.asks("r1", wish())
	c.OnlyFor("", message.KeepBack{Boat: "b1", Why: "water behind the bulkhead"}, people.Coordinator)
	c.OnlyFor("", message.LetOut{Boat: "b1", Why: "it is dry"}, people.Coordinator)
	_, err := c.Try(c.coordinator, message.LetOut{Boat: "b1", Why: "it is dry"})
	assert.Equal(t, fault.Conflict, kindOf(err), "%v", err)

	keep := message.KeepBack{Boat: "b1", Why: "water behind the bulkhead"}
	c.Do(c.coordinator, keep)
	_, err = c.Try(c.coordinator, keep)
	assert.ErrorContains(t, err, "kept back already: water behind the bulkhead")
	pairs := c.offers("round1")
	require.Len(t, pairs, 1)
	assert.Equal(t, "Coot", map[string]string{"b1": "Heron", "b2": "Coot"}[string(pairs[0].Boat)], "the other one")

	c.Do(c.coordinator, message.KeepBack{Boat: "b2", Why: "a toggle is loose"})
	c.Do(c.Link("household-r1", people.OwnRequest, "r1"), message.AnswerOffer{Offer: c.made("b2").Offer, Boat: "b2", Answer: "accepted"})
	list := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: "b2"})
	handOver := message.HandOver{Boat: "b2", On: today, Checks: list.Lines, Release: list.Release}
	_, err = c.Try(c.coordinator, handOver)
	assert.ErrorContains(t, err, "kept back: a toggle is loose")
	c.Do(c.coordinator, message.LetOut{Boat: "b2", Why: "the toggle is tight"})
	c.Do(c.coordinator, handOver)
	_, err = c.Try(c.coordinator, message.KeepBack{Boat: "b2", Why: "a toggle is loose"})
	assert.ErrorContains(t, err, "was handed over")
	c.RebuildIsTheSame(matching.Name)
}
