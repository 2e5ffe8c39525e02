package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
)

// letters stand for who may open a route in the table below: the roles, then
// holders of private links, then people whom nobody knows.
var letters = []struct {
	letter string
	who    Who
}{
	{"s", Who{Person: "p", Roles: []people.Role{people.Steward}}},
	{"r", Who{Person: "p", Roles: []people.Role{people.Repairer}}},
	{"c", Who{Person: "p", Roles: []people.Role{people.Coordinator}}},
	{"t", Who{Person: "p", Roles: []people.Role{people.Treasurer}}},
	{"a", Who{Person: "p", Roles: []people.Role{people.Administrator}}},
	{"u", Who{Person: "p", Roles: []people.Role{people.Auditor}}},
	{"q", Who{Person: "p", Link: &desk.Link{Person: "p", Purpose: people.OwnRequest, Subject: "r"}, link: "l"}},
	{"d", Who{Person: "p", Link: &desk.Link{Person: "p", Purpose: people.OwnPapers, Subject: "p"}, link: "l"}},
	{"-", Who{}},
}

// everyone and allMembers are the commonest rows.
const (
	everyone   = "srctauqd-"
	allMembers = "srctau"
)

// mayOpen is who may open which address, written down a second time by hand from
// the roles of the club. A route that is not here fails the test.
var mayOpen = map[string]string{
	"GET /":                     everyone,
	"GET /sign-in":              everyone,
	"POST /sign-in":             everyone,
	"GET /sign-in/{token}":      everyone,
	"POST /sign-in/{token}":     everyone,
	"GET /link/{token}":         everyone,
	"POST /link/{token}":        everyone,
	"POST /sign-out":            everyone,
	"POST /sign-out/everywhere": allMembers, "POST /sign-out/others": allMembers,
	"POST /passkeys/sign-in/ask": everyone, "POST /passkeys/sign-in": everyone,
	"POST /passkeys/ask": allMembers, "POST /passkeys": allMembers, "POST /passkeys/{passkey}/remove": allMembers,
	"POST /people/{person}/passkeys/{passkey}/remove": "a",
	"GET /signing-in": allMembers, "POST /signing-in/sessions/{session}/end": allMembers, "POST /people/{person}/sign-out": "a",
	"POST /speak":        everyone,
	"GET /search":        allMembers,
	"GET /static/{file}": everyone,
	"GET /sw.js":         everyone,
	"GET /not-sent":      everyone,
	"GET /tokens":        allMembers, "POST /tokens": allMembers, "POST /tokens/{token}/end": allMembers,
	"GET /live": allMembers, "GET /boats/{boat}/live": allMembers, "GET /rounds/{round}/live": "cau", "GET /my/request/live": "q", "GET /book/live": "au",
	"GET /boats":      allMembers,
	"GET /boats/tags": allMembers,
	"GET /tag/{tag}":  everyone,
	"GET /boats/new":  allMembers, "POST /boats/new": allMembers,
	"GET /boats/{boat}":         allMembers,
	"GET /boats/{boat}/history": allMembers,
	"GET /boats/{boat}/facts":   "s", "POST /boats/{boat}/facts": "s",
	"GET /boats/{boat}/quarantine": "s", "POST /boats/{boat}/quarantine": "s",
	"GET /boats/{boat}/price": "sa", "POST /boats/{boat}/price": "sa",
	"GET /boats/{boat}/accept": "sa", "POST /boats/{boat}/accept": "sa",
	"GET /boats/{boat}/agreement": "s", "POST /boats/{boat}/agreement": "s",
	"GET /boats/{boat}/agreements/{agreement}": "s",
	"GET /boats/{boat}/hold":                   "sa", "POST /boats/{boat}/hold": "sa",
	"GET /boats/{boat}/decline": "s", "POST /boats/{boat}/decline": "s",
	"GET /boats/{boat}/photos": allMembers, "POST /boats/{boat}/photos": allMembers,
	"GET /boats/{boat}/photos/{hash}/{size}":  allMembers,
	"GET /boats/{boat}/photos/{photo}/remove": "sa", "POST /boats/{boat}/photos/{photo}/remove": "sa",
	"GET /boats/{boat}/uploads/{upload}": allMembers, "POST /boats/{boat}/uploads/{upload}": allMembers,
	"GET /racks":     allMembers,
	"GET /racks/new": "s", "POST /racks/new": "s",
	"GET /racks/{place}/set": "s", "POST /racks/{place}/set": "s",
	"GET /racks/{place}/close": "s", "POST /racks/{place}/close": "s",
	"GET /boats/{boat}/jackets/foam": "sr", "POST /boats/{boat}/jackets/foam": "sr",
	"GET /boats/{boat}/jackets/inflatable": "sr", "POST /boats/{boat}/jackets/inflatable": "sr",
	"GET /boats/{boat}/jackets/{jacket}/check": "sr", "POST /boats/{boat}/jackets/{jacket}/check": "sr",
	"GET /boats/{boat}/jackets/{jacket}/end": "sr", "POST /boats/{boat}/jackets/{jacket}/end": "sr",
	"GET /hull-number": allMembers,
	"GET /find-rates":  allMembers, "GET /find-rates/{inspector}": "c",
	"GET /boats/{boat}/move": "sr", "POST /boats/{boat}/move": "sr",
	"GET /boats/{boat}/right": "s", "POST /boats/{boat}/right": "s",
	"GET /boats/{boat}/intent": "s", "POST /boats/{boat}/intent": "s",
	"GET /boats/{boat}/registration": "s", "POST /boats/{boat}/registration": "s",
	"GET /boats/{boat}/doubt": allMembers, "POST /boats/{boat}/doubt": allMembers,
	"GET /boats/{boat}/doubts/{doubt}/settle": "a", "POST /boats/{boat}/doubts/{doubt}/settle": "a",
	"GET /boats/{boat}/possession": "s", "POST /boats/{boat}/possession": "s",
	"GET /boats/{boat}/transfer": "s", "POST /boats/{boat}/transfer": "s",
	"GET /boats/{boat}/receive": "s", "POST /boats/{boat}/receive": "s",
	"GET /boats/{boat}/look": "s", "POST /boats/{boat}/look": "s",
	"GET /boats/{boat}/looks/{look}": "s", "POST /boats/{boat}/looks/{look}": "s",
	"GET /boats/{boat}/looks/{look}/match": "s", "POST /boats/{boat}/looks/{look}/match": "s",
	"GET /boats/{boat}/looks/{look}/finding": "s", "POST /boats/{boat}/looks/{look}/finding": "s",
	"GET /boats/{boat}/looks/{look}/finish": "s", "POST /boats/{boat}/looks/{look}/finish": "s",
	"GET /boats/{boat}/work": "r", "POST /boats/{boat}/work": "r",
	"GET /boats/{boat}/work/{work}/finish": "r", "POST /boats/{boat}/work/{work}/finish": "r",
	"GET /boats/{boat}/parts": "r", "POST /boats/{boat}/parts": "r",
	"GET /boats/{boat}/parts/{entry}/reverse": "r", "POST /boats/{boat}/parts/{entry}/reverse": "r",
	"GET /boats/{boat}/hours": "r", "POST /boats/{boat}/hours": "r",
	"GET /boats/{boat}/hours/{entry}/reverse": "r", "POST /boats/{boat}/hours/{entry}/reverse": "r",
	"GET /boats/{boat}/tests": "r", "POST /boats/{boat}/tests": "r",
	"GET /boats/{boat}/ready": "r", "POST /boats/{boat}/ready": "r",
	"GET /boats/{boat}/retire": "r", "POST /boats/{boat}/retire": "r",
	"GET /boats/{boat}/recovered": "r", "POST /boats/{boat}/recovered": "r",
	"GET /boats/{boat}/recovered/{entry}/reverse": "r", "POST /boats/{boat}/recovered/{entry}/reverse": "r",
	"GET /boats/{boat}/waive": "a", "POST /boats/{boat}/waive": "a",
	"GET /boats/{boat}/methods":               allMembers,
	"GET /boats/{boat}/sheet":                 allMembers,
	"GET /boats/{boat}/disclosure.pdf":        allMembers,
	"POST /boats/{boat}/sheet/{step}":         "r",
	"GET /boats/{boat}/timers":                "r",
	"POST /boats/{boat}/timers":               "r",
	"POST /boats/{boat}/timers/{timer}/end":   "r",
	"GET /boats/{boat}/salvage":               "r",
	"POST /boats/{boat}/salvage":              "r",
	"GET /boats/{boat}/debts/{entry}/settle":  "t",
	"POST /boats/{boat}/debts/{entry}/settle": "t",
	"GET /boats/{boat}/receipts/{entry}":      "ta",
	"GET /stock/{bin}/receipts/{entry}":       "ta",
	"GET /stock":                              "rtau",
	"GET /stock/{bin}":                        "rtau",
	"GET /stock/new":                          "r", "POST /stock/new": "r",
	"GET /stock/{bin}/change": "r", "POST /stock/{bin}/change": "r",
	"GET /stock/{bin}/buy": "r", "POST /stock/{bin}/buy": "r",
	"GET /stock/{bin}/take": "r", "POST /stock/{bin}/take": "r",
	"GET /stock/{bin}/reserve": "r", "POST /stock/{bin}/reserve": "r",
	"GET /stock/{bin}/return/{of}": "r", "POST /stock/{bin}/return/{of}": "r",
	"GET /stock/{bin}/write-off": "r", "POST /stock/{bin}/write-off": "r",
	"GET /stock/{bin}/debts/{entry}/settle": "t", "POST /stock/{bin}/debts/{entry}/settle": "t",
	"GET /skills":     "ra",
	"GET /skills/new": "ra", "POST /skills/new": "ra",
	"GET /skills/{person}/{skill}/end": "ra", "POST /skills/{person}/{skill}/end": "ra",
	"GET /boats/{boat}/value": "st", "POST /boats/{boat}/value": "st",
	"GET /boats/{boat}/ceiling": "st", "POST /boats/{boat}/ceiling": "st",
	"GET /comparables/new": "st", "POST /comparables/new": "st",
	"GET /comparables/{comparable}/refuse": "st", "POST /comparables/{comparable}/refuse": "st",
	"GET /comparables":                               "stau",
	"GET /comparables/track":                         "stau",
	"GET /boats/{boat}/values":                       "stau",
	"GET /boats/{boat}/values/{value}":               "stau",
	"GET /boats/{boat}/values/{value}/worksheet.pdf": "st",
	"GET /boats/{boat}/values/{value}/sheet.pdf":     "st",
	"GET /boats/{boat}/answer":                       "sa", "POST /boats/{boat}/answer": "sa",
	"GET /shop":      "rstau",
	"GET /shop/plan": "rst", "POST /shop/plan": "rst",
	"GET /boats/{boat}/proposals": "rst", "POST /boats/{boat}/proposals": "rst",
	"GET /boats/{boat}/proposals/{repair}/drop": "rst", "POST /boats/{boat}/proposals/{repair}/drop": "rst",
	"GET /boats/{boat}/findings/{finding}/withdraw": "s", "POST /boats/{boat}/findings/{finding}/withdraw": "s",

	"GET /ask": everyone, "POST /ask": everyone,
	"GET /my/request":      "q",
	"GET /my/request/wish": "q", "POST /my/request/wish": "q",
	"GET /my/request/offers/{offer}/accept": "q", "POST /my/request/offers/{offer}/accept": "q",
	"GET /my/request/offers/{offer}/decline": "q", "POST /my/request/offers/{offer}/decline": "q",
	"GET /my/request/withdraw": "q", "POST /my/request/withdraw": "q",
	"GET /my/request/erase": "q", "POST /my/request/erase": "q",
	"GET /requests":                "cau",
	"GET /requests/{request}":      "cau",
	"GET /requests/{request}/link": "c",
	"GET /requests/{request}/wish": "c", "POST /requests/{request}/wish": "c",
	"GET /requests/{request}/tier": "c", "POST /requests/{request}/tier": "c",
	"GET /requests/{request}/end": "c", "POST /requests/{request}/end": "c",
	"GET /requests/{request}/new-link": "c", "POST /requests/{request}/new-link": "c",
	"GET /doubles":       "ca",
	"GET /doubles/judge": "ca", "POST /doubles/judge": "ca",
	"GET /rounds":         "cau",
	"GET /rounds/{round}": "cau",
	"GET /rounds/served":  "cau",
	"GET /rounds/new":     "c", "POST /rounds/new": "c",
	"GET /rounds/{round}/secret": "srcta", "POST /rounds/{round}/secret": "srcta",
	"GET /rounds/{round}/what-if": "c",
	"GET /rounds/{round}/list":    "c", "POST /rounds/{round}/list": "c",
	"GET /rounds/{round}/solve": "c", "POST /rounds/{round}/solve": "c",
	"GET /rounds/{round}/rulings": "c", "POST /rounds/{round}/rulings": "c",
	"GET /release": allMembers, "GET /release/new": "a", "POST /release/new": "a",
	"GET /boats/{boat}/place": "c", "POST /boats/{boat}/place": "c",
	"GET /rounds/{round}/approve-and-send": "c", "POST /rounds/{round}/approve-and-send": "c",
	"GET /rounds/{round}/approve": "ca", "POST /rounds/{round}/approve": "ca",
	"GET /rounds/{round}/offers": "c", "POST /rounds/{round}/offers": "c",
	"GET /rounds/{round}/close": "c", "POST /rounds/{round}/close": "c",
	"GET /offers/{offer}/answer": "c", "POST /offers/{offer}/answer": "c",
	"GET /boats/{boat}/hand-over": "c", "POST /boats/{boat}/hand-over": "c",
	"GET /boats/{boat}/hand-over.pdf": "c",
	"GET /boats/{boat}/fetching":      "c", "POST /boats/{boat}/fetching": "c",
	"GET /boats/{boat}/follow-up": "c", "POST /boats/{boat}/follow-up": "c",
	"GET /boats/{boat}/incident": "c", "POST /boats/{boat}/incident": "c",
	"GET /boats/{boat}/stop-use": "sc", "POST /boats/{boat}/stop-use": "sc",
	"GET /boats/{boat}/returned": "c", "POST /boats/{boat}/returned": "c",
	"GET /requests/{request}/appeals/{appeal}": "ca", "POST /requests/{request}/appeals/{appeal}": "ca",
	"GET /my/request/boats/{boat}/follow-up": "q", "POST /my/request/boats/{boat}/follow-up": "q",
	"GET /my/request/boats/{boat}/incident": "q", "POST /my/request/boats/{boat}/incident": "q",
	"GET /my/request/appeal": "q", "POST /my/request/appeal": "q",
	"GET /boats/{boat}/keep-back": "c", "POST /boats/{boat}/keep-back": "c",
	"GET /boats/{boat}/let-out": "c", "POST /boats/{boat}/let-out": "c",

	"GET /money":                 "tu",
	"GET /money/{year}/{format}": "tu",
	"GET /money/boats/{year}":    "tu",
	"GET /boats/{boat}/count":    "t", "POST /boats/{boat}/count": "t",
	"GET /money/statement": "tu",
	"GET /money/bank":      "tu", "POST /money/bank": "t",
	"GET /money/bank/rows/{row}/match": "t", "POST /money/bank/rows/{row}/match": "t",
	"GET /money/bank/rows/{row}/aside": "t", "POST /money/bank/rows/{row}/aside": "t",
	"GET /money/bank/rows/{row}/free": "t", "POST /money/bank/rows/{row}/free": "t",
	"GET /volunteers":     "tu",
	"GET /volunteers/new": "t", "POST /volunteers/new": "t",
	"GET /volunteers/{member}/costs/{cost}/pay-back": "t", "POST /volunteers/{member}/costs/{cost}/pay-back": "t",
	"GET /volunteers/{member}/costs/{cost}/give": "t", "POST /volunteers/{member}/costs/{cost}/give": "t",
	"GET /volunteers/{member}/costs/{cost}/withdraw": "t", "POST /volunteers/{member}/costs/{cost}/withdraw": "t",
	"GET /volunteers/{member}/papers/{year}": "t", "POST /volunteers/{member}/papers/{year}": "t",
	"GET /boats/{boat}/debts/{entry}/member": "t", "POST /boats/{boat}/debts/{entry}/member": "t",
	"GET /stock/{bin}/debts/{entry}/member": "t", "POST /stock/{bin}/debts/{entry}/member": "t",
	"GET /money/close": "t", "POST /money/close": "t",
	"GET /boats/{boat}/money": "tu",
	"GET /boats/{boat}/sell":  "t", "POST /boats/{boat}/sell": "t",
	"GET /boats/{boat}/sale/back": "t", "POST /boats/{boat}/sale/back": "t",
	"GET /boats/{boat}/sale/refund": "t", "POST /boats/{boat}/sale/refund": "t",
	"GET /boats/{boat}/improvement": "t", "POST /boats/{boat}/improvement": "t",
	"GET /boats/{boat}/use": "t", "POST /boats/{boat}/use": "t",
	"GET /boats/{boat}/placement": "t", "POST /boats/{boat}/placement": "t",
	"GET /boats/{boat}/withdraw-exception": "t", "POST /boats/{boat}/withdraw-exception": "t",
	"GET /boats/{boat}/donor-number": "t", "POST /boats/{boat}/donor-number": "t",
	"GET /papers/{paper}/copy-a": "t", "GET /papers/years/{year}/copy-a": "t",
	"GET /boats/{boat}/claim": "t", "POST /boats/{boat}/claim": "t",
	"GET /boats/{boat}/paper": "t", "POST /boats/{boat}/paper": "t",
	"GET /boats/{boat}/paper/{paper}/sign": "t", "POST /boats/{boat}/paper/{paper}/sign": "t",
	"GET /boats/{boat}/paper/{paper}/drop": "t", "POST /boats/{boat}/paper/{paper}/drop": "t",
	"GET /boats/{boat}/benefit": "t", "POST /boats/{boat}/benefit": "t",
	"GET /boats/{boat}/appraisal": "t", "POST /boats/{boat}/appraisal": "t",
	"GET /boats/{boat}/similar": "t", "POST /boats/{boat}/similar": "t",
	"GET /boats/{boat}/programme": "t", "POST /boats/{boat}/programme": "t",
	"GET /papers/{paper}/readings": "au",
	"GET /papers/clocks":           "tu", "GET /papers/clocks.ics": "tu",
	"GET /calendar/{token}/papers.ics": everyone,
	"GET /papers/clocks/feed":          "t", "POST /papers/clocks/feed": "t",
	"GET /papers/clocks/feeds/{link}/end": "t", "POST /papers/clocks/feeds/{link}/end": "t",
	"GET /papers/years/{year}": "tu", "GET /papers/years/{year}/zip": "t",
	"GET /papers/years/{year}/issue": "t", "POST /papers/years/{year}/issue": "t",
	"GET /papers/series":              "tu",
	"GET /boats/{boat}/paper-outlook": "tu",
	"GET /papers":                     "tu",
	"GET /papers/{paper}/print":       "t",
	"GET /papers/{paper}/text":        "t", "GET /my/papers/{paper}/text": "d",
	"GET /papers/{paper}/cancel": "t", "POST /papers/{paper}/cancel": "t",
	"GET /papers/{paper}/link":     "t",
	"GET /papers/{paper}/new-link": "t", "POST /papers/{paper}/new-link": "t",
	"GET /my/papers":               "d",
	"GET /my/papers/{paper}/print": "d",
	"GET /my/papers/erase":         "d", "POST /my/papers/erase": "d",
	"GET /people":     "a",
	"GET /people/new": "a", "POST /people/new": "a",
	"GET /people/{person}":         "a",
	"GET /people/{person}/details": "a", "POST /people/{person}/details": "a",
	"GET /people/{person}/give-role": "a", "POST /people/{person}/give-role": "a",
	"GET /people/{person}/take-role": "a", "POST /people/{person}/take-role": "a",
	"GET /people/{person}/withdraw-consent": "a", "POST /people/{person}/withdraw-consent": "a",
	"GET /people/{person}/links/{link}/end": "a", "POST /people/{person}/links/{link}/end": "a",
	"GET /people/{person}/erase": "a", "POST /people/{person}/erase": "a",
	"GET /club":                 "au",
	"GET /club/signatories":     "tau",
	"GET /club/signatories/new": "a", "POST /club/signatories/new": "a",
	"GET /club/signatories/{mandate}/end": "a", "POST /club/signatories/{mandate}/end": "a",
	"GET /club/{name}": "a", "POST /club/{name}": "a",
	"GET /book":                   "au",
	"POST /book/verify":           "au",
	"GET /letters":                "cta",
	"GET /letters/{letter}/again": "cta", "POST /letters/{letter}/again": "cta",
	"GET /letters/{letter}/leave": "cta", "POST /letters/{letter}/leave": "cta",
	"GET /book/skip/{room}/{part}/{position}": "a", "POST /book/skip/{room}/{part}/{position}": "a",
	"GET /paper/{serial}/{code}":   everyone,
	"GET /book/checkpoints":        allMembers,
	"GET /book/checkpoints/{size}": allMembers,
	"GET /papers/{paper}/proof":    "t",
	"GET /my/papers/{paper}/proof": "d",
}

// mayAsk is who may ask what with a token. Every form of the pages that is a
// member's is an order here as well, for the same people; the rest stands here by
// hand.
func mayAsk(name string) (string, bool) {
	byHand := map[string]string{
		"GET /api/openapi.json": everyone, "GET /api/boats": allMembers, "GET /api/boats/{boat}": allMembers,
		"GET /api/racks": allMembers, "GET /api/hull-number": allMembers,
		"GET /api/find-rates": allMembers, "GET /api/find-rates/{inspector}": "c", "GET /api/boats/{boat}/history": allMembers, "GET /api/boats/{boat}/photos/{hash}/{size}": allMembers,
		"POST /api/ask": allMembers, "POST /api/photos": allMembers, "POST /api/boats/{boat}/photos/new": allMembers,
	}
	if who, ok := byHand[name]; ok {
		return who, true
	}
	who, ok := mayOpen[strings.Replace(name, "/api", "", 1)]
	return who, ok
}

func TestWhoMayAskWhat(t *testing.T) {
	for _, rt := range apiRoutes() {
		name := rt.method + " " + rt.path
		want, known := mayAsk(name)
		if !assert.True(t, known, "the route %s is not in the table", name) {
			continue
		}
		for _, l := range letters {
			assert.Equal(t, strings.Contains(want, l.letter), rt.may.admits(l.who), "%s for %q", name, l.letter)
		}
	}
}

func TestWhoMayOpenWhat(t *testing.T) {
	seen := map[string]bool{"GET /static/{file}": true, "GET /sw.js": true}
	for _, rt := range routes() {
		name := rt.method + " " + rt.path
		seen[name] = true
		want, known := mayOpen[name]
		if !assert.True(t, known, "the route %s is not in the table", name) {
			continue
		}
		for _, l := range letters {
			assert.Equal(t, strings.Contains(want, l.letter), rt.may.admits(l.who), "%s for %q", name, l.letter)
		}
	}
	for name := range mayOpen {
		assert.True(t, seen[name], "the table has %s, but there is no such route", name)
	}
}

// TestTheServerAsksTheTable walks the addresses that the server really answers,
// with somebody who is signed in but may do as little as possible, and with
// nobody.
func TestTheServerAsksTheTable(t *testing.T) {
	c := open(t)
	nobody, auditor := c.visitor(), c.member(people.Auditor)
	err := chi.Walk(c.site.Router(), func(method, path string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if strings.HasPrefix(path, "/api/") {
			return nil // TestProgramsMayDoWhatTheirMemberMay
		}
		want, known := mayOpen[method+" "+path]
		require.True(t, known, "the server answers %s %s, which is not in the table", method, path)
		if method == http.MethodPost && (strings.Contains(want, "-") || path == "/sign-out/everywhere") {
			return nil // sign-in and sign-out: tested on their own
		}
		address := inBraces.ReplaceAllString(path, "none")
		ask := func(b *browser) int {
			if method == http.MethodPost {
				return b.send(address, nil).status
			}
			if strings.HasSuffix(path, liveBehind) { // has no end
				e := b.listen(address)
				defer e.stop()
				return e.status
			}
			return b.get(address).status
		}
		if !strings.Contains(want, "-") {
			assert.Contains(t, []int{http.StatusSeeOther, http.StatusUnauthorized}, ask(nobody), "%s %s for nobody", method, path)
		}
		status := ask(auditor)
		if strings.Contains(want, "u") {
			assert.NotContains(t, []int{http.StatusForbidden, http.StatusUnauthorized, http.StatusInternalServerError}, status, "%s %s for an auditor", method, path)
		} else {
			assert.Equal(t, http.StatusForbidden, status, "%s %s for an auditor", method, path)
		}
		return nil
	})
	require.NoError(t, err)
}

func TestNobodyMayOpenWhatSaysNothing(t *testing.T) {
	for _, l := range letters {
		assert.False(t, audience{}.admits(l.who), l.letter)
	}
}
