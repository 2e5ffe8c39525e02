package matching_test

import (
	"fmt"
	"path"
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

// answering is a club with a round whose offers are out, and what everybody does
// about them.
type answering struct {
	club
	boats []boat.ID
	doing []doing
}

// doing is an order that somebody gives once.
type doing struct {
	by      people.Actor
	key     string
	command desk.Commanded
}

// startAnswering takes a round of n boats and households as far as its offers,
// always to the same pairs.
func startAnswering(t *testing.T, n int) answering {
	a := answering{club: start(t)}
	applicants := map[string]people.Actor{}
	for i := range n {
		id, request := boat.ID(fmt.Sprintf("b%02d", i)), fmt.Sprintf("r%02d", i)
		a.ready(id, fmt.Sprintf("Boat %d", i), canoe())
		a.boats = append(a.boats, id)
		applicants[request] = a.asks(request, wish())
	}
	require.Len(t, a.offers("round1"), n)
	a.Settle()
	for i, id := range a.boats {
		offer := a.made(id)
		applicant := applicants[offer.Request]
		a.will(applicant, message.AnswerOffer{Offer: offer.Offer, Boat: id, Answer: "accepted"})
		a.will(applicant, message.AnswerOffer{Offer: offer.Offer, Boat: id, Answer: "declined"})
		a.will(a.coordinator, message.AnswerOffer{Offer: offer.Offer, Boat: id, Answer: "withdrawn", Why: "the boat was damaged"})
		if i%2 == 0 {
			a.will(applicant, message.EndRequest{Request: offer.Request, How: "withdrawn"})
		}
	}
	return a
}

func (a *answering) will(by people.Actor, command desk.Commanded) {
	a.doing = append(a.doing, doing{by, fmt.Sprintf("doing-%d", len(a.doing)), command})
}

// books gives what stands in the book of the boats and requests, but for what is
// sealed under a random nonce, and the tables that hold nothing sealed.
func (a answering) books() map[string]any {
	a.Settle()
	all := map[string]any{"offers": a.DB.Dump("matching.offer"), "boats": a.DB.Dump("matching.boat")}
	for i, id := range a.boats {
		offers := a.Bodies(message.MatchingBoat(id))
		made := offers[0].(message.OfferMade)
		all[string(id)] = offers
		all[made.Request] = a.Bodies(message.MatchingRequest(fmt.Sprintf("r%02d", i)))[1:] // without the sealed wish
	}
	return all
}

// Fifty answers at once: applicants accept and decline, the club withdraws,
// applicants leave. However it ends, an offer has ended once, a boat is promised
// to at most one household that still asks, and the books are those of a club in
// which the same answers came one after the other.
func TestEverybodyAnswersAtOnce(t *testing.T) {
	c := startAnswering(t, 15)
	require.GreaterOrEqual(t, len(c.doing), 50)
	before, err := c.Log.Head(t.Context())
	require.NoError(t, err)
	var all sync.WaitGroup
	for _, d := range c.doing {
		all.Go(func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: d.by, Key: d.key}, d.command)
			if err != nil && fault.Of(err).Kind != fault.Conflict {
				t.Errorf("%#v: %v", d.command, err)
			}
		})
	}
	all.Wait()
	for _, id := range c.boats {
		checkBoat(t, c.club, id)
	}
	c.RebuildIsTheSame(matching.Name)

	again := startAnswering(t, 15)
	taken := c.taken(t, before.Position)
	require.GreaterOrEqual(t, len(taken), 15)
	for _, d := range taken {
		again.Do(again.as(d), d.command)
	}
	assert.Equal(t, c.books(), again.books(), "one after the other")
}

// as gives who gives an order in this club: links are other ones.
func (a answering) as(d doing) people.Actor {
	for _, own := range a.doing {
		if own.key == d.key {
			return own.by
		}
	}
	return people.Actor{}
}

// taken gives the orders that were taken after a position, in the order of the
// book.
func (a answering) taken(t *testing.T, after int64) []doing {
	byKey := map[string]doing{}
	for _, d := range a.doing {
		byKey[d.key] = d
	}
	head, err := a.Log.Head(t.Context())
	require.NoError(t, err)
	var list []doing
	last := ""
	require.NoError(t, a.Log.Each(t.Context(), after, head.Position, func(e message.Event) error {
		key := path.Base(e.RequestKey)
		if d, ours := byKey[key]; ours && key != last {
			list, last = append(list, d), key
		}
		return nil
	}))
	return list
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
