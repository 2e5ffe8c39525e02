package people_test

import (
	"context"
	"errors"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/pkg/vault"
	"refloat.example/services/people"
)

const base = "https://quillwater.example"

// postOffice takes letters inside the test.
type postOffice struct {
	mu      sync.Mutex
	letters []mail.Letter
	refuse  error
}

func (p *postOffice) Send(_ context.Context, l mail.Letter) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.refuse != nil {
		return p.refuse
	}
	p.letters = append(p.letters, l)
	return nil
}

func (p *postOffice) all() []mail.Letter {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]mail.Letter{}, p.letters...)
}

func (p *postOffice) refuses(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.refuse = err
}

type club struct {
	*desktest.Club
	t    *testing.T
	post *postOffice
}

func start(t *testing.T) *club {
	t.Parallel()
	post := &postOffice{}
	room := desktest.Room{Name: people.Name, Migrations: people.Migrations(), New: people.New(people.Config{BaseURL: base + "/", Mail: post})}
	return &club{desktest.Start(t, room), t, post}
}

// waitForLetters waits until so many letters have left.
func (c *club) waitForLetters(n int) []mail.Letter {
	c.t.Helper()
	require.Eventually(c.t, func() bool { return len(c.post.all()) >= n }, 10*time.Second, 10*time.Millisecond, "letters")
	all := c.post.all()
	require.Len(c.t, all, n)
	return all
}

// restart closes and opens the room: its ticks run at once.
func (c *club) restart() {
	c.t.Helper()
	require.NoError(c.t, c.Rooms[people.Name].Stop(c.t.Context()))
	require.NoError(c.t, c.Rooms[people.Name].Start(c.t.Context()))
}

func registration(sort message.Sort, name, mail string) message.RegisterPerson {
	return message.RegisterPerson{
		Person: who.ID(desktest.ID()), Sort: sort, Consent: "privacy 2026-1",
		Details: message.PersonDetails{Name: name, Mail: mail, Language: "en"},
	}
}

func (c *club) register(sort message.Sort, name, mail string, roles ...who.Role) who.ID {
	c.t.Helper()
	r := registration(sort, name, mail)
	r.Roles = roles
	c.Do(desktest.Operator, r)
	return r.Person
}

// introduced seals details as another room does.
func (c *club) introduced(sort message.Sort, name, mail string) *message.NewPerson {
	c.t.Helper()
	id := who.ID(desktest.ID())
	sealed, err := c.Vault.Seal(c.t.Context(), string(id), message.SealDetails, message.PersonDetails{Name: name, Mail: mail})
	require.NoError(c.t, err)
	return &message.NewPerson{Person: id, Sort: sort, Sealed: string(sealed), Consent: "privacy 2026-1"}
}

// ask makes a request as the matching room does.
func (c *club) ask(n *message.NewPerson) message.RequestMade {
	c.t.Helper()
	made := message.RequestMade{Request: desktest.ID(), Household: n.Person, NewHousehold: n, Link: desktest.ID(), Sealed: "v1.x", Boats: 1}
	c.Say(message.MatchingRequest(made.Request), "", made)
	c.Settle()
	return made
}

func (c *club) fault(by who.Actor, command desk.Commanded) *fault.Fault {
	c.t.Helper()
	_, err := c.Try(by, command)
	require.Error(c.t, err)
	return fault.Of(err)
}

func (c *club) read(ids ...who.ID) []message.PersonRead {
	c.t.Helper()
	return desktest.Ask[message.PeopleRead](c.Club, c.Member(who.Coordinator), message.ReadPeople{IDs: ids}).People
}

var pages = who.Service(desk.Pages)

func questionFault[A any](c *club, by who.Actor, q desk.Commanded) *fault.Fault {
	c.t.Helper()
	_, err := desk.Ask[A](c.t.Context(), c.Client, desk.Asking{By: by}, q)
	require.Error(c.t, err)
	return fault.Of(err)
}

func TestAMemberIsRegisteredSignsInAndLeaves(t *testing.T) {
	c := start(t)
	ada := c.register(message.MemberSort, "Ada Oxlip", "Ada@example.org", who.Administrator)
	bee := c.register(message.MemberSort, "Bee Rush", "bee@example.org")
	c.Do(who.Member(ada), message.GiveRole{Person: bee, Role: who.Steward})
	assert.Equal(t, "Ada Oxlip", c.read(ada)[0].Details.Name)
	for _, kind := range []string{"person.registered", "Oxlip", "example.org"} {
		assert.NotContains(t, c.DB.Dump("ledger.event")+c.DB.Dump("people.person")+c.DB.Dump("people.letter"), kind, "nothing in clear")
	}

	asked := desktest.Ask[message.SignInAsked](c.Club, pages, message.AskSignIn{Mail: "BEE@example.org"})
	assert.Equal(t, message.SignInAsked{Minutes: 20}, asked)
	letter := c.waitForLetters(1)[0]
	assert.Equal(t, "bee@example.org", letter.To)
	token := tokenIn(t, letter, message.SignInPath)
	assert.NotContains(t, c.DB.Dump("people.sign_in")+c.DB.Dump("people.letter"), token)
	got := desktest.Ask[message.SignedIn](c.Club, pages, message.RedeemSignIn{Token: token})
	assert.Equal(t, bee, got.Person)
	assert.Equal(t, fault.SignIn, questionFault[message.SignedIn](c, pages, message.RedeemSignIn{Token: token}).Kind, "it works once")

	c.Do(who.Member(ada), message.ErasePerson{Person: bee, Why: "asked"})
	c.Settle()
	assert.Equal(t, fault.Forbidden, c.fault(who.Member(bee), message.GiveRole{Person: ada, Role: who.Auditor}).Kind)
	assert.Equal(t, []message.PersonRead{{Person: bee, Sort: message.MemberSort, Erased: true}}, c.read(bee))
	c.RebuildIsTheSame(people.Name)
}

func tokenIn(t *testing.T, l mail.Letter, path string) string {
	t.Helper()
	found := regexp.MustCompile(regexp.QuoteMeta(base+path) + `(\S+)\n`).FindStringSubmatch(l.Text)
	require.NotNil(t, found, l.Text)
	return found[1]
}

func TestSignInTellsNobodyWhoIsAMember(t *testing.T) {
	c := start(t)
	c.register(message.MemberSort, "Ada Oxlip", "ada@example.org")
	c.register(message.DonorSort, "Dor Bane", "dor@example.org")
	c.Settle()
	for _, address := range []string{"ada@example.org", "dor@example.org", "nobody@example.org"} {
		begun := time.Now()
		got := desktest.Ask[message.SignInAsked](c.Club, pages, message.AskSignIn{Mail: address})
		assert.Equal(t, message.SignInAsked{Minutes: 20}, got, address)
		assert.GreaterOrEqual(t, time.Since(begun), 250*time.Millisecond, address)
	}
	assert.Equal(t, "mail", questionFault[message.SignInAsked](c, pages, message.AskSignIn{Mail: "ada"}).Field)
	assert.Len(t, strings.Split(c.DB.Dump("people.sign_in"), "\n"), 1, "only the member gets a link")
	for range 6 {
		desktest.Ask[message.SignInAsked](c.Club, pages, message.AskSignIn{Mail: "ada@example.org"})
	}
	letters := c.waitForLetters(5)
	assert.Len(t, strings.Split(c.DB.Dump("people.sign_in"), "\n"), 5, "at most five stand open")
	c.Clock.Advance(20 * time.Minute)
	assert.Equal(t, fault.SignIn, questionFault[message.SignedIn](c, pages, message.RedeemSignIn{Token: tokenIn(t, letters[0], message.SignInPath)}).Kind, "too old")
	desktest.Ask[message.SignInAsked](c.Club, pages, message.AskSignIn{Mail: "ada@example.org"})
	assert.Len(t, strings.Split(c.DB.Dump("people.sign_in"), "\n"), 1, "old ones make room")
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

func TestLettersWaitForTheMailServerAndAreNotSentTwice(t *testing.T) {
	c := start(t)
	c.post.refuses(errors.New("cam@example.org: try later"))
	c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), ",1,,") }, 10*time.Second, 10*time.Millisecond, "tried once")
	c.post.refuses(nil)
	c.Clock.Advance(time.Hour)
	c.waitForLetters(1)

	// The cursor is lost, as after a crash between reacting and moving it.
	c.DB.Exec(`UPDATE people.cursor SET position = 0 WHERE name = 'reactions'`)
	c.restart()
	c.Settle()
	c.RebuildIsTheSame(people.Name)
	c.ask(c.introduced(message.HouseholdSort, "Dan Reed", "dan@example.org"))
	assert.Equal(t, "dan@example.org", c.waitForLetters(2)[1].To, "and nothing before it")

	c.post.refuses(mail.ErrRefused)
	c.ask(c.introduced(message.HouseholdSort, "Tam Nettle", "tam@example.org"))
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), "refused") }, 10*time.Second, 10*time.Millisecond)
}

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

func TestTheLastAdministratorStays(t *testing.T) {
	c := start(t)
	ada := c.register(message.MemberSort, "Ada Oxlip", "ada@example.org", who.Administrator)
	c.Settle()
	take := message.TakeRole{Person: ada, Role: who.Administrator}
	assert.Equal(t, fault.Conflict, c.fault(who.Member(ada), take).Kind)
	assert.Equal(t, fault.Conflict, c.fault(desktest.Operator, message.ErasePerson{Person: ada, Why: "asked"}).Kind)
	bee := c.register(message.MemberSort, "Bee Rush", "bee@example.org", who.Administrator)
	c.Settle()

	// Both take the role from each other at once: one of them keeps it.
	var both sync.WaitGroup
	for by, of := range map[who.ID]who.ID{ada: bee, bee: ada} {
		both.Go(func() {
			_, _ = c.Client.Do(t.Context(), desk.Asking{By: who.Member(by), Key: desktest.ID()}, message.TakeRole{Person: of, Role: who.Administrator})
		})
	}
	both.Wait()
	c.Settle()
	assert.Len(t, strings.Split(strings.Trim(c.DB.Dump("people.roster_role"), "\n"), "\n"), 1)
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
	c.restart()
	require.Eventually(t, func() bool { return c.read(early.Household)[0].Erased }, 10*time.Second, 20*time.Millisecond)
	assert.Empty(t, erased())
	c.Clock.Advance(24 * time.Hour)
	c.restart()
	require.Eventually(t, func() bool { return len(erased()) == 4 }, 10*time.Second, 20*time.Millisecond)
	c.Settle()
	assert.ElementsMatch(t, []who.ID{over.Household, wards.Household, broken.Household, lapsed.Household}, erased())
	c.restart()
	require.Eventually(t, func() bool { return c.read(guardian.Person)[0].Erased }, 10*time.Second, 20*time.Millisecond, "nobody is left to act for")
	assert.True(t, c.read(alsoHelped.Person)[0].Erased)
	assert.False(t, c.read(helper.Person)[0].Erased, "somebody is")
	c.RebuildIsTheSame(people.Name)
}

func TestLikelyDoublesAreShownUntilJudged(t *testing.T) {
	c := start(t)
	coordinator := c.Member(who.Coordinator)
	add := func(name, mail, phone string) who.ID {
		r := registration(message.HouseholdSort, name, mail)
		r.Details.Phone = phone
		c.Do(coordinator, r)
		return r.Person
	}
	ada := add("Ada Núñez", "ada@example.org", "+1 555 010 0199")
	same := add("nunez ada", "ADA@example.org", "(555) 010-0199")
	phone := add("Cam Sedge", "", "5550100199")
	add("Dor Bane", "dor@example.org", "")
	add("Eve Rush", "", "")
	pairs := desktest.Ask[message.DoublesFound](c.Club, coordinator, message.LikelyDoubles{}).Pairs
	require.Len(t, pairs, 3)
	assert.Equal(t, message.LikelyDouble{One: min(ada, same), Other: max(ada, same), Shares: []string{"mail", "name", "phone"}}, pairs[0])
	assert.Equal(t, []string{"phone"}, pairs[1].Shares)

	c.Do(coordinator, message.JudgeDoubles{One: max(ada, same), Other: min(ada, same), Same: true})
	c.Do(coordinator, message.JudgeDoubles{One: phone, Other: ada, Same: false})
	again := c.Do(coordinator, message.JudgeDoubles{One: ada, Other: phone, Same: false})
	assert.Empty(t, again.Events, "that was judged")
	pairs = desktest.Ask[message.DoublesFound](c.Club, coordinator, message.LikelyDoubles{}).Pairs
	require.Len(t, pairs, 1)
	c.Do(desktest.Operator, message.ErasePerson{Person: phone, Why: "asked"})
	assert.Empty(t, desktest.Ask[message.DoublesFound](c.Club, coordinator, message.LikelyDoubles{}).Pairs)
	c.RebuildIsTheSame(people.Name)
}

func TestDetailsAndConsentChange(t *testing.T) {
	c := start(t)
	n := c.introduced(message.HouseholdSort, "Cam Sedge", "")
	made := c.ask(n)
	themselves := who.Actor{Link: made.Link}
	change := message.ChangePerson{Person: n.Person, Details: message.PersonDetails{Name: "Cam Sedge-Reed", Mail: "cam@example.org"}}
	c.Do(themselves, change)
	assert.Empty(t, c.Do(themselves, change).Events, "nothing new")
	own := desktest.Ask[message.PeopleRead](c.Club, themselves, message.ReadPeople{IDs: []who.ID{n.Person}}).People
	assert.Equal(t, change.Details, own[0].Details)
	withdraw := message.WithdrawConsent{Person: n.Person, Text: "privacy 2026-1"}
	assert.Len(t, c.Do(themselves, withdraw).Events, 1)
	assert.Empty(t, c.Do(themselves, withdraw).Events)
	c.RebuildIsTheSame(people.Name)
}

func TestADestroyedKeyIsAnErasureBeforeTheTableKnows(t *testing.T) {
	c := start(t)
	dor := c.register(message.DonorSort, "Dor Bane", "")
	require.NoError(t, c.Vault.Destroy(t.Context(), string(dor)))
	assert.Equal(t, []message.PersonRead{{Person: dor, Sort: message.DonorSort, Erased: true}}, c.read(dor))
}

func TestAPersonWhomNobodyCanReadStopsNothing(t *testing.T) {
	c := start(t)
	broken := &message.NewPerson{Person: who.ID(desktest.ID()), Sort: message.HouseholdSort, Sealed: "v1.AAAA", Consent: "c"}
	c.ask(broken)
	after := c.register(message.DonorSort, "Dor Bane", "")
	assert.Equal(t, "Dor Bane", c.read(after)[0].Details.Name)
}
