package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/people"
)

// A boat that is free finds its household in a press each: a coordinator begins,
// another member puts in the second secret, and the first approves and offers. A no
// leads to the next household in the same round.
func TestAFreeBoatFindsAHousehold(t *testing.T) {
	c := openClub(t, matchingRoom)
	heron := c.ready("Heron", openCanoe())
	coot := c.ready("Coot", openCanoe())
	pages := []*browser{c.follow(c.asks()), c.follow(c.asks("details.name", "Ben Sedge", "details.mail", "ben@example.org"))}
	c.Settle()
	first, second := c.enter("Marigold Finch", people.Coordinator), c.enter("Linus Alder", people.Steward)
	other := c.enter("Ida Teal", people.Coordinator)

	begun := first.fillIn(first.open("/boats/"+string(heron)+"/place"), "place-boat", nil)
	at, _, _ := strings.Cut(begun.to(), "?")
	assert.Contains(t, first.open(at).says("lottery"), "1 more is needed, of another member; with it the boat is paired at once.")
	again := first.fillIn(first.open(at+"/secret"), "commit-secret", nil)
	assert.Equal(t, http.StatusConflict, again.status, "nobody puts in both secrets: %s", again.text)
	assert.Contains(t, second.open("/").says("tasks"), "A boat that is free wants the secret of another member")
	assert.Contains(t, second.open(at+"/secret").text, "Heron is paired at once")
	paired := second.fillIn(second.open(at+"/secret"), "commit-secret", nil)
	assert.Equal(t, http.StatusSeeOther, paired.status, paired.text)
	c.Settle()

	// Meanwhile another boat can go the same way: such a round holds no requests.
	beside, _, _ := strings.Cut(first.fillIn(first.open("/boats/"+string(coot)+"/place"), "place-boat", nil).to(), "?")
	other.fillIn(other.open(beside+"/secret"), "commit-secret", nil)
	c.Settle()
	assert.Contains(t, first.open(beside).says("pairs"), "Coot for")

	solved := first.open(at)
	assert.Equal(t, "solved", solved.says("state"))
	assert.Contains(t, solved.says("pairs"), "Heron for")
	assert.Contains(t, solved.says("unserved"), "Tier 2")
	assert.Contains(t, first.open("/").says("tasks"), "waits for a second member")
	sent := first.done(at, "approve-and-send", nil)
	assert.Equal(t, "offers out", sent.says("state"))
	c.Settle()
	offered := func() (yes, no *browser) {
		t.Helper()
		for i, page := range pages {
			if page.open("/my/request").byID("decline") != nil {
				return page, pages[1-i]
			}
		}
		t.Fatal("nobody has an offer")
		return nil, nil
	}
	one, next := offered()
	one.done(attr(one.open("/my/request").byID("decline"), "href"), "decline-offer", nil)
	c.Settle()
	assert.Contains(t, other.done(at, "solve-round", nil).says("pairs"), "Heron for")
	first.done(at, "approve-and-send", nil)
	c.Settle()
	taken := next.fillIn(next.open("/my/request"), "accept", nil)
	assert.Equal(t, http.StatusSeeOther, taken.status, taken.text)
	c.Settle()
	closed := first.open(at)
	assert.Equal(t, "closed", closed.says("state"))
	assert.True(t, strings.Contains(closed.text, "the household takes the boat"))
	c.RebuildIsTheSame(Name)
}
