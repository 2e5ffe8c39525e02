package matching_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/matching"
)

func dayOf(t time.Time) clock.Date { return clock.DateOf(t) }

// Everybody answers everything at once: applicants accept and decline, the club
// withdraws, applicants leave. However it ends, an offer has ended once, a boat
// is promised to at most one household that still asks, and the tables agree
// with the book.
func TestEverybodyAnswersAtOnce(t *testing.T) {
	c := start(t)
	const n = 6
	var applicants []people.Actor
	for i := range n {
		c.ready(boat.ID(fmt.Sprintf("b%d", i)), fmt.Sprintf("Boat %d", i), canoe())
		applicants = append(applicants, c.asks(fmt.Sprintf("r%d", i), wish()))
	}
	require.Len(t, c.offers("round1"), n)
	c.Settle()

	var all sync.WaitGroup
	try := func(by people.Actor, command desk.Commanded) {
		all.Go(func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: by, Key: desktest.ID()}, command)
			if err != nil && fault.Of(err).Kind != fault.Conflict {
				t.Errorf("%#v: %v", command, err)
			}
		})
	}
	for i := range n {
		offer := c.made(boat.ID(fmt.Sprintf("b%d", i)))
		applicant := applicants[offer.Request[1]-'0']
		try(applicant, message.AnswerOffer{Offer: offer.Offer, Boat: offer.Boat, Answer: "accepted"})
		try(applicant, message.AnswerOffer{Offer: offer.Offer, Boat: offer.Boat, Answer: "declined"})
		try(c.coordinator, message.AnswerOffer{Offer: offer.Offer, Boat: offer.Boat, Answer: "withdrawn", Why: "the boat was damaged"})
		if i%2 == 0 {
			try(applicant, message.EndRequest{Request: offer.Request, How: "withdrawn"})
		}
	}
	all.Wait()
	for i := range n {
		checkBoat(t, c, boat.ID(fmt.Sprintf("b%d", i)))
	}
	c.RebuildIsTheSame(matching.Name)
}

// checkBoat goes by the book alone.
func checkBoat(t *testing.T, c club, id boat.ID) {
	t.Helper()
	answers, promised := map[string][]string{}, map[string]string{}
	for _, body := range c.Bodies(message.MatchingBoat(id)) {
		switch b := body.(type) {
		case message.OfferMade:
			assert.Empty(t, promised, "%s was offered while it was promised", id)
			promised[b.Offer] = b.Request
		case message.OfferAnswered:
			answers[b.Offer] = append(answers[b.Offer], b.Answer)
			if b.Answer != "accepted" {
				delete(promised, b.Offer)
			}
		case message.PromiseEnded:
			assert.Contains(t, promised, b.Offer)
			delete(promised, b.Offer)
		}
	}
	for offer, list := range answers {
		assert.Len(t, list, 1, "offer %s of %s", offer, id)
	}
	assert.Len(t, answers, 1, "the offer of %s has ended", id)
	assert.LessOrEqual(t, len(promised), 1)
	for offer, request := range promised {
		stream := message.MatchingRequest(request)
		assert.NotContains(t, c.Kinds(stream), message.Kind("matching.request-ended"), "%s is promised to a request that has ended", id)
		assert.Equal(t, offer, find[message.RequestTied](c.Bodies(stream)).Offer)
	}
}

// Two rounds were frozen with the same boat and household before either knew of
// the other; only one of them can make an offer.
func TestTwoRoundsCannotPromiseTheSameBoat(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.asks("r1", wish())
	c.Settle()
	var all sync.WaitGroup
	rounds := []string{"round1", "round2", "round3"}
	for _, round := range rounds {
		c.commits(round)
	}
	for _, round := range rounds {
		all.Go(func() {
			// Without Seen, so that the tables may lag behind the book.
			for _, step := range []struct {
				by      people.Actor
				command desk.Commanded
			}{
				{c.coordinator, message.OpenRound{Round: round}},
				{c.coordinator, message.SolveRound{Round: round}},
				{c.second, message.ApproveRound{Round: round}},
				{c.coordinator, message.SendOffers{Round: round}},
			} {
				if _, err := c.Client.Do(t.Context(), desk.Asking{By: step.by, Key: desktest.ID()}, step.command); err != nil {
					assert.Equal(t, fault.Conflict, fault.Of(err).Kind, "%v", err)
					return
				}
			}
		})
	}
	all.Wait()
	made := 0
	for _, kind := range c.Kinds(message.MatchingBoat("b1")) {
		if kind == "matching.offer-made" {
			made++
		}
	}
	assert.Equal(t, 1, made)
	c.RebuildIsTheSame(matching.Name)
}

// Eight approved rounds pair the same boat with eight households, as if it had
// been frozen eight times before anybody knew of the others.
func TestABoatIsPromisedToOneOfManyRounds(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	const n = 8
	for i := range n {
		request, round := fmt.Sprintf("r%d", i), fmt.Sprintf("round%d", i)
		c.asks(request, wish())
		stream := message.MatchingRound(round)
		c.Say(stream, "", message.RoundOpened{Round: round, Boats: []boat.ID{"b1"}, Requests: []message.RoundRequest{{Request: request, Version: 1, Tier: 2}}})
		c.Say(stream, "", message.RoundSolved{Round: round, Pairs: []message.RoundPair{{Boat: "b1", Request: request}}})
		c.Say(stream, "", message.RoundApproved{Round: round, By: c.second.Person})
	}
	c.Settle()
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: c.coordinator, Key: desktest.ID()}, message.SendOffers{Round: fmt.Sprintf("round%d", i)})
			if err != nil {
				assert.Equal(t, fault.Conflict, fault.Of(err).Kind, "%v", err)
			}
		})
	}
	all.Wait()
	assert.Equal(t, []message.Kind{"matching.offer-made"}, c.Kinds(message.MatchingBoat("b1")))
	c.RebuildIsTheSame(matching.Name)
}
