package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// What a household writes of itself is read by those who place boats, not by
// who reads the books, and by nobody after an erasure.
func TestAHouseholdsOwnReasonsAreNotTheAuditors(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.ready("Heron", openCanoe())
	mine := c.follow(c.asks())
	at := c.offersOut()
	mine.done(attr(mine.open("/my/request").byID("decline"), "href"), "decline-offer", map[string]string{"why": "my back hurts"})
	mine.done("/my/request/withdraw", "withdraw-request", map[string]string{"why": "we are ill"})
	assert.Contains(t, mine.open("/my/request").text, "we are ill", "their own words")

	coordinator, auditor := c.enter("Marigold Finch", people.Coordinator), c.enter("Wren Moss", people.Auditor)
	request := attr(all(coordinator.open("/requests?state=all").byID("requests"), "a")[0], "href")
	assert.Contains(t, coordinator.open(at).text, "my back hurts")
	assert.Contains(t, coordinator.open(request).text, "my back hurts")
	assert.Contains(t, coordinator.open(request).text, "we are ill")
	for _, address := range []string{at, request} {
		page := auditor.open(address)
		assert.NotContains(t, page.text, "my back hurts", address)
		assert.NotContains(t, page.text, "we are ill", address)
	}
}

// The form promises an applicant that only those who place boats open the name.
func TestWhoGotABoatIsNamedToThoseWhoPlaceBoats(t *testing.T) {
	c := openClub(t, matchingRoom)
	heron, household := c.ready("Heron", openCanoe()), people.ID(desktest.ID())
	c.knows(household, message.HouseholdSort, "Odalys Fenwright")
	c.Say(message.MatchingBoat(heron), string(heron), message.BoatHandedOver{Boat: heron, Household: household, On: clock.MustDate("2026-05-02")})
	c.Settle()
	for role, reads := range map[people.Role]bool{
		people.Coordinator: true, people.Administrator: true, people.Steward: false, people.Repairer: false, people.Treasurer: false, people.Auditor: false,
	} {
		page := c.enter("Wren Moss "+string(role), role).open("/boats/" + string(heron))
		assert.Contains(t, page.says("handed-over"), "2026", role)
		assert.Equal(t, reads, strings.Contains(page.text, "Odalys"), "%s: %s", role, page.says("handed-over"))
	}
}
