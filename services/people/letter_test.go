package people_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/services/people"
)

func TestADonorGetsOneLinkAndALetterForEachPaper(t *testing.T) {
	c := start(t)
	donor := c.introduced(message.DonorSort, "Dor Bane", "dor@example.org")
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{Boat: "b1", Giver: donor.Person, NewGiver: donor})
	issue := func(paper string) {
		c.Say(message.TreasuryPaper(paper), "b1", message.PaperIssued{
			Paper: paper, Serial: "2026-" + paper, Boat: "b1", Donor: donor.Person, KeepTo: clock.MustDate("2033-12-31"), On: clock.MustDate("2026-04-01"),
		})
	}
	issue("p1")
	first := c.waitForLetters(1)[0]
	c.Settle()
	issue("p2")
	second := c.waitForLetters(2)[1]
	assert.Equal(t, tokenIn(t, first, message.LinkPath), tokenIn(t, second, message.LinkPath), "the same link")
	opened := desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: tokenIn(t, first, message.LinkPath)})
	assert.Equal(t, string(donor.Person), opened.Subject)
	assert.Equal(t, who.OwnPapers, opened.Purpose)

	c.Clock.Advance(91 * 24 * time.Hour)
	issue("p3")
	third := c.waitForLetters(3)[2]
	assert.NotEqual(t, tokenIn(t, first, message.LinkPath), tokenIn(t, third, message.LinkPath), "the old one has ended")
	desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: tokenIn(t, third, message.LinkPath)})

	// An erasure says which papers stay, and until when.
	c.Do(who.Actor{Link: linkIn(c, third)}, message.ErasePerson{Person: donor.Person, Why: "asked"})
	bodies := c.Bodies(message.Person(donor.Person))
	until := clock.MustDate("2033-12-31")
	assert.Equal(t, message.PersonErased{Person: donor.Person, Why: "asked", Kept: []message.KeptPaper{
		{Serial: "2026-p1", Until: until}, {Serial: "2026-p2", Until: until}, {Serial: "2026-p3", Until: until},
	}}, bodies[len(bodies)-1])
	c.RebuildIsTheSame(people.Name)
}

func TestWhoSetATimerIsToldWhenItIsOver(t *testing.T) {
	c := start(t)
	member := c.introduced(message.MemberSort, "Ina Reed", "ina@example.org")
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{Boat: "b1", Giver: member.Person, NewGiver: member})
	c.Say(message.RepairBoat("b1"), "b1", message.TimerRang{Boat: "b1", Timer: "m1", Who: member.Person})
	letter := c.waitForLetters(1)[0]
	assert.Equal(t, "The time you set in the workshop is over", letter.Subject)
	assert.Contains(t, letter.Text, "/boats/b1/sheet\n")
	assert.Equal(t, "ina@example.org", letter.To)
}

// Every treasurer is told once of what an event says, however often the room hears of it,
// and the mail names nothing that falls due.
func TestTreasurersAreToldWhatFallsDue(t *testing.T) {
	c := start(t)
	first, second, other := c.introduced(message.MemberSort, "Ina Reed", "ina@example.org"), c.introduced(message.MemberSort, "Bo Carr", "bo@example.org"), c.introduced(message.MemberSort, "Lu Fenn", "lu@example.org")
	for id, who := range map[string]*message.NewPerson{"b1": first, "b2": second, "b3": other} {
		c.Say("intake.boat/"+id, id, message.BoatLogged{Boat: boat.ID(id), Giver: who.Person, NewGiver: who})
	}
	for _, person := range []who.ID{first.Person, second.Person} {
		c.Say(message.Person(person), "", message.RoleGiven{Person: person, Role: who.Treasurer})
	}
	c.Settle()
	c.Say(message.TreasuryReminders, "", message.DeadlinesNear{First: clock.MustDate("2026-04-19"), Deadlines: []message.Deadline{{Key: "k", Due: clock.MustDate("2026-04-19"), Boat: "b1", Serial: "US-2026-0002"}}})
	letters := c.waitForLetters(2)
	var to []string
	for _, l := range letters {
		to = append(to, l.To)
		assert.Contains(t, l.Text, "does so on 2026-04-19")
		assert.Contains(t, l.Text, "/papers/clocks\n")
		assert.NotContains(t, l.Text, "US-2026-0002")
	}
	assert.ElementsMatch(t, []string{"ina@example.org", "bo@example.org"}, to)
	asked := desktest.Ask[message.OutcomesOfLetters](c.Club, desktest.Operator, message.LetterOutcomes{Letters: []string{letters[0].Key, "nobody's"}})
	require.Len(t, asked.Letters, 1)
	assert.Equal(t, message.LetterSent, asked.Letters[0].Outcome)
}

func linkIn(c *club, l mail.Letter) string {
	return desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: tokenIn(c.t, l, message.LinkPath)}).Link
}

func TestAnOfferIsWrittenToTheHousehold(t *testing.T) {
	c := start(t)
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	link := tokenIn(t, c.waitForLetters(1)[0], message.LinkPath)
	offer := func() {
		id := desktest.ID()
		c.Say(message.MatchingBoat("b1"), "b1", message.OfferMade{
			Offer: id, Round: "r", Boat: "b1", Request: made.Request, Household: made.Household, Until: c.Clock.Now().AddDate(0, 0, 7),
		})
	}
	offer()
	letter := c.waitForLetters(2)[1]
	assert.Equal(t, "A boat is offered to you", letter.Subject)
	assert.Contains(t, letter.Text, "2026-04-08")
	assert.Equal(t, link, tokenIn(t, letter, message.LinkPath))

	// The link would end before the offer does: the letter brings a new one, and
	// no second letter comes for it.
	c.Clock.Advance(85 * 24 * time.Hour)
	offer()
	letter = c.waitForLetters(3)[2]
	assert.NotEqual(t, link, tokenIn(t, letter, message.LinkPath))
	desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: tokenIn(t, letter, message.LinkPath)})
	c.Settle()
	assert.Equal(t, 3, strings.Count(c.DB.Dump("people.letter"), "sent"))
	assert.Len(t, strings.Split(c.DB.Dump("people.letter"), "\n"), 3)
}

func TestAHouseholdIsToldToUseItsBoatNoMore(t *testing.T) {
	c := start(t)
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	link := tokenIn(t, c.waitForLetters(1)[0], message.LinkPath)
	c.Say(message.MatchingBoat("b1"), "b1", message.UseStopped{Boat: "b1", Request: made.Request, Why: "the seam opens", What: "leave it ashore"})
	letter := c.waitForLetters(2)[1]
	assert.Equal(t, "Do not use your boat for now", letter.Subject)
	assert.Equal(t, "cam@example.org", letter.To)
	assert.Equal(t, link, tokenIn(t, letter, message.LinkPath))
	assert.NotContains(t, letter.Text, "seam", "what is wrong is read behind the link")
	c.Say(message.MatchingBoat("b2"), "b2", message.UseStopped{Boat: "b2", Request: "unknown", Why: "x", What: "x"})
	c.Settle()
	assert.Len(t, strings.Split(strings.TrimSpace(c.DB.Dump("people.letter")), "\n"), 2)
}

func TestLettersWaitForTheMailServerAndAreNotSentTwice(t *testing.T) {
	c := start(t)
	c.post.refuses(errors.New("cam@example.org: try later"))
	c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), ",1,,") }, time.Minute, 10*time.Millisecond, "tried once")
	c.post.refuses(nil)
	c.Clock.Advance(time.Hour)
	c.waitForLetters(1)

	// A link that ends before its letter leaves is not sent any more.
	c.post.refuses(errors.New("try later"))
	ended := c.ask(c.introduced(message.HouseholdSort, "Eve Fen", "eve@example.org"))
	c.Do(desktest.Operator, message.EndLink{Link: ended.Link})
	c.post.refuses(nil)
	c.Clock.Advance(time.Hour)
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), "its link has ended") }, time.Minute, 10*time.Millisecond)

	// The cursor is lost, as after a crash between reacting and moving it.
	c.DB.Exec(`UPDATE people.cursor SET position = 0 WHERE name = 'reactions'`)
	c.Restart(people.Name)
	c.Settle()
	c.RebuildIsTheSame(people.Name)
	c.ask(c.introduced(message.HouseholdSort, "Dan Reed", "dan@example.org"))
	assert.Equal(t, "dan@example.org", c.waitForLetters(2)[1].To, "and nothing before it")

	c.post.refuses(mail.ErrRefused)
	c.ask(c.introduced(message.HouseholdSort, "Tam Nettle", "tam@example.org"))
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), "refused") }, time.Minute, 10*time.Millisecond)
}

func TestNobodyTakesALinkThatIsTaken(t *testing.T) {
	c := start(t)
	first := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	c.waitForLetters(1)
	thief := message.RequestMade{Request: desktest.ID(), Household: "x", NewHousehold: c.introduced(message.HouseholdSort, "Tam Nettle", "tam@example.org"), Link: first.Link, Sealed: "v1.x"}
	thief.Household = thief.NewHousehold.Person
	c.Say(message.MatchingRequest(thief.Request), "", thief)
	c.Settle()
	opened := desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: message.LinkTokenOf(c.Vault.Blind, first.Link)})
	assert.Equal(t, first.Household, opened.Person)
	assert.Len(t, c.Bodies(message.PrivateLink(first.Link)), 1)
	assert.Len(t, c.post.all(), 1)
}

func TestOnlyTheRightSecretOpensALinkThatStands(t *testing.T) {
	c := start(t)
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", ""))
	token := message.LinkTokenOf(c.Vault.Blind, made.Link)
	desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: token})
	last := "0"
	if strings.HasSuffix(token, last) {
		last = "1"
	}
	for name, wrong := range map[string]string{
		"nothing": "", "the id alone": made.Link, "no secret": made.Link + ".", "one digit off": token[:len(token)-1] + last,
		"longer": token + "0", "of another link": message.LinkTokenOf(c.Vault.Blind, desktest.ID()), "capitals": strings.ToUpper(token),
	} {
		assert.Equal(t, fault.SignIn, questionFault[message.OpenedLink](c, pages, message.OpenLink{Token: wrong}).Kind, name)
	}
	c.Clock.Advance(90 * 24 * time.Hour)
	assert.Equal(t, fault.SignIn, questionFault[message.OpenedLink](c, pages, message.OpenLink{Token: token}).Kind, "too old")
	c.Clock.Advance(-time.Second)
	desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: token})
	c.Do(c.Member(who.Coordinator), message.EndLink{Link: made.Link})
	c.Settle()
	assert.Equal(t, fault.SignIn, questionFault[message.OpenedLink](c, pages, message.OpenLink{Token: token}).Kind, "ended")
}

func TestAHouseholdIsIntroducedAndFollowsItsRequest(t *testing.T) {
	c := start(t)
	household := c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org")
	guardian := c.introduced(message.GuardianSort, "Gil Sedge", "")
	c.Say(message.IntakeBoat("b9"), "b9", message.BoatLogged{Boat: "b9", Giver: guardian.Person, NewGiver: guardian})
	household.Guardian = guardian.Person
	made := c.ask(household)
	assert.Equal(t, []message.Body{
		message.PersonRegistered{Person: household.Person, Sort: message.HouseholdSort, Sealed: household.Sealed},
		message.ConsentGiven{Person: household.Person, Text: "privacy 2026-1", How: "form", By: guardian.Person},
		message.GuardianNamed{Person: household.Person, Guardian: guardian.Person},
	}, c.Bodies(message.Person(household.Person)))

	letter := c.waitForLetters(1)[0]
	assert.Equal(t, "cam@example.org", letter.To)
	assert.NotContains(t, letter.Text+letter.Subject, "Sedge")
	token := tokenIn(t, letter, message.LinkPath)
	opened := desktest.Ask[message.OpenedLink](c.Club, pages, message.OpenLink{Token: token})
	assert.Equal(t, message.OpenedLink{
		Link: made.Link, Person: household.Person, Purpose: who.OwnRequest, Subject: made.Request, Until: c.Clock.Now().AddDate(0, 0, 90),
	}, opened)
	address := desktest.Ask[message.LinkToken](c.Club, c.Member(who.Coordinator), message.LinkAddress{Link: made.Link})
	assert.Equal(t, message.LinkToken{Token: token, Address: base + "/link/" + token}, address)
	for _, place := range []string{"ledger.event", "people.roster_link", "people.letter"} {
		assert.NotContains(t, c.DB.Dump(place), strings.SplitN(token, ".", 2)[1], "the secret stands nowhere: %s", place)
	}

	// The same household asks again: it is not registered twice.
	again := made
	again.Request, again.Link = desktest.ID(), desktest.ID()
	c.Say(message.MatchingRequest(again.Request), "", again)
	c.waitForLetters(2)
	assert.Len(t, c.Bodies(message.Person(household.Person)), 3)
	c.RebuildIsTheSame(people.Name)
}
