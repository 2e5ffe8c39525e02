package matching_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/matching"
)

// kayak is a boat for one person.
func kayak() message.BoatFacts {
	return message.BoatFacts{
		Type: boat.SitOnTop, Seats: 1, LengthMM: 3200, BeamMM: 780, MassG: 21_000, RatedLoadG: 160_000, RatedSource: "plate",
		Material: boat.Rotomoulded, HullNumber: "XYZ12345L495",
	}
}

// twoSingles is the wish of two adults who would take two boats.
func twoSingles() message.Wish {
	w := wish()
	w.Types, w.Children, w.TwoSingles = []boat.Type{boat.Canoe, boat.SitOnTop}, nil, true
	w.Adults = append(w.Adults, message.Paddler{Years: 39, MassG: 64_000})
	return w
}

// Two boats that are offered together end together, in whatever way they do.
func TestTwoBoatsAreOfferedTogether(t *testing.T) {
	c := start(t)
	c.ready("k1", "Coot", kayak())
	c.ready("k2", "Crake", kayak())
	applicant := c.asks("r1", twoSingles())
	answers := func() [2]string {
		return [2]string{find[message.OfferAnswered](c.Bodies(message.MatchingBoat("k1"))).Answer, find[message.OfferAnswered](c.Bodies(message.MatchingBoat("k2"))).Answer}
	}
	again := func(round string) (one, two message.OfferMade) {
		t.Helper()
		require.Len(t, c.offers(round), 2)
		one, two = c.made("k1"), c.made("k2")
		require.Equal(t, [2]string{"r1", "r1"}, [2]string{one.Request, two.Request})
		require.Equal(t, []string{"k2", two.Offer, "k1", one.Offer}, []string{string(one.With), one.WithOffer, string(two.With), two.WithOffer})
		return one, two
	}

	one, two := again("declined")
	assert.Equal(t, []int{0, 1}, c.solved("declined").ServedByTier, "one household, with two boats")
	_, err := c.Try(c.coordinator, message.CloseRound{Round: "declined", Why: "w"})
	assert.ErrorContains(t, err, "1 offer is of this round", "both are one offer")
	c.Do(applicant, message.AnswerOffer{Offer: two.Offer, Boat: "k2", Answer: "declined", Why: "too heavy"})
	assert.Equal(t, [2]string{"declined", "declined"}, answers())
	_, err = c.Try(applicant, message.AnswerOffer{Offer: one.Offer, Boat: "k1", Answer: "accepted"})
	assert.ErrorContains(t, err, "ended already")
	c.Do(c.coordinator, message.SolveRound{Round: "declined"})
	assert.Empty(t, c.solved("declined").Pairs, "what came to nothing is not offered again")
	assert.Equal(t, []message.RoundEnded{{Boat: "k1", Request: "r1", With: "k2"}}, c.solved("declined").Ended)
	c.Do(c.coordinator, message.CloseRound{Round: "declined", Why: "nothing is left"})

	again("lapsed")
	c.Clock.Advance(8 * 24 * time.Hour)
	c.Restart(matching.Name)
	require.Eventually(t, func() bool { return answers() == [2]string{"lapsed", "lapsed"} }, 5*time.Second, 5*time.Millisecond)
	c.Settle()
	assert.Equal(t, 1, countKind(c, message.MatchingRequest("r1"), "matching.request-tied")-1, "tied once a round")
	c.Do(c.coordinator, message.CloseRound{Round: "lapsed", Why: "nobody answered"})

	one, _ = again("withdrawn")
	two = c.made("k2")
	c.atOnce(t,
		message.AnswerOffer{Offer: one.Offer, Boat: "k1", Answer: "withdrawn", Why: "the boat leaks"},
		message.AnswerOffer{Offer: two.Offer, Boat: "k2", Answer: "declined"},
		message.AnswerOffer{Offer: one.Offer, Boat: "k1", Answer: "declined"},
		message.AnswerOffer{Offer: two.Offer, Boat: "k2", Answer: "withdrawn", Why: "the boat leaks"},
	)
	assert.Equal(t, answers()[0], answers()[1], "one boat by itself is not what they asked for")
	for _, id := range []boat.ID{"k1", "k2"} {
		assert.Equal(t, 3, countKind(c, message.MatchingBoat(id), "matching.offer-answered"), "each offer ended once")
	}
	c.Do(c.coordinator, message.CloseRound{Round: "withdrawn", Why: "w"})

	one, two = again("accepted")
	c.atOnce(t, message.AnswerOffer{Offer: one.Offer, Boat: "k1", Answer: "accepted"}, message.AnswerOffer{Offer: two.Offer, Boat: "k2", Answer: "accepted"})
	assert.Equal(t, [2]string{"accepted", "accepted"}, answers())
	c.Do(c.coordinator, message.CloseRound{Round: "accepted", Why: "w"})
	sheet := desktest.Ask[message.Sheet](c.Club, c.coordinator, message.HandOverSheet{Boat: "k1"})
	assert.NotEmpty(t, sheet.PDF)
	c.handOverOn("k1", today.AddDays(8))
	assert.NotContains(t, c.Kinds(message.MatchingRequest("r1")), message.Kind("matching.request-ended"), "one boat is still to come")
	assert.NotEmpty(t, desktest.Ask[message.Sheet](c.Club, c.coordinator, message.HandOverSheet{Boat: "k2"}).PDF)
	c.handOverOn("k2", today.AddDays(8))
	assert.Equal(t, "placed", find[message.RequestEnded](c.Bodies(message.MatchingRequest("r1"))).How)
	c.RebuildIsTheSame(matching.Name)
}

// atOnce gives orders in one moment, of which one is taken.
func (c club) atOnce(t *testing.T, commands ...desk.Commanded) {
	t.Helper()
	var all sync.WaitGroup
	var taken atomic.Int32
	for _, command := range commands {
		all.Go(func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: c.coordinator, Key: desktest.ID()}, command)
			if err == nil {
				taken.Add(1)
			} else if fault.Of(err).Kind != fault.Conflict {
				t.Errorf("%#v: %v", command, err)
			}
		})
	}
	all.Wait()
	assert.EqualValues(t, 1, taken.Load())
	c.Settle()
}

func countKind(c club, stream string, kind message.Kind) int {
	n := 0
	for _, k := range c.Kinds(stream) {
		if k == kind {
			n++
		}
	}
	return n
}

// One of two accepted boats leaves the club, or the household does: the promise of
// the other ends too, unless it was fetched already. In a round that goes on, what
// is offered together stays until it is answered.
func TestOneOfTwoBoatsGoesAway(t *testing.T) {
	c := start(t)
	for _, id := range []boat.ID{"k1", "k2", "k3", "k4"} {
		c.ready(id, "Boat "+string(id), kayak())
	}
	c.ready("b1", "Heron", canoe())
	actors := map[string]people.Actor{"r1": c.asks("r1", twoSingles()), "r2": c.asks("r2", twoSingles())}
	family, other := c.asks("f1", wish()), c.asks("f2", wish())
	actors["f1"], actors["f2"] = family, other
	require.Len(t, c.offers("round1"), 5)
	canoeFor := c.made("b1").Request
	c.Do(actors[canoeFor], message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "declined"})
	first := c.made("k1")
	second := first.With
	c.Do(actors[first.Request], message.AnswerOffer{Offer: first.Offer, Boat: "k1", Answer: "accepted"})
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	solved := c.solved("round1")
	assert.Len(t, solved.Pairs, 5)
	assert.Equal(t, []int{0, 3}, solved.ServedByTier)
	stood := stands(solved)
	assert.Equal(t, "accepted "+first.Request, stood["k1"])
	assert.Equal(t, "accepted "+first.Request, stood[second])
	assert.Len(t, solved.Bundles, 2, "those that stand")
	open := map[string]string{"r1": "r2", "r2": "r1"}[first.Request]
	offered := 0
	for _, s := range stood {
		if s == "offered "+open {
			offered++
		}
	}
	assert.Equal(t, 2, offered)
	c.Do(c.second, message.ApproveRound{Round: "round1"})
	c.Do(c.coordinator, message.SendOffers{Round: "round1", Days: 7})

	c.Say(message.RepairBoat(second), string(second), message.BoatRetired{Boat: second})
	ended := eventually[message.PromiseEnded](t, c, message.MatchingBoat("k1"))
	assert.Equal(t, "the boat was retired", ended.Why)
	assert.Equal(t, "matching.request-freed", string(c.Kinds(message.MatchingRequest(first.Request))[len(c.Kinds(message.MatchingRequest(first.Request)))-1]))

	// The other household fetches one boat and then leaves: it keeps what it has.
	var theirs message.OfferMade
	for _, id := range []boat.ID{"k2", "k3", "k4"} {
		if o := c.made(id); o.Request == open {
			theirs = o
		}
	}
	c.Do(actors[open], message.AnswerOffer{Offer: theirs.Offer, Boat: theirs.Boat, Answer: "accepted"})
	c.handOverNow(theirs.Boat)
	c.Do(actors[open], message.EndRequest{Request: open, How: "withdrawn"})
	assert.NotContains(t, c.Kinds(message.MatchingBoat(theirs.Boat)), message.Kind("matching.promise-ended"))
	assert.Contains(t, c.Kinds(message.MatchingBoat(theirs.With)), message.Kind("matching.promise-ended"))
	c.RebuildIsTheSame(matching.Name)
}
