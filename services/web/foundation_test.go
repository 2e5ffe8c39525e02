package web

import (
	"io/fs"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// noFiles is a folder "migrations" without files.
type noFiles struct{}

func (noFiles) Open(string) (fs.File, error) { return nil, fs.ErrNotExist }

func TestSigningInAndOut(t *testing.T) {
	c := open(t)
	b := c.visitor()

	page := b.open("/")
	assert.Contains(t, page.text, "Sign in")
	away := b.get("/boats?state=ready")
	require.Equal(t, http.StatusSeeOther, away.status)
	assert.Equal(t, "/sign-in?next=%2Fboats%3Fstate%3Dready", away.to())
	b.open(away.to())

	sent := b.fill("/sign-in", "sign-in", map[string]string{"mail": "m@example.org"})
	assert.Equal(t, http.StatusOK, sent.status)
	assert.Contains(t, sent.says("sent"), "on its way")

	member := c.Member(people.Steward)
	c.knows(member.Person, message.MemberSort, "Marigold Finch")
	c.Settle()
	door := "/sign-in/" + string(member.Person)
	assert.Empty(t, b.open(door).header.Get("Set-Cookie"), "looking at the link does not use it up")
	in := b.fill(door, "sign-in-now", nil)
	assert.Equal(t, "/boats?state=ready", in.to(), "on to the page that was asked for")

	home := b.open("/")
	assert.Contains(t, home.says("sign-out"), "Marigold Finch")
	out := b.fill("/", "sign-out", nil)
	assert.Equal(t, "/?done=signed-out", out.to())
	assert.Equal(t, "You are signed out.", b.open(out.to()).says("done"))
	assert.Nil(t, b.open("/").byID("sign-out"))
}

func TestTheSessionCookieIsCareful(t *testing.T) {
	c := open(t)
	c.site.cfg.BaseURL = "https://club.example"
	member := c.Member(people.Steward)
	c.Settle()
	answer := c.visitor().send("/sign-in/"+string(member.Person), url.Values{"key": {"k"}})
	var found bool
	for _, cookie := range (&http.Response{Header: answer.header}).Cookies() {
		if cookie.Name != sessionCookie || cookie.Value == "" {
			continue
		}
		found = true
		assert.True(t, cookie.HttpOnly)
		assert.True(t, cookie.Secure)
		assert.Equal(t, http.SameSiteLaxMode, cookie.SameSite)
		assert.NotContains(t, c.DB.Dump("web.session"), cookie.Value, "the secret stands nowhere")
	}
	assert.True(t, found)
}

func TestASessionEnds(t *testing.T) {
	c := open(t)
	b := c.member(people.Steward)
	b.open("/boats")
	c.Clock.Advance(sessionFor - time.Second)
	b.open("/boats")
	c.Clock.Advance(time.Second)
	assert.Equal(t, http.StatusSeeOther, b.get("/boats").status)
	require.NoError(t, c.site.dropOldSessions(t.Context()))
	assert.Empty(t, c.DB.Dump("web.session"))
}

func TestARoleThatIsTakenIsGoneAtOnce(t *testing.T) {
	c := open(t)
	b := c.member(people.Steward)
	b.open("/boats")
	c.Say(message.Person(b.who), "", message.RoleTaken{Person: b.who, Role: people.Steward})
	c.Settle()
	assert.Equal(t, http.StatusForbidden, b.get("/boats").status)
}

func TestAFormOfAnotherSiteIsRefused(t *testing.T) {
	c := open(t)
	b := c.member(people.Steward)
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+c.site.Addr()+"/sign-out", nil)
	require.NoError(t, err)
	req.Header.Set("Sec-Fetch-Site", "cross-site")
	assert.Equal(t, http.StatusForbidden, b.do(req).status)
	b.open("/boats")
}

func TestAssetsAreKeptForEverAndPagesAreNot(t *testing.T) {
	c := open(t)
	b := c.visitor()
	address, err := c.site.look.asset("style.css")
	require.NoError(t, err)
	style := b.get(address)
	assert.Equal(t, http.StatusOK, style.status)
	assert.Equal(t, "text/css; charset=utf-8", style.header.Get("Content-Type"))
	assert.Contains(t, style.header.Get("Cache-Control"), "immutable")
	assert.Equal(t, http.StatusNotFound, b.get("/static/style.css").status)
	assert.Equal(t, "no-store", b.get("/").header.Get("Cache-Control"))
}

func TestAnAddressThatNobodyHasIsAPageToo(t *testing.T) {
	c := open(t)
	missing := c.visitor().get("/nowhere")
	assert.Equal(t, http.StatusNotFound, missing.status)
	assert.Contains(t, missing.says("fault"), "No page stands at this address")
}

func TestFormsThatNeedNoSigningInAreHeldDown(t *testing.T) {
	c := open(t)
	from := func(address string) int {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+c.site.Addr()+"/sign-in", strings.NewReader("mail="))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("X-Forwarded-For", address)
		return c.visitor().do(req).status
	}
	for range publicPosts - 5 { // the window slides: near its edge the count is a little off
		require.Equal(t, http.StatusUnprocessableEntity, from("203.0.113.7"))
	}
	held := false
	for range 10 {
		held = held || from("203.0.113.7") == http.StatusServiceUnavailable
	}
	assert.True(t, held)
	assert.Equal(t, http.StatusUnprocessableEntity, from("203.0.113.8"), "others are not held down with it")
}

func TestWhereSignInMayLead(t *testing.T) {
	for address, want := range map[string]bool{
		"/boats": true, "/boats?state=ready": true, "": false, "https://elsewhere.example/": false,
		"//elsewhere.example": false, "/\\elsewhere.example": false, "/a\r\nb": false, "/\t/elsewhere.example": false,
	} {
		assert.Equal(t, want, isLocal(address), address)
	}
}

// What the lifting equation does not cover stands with its numbers.
func TestLiftingNumbersHaveTheirLimits(t *testing.T) {
	for _, mass := range []int{9_000, 24_000, 60_000} {
		for _, c := range lifting(&Boat{Facts: message.BoatFacts{MassG: mass}}) {
			words := strings.Join(c.Words, " ")
			assert.Contains(t, words, "NIOSH publication 94-110")
			assert.Contains(t, words, "does not cover carrying, one hand, slippery ground, unsteady loads")
		}
	}
}

// again signs somebody in once more, in another browser.
func (b *browser) again(userAgent string) *browser {
	b.t.Helper()
	other := b.club.visitor()
	other.who, other.agent = b.who, userAgent
	require.Equal(b.t, http.StatusSeeOther, other.send("/sign-in/"+string(b.who), url.Values{"key": {freshID()}}).status)
	return other
}

func TestSessionsAreSeenAndEnded(t *testing.T) {
	c := open(t)
	home, other, admin := c.member(people.Steward), c.member(people.Steward), c.member(people.Administrator)
	// As the specification of a tablet's and a phone's browser words it.
	phone := home.again("Mozilla/5.0 (Android 13; Mobile; rv:109.0) Gecko/115.0 Firefox/115.0")
	tablet := home.again("Mozilla/5.0 (Android 13; Tablet; rv:109.0) Gecko/115.0 Firefox/115.0")
	in := func(b *browser) bool { return b.get("/boats").status == http.StatusOK }

	c.Clock.Advance(time.Hour)
	require.True(t, in(phone))
	called, _ := c.site.lives.now()
	page := home.open("/signing-in")
	select {
	case <-called:
		t.Error("reading who is signed in where wakes every open page")
	default:
	}
	list := page.says("session-list")
	for _, want := range []string{"In a browser you are here", "On a phone since 1 April 2026, 12:00 UTC; last used 1 April 2026, 13:00 UTC", "On a tablet since 1 April 2026, 12:00 UTC; last used 1 April 2026, 12:00 UTC"} {
		assert.Contains(t, list, want)
	}
	assert.NotContains(t, page.text+c.DB.Dump("web.session"), "127.0.0.1", "no address is kept")
	assert.NotContains(t, c.DB.Dump("web.session"), "Firefox", "nor what the browser calls itself")

	// One is ended, by its owner alone.
	var end string
	for _, form := range all(page.byID("session-list"), "form") {
		if end == "" {
			end = attr(form, "action") // the phone's: it was used last
		}
	}
	require.Equal(t, http.StatusSeeOther, other.send(end, nil).status)
	assert.True(t, in(phone), "somebody else ends nothing")
	sent := home.send(end, nil)
	assert.Contains(t, home.open(sent.to()).says("done"), "signed out there")
	assert.False(t, in(phone))
	assert.True(t, in(tablet))

	sent = home.send("/sign-out/others", nil)
	assert.Contains(t, home.open(sent.to()).says("done"), "everywhere else")
	assert.False(t, in(tablet))
	assert.True(t, in(home))
	assert.Nil(t, home.open("/signing-in").byID("sign-out-others"), "there is no other")

	tablet = home.again("")
	assert.Equal(t, http.StatusUnauthorized, c.visitor().send("/sign-out/everywhere", nil).status)
	sent = home.send("/sign-out/everywhere", nil)
	assert.Contains(t, home.open(sent.to()).says("done"), "signed out in every browser")
	assert.False(t, in(home) || in(tablet))

	// An administrator ends a member's.
	home, tablet = home.again(""), home.again("")
	assert.Contains(t, admin.open("/people/"+string(home.who)).says("sessions"), "In 2 browsers, last used 1 April 2026, 13:00 UTC")
	assert.Equal(t, http.StatusForbidden, other.send("/people/"+string(home.who)+"/sign-out", nil).status)
	assert.True(t, in(home))
	assert.Contains(t, admin.done("/people/"+string(home.who), "sign-out-member", nil).says("done"), "They are signed out")
	assert.False(t, in(home) || in(tablet))
	assert.True(t, in(other) && in(admin), "somebody else stays")
	assert.Equal(t, http.StatusNotFound, admin.send("/people/nobody/sign-out", nil).status)
}

func TestOnWhatABrowserRuns(t *testing.T) {
	// The forms are those of MDN, "User-Agent header" and "Browser detection using the user agent".
	for agent, want := range map[string]string{
		"Mozilla/5.0 (X11; Linux x86_64; rv:47.0) Gecko/20100101 Firefox/47.0":                                                                        "a computer",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 13_5_1 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/13.1.1 Mobile/15E148 Safari/604.1": "a phone",
		"Mozilla/5.0 (iPad; CPU OS 12_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/12.1.2 Mobile/15E148 Safari/604.1":            "a tablet",
		"Mozilla/5.0 (Linux; Android 9; SM-T510) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/75.0 Safari/537.36":                                    "a tablet",
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/120.0.0.0 Mobile Safari/537.36":                             "a phone",
		"curl/7.64.1": "", "": "",
	} {
		assert.Equal(t, want, machineOf(agent), agent)
	}
}
