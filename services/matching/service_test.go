package matching_test

import (
	"bytes"
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
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/services/matching"
)

var today = desktest.Today

var visitor = people.Service(desk.Pages)

// club is a club with its matching room and the two members that a round needs.
type club struct {
	*desktest.Club
	coordinator, second people.Actor
}

func start(t *testing.T) club {
	c := desktest.Start(t, desktest.Room{Name: matching.Name, Migrations: matching.Migrations(), New: matching.New})
	return club{c, c.Member(people.Coordinator), c.Member(people.Coordinator)}
}

// canoe is a tandem canoe of the kind that fits an ordinary wish.
func canoe() message.BoatFacts {
	return message.BoatFacts{
		Type: boat.Canoe, Seats: 2, LengthMM: 4600, BeamMM: 850, MassG: 24_000, RatedLoadG: 320_000, RatedSource: "plate",
		Material: boat.Rotomoulded, HullNumber: "XYZ12345L495", Features: []boat.Feature{"floor space for a dog"},
	}
}

// wish is a wish that every canoe fits.
func wish() message.Wish {
	return message.Wish{
		Types: []boat.Type{boat.Canoe}, Adults: []message.Paddler{{Years: 41, MassG: 81_000}}, Children: []message.Paddler{{Years: 9, MassG: 29_000}},
		GearG: 12_000, Water: "sheltered lake", Experience: "some", Carriers: 2, EachLiftsG: 20_000, HasCart: true,
		Transport: "roof", RoofLoadG: 75_000, RackG: 6000, StorageMM: 5500,
	}
}

// ready brings a boat into the club and out of the workshop.
func (c club) ready(id boat.ID, name string, facts message.BoatFacts) {
	c.Say(message.IntakeBoat(id), string(id), message.BoatLogged{Boat: id, Name: name, Taking: message.Gift, Giver: "giver", Facts: facts})
	c.Say(message.RepairBoat(id), string(id), message.BoatReady{Boat: id, Grade: 3, Disclosure: []message.DisclosedFinding{{
		Finding: "f1", Place: message.Place{Zone: "stern", Side: "centreline", Face: "outside", Part: "keel line"}, Defect: "abrasion", End: "left and watched: shallow",
	}}})
}

// form is what a stranger sends.
func form(request string, w message.Wish) message.MakeRequest {
	return message.MakeRequest{
		Request: request, Household: people.ID("household-" + request), Link: "link-" + request, Consent: "privacy 2026-1", Boats: 1, Wish: w,
		Details: &message.PersonDetails{Name: "Odalys Fenwright", Mail: "odalys@example.org"},
	}
}

// asks sends a form and gives the applicant's private link.
func (c club) asks(request string, w message.Wish) people.Actor {
	c.Do(visitor, form(request, w))
	return c.Link(people.ID("household-"+request), people.OwnRequest, request)
}

// opens has both members put their secrets into the lottery and freezes the list.
func (c club) opens(round string) {
	c.commits(round)
	c.Do(c.coordinator, message.OpenRound{Round: round})
}

func (c club) commits(round string) {
	c.Do(c.coordinator, message.CommitSecret{Round: round, Secret: "herons wade where the reeds are thin"})
	c.Do(c.second, message.CommitSecret{Round: round, Secret: "nine otters under the boat house"})
}

// offers takes a round as far as its offers and gives the pairs.
func (c club) offers(round string) []message.RoundPair {
	c.opens(round)
	c.Do(c.coordinator, message.SolveRound{Round: round})
	c.Do(c.second, message.ApproveRound{Round: round})
	c.Do(c.coordinator, message.SendOffers{Round: round, Days: 7})
	return c.solved(round).Pairs
}

func (c club) solved(round string) message.RoundSolved {
	return find[message.RoundSolved](c.Bodies(message.MatchingRound(round)))
}

// made gives the last offer of a boat.
func (c club) made(id boat.ID) message.OfferMade {
	return find[message.OfferMade](c.Bodies(message.MatchingBoat(id)))
}

// find gives the last body of a kind, or the zero one.
func find[B message.Body](bodies []message.Body) (found B) {
	for _, body := range bodies {
		if b, ok := body.(B); ok {
			found = b
		}
	}
	return found
}

func kindOf(err error) fault.Kind {
	if err == nil {
		return ""
	}
	return fault.Of(err).Kind
}

// Three households, two boats: one accepts, one declines, one is left over and
// then gets what was declined.
func TestThreeHouseholdsAndTwoBoats(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	wide := canoe()
	wide.Features = append(wide.Features, "outriggers can be fitted")
	c.ready("b2", "Coot", wide)

	c.asks("r1", wish())
	needing := wish()
	needing.Needs = []boat.Feature{"outriggers can be fitted"}
	second := c.asks("r2", needing)
	third := c.asks("r3", wish())
	c.Do(c.coordinator, message.SetTier{Request: "r2", Tier: 1, Why: "needs that one boat alone meets"})
	c.Do(c.coordinator, message.SetTier{Request: "r1", Tier: 3, Why: "has had a boat from the club before"})

	pairs := c.offers("round1")
	require.Len(t, pairs, 2)
	assert.Equal(t, "r3", pairs[0].Request, "b1 goes to the household in the earlier tier")
	assert.Equal(t, "r2", pairs[1].Request, "only b2 has what was asked for")
	solved := c.solved("round1")
	assert.Equal(t, []int{1, 1, 0}, solved.ServedByTier)
	require.Len(t, solved.Unserved, 1)
	assert.Equal(t, "r1", solved.Unserved[0].Request)
	assert.Equal(t, 2, solved.Unserved[0].Fitting)
	assert.Contains(t, solved.Unserved[0].Reasons[0], "So few took part that it is not told how many went where")

	c.Do(third, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "declined", Why: "we move away"})
	c.Do(second, message.AnswerOffer{Offer: c.made("b2").Offer, Boat: "b2", Answer: "accepted"})
	c.Do(third, message.EndRequest{Request: "r3", How: "withdrawn"})
	c.Do(c.coordinator, message.CloseRound{Round: "round1", Why: "all have answered"})

	pairs = c.offers("round2")
	require.Len(t, pairs, 1)
	assert.Equal(t, boat.ID("b1"), pairs[0].Boat)
	assert.Equal(t, "r1", pairs[0].Request)

	c.handOver(t, "b2")
	assert.Equal(t, []message.Kind{"matching.offer-made", "matching.offer-answered", "matching.boat-handed-over"}, c.Kinds(message.MatchingBoat("b2")))
	ended := find[message.RequestEnded](c.Bodies(message.MatchingRequest("r2")))
	assert.Equal(t, "placed", ended.How)
	assert.Equal(t, today.AddDays(180), ended.KeepUntil, "the setting request-kept-days")
	c.RebuildIsTheSame(matching.Name)
}

// handOver prints the sheet, ticks every line and hands a boat over.
func (c club) handOver(t *testing.T, id boat.ID) {
	t.Helper()
	c.Say(message.RepairBoat(id), string(id), message.TestWaived{Boat: id, What: "fittings", Why: "the toggle was taken off", By: "a"})
	sheet := desktest.Ask[message.Sheet](c.Club, c.coordinator, message.HandOverSheet{Boat: id})
	assert.True(t, bytes.HasPrefix(sheet.PDF, []byte("%PDF-")), "%.20s", sheet.PDF)
	assert.Equal(t, "hand-over-coot.pdf", sheet.Name)
	assert.Contains(t, receipttest.Text(t, sheet.PDF), "fittings the toggle was taken off", "a waiver's reason stands on later papers")
	list := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: id})
	_, err := c.Try(c.coordinator, message.HandOver{Boat: id, On: today, Checks: list.Lines[1:], Release: list.Release})
	assert.Equal(t, "checks", fault.Of(err).Field, "a line was not ticked: %v", err)
	c.Do(c.coordinator, message.HandOver{Boat: id, On: today, Checks: list.Lines, Release: list.Release})
}

func TestAnOfferThatNobodyAnswersLapses(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.asks("r1", wish())
	c.offers("round1")
	c.Clock.Advance(8 * 24 * time.Hour)
	applicant := c.Link("household-r1", people.OwnRequest, "r1")
	_, err := c.Try(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "accepted"})
	assert.Equal(t, fault.Conflict, kindOf(err), "too late")

	c.Restart(matching.Name)
	require.Eventually(t, func() bool {
		return find[message.OfferAnswered](c.Bodies(message.MatchingBoat("b1"))).Answer == "lapsed"
	}, 5*time.Second, 5*time.Millisecond)
	c.Settle()
	c.Do(c.coordinator, message.CloseRound{Round: "round1", Why: "all have answered"})
	assert.Len(t, c.offers("round2"), 1, "boat and household are free again")
}
