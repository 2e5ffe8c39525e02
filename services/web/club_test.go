package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/matching"
	peopleroom "refloat.example/services/people"
	"refloat.example/services/treasury"
)

// The rooms that stories about people need are the real ones.
var (
	matchingRoom = desktest.Room{Name: matching.Name, Migrations: matching.Migrations(), New: matching.New}
	treasuryRoom = desktest.Room{Name: treasury.Name, Migrations: treasury.Migrations(), New: treasury.New(treasury.Config{BaseURL: "https://quillwater.example/"})}
	peopleRoom   = desktest.Room{Name: peopleroom.Name, Migrations: peopleroom.Migrations(), New: peopleroom.New(peopleroom.Config{BaseURL: "http://club.example"})}
)

// openClub starts the pages with the real people room, so that nobody stands at
// the door: enter goes in by a cookie.
func openClub(t testing.TB, rooms ...desktest.Room) *club {
	t.Helper()
	c := &club{t: t}
	pages := desktest.Room{Name: Name, Migrations: Migrations(), New: func(kit desk.Kit) *desk.Desk {
		site, err := New(Config{Listen: "127.0.0.1:0"}, kit)
		require.NoError(t, err)
		c.site = site
		return site.Desk
	}}
	c.Club = desktest.Start(t, append(rooms, pages, peopleRoom)...)
	c.serve()
	return c
}

// enter puts a member with a name into the book and gives their browser, signed
// in.
func (c *club) enter(name string, roles ...people.Role) *browser {
	c.t.Helper()
	actor := c.Member(roles...)
	c.knows(actor.Person, message.MemberSort, name)
	c.Settle()
	b := c.visitor()
	b.who = actor.Person
	secret := desktest.ID()
	c.DB.Exec(`INSERT INTO web.session (hash, person, link, expires, seen) VALUES ($1, $2, '', $3, 0)`, hashOf(secret), actor.Person, c.Clock.Now().Add(sessionFor))
	home, err := url.Parse("http://" + c.site.Addr())
	require.NoError(c.t, err)
	b.http.Jar.SetCookies(home, []*http.Cookie{{Name: sessionCookie, Value: secret, Path: "/"}})
	return b
}

// follow opens a private link in a browser of its own.
func (c *club) follow(address string) *browser {
	c.t.Helper()
	c.Settle()
	_, path, found := strings.Cut(address, message.LinkPath)
	require.True(c.t, found, address)
	b := c.visitor()
	b.done(message.LinkPath+path, "open-link", nil)
	return b
}

// ready brings a boat into the club and out of the workshop.
func (c *club) ready(name string, facts message.BoatFacts) boat.ID {
	c.t.Helper()
	id := boat.ID(desktest.ID())
	giver := people.ID(desktest.ID())
	c.knows(giver, message.DonorSort, "Odo Reed")
	say := func(stream string, body message.Body) { c.Say(stream, string(id), body) }
	say(message.IntakeBoat(id), message.BoatLogged{Boat: id, Name: name, Taking: message.Gift, Giver: giver, Facts: facts})
	say(message.IntakeBoat(id), message.BoatAccepted{Boat: id})
	on := clock.NewDate(2026, time.March, 2)
	say(message.IntakeBoat(id), message.BoatReceived{Boat: id, Possession: on, Signed: on, On: on})
	say(message.RepairBoat(id), message.BoatReady{Boat: id, Grade: 3, Disclosure: []message.DisclosedFinding{{
		Finding: "f1", Place: message.Place{Zone: "stern", Side: "centreline", Face: "outside", Part: "keel line"}, Defect: "abrasion", End: "left and watched: shallow",
	}}})
	return id
}

// openCanoe is a boat that an ordinary household fits.
func openCanoe() message.BoatFacts {
	return message.BoatFacts{
		Type: boat.Canoe, Seats: 2, LengthMM: 4600, BeamMM: 850, MassG: 24_000, RatedLoadG: 320_000, RatedSource: "plate",
		Material: boat.Rotomoulded, NoHullNumber: "removed", Features: []boat.Feature{"floor space for a dog"},
	}
}

// asking is what a household types.
var asking = map[string]string{
	"best": "canoe", "wish.types": "inflatable canoe", "wish.water": "pond or small lake", "wish.experience": "some",
	"adults": "1", "wish.adults[0].mass_g": "81", "wish.children[1].years": "9", "wish.children[1].mass_g": "29,5",
	"wish.gear_g": "12", "wish.needs": "floor space for a dog", "wish.carriers": "2", "wish.each_lifts_g": "20", "wish.has_cart": "yes",
	"wish.transport": "roof", "wish.roof_load_g": "75", "wish.rack_g": "6", "wish.storage_mm": "5.5",
	"details.name": "Odalys Fenwright", "details.mail": "odalys@example.org", "consent": "yes",
}

// asks sends the form and gives the private link of the answer.
func (c *club) asks(more ...string) string {
	c.t.Helper()
	sent := c.visitor().fill("/ask", "ask", with(asking, more...))
	require.Equal(c.t, http.StatusOK, sent.status, sent.text)
	return attr(sent.byID("private-link"), "href")
}

// usd makes an amount.
func usd(minor int64) money.Amount { return money.Of(minor, "USD") }

// desktestAsk asks a room as a new member with a role.
func desktestAsk[A any](c *club, role people.Role, question desk.Commanded) A {
	c.t.Helper()
	actor := c.Member(role)
	c.Settle()
	return desktest.Ask[A](c.Club, actor, question)
}

// frozen has two members put their secrets into the lottery of a round and freezes
// its list. It gives the round's address.
func (c *club) frozen(coordinator, second *browser) string {
	c.t.Helper()
	at, _, _ := strings.Cut(coordinator.fill("/rounds/new", "start-round", nil).to(), "?")
	second.done(at+"/secret", "commit-secret", nil)
	coordinator.done(at+"/list", "open-round", nil)
	return at
}

// offersOut takes a round through the pages as far as its offers, and gives its
// address.
func (c *club) offersOut() string {
	c.t.Helper()
	c.Settle()
	coordinator, second := c.enter("Marigold Finch", people.Coordinator), c.enter("Linus Alder", people.Administrator)
	at := c.frozen(coordinator, second)
	coordinator.done(at, "solve-round", nil)
	second.done(at, "approve-round", nil)
	coordinator.done(at+"/offers", "send-offers", nil)
	c.Settle()
	return at
}
