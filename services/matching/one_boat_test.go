package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/matching"
)

// A round for one boat has the same lottery as any other, and holds no requests.
func TestAFreeBoatIsDrawnByTwoSecrets(t *testing.T) {
	c := start(t)
	steward, administrator := c.Member(people.Steward), c.Member(people.Administrator)
	c.ready("b1", "Heron", canoe())
	c.ready("b2", "Coot", canoe())
	c.Say(message.IntakeBoat("b3"), "b3", message.BoatLogged{Boat: "b3", Name: "Rail", Taking: message.Gift, Giver: "giver", Facts: canoe()})
	for _, id := range []string{"r0", "r1", "r2", "r3", "r4"} {
		c.asks(id, wish())
	}
	begin := message.CommitSecret{Round: "one", Secret: "herons wade where the reeds are thin", Boat: "b1"}
	_, err := c.Try(steward, begin)
	assert.Equal(t, fault.Forbidden, kindOf(err), "a coordinator begins: %v", err)
	for id, kind := range map[boat.ID]fault.Kind{"b3": fault.Conflict, "b9": fault.Unknown} {
		other := begin
		other.Boat = id
		_, err = c.Try(c.coordinator, other)
		assert.Equal(t, kind, kindOf(err), "%s: %v", id, err)
	}
	c.Do(c.coordinator, begin)
	second := message.CommitSecret{Round: "one", Secret: "nine otters under the boat house", Boat: "b2"}
	_, err = c.Try(c.second, second)
	assert.Equal(t, "boat", fault.Of(err).Field, "the boat is said once: %v", err)
	second.Boat = ""
	c.Do(steward, second)
	stream := message.MatchingRound("one")
	require.Equal(t, []message.Kind{"matching.secret-committed", "matching.secret-committed", "matching.round-opened", "matching.round-solved"}, c.Kinds(stream))
	bodies := c.Bodies(stream)
	assert.Len(t, find[message.RoundOpened](bodies).Requests, 5, "everybody who is free, chosen by nobody")
	solved := c.solved("one")
	require.Len(t, solved.Pairs, 1)
	assert.Equal(t, redraw(t, bodies)["b1"], solved.Pairs[0].Request, "as anybody can draw it again")

	_, err = c.Try(administrator, message.ApproveRound{Round: "one", Send: true})
	assert.Equal(t, fault.Forbidden, kindOf(err), "a coordinator sends: %v", err)
	c.Do(c.coordinator, message.ApproveRound{Round: "one", Send: true})
	assert.Equal(t, solved.Pairs[0].Request, c.made("b1").Request)

	c.opens("round1")
	many := find[message.RoundOpened](c.Bodies(message.MatchingRound("round1")))
	assert.Equal(t, []boat.ID{"b2"}, many.Boats)
	assert.Len(t, many.Requests, 4, "all but the one that has an offer")

	// The household leaves the boat. Everybody else is held by the round of many until it is
	// closed, and takes part here all the same.
	c.Do(c.coordinator, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "declined"})
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	c.Do(c.second, message.ApproveRound{Round: "round1", Send: true})
	c.Do(c.second, message.SolveRound{Round: "one"})
	next := c.solved("one").Pairs
	require.Len(t, next, 1)
	assert.NotContains(t, []string{solved.Pairs[0].Request, c.made("b2").Request}, next[0].Request, "who left it, and who has an offer by now, are out")
	c.Do(c.coordinator, message.ApproveRound{Round: "one", Send: true})
	c.Do(c.coordinator, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "accepted"})
	assert.Equal(t, "the household takes the boat", find[message.RoundClosed](c.Bodies(stream)).Why)
	c.RebuildIsTheSame(matching.Name)
}
