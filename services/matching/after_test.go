package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
	"refloat.example/services/matching"
)

// A boat with its household: asked after 30 and 180 days, something happens, the
// club stops its use, and it comes back.
func TestAfterTheHandOver(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	applicant, other := c.asks("r1", wish()), c.asks("r2", wish())
	c.Do(c.coordinator, message.SetTier{Request: "r1", Tier: 1, Why: "first boat"})
	c.offers("round1")
	follow := message.NoteFollowUp{Boat: "b1", Days: 30, On: today, Fares: "in use", Words: "our back likes it"}
	_, err := c.Try(applicant, follow)
	assert.ErrorContains(t, err, "was not handed over")
	c.Do(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "accepted"})
	agree := message.AgreeFetching{Boat: "b1", On: today, At: "10:30", How: "fetched at the club"}
	c.OnlyFor("", agree, people.Coordinator)
	c.Do(c.coordinator, agree)
	for field, spoil := range map[string]func(*message.AgreeFetching){
		"on":   func(a *message.AgreeFetching) { a.On = today.AddDays(-1) },
		"at":   func(a *message.AgreeFetching) { a.At = "9:5" },
		"how":  func(a *message.AgreeFetching) { a.How = "thrown" },
		"boat": func(a *message.AgreeFetching) { a.Boat = "b9" },
	} {
		bad := agree
		spoil(&bad)
		_, err := c.Try(c.coordinator, bad)
		assert.Equal(t, field, fault.Of(err).Field, "%v", err)
	}
	assert.Equal(t, "r1", find[message.FetchingAgreed](c.Bodies(message.MatchingBoat("b1"))).Request)
	c.handOverOn("b1", today.AddDays(-30))
	_, err = c.Try(c.coordinator, agree)
	assert.ErrorContains(t, err, "handed over already")

	_, err = c.Try(other, follow)
	assert.Equal(t, fault.Forbidden, kindOf(err), "another household's: %v", err)
	c.Do(applicant, follow)
	_, err = c.Try(c.coordinator, follow)
	assert.ErrorContains(t, err, "written down already")
	noted := find[message.FollowUpNoted](c.Bodies(message.MatchingBoat("b1")))
	var words string
	require.NoError(t, c.Vault.Unseal(t.Context(), "household-r1", message.SealWords, vault.Sealed(noted.Sealed), &words))
	assert.Equal(t, "our back likes it", words)

	for field, command := range map[string]desk.Commanded{
		"days":     message.NoteFollowUp{Boat: "b1", Days: 60, On: today, Fares: "in use"},
		"fares":    message.NoteFollowUp{Boat: "b1", Days: 180, On: today, Fares: "sunk"},
		"on":       message.NoteFollowUp{Boat: "b1", Days: 180, On: today.AddDays(1), Fares: "in use"},
		"incident": message.ReportIncident{Boat: "b1", On: today, Harm: "nobody was hurt", Words: "x"},
		"harm":     message.ReportIncident{Boat: "b1", Incident: "i1", On: today, Words: "x"},
		"words":    message.ReportIncident{Boat: "b1", Incident: "i1", On: today, Harm: "nobody was hurt"},
		"why":      message.StopUse{Boat: "b1", What: "leave it ashore"},
		"what":     message.StopUse{Boat: "b1", Why: "the seam opens"},
		"where":    message.NoteComeback{Boat: "b1", On: today, Where: "the sea"},
		"boat":     message.StopUse{Boat: "b9", Why: "x", What: "x"},
	} {
		_, err := c.Try(c.coordinator, command)
		if assert.Error(t, err, field) {
			assert.Equal(t, field, fault.Of(err).Field, "%s: %v", field, err)
		}
	}
	_, err = c.Try(c.coordinator, message.NoteFollowUp{Boat: "b1", Days: 180, On: today.AddDays(-31), Fares: "in use"})
	assert.ErrorContains(t, err, "before the hand-over")
	_, err = c.Try(applicant, message.NoteFollowUp{Boat: "b1", Days: 180, On: today, Fares: "in use"})
	assert.Equal(t, "on", fault.Of(err).Field, "143 days early: %v", err)
	assert.ErrorContains(t, err, "is written down from "+today.AddDays(143).String()+" on")

	incident := message.ReportIncident{Boat: "b1", Incident: "i1", On: today, Harm: "nobody was hurt", Words: "the seam opened afloat"}
	c.Do(applicant, incident)
	_, err = c.Try(applicant, incident)
	assert.Equal(t, fault.Conflict, kindOf(err), "%v", err)
	assert.NotEmpty(t, find[message.IncidentReported](c.Bodies(message.MatchingBoat("b1"))).Sealed)
	stop := message.StopUse{Boat: "b1", Why: "the seam opens", What: "leave it ashore and bring it back"}
	c.OnlyFor("", stop, people.Coordinator, people.Steward)
	c.Do(c.Member(people.Steward), stop)
	require.NoError(t, c.Vault.Destroy(t.Context(), "household-r1"))
	c.Say(message.Person("household-r1"), "", message.PersonErased{Person: "household-r1", Why: "asked"})
	c.Settle()
	_, err = c.Try(c.coordinator, message.ReportIncident{Boat: "b1", Incident: "i2", On: today, Harm: "somebody was hurt", Words: "it sank"})
	assert.ErrorContains(t, err, "were erased", "words that cannot be kept are not dropped")
	_, err = c.Try(c.coordinator, stop)
	assert.ErrorContains(t, err, "nobody would be told")
	back := message.NoteComeback{Boat: "b1", On: today, Where: "back to the club", Words: "the seam"}
	c.OnlyFor("", back, people.Coordinator)
	c.Do(c.coordinator, back)
	_, err = c.Try(c.coordinator, stop)
	assert.ErrorContains(t, err, "does not have this boat any more")
	c.RebuildIsTheSame(matching.Name)
}

// An appeal goes to a member who decided nothing of it.
func TestAnAppealGoesToASecondMember(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	applicant, other := c.asks("r1", wish()), c.asks("r2", wish())
	third, fourth, fifth := c.Member(people.Coordinator), c.Member(people.Administrator), c.Member(people.Coordinator)
	c.Do(third, message.SetTier{Request: "r1", Tier: 3, Why: "has a boat"})
	c.commits("round1")
	c.Do(fifth, message.RulePair{Round: "round1", Boat: "b1", Request: "r2", How: message.RuledIn, Why: "it was fitted for them"})
	c.Do(c.coordinator, message.OpenRound{Round: "round1"})
	c.Do(c.coordinator, message.SolveRound{Round: "round1"})
	_, err := c.Try(fifth, message.ApproveRound{Round: "round1"})
	assert.ErrorContains(t, err, "you ruled on a pair", "a second member reads it")
	c.Do(c.second, message.ApproveRound{Round: "round1"})
	appeal := message.MakeAppeal{Request: "r1", Appeal: "a1", Words: "that boat was sold last year"}
	_, err = c.Try(other, appeal)
	assert.Equal(t, fault.Forbidden, kindOf(err), "%v", err)
	_, err = c.Try(applicant, message.MakeAppeal{Request: "r1", Appeal: "a1"})
	assert.Equal(t, "words", fault.Of(err).Field)
	c.Do(applicant, appeal)
	_, err = c.Try(applicant, message.MakeAppeal{Request: "r1", Appeal: "a2", Words: "once more"})
	assert.ErrorContains(t, err, "waits for its answer already")

	decide := message.DecideAppeal{Request: "r1", Appeal: "a1", Upheld: true, Why: "the list says so of boats that are still there"}
	for name, by := range map[string]people.Actor{"who set the tier": third, "who solved the round": c.coordinator, "who approved it": c.second, "who ruled on a pair": fifth, "the applicant": applicant, "a steward": c.Member(people.Steward)} {
		_, err := c.Try(by, decide)
		assert.Equal(t, fault.Forbidden, kindOf(err), "%s: %v", name, err)
	}
	_, err = c.Try(fourth, message.DecideAppeal{Request: "r1", Appeal: "a9", Why: "x"})
	assert.Equal(t, "appeal", fault.Of(err).Field)
	_, err = c.Try(fourth, message.DecideAppeal{Request: "r1", Appeal: "a1"})
	assert.Equal(t, "why", fault.Of(err).Field)
	c.Do(fourth, decide)
	_, err = c.Try(fourth, decide)
	assert.Equal(t, "appeal", fault.Of(err).Field, "decided once: %v", err)
	c.Do(applicant, message.MakeAppeal{Request: "r1", Appeal: "a2", Words: "once more"})
	c.RebuildIsTheSame(matching.Name)
}
