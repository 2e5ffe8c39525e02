package web

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo/phototest"
)

// program is a program that carries a member's token.
type program struct {
	*club
	token string
}

// program makes a token on the page and gives it to a program.
func (b *browser) program() *program {
	b.t.Helper()
	page := b.fill("/tokens", "make-token", map[string]string{"name": "a script", "days": "30"})
	require.Equal(b.t, http.StatusOK, page.status, page.text)
	token := textOf(all(page.byID("new-token"), "code")[0])
	require.True(b.t, strings.HasPrefix(token, tokenMark))
	return &program{b.club, token}
}

// asked is what a program got.
type asked struct {
	status  int
	header  http.Header
	body    []byte
	problem problemDetails
}

func (p *program) ask(method, path, key string, body any) asked {
	p.t.Helper()
	raw, isRaw := body.([]byte)
	if !isRaw && body != nil {
		var err error
		raw, err = json.Marshal(body)
		require.NoError(p.t, err)
	}
	req, err := http.NewRequestWithContext(p.t.Context(), method, "http://"+p.site.Addr()+path, bytes.NewReader(raw))
	require.NoError(p.t, err)
	if p.token != "" {
		req.Header.Set("Authorization", "Bearer "+p.token)
	}
	if key != "" {
		req.Header.Set(keyHeader, key)
	}
	res, err := http.DefaultClient.Do(req)
	require.NoError(p.t, err)
	defer res.Body.Close()
	var out bytes.Buffer
	_, err = out.ReadFrom(res.Body)
	require.NoError(p.t, err)
	a := asked{status: res.StatusCode, header: res.Header, body: out.Bytes()}
	if a.status >= 400 {
		assert.Equal(p.t, "application/problem+json", a.header.Get("Content-Type"), "%s %s: %s", method, path, a.body)
		require.NoError(p.t, json.Unmarshal(a.body, &a.problem))
		assert.Equal(p.t, a.status, a.problem.Status)
	}
	return a
}

// canoeOrder is a boat as a program logs it.
func canoeOrder(id, name string, giver people.ID) message.LogBoat {
	return message.LogBoat{
		Boat: boat.ID(id), Name: name, Taking: message.Gift, Giver: giver, Right: "estate",
		Facts: message.BoatFacts{Type: boat.Canoe, Seats: 2, Material: boat.Wood, NoHullNumber: "home-built"},
	}
}

func TestAProgramDoesIntake(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	p := steward.program()
	c.knows("odo", message.DonorSort, "Odo Reed")
	c.Settle() // the intake room knows them, too
	order := canoeOrder("b1", "Heron", "odo")
	first := p.ask("POST", "/api/boats/new", "k1", order)
	require.Equal(t, http.StatusOK, first.status, string(first.body))
	var reply, again message.Reply
	require.NoError(t, json.Unmarshal(first.body, &reply))
	require.NoError(t, json.Unmarshal(p.ask("POST", "/api/boats/new", "k1", order).body, &again))
	assert.True(t, again.Repeated)
	assert.Equal(t, reply.Position, again.Position)
	assert.Equal(t, http.StatusConflict, p.ask("POST", "/api/boats/new", "k1", canoeOrder("b2", "Egret", "odo")).status, "a key is for one intent")

	// The address fills in what it names.
	require.Equal(t, http.StatusOK, p.ask("POST", "/api/boats/b1/right", "k2", map[string]any{"right": "estate", "paper": "court paper", "on": "2026-03-01"}).status)
	require.Equal(t, http.StatusOK, p.ask("POST", "/api/boats/b1/look", "k3", map[string]any{"look": "l1"}).status)
	found := p.ask("POST", "/api/boats/b1/looks/l1/finding", "k4", map[string]any{"finding": "f1", "defect": "rot", "severity": "watch",
		"place": map[string]string{"zone": "bow", "side": "port", "face": "inside", "part": "hull"}})
	require.Equal(t, http.StatusOK, found.status, string(found.body))

	sent := p.ask("POST", "/api/photos", "", phototest.Jetty())
	require.Equal(t, http.StatusOK, sent.status, string(sent.body))
	var kept keptPhoto
	require.NoError(t, json.Unmarshal(sent.body, &kept))
	require.Equal(t, http.StatusOK, p.ask("POST", "/api/boats/b1/photos/new", "k5", map[string]any{"photo": "p1", "hash": kept.Hash, "finding": "f1"}).status)
	picture := p.ask("GET", "/api/boats/b1/photos/"+kept.Hash+"/large.jpg", "", nil)
	assert.Empty(t, phototest.Tags(t, picture.body))

	var list apiBoatList
	require.NoError(t, json.Unmarshal(p.ask("GET", "/api/boats?q=heron", "", nil).body, &list))
	assert.Equal(t, 1, list.All)
	assert.Equal(t, "Heron", list.Boats[0].Name)
	var b Boat
	require.NoError(t, json.Unmarshal(p.ask("GET", "/api/boats/b1", "", nil).body, &b))
	require.Len(t, b.Findings, 1)
	var history apiHistory
	require.NoError(t, json.Unmarshal(p.ask("GET", "/api/boats/b1/history", "", nil).body, &history))
	assert.Contains(t, history.Lines[0].Summary, "Logged as offered: Heron")

	// An open look-over is its inspector's alone, here as on the page.
	other := c.member(people.Steward).program()
	b = Boat{}
	require.NoError(t, json.Unmarshal(other.ask("GET", "/api/boats/b1", "", nil).body, &b))
	assert.Empty(t, b.Findings)
	assert.Empty(t, b.Photos)
	assert.Equal(t, http.StatusNotFound, other.ask("GET", "/api/boats/b1/photos/"+kept.Hash+"/large.jpg", "", nil).status)
}

func TestErrorsAreProblemDetailsAndRepeatNothing(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	p := steward.program()
	order := canoeOrder("b1", "Heron", "nobody")
	order.NewGiver, order.Consent = &message.PersonDetails{Name: "Odalys Fenwright", Mail: "odalys at the lock"}, "yes"
	bad := p.ask("POST", "/api/boats/new", "k1", order)
	assert.Equal(t, http.StatusUnprocessableEntity, bad.status)
	assert.Equal(t, "new_giver.mail", bad.problem.Errors[0].Location)
	assert.NotContains(t, string(bad.body), "odalys")
	assert.NotContains(t, string(bad.body), "Fenwright")

	for name, row := range map[string]struct {
		got    asked
		status int
		says   string
	}{
		"no key":              {p.ask("POST", "/api/boats/new", "", order), 422, "Idempotency-Key"},
		"no object":           {p.ask("POST", "/api/boats/new", "k", []byte(`["x"]`)), 422, "no JSON object"},
		"an unknown field":    {p.ask("POST", "/api/boats/new", "k", map[string]any{"nmae": "x"}), 422, "no such field"},
		"no such address":     {p.ask("GET", "/api/boots", "", nil), 404, "No page stands at this address"},
		"a boat that is none": {p.ask("GET", "/api/boats/none", "", nil), 404, "does not have this boat"},
		"two boats":           {p.ask("POST", "/api/boats/b1/decline", "k", map[string]any{"boat": "b2"}), 404, "does not have this boat"},
		"no photo":            {p.ask("POST", "/api/photos", "", []byte("<html>")), 422, "no photo in the formats"},
		"a huge photo":        {p.ask("POST", "/api/photos", "", make([]byte, 21<<20)), 422, "more than 20 MB"},
		"no token":            {(&program{club: c}).ask("GET", "/api/boats", "", nil), 401, "Sign in first"},
		"a wrong token":       {(&program{c, "refloat-XYZ"}).ask("GET", "/api/boats", "", nil), 401, "not known or has ended"},
	} {
		assert.Equal(t, row.status, row.got.status, name)
		assert.Contains(t, row.got.problem.Detail, row.says, name)
	}
	cookie := steward.get("/api/boats")
	assert.Equal(t, http.StatusUnauthorized, cookie.status, "a cookie is no token")
}

// TestProgramsMayDoWhatTheirMemberMay walks every address for programs with the
// token of an auditor, and with none.
func TestProgramsMayDoWhatTheirMemberMay(t *testing.T) {
	c := open(t)
	auditor, nobody := c.member(people.Auditor).program(), &program{club: c}
	walked := 0
	err := chi.Walk(c.site.Router(), func(method, path string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if !strings.HasPrefix(path, "/api/") {
			return nil
		}
		walked++
		want, known := mayAsk(method + " " + path)
		require.True(t, known, "the server answers %s %s, which is not in the table", method, path)
		address := inBraces.ReplaceAllString(path, "none")
		if !strings.Contains(want, "-") {
			assert.Equal(t, http.StatusUnauthorized, nobody.ask(method, address, "", nil).status, "%s %s", method, path)
		}
		status := auditor.ask(method, address, "", nil).status
		if strings.Contains(want, "u") {
			assert.NotContains(t, []int{401, 403, 500}, status, "%s %s", method, path)
		} else {
			assert.Equal(t, http.StatusForbidden, status, "%s %s", method, path)
		}
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, walked, 40)
}

func TestATokenIsItsMembersAndEnds(t *testing.T) {
	c := open(t, intakeRoom)
	steward, other := c.member(people.Steward), c.member(people.Steward)
	p := steward.program()
	assert.NotContains(t, c.DB.Dump("web.api_token"), p.token, "only the hash is kept")
	page := steward.open("/tokens")
	assert.NotContains(t, page.text, p.token, "it is shown once")
	assert.Contains(t, page.says("tokens"), "never used")
	require.Equal(t, http.StatusOK, p.ask("GET", "/api/boats", "", nil).status)
	assert.NotContains(t, steward.open("/tokens").says("tokens"), "never used")
	assert.Nil(t, other.open("/tokens").byID("tokens"), "others do not see it")
	end := attr(all(page.byID("tokens"), "form")[0], "action")
	other.send(end, nil)
	require.Equal(t, http.StatusOK, p.ask("GET", "/api/boats", "", nil).status, "and do not end it")

	// A role that is taken is gone for the token at once.
	c.Say(message.Person(steward.who), "", message.RoleTaken{Person: steward.who, Role: people.Steward})
	c.Settle()
	assert.Equal(t, http.StatusForbidden, p.ask("GET", "/api/boats", "", nil).status)
	c.Say(message.Person(steward.who), "", message.RoleGiven{Person: steward.who, Role: people.Steward})
	c.Settle()
	steward.send(end, nil)
	assert.Equal(t, http.StatusUnauthorized, p.ask("GET", "/api/boats", "", nil).status)

	late, erased := steward.program(), other.program()
	c.Say(message.Person(other.who), "", message.PersonErased{Person: other.who})
	c.Settle()
	assert.Equal(t, http.StatusUnauthorized, erased.ask("GET", "/api/boats", "", nil).status)
	c.Clock.Advance(31 * 24 * time.Hour)
	assert.Equal(t, http.StatusUnauthorized, late.ask("GET", "/api/boats", "", nil).status)
}

func TestProgramsAreHeldDown(t *testing.T) {
	c := open(t)
	p, other := c.member(people.Auditor).program(), c.member(people.Auditor).program()
	for range apiPerMinute {
		p.ask("GET", "/api/boats/none", "", nil)
	}
	held := p.ask("GET", "/api/boats", "", nil)
	assert.Equal(t, http.StatusServiceUnavailable, held.status)
	assert.NotEmpty(t, held.header.Get("Retry-After"))
	assert.Equal(t, http.StatusOK, other.ask("GET", "/api/boats", "", nil).status)
}

// TestTheDescriptionIsOpenAPI checks the description with a reader of OpenAPI 3.1
// that others wrote (kin-openapi), and real orders against it.
func TestTheDescriptionIsOpenAPI(t *testing.T) {
	c := open(t, intakeRoom)
	raw := (&program{club: c}).ask("GET", "/api/openapi.json", "", nil).body
	description, err := openapi3.NewLoader().LoadFromData(raw)
	require.NoError(t, err)
	assert.Equal(t, "3.1.0", description.OpenAPI)
	require.NoError(t, description.Validate(t.Context()))

	const path = "/api/boats/new"
	log := &routers.Route{Spec: description, Path: path, PathItem: description.Paths.Value(path), Method: http.MethodPost, Operation: description.Paths.Value(path).Post}
	order := func(body, key string) error {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, path, strings.NewReader(body))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set(keyHeader, key)
		return openapi3filter.ValidateRequest(t.Context(), &openapi3filter.RequestValidationInput{
			Request: req, Route: log, Options: &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc},
		})
	}
	good, err := json.Marshal(canoeOrder("b1", "Heron", "p"))
	require.NoError(t, err)
	require.NoError(t, order(string(good), "k1"))
	assert.Error(t, order(string(good), strings.Repeat("k", 65)), "a key is 64 letters long at most")
	assert.Error(t, order(strings.Replace(string(good), `"canoe"`, `"raft"`, 1), "k1"), "the words of the trade stand in it")
	assert.Error(t, order(strings.Replace(string(good), `"seats":2`, `"seats":"two"`, 1), "k1"))
}
