package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// got reads what a program may read.
func got[A any](p *program, path string) A {
	p.t.Helper()
	a := p.ask("GET", path, "", nil)
	require.Equal(p.t, http.StatusOK, a.status, "%s: %s", path, a.body)
	var answer A
	require.NoError(p.t, json.Unmarshal(a.body, &answer), path)
	return answer
}

// TestEveryFormOfAMemberIsAnOrder holds the addresses to which pages send forms
// against those of programs. What stands here is a person's own at a browser, or
// has another address.
func TestEveryFormOfAMemberIsAnOrder(t *testing.T) {
	elsewhere := map[string]string{
		"/sign-in": "signing in", "/sign-in/{token}": "signing in", "/sign-out": "signing out", "/sign-out/everywhere": "signing out", "/sign-out/others": "signing out", "/passkeys/sign-in/ask": "signing in", "/passkeys/sign-in": "signing in",
		"/passkeys/ask": "a token adds no other way in", "/passkeys": "a token adds no other way in", "/passkeys/{passkey}/remove": "a token ends none", "/people/{person}/passkeys/{passkey}/remove": "a token ends none", "/signing-in/sessions/{session}/end": "signing out", "/people/{person}/sign-out": "signing out", "/link/{token}": "a private link", "/speak": "the reader's language",
		"/tokens": "a token makes no tokens", "/tokens/{token}/end": "a token ends none",
		"/boats/{boat}/photos": "/api/photos and /api/boats/{boat}/photos/new", "/boats/{boat}/uploads/{upload}": "/api/photos",
		"/book/verify": "reads the whole book, and changes nothing",
	}
	orders := map[string]bool{}
	for _, rt := range apiRoutes() {
		orders[rt.method+" "+rt.path] = true
	}
	for _, rt := range routes() {
		if rt.method != http.MethodPost || strings.HasPrefix(rt.path, "/my/") || elsewhere[rt.path] != "" {
			continue
		}
		assert.True(t, orders["POST "+apiAt+rt.path], "%s has no order", rt.path)
	}
}

func TestAProgramPlacesABoat(t *testing.T) {
	c := openClub(t, matchingRoom, treasuryRoom, intakeRoom)
	heron := c.ready("Heron", openCanoe())
	coordinator, administrator := c.enter("Marigold Finch", people.Coordinator), c.enter("Linus Alder", people.Administrator)
	p, other, steward := coordinator.program(), administrator.program(), c.enter("Tobin Marsh", people.Steward).program()

	// A request in one order, as the form makes it in several steps.
	asked := message.MakeRequest{
		Request: "r1", Household: "h1", Link: "l1", Boats: 1, Consent: applicantConsent,
		Details: &message.PersonDetails{Name: "Odalys Fenwright", Mail: "odalys@example.org", Language: "en"},
		Wish:    desktestWish(c, c.requestBy(coordinator)),
	}
	sent := p.ask("POST", "/api/ask", "k1", asked)
	require.Equal(t, http.StatusOK, sent.status, string(sent.body))
	changed := asked.Wish
	changed.StorageMM = 4800
	sent = p.ask("POST", "/api/requests/r1/wish", "k2", map[string]any{"wish": changed})
	require.Equal(t, http.StatusOK, sent.status, string(sent.body))
	assert.Equal(t, http.StatusForbidden, steward.ask("POST", "/api/requests/r1/wish", "k3", map[string]any{"wish": changed}).status)
	c.Settle()

	assert.Len(t, got[apiRequestList](p, "/api/requests").Requests, 2)
	one := got[apiOneRequest](p, "/api/requests/r1")
	require.NotNil(t, one.Wish)
	assert.Equal(t, 4800, one.Wish.StorageMM)
	assert.NotNil(t, one.Fit)
	closed := other.ask("GET", "/api/requests/r1", "", nil)
	assert.NotContains(t, string(closed.body), "wish\"", "an administrator does not read wishes")
	assert.NotContains(t, string(closed.body), "\"fit\"")
	assert.Equal(t, http.StatusForbidden, steward.ask("GET", "/api/requests/r1", "", nil).status)

	at := c.offersOut()
	assert.Len(t, got[[]Round](p, "/api/rounds"), 1)
	round := got[apiOneRound](p, "/api"+at)
	require.Len(t, round.Pairs, 1)
	assert.Equal(t, heron, round.Pairs[0].Boat)
	assert.Equal(t, "open", round.Pairs[0].Offer.State())
	assert.Len(t, round.Unserved, 1)
	assert.NotEmpty(t, round.Unserved[0].Why)
	assert.Equal(t, http.StatusForbidden, steward.ask("GET", "/api"+at, "", nil).status)

	// Papers.
	treasurer := c.enter("Corin Wexcombe", people.Treasurer)
	book := treasurer.program()
	administrator.done("/club/legal-name", "change-setting", map[string]string{"value": "Quillwater Paddlers of Lake Amberjay"})
	treasurer.done("/boats/"+string(heron)+"/claim", "state-claim", map[string]string{"claim": "120.50"})
	treasurer.done("/boats/"+string(heron)+"/paper", "issue-paper", nil)
	c.Settle()
	papers := got[apiPaperList](book, "/api/papers").Papers
	require.Len(t, papers, 1)
	printed := book.ask("GET", "/api/papers/"+papers[0].Paper+"/print", "", nil)
	assert.Equal(t, "application/pdf", printed.header.Get("Content-Type"))
	assert.Equal(t, http.StatusForbidden, p.ask("GET", "/api/papers", "", nil).status)
	assert.Contains(t, string(book.ask("GET", "/api/money/2026/csv", "", nil).body), ",")
}

// requestBy writes a request down on the pages, and gives its id.
func (c *club) requestBy(b *browser) string {
	c.t.Helper()
	form := b.open("/ask")
	require.Equal(c.t, http.StatusOK, b.fillIn(form, "ask", asking).status)
	return form.hidden("ask", "request")
}

func TestAProgramLooksABoatOver(t *testing.T) {
	c := open(t, intakeRoom)
	first, second := c.member(people.Steward), c.member(people.Steward)
	b := first.logged()
	p := first.program()
	require.Equal(t, http.StatusOK, p.ask("POST", "/api"+b+"/look", "k1", map[string]any{"look": "l1"}).status)
	look := got[apiLookOver](p, "/api"+b+"/looks/l1")
	require.NotEmpty(t, look.Points)
	assert.NotEmpty(t, look.Points[0].How)
	assert.NotEmpty(t, look.Points[0].Mark)
	answers := []message.PointAnswer{}
	for _, point := range look.Points {
		answers = append(answers, message.PointAnswer{Point: point.ID, Answer: guide.NotSeen})
	}
	sent := p.ask("POST", "/api"+b+"/looks/l1", "k2", map[string]any{"answers": answers})
	require.Equal(t, http.StatusOK, sent.status, string(sent.body))
	assert.Equal(t, guide.NotSeen, got[apiLookOver](p, "/api"+b+"/looks/l1").Points[0].Answer)
	assert.Equal(t, http.StatusForbidden, second.program().ask("GET", "/api"+b+"/looks/l1", "", nil).status, "blind, here as on the page")
	jacket := p.ask("POST", "/api"+b+"/jackets/foam", "k3", map[string]any{"jacket": "j1", "sort": "foam", "answers": []any{map[string]string{"check": "straps", "answer": "fails"}}})
	require.Equal(t, http.StatusOK, jacket.status, string(jacket.body))
	assert.Equal(t, []string{"straps"}, got[Boat](p, "/api"+b).Jackets[0].Failing)
}

func TestAProgramReadsStockAndPrices(t *testing.T) {
	c := open(t, valuationRoom, repairRoom)
	repairer, treasurer, coordinator := c.member(people.Repairer).program(), c.member(people.Treasurer).program(), c.member(people.Coordinator).program()
	opened := repairer.ask("POST", "/api/stock/new", "k1", map[string]any{"bin": "b1", "name": "deck line", "unit": "metres"})
	require.Equal(t, http.StatusOK, opened.status, string(opened.body))
	assert.Equal(t, "deck line", got[[]Bin](repairer, "/api/stock")[0].Name)
	assert.Equal(t, "deck line", got[Bin](treasurer, "/api/stock/b1").Name)
	assert.Empty(t, got[[]Price](treasurer, "/api/comparables"))
	assert.Empty(t, got[apiShop](treasurer, "/api/shop").Made)
	for _, path := range []string{"/api/stock", "/api/comparables", "/api/shop"} {
		assert.Equal(t, http.StatusForbidden, coordinator.ask("GET", path, "", nil).status, path)
	}
}
