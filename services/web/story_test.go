package web

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/intake"
)

// The room that these stories need is the real one.
var intakeRoom = desktest.Room{Name: intake.Name, Migrations: intake.Migrations(), New: intake.New}

// heron is what a member types about a boat.
var heron = map[string]string{
	"name": "Heron", "taking": "gift", "right": "owner's declaration",
	"new_giver.name": "Odo Reed", "new_giver.mail": "odo@example.org", "consent": "yes",
	"facts.type": "canoe", "facts.material": "rotomoulded polyethylene", "facts.seats": "2",
	"facts.length_mm": "4,88", "facts.mass_g": "31.5", "facts.maker": "Thrushcraft", "facts.hull_number": "OXL12345A717",
	"facts.features": "wide cockpit|high seat back",
	"shown.paper":    "signed declaration", "shown.on": "2026-03-20",
}

func with(base map[string]string, more ...string) map[string]string {
	all := map[string]string{}
	for k, v := range base {
		all[k] = v
	}
	for i := 0; i < len(more); i += 2 {
		all[more[i]] = more[i+1]
	}
	return all
}

func TestABoatIsLoggedAndShown(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)

	form := steward.open("/boats/new")
	sent := steward.fillIn(form, "log-boat", heron)
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	head, err := c.Log.Head(t.Context())
	require.NoError(t, err)
	assert.GreaterOrEqual(t, c.site.Position(), head.Position, "the answer comes when the pages show what was done")
	again := steward.fillIn(form, "log-boat", heron)
	assert.Equal(t, sent.to(), again.to(), "a double tap leads to the same boat")

	page := steward.open(sent.to())
	assert.Equal(t, "The boat is in the book.", page.says("done"))
	assert.Equal(t, "offered", page.says("state"))
	facts := page.says("facts")
	for _, want := range []string{"canoe, 2 seats", "4.88 m", "31.5 kg", "Odo Reed", "wide cockpit, high seat back", "maker OXL, serial 12345, built 2017-01, model year 2017"} {
		assert.Contains(t, facts, want)
	}
	assert.Contains(t, facts, "NIOSH publication 94-110")
	bodies := c.Bodies(message.IntakeBoat(boat.ID(form.hidden("log-boat", "boat"))))
	require.Len(t, bodies, 2, "two sends, logged and shown once")
	assert.Equal(t, 4880, bodies[0].(message.BoatLogged).Facts.LengthMM)
	assert.NotContains(t, c.DB.Dump("web.boat")+c.DB.Dump("web.person")+c.DB.Dump("web.history"), "Odo", "names stand nowhere in clear")
	c.RebuildIsTheSame(Name)
}

func TestAFormThatCannotBeTakenComesBackAsItWas(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	form := steward.open("/boats/new")

	// What the pages themselves can see, all at once.
	back := steward.fillIn(form, "log-boat", with(heron, "name", " ", "facts.seats", "two", "facts.length_mm", "4.88"))
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.says("problems"), "these 2 things")
	assert.Contains(t, back.says("f-name-error"), "is needed")
	assert.Contains(t, back.says("f-facts-seats-error"), "write a number")
	assert.Equal(t, "4.88", back.value("facts.length_mm"), "what was typed is still there")
	assert.Equal(t, "Odo Reed", back.value("new_giver.name"))
	assert.Equal(t, form.hidden("log-boat", "key"), back.hidden("log-boat", "key"), "with the same key")
	assert.Equal(t, form.hidden("log-boat", "boat"), back.hidden("log-boat", "boat"))
	seats := back.byID("f-facts-seats")
	assert.Equal(t, "true", attr(seats, "aria-invalid"))
	assert.Contains(t, attr(seats, "aria-describedby"), "f-facts-seats-error")
	assert.Contains(t, back.text, "<title>Problem: ")

	// What only the room can see.
	back = steward.fillIn(form, "log-boat", with(heron, "facts.beam_mm", "6"))
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.says("f-facts-beam_mm-error"), "must be less than the length")
	assert.Contains(t, back.text, `<a href="#f-facts-beam_mm">`)

	// A problem in one of many choices leads to the choices.
	back = steward.fillIn(form, "log-boat", with(heron, "facts.features", "wide cockpit|wings"))
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.text, `<a href="#f-facts-features">`)

	require.Equal(t, http.StatusSeeOther, steward.fillIn(back, "log-boat", heron).status)
}

func TestWhoGivesABoat(t *testing.T) {
	c := open(t, intakeRoom)
	c.knows("0197aaaa-0000-7000-8000-000000000001", message.DonorSort, "Wilma Sedge")
	steward := c.member(people.Steward)
	for name, row := range map[string]struct {
		typed map[string]string
		field string
	}{
		"nobody":             {with(heron, "new_giver.name", "", "new_giver.mail", ""), "giver"},
		"two":                {with(heron, "giver", "0197aaaa-0000-7000-8000-000000000001"), "giver"},
		"without agreement":  {with(heron, "consent", ""), "consent"},
		"a known one is all": {with(heron, "giver", "0197aaaa-0000-7000-8000-000000000001", "new_giver.name", "", "new_giver.mail", "", "consent", ""), ""},
	} {
		a := steward.fill("/boats/new", "log-boat", row.typed)
		if row.field == "" {
			assert.Equal(t, http.StatusSeeOther, a.status, name)
			continue
		}
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, name)
		assert.NotNil(t, a.byID("f-"+row.field+"-error"), name)
	}
}

// logged logs the heron and gives the address of its page.
func (b *browser) logged(more ...string) string {
	b.t.Helper()
	sent := b.fill("/boats/new", "log-boat", with(heron, more...))
	require.Equal(b.t, http.StatusSeeOther, sent.status, sent.text)
	address, _, _ := strings.Cut(sent.to(), "?")
	return address
}

var crack = map[string]string{
	"place.part": "hull", "place.zone": "bow", "place.side": "port", "place.face": "outside",
	"defect": "crack", "length_mm": "4.5", "through": "yes", "severity": "do not use", "words": "runs aft",
}

func TestInspectorsWorkBlindToEachOther(t *testing.T) {
	c := open(t, intakeRoom)
	first, second, other := c.member(people.Steward), c.member(people.Steward), c.member(people.Repairer)
	b := first.logged()

	page := first.done(b+"/look", "begin-look", nil)
	look := strings.TrimSuffix(attr(page.byID("do-note-finding"), "href"), "/finding")
	page = first.done(look+"/finding", "note-finding", crack)
	assert.Contains(t, page.text, "crack, 4.5 cm, through the wall: hull, bow, port, outside")
	page = first.done(look+"/finding", "note-finding", with(crack, "defect", "gouge"))
	for _, n := range all(page.root, "a") {
		if textOf(n) == "Withdraw finding 2" {
			first.done(attr(n, "href"), "withdraw-finding", map[string]string{"why": "only dirt"})
		}
	}
	assert.Contains(t, first.open(look).text, "withdrawn")

	// An open look-over is its inspector's alone.
	assert.Equal(t, http.StatusForbidden, second.get(look).status)
	for _, reader := range []*browser{second, other} {
		assert.NotContains(t, reader.open(b).says("findings"), "crack")
		assert.Equal(t, "4 lines of look-overs are kept back, so that inspectors stay independent.", reader.open(b+"/history").says("hidden"))
	}
	assert.Contains(t, first.open(b).says("own-look"), "You are looking this boat over")
	assert.Contains(t, first.open("/").says("own"), "Heron")

	page = first.done(look+"/finish", "finish-look", map[string]string{"grade": "2", "water_ml": "1.5", "could_not_see": "keel line"})
	assert.Equal(t, "looked over", page.says("state"))
	assert.Contains(t, page.says("findings"), "Provisional: could not see keel line")
	assert.Contains(t, page.says("facts"), "1.5 litres of water were found in it")

	// The one who may look second is warned, and has to ask for the list.
	assert.NotContains(t, second.open(b).says("findings"), "crack, 4.5")
	assert.NotContains(t, second.open("/boats").text, "open finding")
	assert.Contains(t, second.open(b+"?findings=shown").says("findings"), "crack, 4.5")
	assert.Contains(t, other.open(b).says("findings"), "crack, 4.5", "a repairer cannot look it over")

	page = second.done(b+"/look", "begin-look", nil)
	look = strings.TrimSuffix(attr(page.byID("do-note-finding"), "href"), "/finding")
	assert.NotContains(t, second.open(b+"?findings=shown").says("findings"), "crack, 4.5", "with a look-over open there is no way to the other list")
	assert.NotContains(t, second.open(b+"/history?findings=shown").says("lines"), "crack")
	second.done(look+"/finding", "note-finding", crack)
	page = second.done(look+"/finish", "finish-look", map[string]string{"grade": "3"})
	assert.Contains(t, page.says("estimate"), "What all missed cannot be estimated: only 1 found by both")
	assert.Contains(t, page.says("estimate"), "The first found 1, the second 1, both 1.")
	assert.Contains(t, page.says("findings"), "crack, 4.5 cm")
	c.RebuildIsTheSame(Name)
}

func TestABoatIsDecidedOnAndReceived(t *testing.T) {
	c := open(t, intakeRoom)
	steward, repairer := c.member(people.Steward), c.member(people.Repairer)
	b := steward.logged()
	page := steward.done(b+"/look", "begin-look", nil)
	look := strings.TrimSuffix(attr(page.byID("do-note-finding"), "href"), "/finding")
	steward.done(look+"/finding", "note-finding", crack)
	steward.done(look+"/finish", "finish-look", map[string]string{"grade": "3"})

	assert.NotNil(t, steward.open(b).byID("do-accept"))
	assert.Nil(t, repairer.open(b).byID("do-accept"), "a button only for those who may")
	assert.Nil(t, steward.open(b).byID("do-offer-price"), "nobody pays for a gift")
	page = steward.done(b+"/accept", "accept", map[string]string{"words": "a good hull", "stake": "none"})
	assert.Contains(t, page.says("decided"), "Accepted on 1 April 2026, 12:00 UTC by Marigold Finch: a good hull")
	assert.Nil(t, page.byID("do-accept"), "what is decided is not offered again")

	// Somebody else has the old page open.
	late := steward.fill(b+"/accept", "accept", noneAtStake)
	assert.Equal(t, http.StatusConflict, late.status)
	assert.Contains(t, late.says("fault"), "Heron is accepted")
	assert.Equal(t, b, attr(late.byID("back"), "href"))

	page = steward.done(b+"/receive", "receive", map[string]string{"possession": "2026-03-30", "signed": "2026-03-31"})
	assert.Contains(t, page.says("received"), "the day of the gift is 31 March 2026")
	assert.Contains(t, repairer.open("/").says("to-begin"), "Heron")
	assert.Contains(t, steward.open("/boats?state=received&q=thrush+canoe").says("count"), "1 boat")
	assert.Contains(t, steward.open("/boats?q=osprey").says("count"), "0 boats")
	assert.Equal(t, http.StatusNotFound, steward.get("/boats?state=sunk").status)

	page = steward.done(b+"/quarantine", "quarantine", map[string]string{"last_water": "Lake Amberjay", "out_of_water": "2026-03-30", "rule": ""})
	assert.Contains(t, page.says("quarantine"), "until 17 April 2026", "18 days in March to May by the published rule of the State of Utah")
	page = steward.done(b+"/facts", "correct-facts", map[string]string{"facts.colour": "green", "why": "nobody wrote it down"})
	assert.Contains(t, page.text, "green")
	c.RebuildIsTheSame(Name)
}

func TestTheWorkshopOnTheBoatsPage(t *testing.T) {
	c := open(t, intakeRoom)
	repairer := c.member(people.Repairer)
	id := boat.ID(desktest.ID())
	c.atWork(id)
	page := repairer.open("/boats/" + string(id))
	assert.Equal(t, "in the workshop", page.says("state"))
	workshop := page.says("workshop")
	for _, want := range []string{"weld, about 1 h 30 min", "rod Take back: rod club 12.50 USD", "What stands 12.50 USD", "Taken back: wrong boat", "Hours: 1 h in all", "leak: failed"} {
		assert.Contains(t, workshop, want)
	}
	for _, act := range []string{"plan-work", "book-part", "book-hours", "record-test", "declare-ready", "retire"} {
		assert.NotNil(t, page.byID("do-"+act), act)
	}
	// The room is not running: nothing is lost, and the way out is on the page.
	down := repairer.fill("/boats/"+string(id)+"/parts", "book-part", map[string]string{"words": "hatch", "cost": "20", "paid_by": "club"})
	assert.Equal(t, http.StatusServiceUnavailable, down.status)
	assert.Contains(t, down.says("fault"), "nothing was written")
	assert.Equal(t, "hatch", down.hidden("again", "words"))
	assert.NotEmpty(t, down.hidden("again", "key"))
	assert.Equal(t, "5", down.header.Get("Retry-After"))
	// A test that is neither passed nor failed is not recorded as failed.
	half := repairer.fill("/boats/"+string(id)+"/tests", "record-test", map[string]string{"what": "leak", "reading": "dry"})
	assert.Equal(t, http.StatusUnprocessableEntity, half.status)
	assert.NotNil(t, half.byID("f-passed-error"))
}

// atWork puts a boat into the workshop, as the rooms would say it.
func (c *club) atWork(id boat.ID) {
	c.t.Helper()
	member := people.ID(desktest.ID())
	say := func(stream string, body message.Body) { c.Say(stream, string(id), body) }
	say(message.IntakeBoat(id), message.BoatLogged{Boat: id, Name: "Grebe", Taking: message.Gift, Giver: member, Facts: message.BoatFacts{Type: boat.SitInside, Material: boat.Rotomoulded, Seats: 1}})
	say(message.IntakeBoat(id), message.LookOverBegun{Boat: id, Look: "l", Inspector: member})
	say(message.IntakeBoat(id), message.DefectFound{Boat: id, Finding: "f", Look: "l", Place: message.Place{Zone: "amid", Side: "port", Face: "inside", Part: "scupper"}, Defect: "crack", Severity: boat.MendBefore})
	say(message.IntakeBoat(id), message.LookOverFinished{Boat: id, Look: "l", Inspector: member, Grade: 3, Findings: 1})
	say(message.IntakeBoat(id), message.BoatAccepted{Boat: id})
	say(message.IntakeBoat(id), message.BoatReceived{Boat: id})
	say(message.RepairBoat(id), message.WorkPlanned{Boat: id, Work: "w", Findings: []string{"f"}, Method: "weld", Minutes: 90})
	say(message.RepairBoat(id), message.PartBooked{Boat: id, Entry: "e1", Words: "rod", Cost: money.Of(1250, "USD"), PaidBy: message.ClubPays})
	say(message.RepairBoat(id), message.PartBooked{Boat: id, Entry: "e2", Words: "hatch", Cost: money.Of(900, "USD"), PaidBy: message.OwnPocket})
	say(message.RepairBoat(id), message.PartReversed{Boat: id, Entry: "e2", Cost: money.Of(900, "USD"), Why: "wrong boat"})
	say(message.RepairBoat(id), message.HoursBooked{Boat: id, Entry: "h", Who: member, Minutes: 60, Doing: "welding"})
	say(message.RepairBoat(id), message.WorkFinished{Boat: id, Work: "w", Findings: []string{"f"}, Words: "welded"})
	say(message.RepairBoat(id), message.TestRecorded{Boat: id, Test: "t", What: "leak", Reading: "drips", Tester: member, Findings: []string{"f"}})
	say(message.RepairBoat(id), message.FindingReopened{Boat: id, Finding: "f", Test: "t"})
	c.Settle()
}

func TestTheListOfBoatsAsATable(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	steward.logged("name", "=SUM(1)", "facts.colour", "red")
	steward.logged("name", "Heron", "facts.hull_number", "OXL12346A717")
	assert.Equal(t, "/boats?as=csv&q=red", attr(steward.open("/boats?q=red").byID("export"), "href"))
	table := steward.get("/boats?as=csv&q=red")
	require.Equal(t, http.StatusOK, table.status)
	assert.Equal(t, "text/csv; charset=utf-8", table.header.Get("Content-Type"))
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(table.text, "\ufeff"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 2, "only what the list shows")
	assert.Equal(t, boatColumns, rows[0])
	assert.Equal(t, "'=SUM(1)", rows[1][0], "a text stays a text")
	assert.Equal(t, "4.88", rows[1][4])
}

func TestNamesAreShownToThoseWhoMayReadThem(t *testing.T) {
	c := open(t, intakeRoom)
	steward, auditor := c.member(people.Steward), c.member(people.Auditor)
	b := steward.logged()
	assert.Contains(t, steward.open(b).says("facts"), "Odo Reed")
	assert.NotContains(t, auditor.open(b).text, "Odo Reed")
	assert.Contains(t, auditor.open(b).says("facts"), "name not shown")
	assert.Contains(t, auditor.open("/").says("sign-out"), "Marigold Finch", "everybody reads their own")

	giver := c.Bodies(message.IntakeBoat(boat.ID(strings.TrimPrefix(b, "/boats/"))))[0].(message.BoatLogged).Giver
	require.NoError(t, c.Vault.Destroy(t.Context(), string(giver)))
	c.Say(message.Person(giver), "", message.PersonErased{Person: giver, Why: "asked"})
	c.Settle()
	page := steward.open(b)
	assert.Contains(t, page.says("facts"), "From erased")
	c.Say(message.Person(auditor.who), "", message.PersonErased{Person: auditor.who, Why: "asked"})
	c.Settle()
	assert.NotContains(t, c.DB.Dump("web.session"), string(auditor.who), "who is erased is signed out")
	c.RebuildIsTheSame(Name)
}

func TestAPrivateLinkOpensNothingElse(t *testing.T) {
	c := open(t)
	person := people.ID(desktest.ID())
	holder := c.holder(person, people.OwnRequest, "r1")
	for _, address := range []string{"/boats", "/boats/new", "/comparables"} {
		assert.Equal(t, http.StatusForbidden, holder.get(address).status, address)
	}
	assert.Equal(t, http.StatusForbidden, holder.send("/boats/new", url.Values{"key": {"k"}}).status)
}

// Each kind of fault is answered with the status that RFC 9110 gives for it
// (422: RFC 9110 §15.5.21).
func TestEveryFaultHasAPage(t *testing.T) {
	want := map[fault.Kind]int{
		fault.Invalid: 422, fault.Unknown: 404, fault.SignIn: 401, fault.Forbidden: 403, fault.Conflict: 409,
		fault.Busy: 503, fault.Unavailable: 503, fault.Internal: 500,
	}
	assert.Equal(t, want, statuses)
	for kind := range want {
		assert.NotEmpty(t, headings[kind], kind)
	}
}

func TestAListOfManyBoatsIsTurnedPageByPage(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	for i := range pageLength + 3 {
		c.Do(people.Member(steward.who), message.LogBoat{
			Boat: boat.ID(fmt.Sprintf("b%d", i)), Name: fmt.Sprintf("Boat %02d", i), Taking: message.Gift, Giver: steward.who, Right: "estate",
			Facts: message.BoatFacts{Type: boat.Canoe, Seats: 2, Material: boat.Wood, NoHullNumber: "home-built", Colour: "red"},
		})
	}
	c.Settle()
	for _, filter := range []string{"", "q=red+boat", "state=offered&type=canoe"} {
		page := steward.open("/boats?" + filter)
		assert.Contains(t, page.says("count"), "53 boats, 1 to 50 of them here", filter)
		assert.Contains(t, page.text, "Boat 49")
		assert.NotContains(t, page.text, "Boat 50")
		next := steward.open(attr(page.byID("next"), "href"))
		assert.Contains(t, next.says("count"), "53 boats, 51 to 53 of them here", filter)
		assert.Contains(t, next.text, "Boat 52")
		assert.NotContains(t, next.text, "Boat 49")
		assert.Nil(t, next.byID("next"))
	}
	assert.Contains(t, steward.open("/").says("to-look-over"), "All 53")
	assert.Contains(t, steward.open("/boats?q=osprey").says("count"), "0 boats")
	assert.Equal(t, 54, strings.Count(steward.get("/boats?as=csv").text, "\n"), "the table has all")
	assert.Equal(t, http.StatusUnprocessableEntity, steward.get("/boats?q="+strings.Repeat("x", 300)).status)
}
