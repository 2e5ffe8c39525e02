package matching_test

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/matching"
)

// stands gives, for each boat of a solution, how its pair stands and for whom.
func stands(s message.RoundSolved) map[boat.ID]string {
	all := map[boat.ID]string{}
	for _, p := range s.Pairs {
		all[p.Boat] = p.Stands + " " + p.Request
	}
	return all
}

// Three boats, four households. One accepts, one declines and one does not
// answer: the household that was left over gets what was declined, and nobody else
// hears anything.
func TestARoundGoesOnAfterAnAnswer(t *testing.T) {
	c := start(t)
	applicants := map[string]people.Actor{}
	for i := range 4 {
		request := fmt.Sprintf("r%d", i)
		applicants[request] = c.asks(request, wish())
	}
	for i := range 3 {
		c.ready(boat.ID(fmt.Sprintf("b%d", i)), fmt.Sprintf("Boat %d", i), canoe())
	}
	pairs := c.offers("round1")
	require.Len(t, pairs, 3)
	left := c.solved("round1").Unserved[0].Request
	_, err := c.Try(c.coordinator, message.SolveRound{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "nobody has answered: %v", err)

	accept, decline := c.made("b0"), c.made("b1")
	c.Do(applicants[accept.Request], message.AnswerOffer{Offer: accept.Offer, Boat: "b0", Answer: "accepted"})
	c.handOverNow("b0") // what was accepted may be gone before the round goes on
	c.Do(applicants[decline.Request], message.AnswerOffer{Offer: decline.Offer, Boat: "b1", Answer: "declined"})
	_, err = c.Try(c.coordinator, message.OpenRound{Round: "round2"})
	assert.Equal(t, fault.Conflict, kindOf(err), "what is not placed stays in the round until it is closed: %v", err)

	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	solved := c.solved("round1")
	assert.Equal(t, map[boat.ID]string{
		"b0": "accepted " + accept.Request,
		"b1": " " + left,
		"b2": "offered " + c.made("b2").Request,
	}, stands(solved))
	assert.Equal(t, []message.RoundEnded{{Boat: "b1", Request: decline.Request}}, solved.Ended)
	assert.Equal(t, []int{0, 3}, solved.ServedByTier, "the accepted one counts")
	_, err = c.Try(c.coordinator, message.SendOffers{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "a second member looks at it again: %v", err)
	c.Do(c.second, message.ApproveRound{Round: "round1"})
	c.Do(c.coordinator, message.SendOffers{Round: "round1", Days: 7})
	sent := find[message.OffersSent](c.Bodies(message.MatchingRound("round1")))
	assert.Equal(t, []string{c.made("b1").Offer}, sent.Offers)
	assert.Empty(t, sent.TakenBack)
	assert.Equal(t, left, c.made("b1").Request)
	assert.NotEqual(t, decline.Offer, c.made("b1").Offer)
	assert.Len(t, c.Bodies(message.MatchingBoat("b2")), 1, "an offer that stays is not sent again")
	_, err = c.Try(c.coordinator, message.SendOffers{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "sent once: %v", err)
	c.RebuildIsTheSame(matching.Name)
}

// An open offer is taken back where the rest cannot be best otherwise: the only
// boat for a household of the first tier is held by one that has another.
func TestAnOpenOfferIsTakenBackForABetterRound(t *testing.T) {
	c := start(t)
	wide := canoe()
	wide.Features = append(wide.Features, "outriggers can be fitted")
	c.ready("b1", "Heron", wide)
	c.ready("b2", "Coot", wide)
	needing := wish()
	needing.Needs = []boat.Feature{"outriggers can be fitted"}
	first, second := c.asks("r1", needing), c.asks("r2", needing)
	c.asks("r3", wish())
	c.Do(c.coordinator, message.SetTier{Request: "r1", Tier: 1, Why: "needs"})
	c.Do(c.coordinator, message.SetTier{Request: "r2", Tier: 1, Why: "needs"})
	require.Len(t, c.offers("round1"), 2)
	one, other := c.made("b1"), c.made("b2")
	actor := map[string]people.Actor{"r1": first, "r2": second}
	// The holder of b1 leaves it, but would take b2.
	c.Do(actor[one.Request], message.AnswerOffer{Offer: one.Offer, Boat: "b1", Answer: "declined"})
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	assert.Equal(t, map[boat.ID]string{"b1": " " + other.Request, "b2": " " + one.Request}, stands(c.solved("round1")))
	c.Do(c.second, message.ApproveRound{Round: "round1"})
	c.Do(c.coordinator, message.SendOffers{Round: "round1", Days: 7})
	assert.Equal(t, []string{other.Offer}, find[message.OffersSent](c.Bodies(message.MatchingRound("round1"))).TakenBack)
	assert.Equal(t, other.Request, c.made("b1").Request)
	assert.Equal(t, one.Request, c.made("b2").Request)
	answered := find[message.OfferAnswered](c.Bodies(message.MatchingBoat("b2")))
	assert.Equal(t, "withdrawn", answered.Answer)
	assert.Contains(t, answered.Why, "the round as a whole is paired better")
	c.RebuildIsTheSame(matching.Name)
}

func (c club) handOverNow(id boat.ID) { c.handOverOn(id, today) }

func (c club) handOverOn(id boat.ID, on clock.Date) {
	list := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: id})
	c.Do(c.coordinator, message.HandOver{Boat: id, On: on, Checks: list.Lines, Release: list.Release})
}

func TestALotteryTakesTheSecretsOfTwoMembers(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.asks("r1", wish())
	const mine = "herons wade where the reeds are thin"
	c.Do(c.coordinator, message.CommitSecret{Round: "round1", Secret: mine})
	_, err := c.Try(c.coordinator, message.CommitSecret{Round: "round1", Secret: mine + " again"})
	assert.Equal(t, fault.Conflict, kindOf(err), "one member, one secret: %v", err)
	_, err = c.Try(c.coordinator, message.OpenRound{Round: "round1"})
	assert.ErrorContains(t, err, "2 members each put a secret into its lottery; so far 1 did")
	_, err = c.Try(c.second, message.CommitSecret{Round: "round1", Secret: mine})
	assert.Equal(t, "secret", fault.Of(err).Field, "the same words: %v", err)
	_, err = c.Try(c.coordinator, message.SolveRound{Round: "round1"})
	assert.ErrorContains(t, err, "not frozen yet")
	c.Do(c.second, message.CommitSecret{Round: "round1", Secret: "nine otters under the boat house"})
	third := c.Member(people.Steward)
	_, err = c.Try(third, message.CommitSecret{Round: "round1", Secret: "a third one, to tip the scales"})
	assert.Equal(t, fault.Conflict, kindOf(err), "%v", err)

	for _, e := range c.Bodies(message.MatchingRound("round1")) {
		assert.NotContains(t, fmt.Sprintf("%+v", e), "herons", "it is sealed until the list is frozen")
	}
	c.Do(c.coordinator, message.OpenRound{Round: "round1"})
	_, err = c.Try(third, message.CommitSecret{Round: "round1", Secret: "a third one, to tip the scales"})
	assert.ErrorContains(t, err, "frozen")
	opened := find[message.RoundOpened](c.Bodies(message.MatchingRound("round1")))
	assert.Len(t, opened.Priorities, 3, "as the setting has them")
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	assert.Len(t, c.solved("round1").Secrets, 2, "anybody can draw again")
}

// redraw is the lottery once more, from what stands in the book alone: seed, order
// and choice, for a round in which every pair that fits is worth the same.
func redraw(t *testing.T, bodies []message.Body) map[string]string {
	opened, solved := find[message.RoundOpened](bodies), find[message.RoundSolved](bodies)
	seed := sha256.New()
	for _, s := range solved.Secrets {
		fmt.Fprintf(seed, "%s\n", s.Secret)
	}
	fmt.Fprintf(seed, "%s\n%s", opened.Round, opened.ListHash)
	require.Equal(t, solved.Seed, hex.EncodeToString(seed.Sum(nil)), "another seed or list")
	key := sha256.Sum256([]byte(solved.Seed))
	lot := func(id string) []byte {
		mac := hmac.New(sha256.New, key[:])
		mac.Write([]byte(id))
		return mac.Sum(nil)
	}
	var requests, boats []string
	for _, r := range opened.Requests {
		requests = append(requests, r.Request)
	}
	for _, b := range opened.Boats {
		boats = append(boats, string(b))
	}
	byLot := func(a, b string) int { return bytes.Compare(lot(a), lot(b)) }
	slices.SortFunc(requests, byLot)
	slices.SortFunc(boats, byLot)
	drawn := map[string]string{}
	for i, b := range boats {
		drawn[b] = requests[i]
	}
	return drawn
}

func TestTheLotteryIsDrawnAgainFromTheBook(t *testing.T) {
	c := start(t)
	for i := range 4 {
		c.ready(boat.ID(fmt.Sprintf("b%d", i)), fmt.Sprintf("Boat %d", i), canoe())
	}
	for i := range 9 {
		c.asks(fmt.Sprintf("r%d", i), wish())
	}
	c.offers("round1")
	bodies := c.Bodies(message.MatchingRound("round1"))
	drawn := map[string]string{}
	for _, p := range c.solved("round1").Pairs {
		drawn[string(p.Boat)] = p.Request
	}
	assert.Equal(t, redraw(t, bodies), drawn)
}
