package web

import (
	"bufio"
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// ear listens to a stream of changes, as a browser does.
type ear struct {
	*browser
	status int
	header http.Header
	lines  chan string // closed when the stream has ended
	stop   context.CancelFunc
}

func (b *browser) listen(path string) *ear {
	b.t.Helper()
	ctx, stop := context.WithCancel(b.t.Context())
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+b.site.Addr()+path, nil)
	require.NoError(b.t, err)
	req.Header.Set("Accept", "text/event-stream")
	client := *b.http
	client.Timeout = 0
	res, err := client.Do(req)
	require.NoError(b.t, err)
	e := &ear{b, res.StatusCode, res.Header, make(chan string, 1000), stop}
	go func() {
		defer close(e.lines)
		defer func() { _ = res.Body.Close() }()
		for read := bufio.NewScanner(res.Body); read.Scan(); {
			if read.Text() != "" {
				e.lines <- read.Text()
			}
		}
	}()
	b.t.Cleanup(stop)
	return e
}

// next gives the next line, without those that only show that the stream lives.
func (e *ear) next() string {
	e.t.Helper()
	late := time.After(time.Minute)
	for {
		select {
		case line, open := <-e.lines:
			if !open {
				return "over"
			}
			if line != ": here" {
				return line
			}
		case <-late:
			require.Fail(e.t, "nothing came")
		}
	}
}

// ends waits until the stream is over, and gives what it said until then.
func (e *ear) ends() (said []string) {
	e.t.Helper()
	late := time.After(time.Minute)
	for {
		select {
		case line, open := <-e.lines:
			if !open {
				return said
			}
			said = append(said, line)
		case <-late:
			require.Fail(e.t, "the stream does not end")
		}
	}
}

// hears waits for one change.
func (e *ear) hears() {
	e.t.Helper()
	assert.Regexp(e.t, `^id: \d+$`, e.next())
	assert.Equal(e.t, "event: changed", e.next())
	assert.Equal(e.t, "data: ", e.next(), "the stream tells nothing but that something changed")
}

// open waits until a stream is counted.
func (c *club) streams(n int) {
	c.t.Helper()
	require.Eventually(c.t, func() bool {
		c.site.lives.mu.Lock()
		defer c.site.lives.mu.Unlock()
		return c.site.lives.all == n && (n > 0 || len(c.site.lives.open) == 0)
	}, time.Minute, 5*time.Millisecond, "%d streams", n)
}

func TestPagesHearThatSomethingChanged(t *testing.T) {
	c := open(t, intakeRoom)
	c.site.lives.beat = 20 * time.Millisecond
	steward, other, admin := c.member(people.Steward), c.member(people.Auditor), c.member(people.Administrator)
	heron, coot := steward.logged(), steward.logged("name", "Coot", "facts.hull_number", "OXL12346A717")
	after := attr(other.open(heron).byID("main").Parent, "data-at")
	require.NotEmpty(t, after)
	at, home, all := other.listen(heron+"/live?after="+after), other.listen("/live?after="+after), admin.listen("/book/live?after=0")
	require.Equal(t, http.StatusOK, at.status)
	all.hears() // at once: it asked from the beginning
	all.hears() // and at each beat: what no event tells

	// Another boat's page says nothing of this one.
	steward.done(coot+"/possession", "note-possession", map[string]string{"on": "2026-03-30"})
	home.hears()
	steward.done(heron+"/possession", "note-possession", map[string]string{"on": "2026-03-30"})
	at.hears()
	home.hears()
	// Who comes back hears of what they missed.
	missed := other.listen(heron + "/live?after=" + after)
	missed.hears()
	missed.stop()

	// Nobody hears what they may not open.
	holder := c.holder(people.ID(desktest.ID()), people.OwnRequest, "r1")
	for path, b := range map[string]*browser{heron + "/live": c.visitor(), "/live": holder, "/book/live": steward, "/rounds/r/live": steward} {
		e := b.listen(path)
		assert.Contains(t, []int{http.StatusForbidden, http.StatusUnauthorized}, e.status, path)
		assert.Empty(t, e.header.Get("Set-Cookie"), "after signing in nobody is led to a stream")
	}
	assert.Equal(t, http.StatusNotFound, other.listen("/boats/none/live").status)
	c.streams(3)

	// A session holds so many.
	var many []*ear
	for range livesOfOne - 2 {
		many = append(many, other.listen(heron+"/live"))
	}
	c.streams(livesOfOne + 1)
	assert.Equal(t, http.StatusServiceUnavailable, other.listen(heron+"/live").status)
	assert.Equal(t, http.StatusOK, steward.listen(heron+"/live").status, "others are not held down with it")
	for _, e := range many {
		e.stop()
	}
	c.streams(4)

	// Signing out ends it, and so does the loss of every role.
	require.Equal(t, http.StatusSeeOther, other.send("/sign-out", nil).status)
	assert.NotContains(t, at.ends(), "event: changed")
	c.Say(message.Person(admin.who), "", message.RoleTaken{Person: admin.who, Role: people.Administrator})
	all.ends()
	c.streams(1)
	stops := steward.listen("/live")
	c.streams(2)

	// A server that stops does not wait for them.
	require.NoError(t, c.site.server.Stop(t.Context()))
	stops.ends()
	c.streams(0)
}

func TestAPageKeepsItselfUpToDate(t *testing.T) {
	c := open(t, intakeRoom)
	first, second := c.member(people.Steward), c.member(people.Steward)
	b := first.logged()
	base := "http://" + c.site.Addr()
	one := &viewer{browsertest.Open(t, 360, 740), t, base, axeScript(t)}
	one.enterAs(first)
	_ = second

	// The boat's page shows what somebody else wrote down.
	one.Go(base + b)
	one.DoNotSee("In the club's hands since")
	second.done(b+"/possession", "note-possession", map[string]string{"on": "2026-03-30"})
	one.until(`document.body.innerText.includes("In the club's hands since")`)
	one.until(`document.getElementById("live").textContent === "This page is up to date."`)

	// The start page shows a boat that came.
	one.Go(base + "/")
	one.DoNotSee("Coot")
	second.logged("name", "Coot", "facts.hull_number", "OXL12346A717")
	one.until(`document.body.innerText.includes("Coot")`)

	// Two volunteers have the boat's facts open. What is half typed stays, what is new
	// is shown when it is asked for, and nobody's words are written over.
	two := &viewer{browsertest.Open(t, 1280, 900), t, base, one.axe}
	two.enterAs(second)
	value := func(name string) string {
		return browsertest.Eval[string](one.Tab, `document.querySelector("[name='`+name+`']").value`)
	}
	one.Go(base + b + "/facts")
	two.Go(base + b + "/facts")
	one.Fill("#correct-facts", "facts.model", "Half a wo", "facts.colour", "orange")
	two.Fill("#correct-facts", "facts.colour", "green", "facts.stored_where", "rack 7", "why", "nobody wrote it down")
	two.Press("#correct-facts", "Put right")
	two.See("The facts are put right")
	one.until(`document.querySelector(".live-new") !== null`)
	assert.Equal(t, "Half a wo", value("facts.model"))
	assert.Equal(t, "", value("facts.stored_where"))
	for _, violation := range one.Axe(one.axe) {
		assert.Fail(t, "an accessibility rule is broken", "%v", violation)
	}
	one.picture("live-new-360")
	browsertest.Eval[bool](one.Tab, `document.querySelector(".live-new button").click(), true`)
	assert.Equal(t, "rack 7", value("facts.stored_where"))
	assert.Equal(t, "Half a wo", value("facts.model"))
	assert.Equal(t, "orange", value("facts.colour"))
	one.Fill("#correct-facts", "facts.hull_number", "")
	one.until(`document.getElementById("f-facts-hull_number-reading").innerText === ""`) // it is read while it is typed, as before
	one.Fill("#correct-facts", "facts.hull_number", "OXL12345A717")
	one.Fill("#correct-facts", "facts.model", "Half a word", "why", "read off the hull")
	one.Press("#correct-facts", "Put right")
	one.See("somebody else wrote “green” here meanwhile, and you wrote “orange”")
	one.Fill("#correct-facts", "facts.colour", "green, orange deck")
	one.Press("#correct-facts", "Put right")
	one.See("The facts are put right")
	c.Settle()
	all := desktestSaid[message.FactsCorrected](c, b)
	require.Len(t, all, 2)
	last := all[1].Facts
	assert.Equal(t, []string{"green, orange deck", "Half a word", "rack 7"}, []string{last.Colour, last.Model, last.StoredWhere})
	two.Go(base + b)
	two.See("green, orange deck")
}
