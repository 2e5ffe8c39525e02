package people_test

import (
	"fmt"
	"testing"
	"time"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

// Whoever fills in the public form names the address that a letter goes to. It
// may be somebody else's.
func TestAnAddressIsNotFloodedThroughThePublicForm(t *testing.T) {
	c := start(t)
	var made message.RequestMade
	for i := range 12 {
		made = c.ask(c.introduced(message.HouseholdSort, fmt.Sprintf("Cam Sedge %d", i), "cam@example.org"))
	}
	c.ask(c.introduced(message.HouseholdSort, "Tam Nettle", "tam@example.org"))
	c.Settle()
	c.waitForLetters(11) // ten to one address, one to the other
	c.Do(c.Member(who.Coordinator), message.GiveLink{Link: desktest.ID(), Person: made.Household, Purpose: who.OwnRequest, Subject: made.Request})
	c.Settle()
	c.waitForLetters(12) // what the club gives itself is sent
	c.Clock.Advance(25 * time.Hour)
	c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	c.Settle()
	c.waitForLetters(13)
}
