package people_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/pkg/vault"
	"refloat.example/services/people"
)

func TestWhoIsErasedCannotBeReadAnyMore(t *testing.T) {
	c := start(t)
	n := c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org")
	made := c.ask(n)
	c.waitForLetters(1)
	c.Do(who.Actor{Link: made.Link}, message.ErasePerson{Person: n.Person, Why: "asked"})
	c.Settle()
	var details message.PersonDetails
	err := c.Vault.Unseal(t.Context(), string(n.Person), message.SealDetails, vault.Sealed(n.Sealed), &details)
	assert.ErrorIs(t, err, vault.ErrErased)
	assert.NotContains(t, c.DB.Dump("people.person"), n.Sealed)
	assert.Equal(t, fault.SignIn, questionFault[message.OpenedLink](c, pages, message.OpenLink{Token: message.LinkTokenOf(c.Vault.Blind, made.Link)}).Kind)
	again, err := c.Try(desktest.Operator, message.ErasePerson{Person: n.Person, Why: "asked"})
	require.NoError(t, err, "asking twice is nothing new")
	assert.Empty(t, again.Events)
	assert.Equal(t, fault.Unknown, c.fault(desktest.Operator, message.ChangePerson{Person: n.Person, Details: message.PersonDetails{Name: "X"}}).Kind)
	c.RebuildIsTheSame(people.Name)
}

func TestACrashBetweenTheEventAndTheKeyIsMended(t *testing.T) {
	c := start(t)
	n := c.introduced(message.HouseholdSort, "Cam Sedge", "")
	c.ask(n)
	require.NoError(t, c.Rooms[people.Name].Stop(t.Context()))
	c.Say(message.Person(n.Person), "", message.PersonErased{Person: n.Person, Why: "asked"}) // said, and then nothing
	require.NoError(t, c.Rooms[people.Name].Start(t.Context()))
	c.Settle()
	var details message.PersonDetails
	assert.ErrorIs(t, c.Vault.Unseal(t.Context(), string(n.Person), message.SealDetails, vault.Sealed(n.Sealed), &details), vault.ErrErased)
}

func TestHouseholdsAreErasedWhenTheirTimeIsOver(t *testing.T) {
	c := start(t)
	keep := clock.MustDate("2026-09-28")
	end := func(made message.RequestMade, keep clock.Date) {
		c.Say(message.MatchingRequest(made.Request), "", message.RequestEnded{Request: made.Request, How: "withdrawn", KeepUntil: keep})
	}
	early := c.ask(c.introduced(message.HouseholdSort, "Early Reed", ""))
	end(early, keep.AddDays(-1))
	over := c.ask(c.introduced(message.HouseholdSort, "Over Reed", ""))
	ward := c.introduced(message.HouseholdSort, "Ward Reed", "")
	guardian := c.introduced(message.GuardianSort, "Guardian Reed", "")
	c.Do(desktest.Operator, message.RegisterPerson{Person: guardian.Person, Sort: message.GuardianSort, Consent: "c", Details: message.PersonDetails{Name: "Guardian Reed"}})
	ward.Guardian = guardian.Person
	wards := c.ask(ward)
	helper := registration(message.GuardianSort, "Helper Reed", "")
	c.Do(desktest.Operator, helper)
	helped := c.introduced(message.HouseholdSort, "Open Reed", "")
	helped.Guardian = helper.Person
	open := c.ask(helped)
	alsoHelped := c.introduced(message.HouseholdSort, "Also Reed", "")
	alsoHelped.Guardian = helper.Person
	end(c.ask(alsoHelped), keep)
	askedTwice := c.ask(c.introduced(message.HouseholdSort, "Twice Reed", ""))
	second := askedTwice
	second.Request, second.Link = desktest.ID(), desktest.ID()
	c.Say(message.MatchingRequest(second.Request), "", second)
	accepted := c.ask(c.introduced(message.HouseholdSort, "Accepted Reed", ""))
	received := c.ask(c.introduced(message.HouseholdSort, "Received Reed", ""))
	broken := c.ask(c.introduced(message.HouseholdSort, "Broken Reed", ""))
	lapsed := c.ask(c.introduced(message.HouseholdSort, "Lapsed Reed", ""))
	gave := c.ask(c.introduced(message.HouseholdSort, "Gave Reed", ""))
	c.Say(message.IntakeBoat("b5"), "b5", message.BoatLogged{Boat: "b5", Giver: gave.Household})
	for _, offered := range []message.RequestMade{accepted, received, broken, lapsed} {
		c.Say(message.MatchingBoat("b1"), "b1", message.OfferMade{Offer: offered.Request, Boat: "b1", Request: offered.Request, Household: offered.Household, Until: c.Clock.Now()})
	}
	for offered, answer := range map[string]string{accepted.Request: "accepted", received.Request: "accepted", broken.Request: "accepted", lapsed.Request: "lapsed"} {
		c.Say(message.MatchingBoat("b1"), "b1", message.OfferAnswered{Offer: offered, Boat: "b1", Request: offered, Answer: answer})
	}
	c.Say(message.MatchingBoat("b1"), "b1", message.PromiseEnded{Offer: broken.Request, Boat: "b1", Request: broken.Request, Why: "w"})
	c.Say(message.MatchingBoat("b1"), "b1", message.BoatHandedOver{Boat: "b1", Request: received.Request, Household: received.Household, On: keep})
	for _, made := range []message.RequestMade{over, wards, askedTwice, accepted, received, broken, lapsed, gave} {
		end(made, keep)
	}
	c.Settle()

	erased := func() (names []who.ID) {
		for _, made := range []message.RequestMade{over, wards, open, askedTwice, accepted, received, broken, lapsed, gave} {
			bodies := c.Bodies(message.Person(made.Household))
			if e, ok := bodies[len(bodies)-1].(message.PersonErased); ok {
				assert.Equal(t, "retention", e.Why)
				names = append(names, made.Household)
			}
		}
		return names
	}
	c.Clock.Advance(179 * 24 * time.Hour) // 27 September
	c.Restart(people.Name)
	require.Eventually(t, func() bool { return c.read(early.Household)[0].Erased }, time.Minute, 20*time.Millisecond)
	assert.Empty(t, erased())
	c.Clock.Advance(24 * time.Hour)
	c.Restart(people.Name)
	require.Eventually(t, func() bool { return len(erased()) == 4 }, time.Minute, 20*time.Millisecond)
	c.Settle()
	assert.ElementsMatch(t, []who.ID{over.Household, wards.Household, broken.Household, lapsed.Household}, erased())
	c.Restart(people.Name)
	require.Eventually(t, func() bool { return c.read(guardian.Person)[0].Erased }, time.Minute, 20*time.Millisecond, "nobody is left to act for")
	assert.True(t, c.read(alsoHelped.Person)[0].Erased)
	assert.False(t, c.read(helper.Person)[0].Erased, "somebody is")
	c.Say(message.MatchingBoat("b1"), "b1", message.BoatReturned{Boat: "b1", Request: received.Request, On: keep, Where: "back to the club"})
	c.Settle()
	c.Restart(people.Name)
	require.Eventually(t, func() bool { return c.read(received.Household)[0].Erased }, time.Minute, 20*time.Millisecond, "without the boat nothing needs it")
	c.RebuildIsTheSame(people.Name)
}

func TestADestroyedKeyIsAnErasureBeforeTheTableKnows(t *testing.T) {
	c := start(t)
	dor := c.register(message.DonorSort, "Dor Bane", "")
	require.NoError(t, c.Vault.Destroy(t.Context(), string(dor)))
	assert.Equal(t, []message.PersonRead{{Person: dor, Sort: message.DonorSort, Erased: true}}, c.read(dor))
}

func TestTheLastAdministratorStays(t *testing.T) {
	c := start(t)
	ada := c.register(message.MemberSort, "Ada Oxlip", "ada@example.org", who.Administrator)
	c.Settle()
	take := message.TakeRole{Person: ada, Role: who.Administrator}
	assert.Equal(t, fault.Conflict, c.fault(who.Member(ada), take).Kind)
	assert.Equal(t, fault.Conflict, c.fault(desktest.Operator, message.ErasePerson{Person: ada, Why: "asked"}).Kind)
	bee := c.register(message.MemberSort, "Bee Rush", "bee@example.org", who.Administrator)
	c.Settle()

	// Both take the role from each other at once, again and again: one of them
	// always keeps it.
	for range 10 {
		var both sync.WaitGroup
		for by, of := range map[who.ID]who.ID{ada: bee, bee: ada} {
			both.Go(func() {
				_, _ = c.Client.Do(t.Context(), desk.Asking{By: who.Member(by), Key: desktest.ID()}, message.TakeRole{Person: of, Role: who.Administrator})
			})
		}
		both.Wait()
		c.Settle()
		left := c.DB.Dump("people.roster_role")
		require.NotEmpty(t, left, "nobody is left")
		require.NotContains(t, left, "\n", "none was taken")
		for _, id := range []who.ID{ada, bee} {
			c.Do(desktest.Operator, message.GiveRole{Person: id, Role: who.Administrator})
		}
		c.Settle()
	}
}
