package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// TestTwoVolunteersEditOneBoat: both have the boat's facts open. The second to send
// is shown what the first wrote beside their own words, what they left alone is
// taken over, and after a look both stand.
func TestTwoVolunteersEditOneBoat(t *testing.T) {
	c := open(t, intakeRoom)
	first, second := c.member(people.Steward), c.member(people.Steward)
	b := first.logged("facts.colour", "red", "facts.stored_where", "rack 3")
	mine, theirs := first.open(b+"/facts"), second.open(b+"/facts")

	sent := first.fillIn(mine, "correct-facts", map[string]string{"facts.colour": "red over cream", "facts.maker": "Thrushcraft & Vane", "why": "seen in daylight"})
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	typed := map[string]string{"facts.colour": "orange", "facts.stored_where": "rack 7, top", "facts.length_mm": "4,9", "why": "moved and measured"}
	back := second.fillIn(theirs, "correct-facts", typed)
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.says("f-facts-colour-error"), "somebody else wrote “red over cream” here meanwhile, and you wrote “orange”")
	assert.Contains(t, back.says("f-facts-maker-error"), "somebody else wrote “Thrushcraft & Vane” here meanwhile, in place of “Thrushcraft”; it is taken over")
	assert.Equal(t, "orange", back.value("facts.colour"), "what was typed is still there")
	assert.Equal(t, "Thrushcraft & Vane", back.value("facts.maker"))
	assert.Equal(t, "rack 7, top", back.value("facts.stored_where"))
	assert.Equal(t, "moved and measured", back.value("why"))
	assert.Nil(t, back.byID("f-facts-stored_where-error"), "only one of them touched it")
	assert.Len(t, desktestSaid[message.FactsCorrected](c, b), 1, "nothing is written over somebody else's words")

	// A third pair of hands comes in between once more.
	require.Equal(t, http.StatusSeeOther, first.fill(b+"/facts", "correct-facts", map[string]string{"facts.features": "wide cockpit", "why": "the seat back is gone"}).status)
	back = second.fillIn(back, "correct-facts", map[string]string{"facts.colour": "red over cream, orange deck"})
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.says("f-facts-features-error"), "“wide cockpit”")
	assert.Nil(t, back.byID("f-facts-colour-error"), "that was decided")

	sent = second.fillIn(back, "correct-facts", nil)
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	assert.Equal(t, http.StatusSeeOther, second.fillIn(back, "correct-facts", nil).status, "sent twice, done once")
	corrected := desktestSaid[message.FactsCorrected](c, b)
	require.Len(t, corrected, 3)
	facts := corrected[2].Facts
	assert.Equal(t, "red over cream, orange deck", facts.Colour)
	assert.Equal(t, "Thrushcraft & Vane", facts.Maker)
	assert.Equal(t, "rack 7, top", facts.StoredWhere)
	assert.Equal(t, 4900, facts.LengthMM)
	assert.Len(t, facts.Features, 1)
	page := second.open(b)
	assert.Contains(t, page.text, "red over cream, orange deck")
	assert.Contains(t, second.open(b+"/history").says("lines"), "seen in daylight")

	// Between the look of the pages and the order nothing slips in: the room checks.
	stood := corrected[0].Facts
	changed := facts
	changed.Colour = "grey"
	_, err := c.Try(c.Member(people.Steward), message.CorrectFacts{Boat: corrected[2].Boat, Facts: changed, Why: "late", Stood: &stood})
	assert.Equal(t, fault.Conflict, fault.Of(err).Kind)
	assert.Equal(t, "why", fault.Of(err).Field)

	// What a program wrote with blanks around it comes back from a form without them.
	changed.Colour = " grey "
	c.Do(c.Member(people.Steward), message.CorrectFacts{Boat: corrected[2].Boat, Facts: changed, Why: "by a program"})
	c.Settle()
	sent = first.fill(b+"/facts", "correct-facts", map[string]string{"facts.maker": "Vane", "why": "seen again"})
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
}
