package people_test

import (
	"context"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/services/people"
)

const base = "https://quillwater.example"

// postOffice takes letters inside the test.
type postOffice struct {
	mu      sync.Mutex
	letters []mail.Letter
	refuse  error
	tried   int
}

func (p *postOffice) Send(_ context.Context, l mail.Letter) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tried++
	if p.refuse != nil {
		return p.refuse
	}
	p.letters = append(p.letters, l)
	return nil
}

// asked gives how often it was asked to take a letter.
func (p *postOffice) asked() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.tried
}

// Repeats is false, as with a mail server.
func (*postOffice) Repeats() bool { return false }

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
	require.Eventually(c.t, func() bool { return len(c.post.all()) >= n }, time.Minute, 10*time.Millisecond, "letters")
	all := c.post.all()
	require.Len(c.t, all, n)
	return all
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

func TestAPersonWhomNobodyCanReadStopsNothing(t *testing.T) {
	c := start(t)
	broken := &message.NewPerson{Person: who.ID(desktest.ID()), Sort: message.HouseholdSort, Sealed: "v1.AAAA", Consent: "c"}
	c.ask(broken)
	after := c.register(message.DonorSort, "Dor Bane", "")
	assert.Equal(t, "Dor Bane", c.read(after)[0].Details.Name)
}
