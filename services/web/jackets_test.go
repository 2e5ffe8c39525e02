package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func TestALifeJacketThatFailsStaysOnThePageUntilItIsGone(t *testing.T) {
	c := open(t, intakeRoom)
	steward, auditor := c.member(people.Steward), c.member(people.Auditor)
	b := steward.logged()
	answers := map[string]string{"marked": "adult medium"}
	for i := range 7 {
		answers["answers["+string(rune('0'+i))+"].answer"] = "in order"
	}
	page := steward.done(b+"/jackets/foam", "foam-jacket", with(answers, "answers[2].answer", "fails", "answers[0].answer", "could not be checked"))
	checked := desktestSaid[message.JacketChecked](c, b)[0]
	assert.Equal(t, []string{"straps"}, checked.Failing)
	assert.Equal(t, []string{"label"}, checked.Unchecked)
	shown := page.says("jacket-" + checked.Jacket)
	assert.Contains(t, shown, "Foam, adult medium: it fails and is never passed on.")
	assert.Contains(t, shown, "A strap is ripped, torn or off at one end. (33 CFR 175.23(a)(2))")
	assert.Contains(t, shown, "Could not be checked: “The approval number cannot be read.” (33 CFR 175.21)")
	assert.Contains(t, page.says("block-jacket"), "not handed over as long as it lies there")

	// What cannot become of it is not offered, and not taken either.
	at := b + "/jackets/" + checked.Jacket
	form := steward.open(at + "/end")
	assert.NotContains(t, form.text, string(message.JacketPassedOn))
	refused := steward.fill(at+"/end", "end-jacket", map[string]string{"way": string(message.JacketPassedOn)})
	assert.Equal(t, http.StatusConflict, refused.status)
	assert.Contains(t, refused.says("problems"), "never passed on")
	gone := steward.done(at+"/end", "end-jacket", map[string]string{"way": string(message.JacketDestroyed)})
	assert.Contains(t, gone.says("jacket-"+checked.Jacket), "What became of it: cut up and thrown away.")
	assert.Nil(t, gone.byID("block-jacket"))

	// One of which something could not be checked is checked later.
	page = steward.done(b+"/jackets/foam", "foam-jacket", with(answers, "answers[0].answer", "could not be checked"))
	second := desktestSaid[message.JacketChecked](c, b)[1]
	assert.NotNil(t, page.byID("block-jacket"))
	page = steward.done(b+"/jackets/"+second.Jacket+"/check", "check-jacket", answers)
	assert.Contains(t, page.says("jacket-"+second.Jacket), "serviceable on that day")
	assert.Nil(t, page.byID("block-jacket"))
	require.Contains(t, steward.open(b+"/jackets/"+second.Jacket+"/end").text, string(message.JacketPassedOn))

	history := auditor.open(b + "/history").says("lines")
	for _, line := range []string{"(foam) was checked: it fails", "(foam) was checked in part", "serviceable on that day", "What became of a life jacket: cut up and thrown away"} {
		assert.Contains(t, history, line)
	}
	assert.Nil(t, auditor.open(b).byID("do-foam-jacket"))
	c.RebuildIsTheSame(Name)
}
