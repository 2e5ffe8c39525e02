package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/services/matching"
)

// A school asks for three boats at once. Each is a request of its own, all of them
// stand in one round, and the school asks again when none of them stands any more.
func TestAnOrganisationAsksForSeveralBoats(t *testing.T) {
	c := start(t)
	for _, id := range []boat.ID{"b1", "b2", "b3"} {
		c.ready(id, "Boat "+string(id), canoe())
	}
	school := form("r1", wish())
	school.Boats, school.Separate = 3, true
	_, err := c.Try(visitor, school)
	assert.Equal(t, fault.Forbidden, kindOf(err), "a coordinator writes it down: %v", err)
	c.Do(c.coordinator, school)
	asked := find[message.HouseholdAsked](c.Bodies(message.MatchingHousehold("household-r1")))
	require.Len(t, asked.Also, 2)
	last := find[message.RequestMade](c.Bodies(message.MatchingRequest(asked.Also[1])))
	assert.Equal(t, []any{3, 3, "r1", 1}, []any{last.Number, last.Of, last.First, last.Boats})
	assert.Nil(t, last.NewHousehold, "introduced once")
	assert.NotEqual(t, school.Link, last.Link, "each has its own page")
	own := wish()
	own.StorageMM = 4700
	c.Do(c.coordinator, message.ChangeRequest{Request: asked.Also[0], Wish: own})
	assert.Equal(t, 5500, desktest.Ask[message.Wish](c.Club, c.coordinator, message.ReadWish{Request: "r1"}).StorageMM, "each has its own wish")

	pairs := c.offers("round1")
	require.Len(t, pairs, 3, "all three in one round")
	for _, id := range []boat.ID{"b1", "b2"} {
		c.Do(c.coordinator, message.AnswerOffer{Offer: c.made(id).Offer, Boat: id, Answer: "accepted"})
		c.handOverNow(id)
	}
	again := message.MakeRequest{Request: "later", Household: "household-r1", Link: "link-later", Consent: "privacy 2026-1", Wish: wish()}
	_, err = c.Try(c.coordinator, again)
	assert.Equal(t, fault.Conflict, kindOf(err), "one of the three still stands: %v", err)
	c.Say(message.Person("household-r1"), "", message.PersonErased{Person: "household-r1"})
	c.Settle()
	ended := find[message.RequestEnded](c.Bodies(message.MatchingRequest(c.made("b3").Request)))
	assert.Equal(t, "withdrawn", ended.How, "an erasure ends what still stands")
	c.RebuildIsTheSame(matching.Name)
}
