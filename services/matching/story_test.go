package matching_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
	"refloat.example/services/matching"
)

// eventually waits for a reaction.
func eventually[B message.Body](t *testing.T, c club, stream string) B {
	t.Helper()
	var zero B
	c.Settle()
	require.Contains(t, c.Kinds(stream), zero.Kind(), stream)
	return find[B](c.Bodies(stream))
}

// Nothing that the household said of itself stands in the book in clear, in
// whatever way the round ends.
func TestTheBookHoldsNothingOfTheHouseholds(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	small := canoe()
	small.RatedLoadG = 100_000
	c.ready("b2", "Coot", small)
	w := wish()
	w.Adults[0].MassG, w.GearG, w.EachLiftsG, w.Words = 81_357, 12_467, 19_573, "please the blue one"
	applicant := c.asks("r1", w)
	c.Do(applicant, message.ChangeRequest{Request: "r1", Wish: func() message.Wish { w.RackG = 6131; return w }()})
	heavy := wish()
	heavy.Adults[0].MassG, heavy.GearG = 137_911, 180_037
	c.asks("r2", heavy)
	c.offers("round1")
	c.Do(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "accepted"})
	list := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: "b1"})
	c.Do(c.coordinator, message.HandOver{Boat: "b1", On: today, Checks: list.Lines, Release: list.Release})

	head, err := c.Log.Head(t.Context())
	require.NoError(t, err)
	secrets := []string{"81357", "81.357", "12467", "12.467", "19573", "19.573", "6131", "6.131", "137.911", "137911", "180.037", "Fenwright", "odalys", "blue one"}
	// Sums that give a mass away: with the child's 29 kg and the gear.
	secrets = append(secrets, "122.824", "346.948", "317.948")
	require.NoError(t, c.Log.Each(t.Context(), 0, head.Position, func(e message.Event) error {
		for _, secret := range secrets {
			assert.NotContains(t, string(e.Data), secret, "%s", e.Kind)
		}
		return nil
	}))

	solved := c.solved("round1")
	var own []string
	require.NoError(t, c.Vault.Unseal(t.Context(), "household-r2", message.SealReasons, vault.Sealed(solved.Unserved[0].Sealed), &own))
	assert.Contains(t, strings.Join(own, " "), "346.948 kg", "the household itself is told the numbers")
}

func TestAHouseholdStandsOnce(t *testing.T) {
	c := start(t)
	var taken atomic.Int32
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			m := form(fmt.Sprintf("r%d", i), wish())
			m.Household = "one-household"
			_, err := c.Client.Do(t.Context(), desk.Asking{By: visitor, Key: desktest.ID()}, m)
			if err == nil {
				taken.Add(1)
			}
		})
	}
	all.Wait()
	assert.Equal(t, int32(1), taken.Load())
	c.Settle()
	assert.Equal(t, 1, strings.Count(c.DB.Dump("matching.request"), "one-household"))

	request := find[message.HouseholdAsked](c.Bodies(message.MatchingHousehold("one-household"))).Request
	again := message.MakeRequest{Request: "later", Household: "one-household", Link: "link-later", Consent: "privacy 2026-1", Wish: wish()}
	_, err := c.Try(c.coordinator, again)
	assert.Equal(t, fault.Conflict, kindOf(err), "%v", err)
	_, err = c.Try(visitor, again)
	assert.Equal(t, fault.Forbidden, kindOf(err), "a stranger asks for a household that the club knows: %v", err)
	c.Do(c.coordinator, message.EndRequest{Request: request, How: "declined", Why: "too far away"})
	c.Do(c.coordinator, again)
	assert.Equal(t, 1, find[message.RequestMade](c.Bodies(message.MatchingRequest("later"))).Boats, "one boat, unless more are asked for")
}

func TestAMinorsGuardianIsIntroduced(t *testing.T) {
	c := start(t)
	m := form("r1", wish())
	m.ForMinor = true
	c.Do(visitor, m)
	assert.Equal(t, message.GuardianSort, find[message.RequestMade](c.Bodies(message.MatchingRequest("r1"))).NewHousehold.Sort)
}

func TestARoundIsFrozenAndItsSeedFollowsFromTwoSecrets(t *testing.T) {
	c := start(t)
	c.ready("b2", "Coot", canoe())
	c.ready("b1", "Heron", canoe())
	c.asks("r2", wish())
	first := c.asks("r1", wish())
	c.Do(c.coordinator, message.SetTier{Request: "r2", Tier: 1, Why: "first boat"})
	c.opens("round1")
	opened := find[message.RoundOpened](c.Bodies(message.MatchingRound("round1")))
	// Written out by hand: RFC 8785 sorts the keys.
	list := `{"boats":["b1","b2"],"requests":[{"request":"r1","tier":2,"version":1},{"request":"r2","tier":1,"version":2}]}`
	hash := sha256.Sum256([]byte(list))
	assert.Equal(t, hex.EncodeToString(hash[:]), opened.ListHash)
	assert.Empty(t, opened.Seed, "nobody knows it before the list is frozen")

	c.commits("round2")
	_, err := c.Try(c.coordinator, message.OpenRound{Round: "round2", Boats: []boat.ID{"b1"}})
	assert.Equal(t, "boats[0]", fault.Of(err).Field, "stands in another round: %v", err)

	late := wish()
	late.Types = []boat.Type{boat.Board}
	c.Do(first, message.ChangeRequest{Request: "r1", Wish: late})
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	solved := c.solved("round1")
	assert.Len(t, solved.Pairs, 2, "the round goes by the wish as it was frozen")
	// The commitments are f0… and 3c…, so the second member's secret stands first.
	seed := sha256.Sum256([]byte("nine otters under the boat house\nherons wade where the reeds are thin\nround1\n" + opened.ListHash))
	assert.Equal(t, hex.EncodeToString(seed[:]), solved.Seed)
	c.Do(c.second, message.ApproveRound{Round: "round1"})
	c.Do(c.coordinator, message.SendOffers{Round: "round1"})
	offers := 0
	for _, id := range []boat.ID{"b1", "b2"} {
		if made := c.made(id); made.Offer != "" {
			offers++
			assert.Equal(t, "r2", made.Request, "what was changed fits no more, so nothing is offered")
			assert.Equal(t, today.AddDays(7), dayOf(made.Until), "the setting offer-days")
		}
	}
	assert.Equal(t, 1, offers)
}

func TestSolvingAgainComesToTheSame(t *testing.T) {
	c := start(t)
	for i := range 4 {
		c.ready(boat.ID(fmt.Sprintf("b%d", i)), fmt.Sprintf("Boat %d", i), canoe())
	}
	for i := range 6 {
		c.asks(fmt.Sprintf("r%d", i), wish())
	}
	c.opens("round1")
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	before := c.solved("round1")
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	after := c.solved("round1")
	for _, s := range []*message.RoundSolved{&before, &after} {
		for i := range s.Pairs {
			s.Pairs[i].Sealed = "" // sealed under a random nonce
		}
		for i := range s.Unserved {
			s.Unserved[i].Sealed = ""
		}
	}
	assert.Equal(t, before, after)
	assert.Equal(t, message.RoundFit{Request: "r0", Boats: []int{0, 1, 2, 3}, Scores: before.Candidates[0].Scores}, before.Candidates[0])
	assert.Contains(t, before.Unserved[0].Reasons[1], "4 boats went to requests with which the round as a whole has more points, or which the lottery drew")
}

func TestASecondMemberApproves(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	m := form("r1", wish())
	m.Household, m.Details = c.second.Person, nil
	c.Do(c.second, m) // a member asks for their own household
	c.opens("round1")
	_, err := c.Try(c.second, message.ApproveRound{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "not solved yet: %v", err)
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	_, err = c.Try(c.coordinator, message.SendOffers{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "not approved yet: %v", err)

	_, err = c.Try(c.coordinator, message.ApproveRound{Round: "round1"})
	assert.Equal(t, fault.Forbidden, kindOf(err), "who solved it: %v", err)
	_, err = c.Try(c.second, message.ApproveRound{Round: "round1"})
	assert.Equal(t, fault.Forbidden, kindOf(err), "whose household takes part: %v", err)
	third := c.Member(people.Administrator)
	c.Do(third, message.ApproveRound{Round: "round1"})
	assert.Equal(t, third.Person, find[message.RoundApproved](c.Bodies(message.MatchingRound("round1"))).By)
	_, err = c.Try(c.coordinator, message.SolveRound{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "an approved round stays as it is until its offers are sent: %v", err)
}

// A member who filled in the public form comes under another id.
func TestAMembersOwnHouseholdIsFoundUnderAnotherID(t *testing.T) {
	const unlike = "somebody.else@example.org"
	for name, row := range map[string]struct {
		member message.PersonDetails
		judged bool
		refuse bool
	}{
		"the same mail address":       {message.PersonDetails{Name: "O. Fenwright", Mail: "Odalys@Example.org"}, false, true},
		"the same telephone":          {message.PersonDetails{Name: "O. Fenwright", Mail: unlike, Phone: "+1 555 0100"}, false, true},
		"judged to be one person":     {message.PersonDetails{Name: "O. Fenwright", Mail: unlike}, true, true},
		"somebody else":               {message.PersonDetails{Name: "Ansel Brackwater", Mail: unlike, Phone: "555 0199"}, false, false},
		"nothing is known to compare": {message.PersonDetails{Name: "Ansel Brackwater"}, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			c.ready("b1", "Heron", canoe())
			sealed, err := c.Vault.Seal(t.Context(), string(c.second.Person), message.SealDetails, row.member)
			require.NoError(t, err)
			c.Say(message.Person(c.second.Person), "", message.PersonRegistered{Person: c.second.Person, Sort: message.MemberSort, Sealed: string(sealed)})
			m := form("r1", wish())
			m.Details.Phone = "(1) 555-0100"
			c.Do(visitor, m)
			if row.judged {
				one, other := c.second.Person, m.Household
				c.Say(message.Doubles(one, other), "", message.DoublesJudged{One: min(one, other), Other: max(one, other), Same: true})
			}
			c.opens("round1")
			c.Do(c.coordinator, message.SolveRound{Round: "round1"})
			_, err = c.Try(c.second, message.ApproveRound{Round: "round1"})
			assert.Equal(t, row.refuse, kindOf(err) == fault.Forbidden, "%v", err)
			c.RebuildIsTheSame(matching.Name)
		})
	}
}

func TestARoundWithOpenOffersIsNotClosed(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.asks("r1", wish())
	c.offers("round1")
	_, err := c.Try(c.coordinator, message.CloseRound{Round: "round1", Why: "enough"})
	assert.Equal(t, fault.Conflict, kindOf(err), "%v", err)
	c.Do(c.coordinator, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "withdrawn", Why: "the boat was damaged"})
	_, err = c.Try(c.coordinator, message.SendOffers{Round: "round1"})
	assert.Equal(t, fault.Conflict, kindOf(err), "an offer is sent once: %v", err)
	c.Do(c.coordinator, message.CloseRound{Round: "round1", Why: "enough"})
}

func TestAWithdrawnRequestFreesItsBoat(t *testing.T) {
	for name, answer := range map[string]string{"before an answer": "", "after accepting": "accepted"} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			c.ready("b1", "Heron", canoe())
			applicant := c.asks("r1", wish())
			c.offers("round1")
			if answer != "" {
				c.Do(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: answer})
			}
			c.Do(applicant, message.EndRequest{Request: "r1", How: "withdrawn"})
			bodies := c.Bodies(message.MatchingBoat("b1"))
			if answer == "" {
				assert.Equal(t, "withdrawn", find[message.OfferAnswered](bodies).Answer)
			} else {
				assert.Equal(t, "accepted", find[message.OfferAnswered](bodies).Answer, "an offer ends once")
				assert.Equal(t, "r1", find[message.PromiseEnded](bodies).Request)
			}
			c.asks("r2", wish())
			c.Do(c.coordinator, message.CloseRound{Round: "round1", Why: "nobody else was in it"})
			assert.Len(t, c.offers("round2"), 1, "the boat is free again")
			c.RebuildIsTheSame(matching.Name)
		})
	}
}

func TestABoatThatLeavesFreesItsRequest(t *testing.T) {
	for name, gone := range map[string]message.Body{
		"retired": message.BoatRetired{Boat: "b1", Reason: "hull too thin", Disposal: "parts"},
		"sold":    message.BoatSold{Boat: "b1", On: today},
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			c.ready("b1", "Heron", canoe())
			applicant := c.asks("r1", wish())
			c.offers("round1")
			c.Do(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "accepted"})
			stream := message.RepairBoat("b1")
			if name == "sold" {
				stream = message.TreasuryBoat("b1")
			}
			c.Say(stream, "b1", gone)
			eventually[message.PromiseEnded](t, c, message.MatchingBoat("b1"))
			assert.Equal(t, "r1", eventually[message.RequestFreed](t, c, message.MatchingRequest("r1")).Request)
			c.Do(c.coordinator, message.CloseRound{Round: "round1", Why: "its boat is gone"})
			c.commits("round2")
			_, err := c.Try(c.coordinator, message.OpenRound{Round: "round2"})
			assert.Equal(t, "boats", fault.Of(err).Field, "the boat is gone: %v", err)
			c.ready("b2", "Coot", canoe())
			assert.Len(t, c.offers("round3"), 1)
			if name == "sold" { // what its buyer brings back is the club's, but goes nowhere by itself
				c.Say(stream, "b1", message.SaleTakenBack{Boat: "b1", On: today, Words: "it leaks"})
				assert.Contains(t, eventually[message.BoatKeptBack](t, c, message.MatchingBoat("b1")).Why, "look it over")
				c.Do(c.coordinator, message.LetOut{Boat: "b1", Why: "looked over"})
			}
			c.RebuildIsTheSame(matching.Name)
		})
	}
}

func TestAnErasedHouseholdsRequestEnds(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.asks("r1", wish())
	c.asks("r2", wish())
	c.Do(c.coordinator, message.SetTier{Request: "r1", Tier: 1, Why: "first boat"})
	c.opens("round1")
	require.NoError(t, c.Vault.Destroy(t.Context(), "household-r1")) // as the people room does
	c.Say(message.Person("household-r1"), "", message.PersonErased{Person: "household-r1", Why: "asked"})
	assert.Equal(t, "withdrawn", eventually[message.RequestEnded](t, c, message.MatchingRequest("r1")).How)

	for row := range strings.Lines(c.DB.Dump("matching.request")) {
		assert.Equal(t, strings.Contains(row, "household-r2"), strings.Contains(row, "v1."), "sealed parts of the erased are gone: %s", row)
	}

	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	solved := c.solved("round1")
	require.Len(t, solved.Pairs, 1)
	assert.Equal(t, "r2", solved.Pairs[0].Request)
	assert.Contains(t, solved.Unserved[0].Reasons[0], "erased")
	assert.Empty(t, solved.Blocks, "what cannot be read was not weighed")
	_, err := desk.Ask[message.Wish](t.Context(), c.Client, desk.Asking{By: c.coordinator}, message.ReadWish{Request: "r1"})
	assert.Equal(t, fault.Unknown, kindOf(err))
	again := form("r9", wish())
	again.Household = "household-r1"
	_, err = c.Try(visitor, again)
	assert.Equal(t, "household", fault.Of(err).Field, "an erased id is not used again: %v", err)
	c.RebuildIsTheSame(matching.Name)
}

func TestABoatThatMayNotGoIsNotHandedOver(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	applicant := c.asks("r1", wish())
	handOver := func() error {
		lines, err := desk.Ask[message.CheckLines](t.Context(), c.Client, desk.Asking{By: c.coordinator}, message.CheckList{Boat: "b1"})
		_, tried := c.Try(c.coordinator, message.HandOver{Boat: "b1", On: today, Checks: lines.Lines, Release: "2026-1"})
		assert.Equal(t, err == nil, len(lines.Lines) > 0)
		return tried
	}
	assert.ErrorContains(t, handOver(), "no household has accepted")
	c.offers("round1")
	assert.ErrorContains(t, handOver(), "has not accepted this boat yet")
	c.Do(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "accepted"})

	wet := message.QuarantineSet{Boat: "b1", LastWater: "Lake Amberjay", OutOfWater: today, Rule: "days", Until: today.AddDays(1)}
	c.Say(message.IntakeBoat("b1"), "b1", wet)
	assert.ErrorContains(t, handOver(), "has to dry until 2026-04-02")
	wet.Until = today
	c.Say(message.IntakeBoat("b1"), "b1", wet)
	jacket := message.JacketChecked{Boat: "b1", Jacket: "j1", Sort: jackets.Foam, Failing: []string{"straps"}}
	c.Say(message.IntakeBoat("b1"), "b1", jacket)
	assert.ErrorContains(t, handOver(), "a life jacket that fails")
	jacket.Failing = nil
	c.Say(message.IntakeBoat("b1"), "b1", jacket)
	jacket.Jacket, jacket.Unchecked = "j2", []string{"label"}
	c.Say(message.IntakeBoat("b1"), "b1", jacket)
	assert.ErrorContains(t, handOver(), "was not checked as a whole")
	c.Say(message.IntakeBoat("b1"), "b1", message.JacketGone{Boat: "b1", Jacket: "j2", Way: message.JacketDestroyed})
	c.Say(message.RepairBoat("b1"), "b1", message.TestRecorded{Boat: "b1", Test: "t1", What: "leak", Passed: false, On: today})
	assert.ErrorContains(t, handOver(), "is not ready")
	c.Say(message.RepairBoat("b1"), "b1", message.BoatReady{Boat: "b1", Grade: 3})
	require.NoError(t, handOver())
	assert.ErrorContains(t, handOver(), "was handed over already")
}

// An organisation that asks for two boats gets one a round and stands until it
// has both.
func TestAnOrganisationGetsOneBoatARound(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.ready("b2", "Coot", canoe())
	m := form("r1", wish())
	m.Boats = 2
	c.Do(visitor, m)
	for i, round := range []string{"round1", "round2"} {
		pairs := c.offers(round)
		require.Len(t, pairs, 1, round)
		id := pairs[0].Boat
		c.Do(c.coordinator, message.AnswerOffer{Offer: c.made(id).Offer, Boat: id, Answer: "accepted"})
		list := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: id})
		c.Do(c.coordinator, message.HandOver{Boat: id, On: today, Checks: list.Lines, Release: list.Release})
		c.Do(c.coordinator, message.CloseRound{Round: round, Why: "the boat is handed over"})
		assert.Equal(t, i == 1, slices.Contains(c.Kinds(message.MatchingRequest("r1")), message.Kind("matching.request-ended")))
	}
}

func TestTheFitIsExplained(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	short := canoe()
	short.Seats, short.RatedLoadG = 1, 150_000
	c.ready("b2", "Coot", short)
	applicant := c.asks("r1", wish())
	c.asks("r2", wish())
	c.Do(c.coordinator, message.SetTier{Request: "r1", Tier: 1, Why: "first boat"})

	e := desktest.Ask[message.RequestExplained](c.Club, c.coordinator, message.ExplainRequest{Request: "r1"})
	assert.Equal(t, 2, e.Present)
	assert.Equal(t, 1, e.Fitting)
	require.Len(t, e.Boats, 2)
	assert.Equal(t, "Heron", e.Boats[0].Name)
	assert.True(t, e.Boats[0].Fits)
	assert.NotEmpty(t, e.Limits, "the limits stand beside the numbers")
	i := slices.IndexFunc(e.Boats[1].Verdicts, func(v message.RuleVerdict) bool { return v.Rule == "load" })
	// 81 + 29 + 12 kg against 70 % of 150 kg.
	assert.Equal(t, "no", e.Boats[1].Verdicts[i].Answer)
	assert.Contains(t, e.Boats[1].Verdicts[i].Because, "122 kg of people, animals and gear is more than 105 kg")
	i = slices.IndexFunc(e.Rules, func(r message.RuleCount) bool { return r.Rule == "seats" })
	assert.Equal(t, 1, e.Rules[i].No)
	assert.Equal(t, 0, e.Rules[i].Alone, "the load keeps it out too")

	c.opens("round1")
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	own := desktest.Ask[message.RequestExplained](c.Club, applicant, message.ExplainRequest{Request: "r1"})
	assert.Empty(t, own.Boats, "an applicant gets counts, not boats")
	assert.Empty(t, own.Reasons, "a draft is not shown")
	c.Do(c.second, message.ApproveRound{Round: "round1"})
	own = desktest.Ask[message.RequestExplained](c.Club, applicant, message.ExplainRequest{Request: "r1"})
	assert.Contains(t, strings.Join(own.Reasons, " "), "122 kg of people, animals and gear is within 224 kg")
	text, err := json.Marshal(own)
	require.NoError(t, err)
	for _, other := range []string{"r2", "household-r2", "Coot", "Heron"} {
		assert.NotContains(t, string(text), other)
	}
	read := desktest.Ask[message.Wish](c.Club, applicant, message.ReadWish{Request: "r1"})
	assert.Equal(t, wish(), read)
}
