package web

import (
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// axeScript is the accessibility rules of axe-core, as deploy/test installs them.
func axeScript(t testing.TB) string {
	t.Helper()
	script, err := os.ReadFile(filepath.Join("..", "..", "deploy", "axe", "node_modules", "axe-core", "axe.min.js"))
	require.NoError(t, err, "run: npm ci --prefix deploy/axe")
	return string(script)
}

// viewer looks at pages in a real browser.
type viewer struct {
	*browsertest.Tab
	t    *testing.T
	base string
	axe  string
}

// enterAs goes in with somebody's session.
func (w *viewer) enterAs(b *browser) {
	w.t.Helper()
	home, err := url.Parse(w.base)
	require.NoError(w.t, err)
	w.Go(w.base + "/static/none")
	for _, cookie := range b.http.Jar.Cookies(home) {
		browsertest.Eval[string](w.Tab, `document.cookie = "`+cookie.Name+`=`+cookie.Value+`; path=/"`)
	}
}

// look opens a page as a phone, light and dark, and as a large window. Pictures
// of it are written when REFLOAT_PICTURES names a folder.
func (w *viewer) look(name, path string) {
	w.t.Helper()
	w.Resize(320, 800)
	w.Go(w.base + path)
	browsertest.Eval[int](w.Tab, `document.querySelectorAll("details").forEach(d => d.open = true), 0`)
	assert.Zero(w.t, w.SidewaysScroll(), "%s is wider than a phone", path)
	w.Resize(360, 800)
	for _, scheme := range []string{"light", "dark"} {
		w.Prefer("prefers-color-scheme", scheme)
		for _, v := range w.Axe(w.axe) {
			assert.Fail(w.t, v.Help, "%s (%s): %v", path, scheme, v.Nodes)
		}
		w.picture(name + "-360-" + scheme)
	}
	w.Resize(1280, 900)
	assert.Zero(w.t, w.SidewaysScroll(), "%s is wider than a large window", path)
	w.picture(name + "-1280-dark")
	w.Prefer("prefers-color-scheme", "light")
	w.picture(name + "-1280-light")
}

// speak chooses a language as a reader does, at the head of the page.
func (w *viewer) speak(language string) {
	w.t.Helper()
	w.Go(w.base + "/my/request")
	for _, option := range languageOptions {
		if option.Value == language {
			w.Press("#speak", option.Label)
		}
	}
	require.Equal(w.t, language, browsertest.Eval[string](w.Tab, `document.documentElement.lang`))
}

// narrow opens a page in another language on the narrowest phone: nothing hangs
// over its edge, and no button or label is cut off.
func (w *viewer) narrow(name, path string) {
	w.t.Helper()
	w.Resize(320, 800)
	w.Go(w.base + path)
	assert.Zero(w.t, w.SidewaysScroll(), "%s is wider than a phone", name)
	assert.Empty(w.t, browsertest.Eval[string](w.Tab, `Array.from(document.querySelectorAll("button, .button, label, legend, h1, h2, dt, dd"))
		.filter(e => e.offsetParent && !e.classList.contains("unseen") && (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline" || e.getBoundingClientRect().right > innerWidth + 1)).map(e => e.innerText).join(" | ")`), name)
	w.picture(name + "-320")
}

func (w *viewer) picture(name string) {
	if folder := os.Getenv("REFLOAT_PICTURES"); folder != "" {
		w.Picture(filepath.Join(folder, name+".png"))
	}
}

// TestPagesOfPeopleAndMoneyInABrowser looks at the pages of applicants,
// coordinators, treasurers, donors and administrators, filled with a club at
// work. Sources: the rules of axe-core, which follow WCAG 2.2; success criterion
// 1.4.10 for a window of 320 to 360 pixels without scrolling sideways.
func TestPagesOfPeopleAndMoneyInABrowser(t *testing.T) {
	c := openClub(t, matchingRoom, treasuryRoom, intakeRoom)
	heron, coot := c.ready("Heron", openCanoe()), c.ready("Coot", openCanoe())
	narrow := openCanoe()
	narrow.RatedLoadG, narrow.Type, narrow.Seats = 100_000, boat.SitInside, 1
	c.ready("Little Grebe", narrow)
	c.Say(message.RepairBoat(heron), string(heron), message.PartBooked{
		Boat: heron, Entry: "p1", Words: "welding rod", Cost: usd(1250), PaidBy: message.ClubPays, On: clock.NewDate(2026, time.March, 5)})
	mine := c.follow(c.asks())
	c.asks("details.name", "Ben Sedge", "details.mail", "ben@example.org", "wish.words", "We would like to see the boat first.")
	c.asks("details.name", "Ben Sedge", "details.mail", "ben@example.org", "wish.storage_mm", "2")
	single := openCanoe()
	single.RatedLoadG, single.Type, single.Seats, single.Features = 180_000, boat.SitOnTop, 1, nil
	c.ready("Redshank", single)
	c.ready("Greenshank", single)
	couple := c.follow(c.asks("details.name", "Ada Reedmace", "details.mail", "ada@example.org", "best", string(boat.SitOnTop), "wish.types", "", "adults", "2",
		"wish.adults[1].mass_g", "64", "wish.children[1].years", "", "wish.children[1].mass_g", "", "wish.needs", "", "wish.two_singles", "yes", "wish.roof_load_g", "90"))
	round := c.offersOut()
	free := c.ready("Whimbrel", openCanoe())
	everything := c.enter("Marigold Finch", people.Roles...)
	everything.done("/club/legal-name", "change-setting", map[string]string{"value": "Quillwater Paddlers of Lake Amberjay"})
	everything.done("/boats/"+string(coot)+"/claim", "state-claim", map[string]string{"claim": "120.50"})
	paper := paperAddress(everything.done("/boats/"+string(heron)+"/paper", "issue-paper", nil))
	c.Settle()
	donor := c.follow(textOf(all(everything.open(paper+"/link").root, "code")[0]))
	offer := attr(mine.open("/my/request").byID("decline"), "href")
	request := attr(all(everything.open("/requests").byID("requests"), "a")[0], "href")

	c.translated(mine, donor, offer)
	w := &viewer{browsertest.Open(t, 360, 800), t, "http://" + c.site.Addr(), axeScript(t)}
	w.look("ask", "/ask")
	w.enterAs(mine)
	for _, language := range []string{"es", "fr"} {
		w.speak(language)
		for name, path := range map[string]string{"welcome": "/", "ask": "/ask", "my-request": "/my/request", "my-offer": offer, "my-wish": "/my/request/wish", "my-erase": "/my/request/erase"} {
			w.narrow(name+"-"+language, path)
		}
	}
	w.speak("en")
	w.look("my-request", "/my/request")
	w.look("my-offer", offer)
	w.look("my-wish", "/my/request/wish")
	w.look("my-erase", "/my/request/erase")
	w.enterAs(couple)
	w.look("my-two-boats", "/my/request")
	w.enterAs(donor)
	w.look("my-papers", "/my/papers")
	w.enterAs(everything)
	for name, path := range map[string]string{
		"home": "/", "requests": "/requests", "request": request, "request-link": request + "/link", "request-tier": request + "/tier", "doubles": "/doubles",
		"rounds": "/rounds", "round-new": "/rounds/new", "round": round, "money": "/money", "cost-book": "/boats/" + string(heron) + "/money",
		"papers": "/papers", "paper-new": "/boats/" + string(coot) + "/paper", "claim": "/boats/" + string(coot) + "/claim",
		"people": "/people", "signing-in": "/signing-in", "people-new": "/people/new", "person": "/people/" + string(everything.who), "club": "/club", "book": "/book",
	} {
		w.look(name, path)
	}
	everything.done("/release/new", "set-release", map[string]string{
		"version": "2026-2", "from": "2026-04-01", "text": "We have read the boat's label and the list of what was found.\nWe know that cold water is dangerous, and wear our jackets."})
	c.asks("details.name", "Lio Bulrush", "details.mail", "lio@example.org") // the others are in the round
	begun := everything.fillIn(everything.open("/boats/"+string(free)+"/place"), "place-boat", nil)
	one, _, _ := strings.Cut(begun.to(), "?")
	second := c.enter("Linus Alder", people.Administrator)
	second.done(one+"/secret", "commit-secret", nil)
	mine.fill("/my/request", "accept", nil)
	couple.fill("/my/request", "accept", nil)
	c.Settle()
	w.look("free-boat", "/boats/"+string(free)+"/place")
	w.look("free-boat-round", one)
	w.look("release", "/release")
	w.look("round-answered", round)
	for _, id := range []boat.ID{heron, coot} {
		if everything.get("/boats/"+string(id)+"/hand-over").status == 200 {
			w.look("hand-over", "/boats/"+string(id)+"/hand-over")
		}
	}
}
