package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// TestThePageNamesWhatStopsABoatAndTheWayOut walks a boat whose number stands in
// the book already, and which nothing shows to be the giver's.
func TestThePageNamesWhatStopsABoatAndTheWayOut(t *testing.T) {
	c := open(t, intakeRoom)
	steward, administrator, auditor := c.member(people.Steward), c.member(people.Administrator), c.member(people.Auditor)
	clear := steward.open(steward.logged())
	assert.Nil(t, clear.byID("block-no-right"), "nothing of its arrival stands against the first")
	assert.Equal(t, "To go on it needs a finished look-over; the club's decision.", clear.says("missing"))
	sent := steward.fill("/boats/new", "log-boat", with(heron, "name", "Egret", "shown.paper", "", "shown.on", "", "intent.on", "2026-03-20", "intent.restriction", "for beginners"))
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	b := boatOf(sent.to())

	page := steward.open(b)
	assert.Contains(t, page.says("in-the-way"), "number of another boat")
	assert.Contains(t, page.says("block-no-right"), "Nothing shows yet by what right")
	assert.Contains(t, page.says("intent"), "bound to: for beginners")
	begun := steward.done(b+"/look", "begin-look", nil)
	steward.done(attr(begun.byID("do-finish-look"), "href"), "finish-look", map[string]string{"grade": "3"})
	refused := steward.fill(b+"/accept", "accept", map[string]string{"words": "for the beginners' evening", "stake": "none"})
	assert.Equal(t, http.StatusConflict, refused.status)
	assert.Contains(t, refused.text, "by what right")

	steward.done(b+"/right", "show-right", map[string]string{"paper": "bill of sale", "on": "2026-03-21"})
	refused = steward.fill(b+"/accept", "accept", map[string]string{"words": "for the beginners' evening", "stake": "none"})
	assert.Contains(t, refused.text, "number of another boat")
	doubt := "block-doubt-" + desktestSaid[message.DoubtRaised](c, b)[0].Doubt
	assert.Empty(t, all(steward.open(b).byID(doubt), "a"), "not a steward's to settle")
	settle := attr(all(administrator.open(b).byID(doubt), "a")[0], "href")
	assert.Contains(t, settle, "/doubts/number-of-")
	assert.Equal(t, http.StatusForbidden, steward.get(settle).status)
	settled := administrator.done(settle, "settle-doubt", map[string]string{"words": "the first one's number was misread"})
	assert.Nil(t, settled.byID(doubt))
	assert.Contains(t, settled.says("decision"), "Settled by Marigold Finch: the first one's number was misread")
	steward.done(b+"/accept", "accept", map[string]string{"words": "for the beginners' evening", "stake": "none"})

	steward.done(b+"/possession", "note-possession", map[string]string{"on": "2026-03-25"})
	assert.Contains(t, steward.open(b).says("possession"), "25 March 2026; the transfer is not signed yet")
	done := steward.done(b+"/transfer", "sign-transfer", map[string]string{"on": "2026-03-28"})
	assert.Contains(t, done.says("received"), "the day of the gift is 28 March 2026")
	history := auditor.open(b + "/history").says("lines")
	for _, line := range []string{"Doubted whose it is: number of another boat", "A doubt was settled", "bill of sale (owner's declaration), of 2026-03-21", "In the club's hands since 2026-03-25"} {
		assert.Contains(t, history, line)
	}
}

func TestABoatThatComesBackGoesOnFromItsOldEntry(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	old := steward.logged()
	steward.done(old+"/decline", "decline", map[string]string{"reason": "too heavy", "way": "its owner keeps it as it is", "stake": "none"})
	form := steward.open("/boats/new")
	assert.Contains(t, form.text, "Heron: canoe, declined, OXL12345A717")
	sent := steward.fill("/boats/new", "log-boat", with(heron, "again", old[len("/boats/"):]))
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	back := steward.open(sent.to())
	assert.Contains(t, back.says("earlier"), "time 2 with the club")
	assert.Contains(t, back.says("block-no-quarantine"), "in which water it was last")
	assert.NotContains(t, back.says("in-the-way"), "another boat")
	assert.Contains(t, steward.open(old).says("later"), "here again")
	assert.NotContains(t, steward.open("/boats/new").text, "Heron: canoe, declined", "it has come back")
	history := steward.open(boatOf(sent.to()) + "/history")
	assert.Contains(t, history.text, "Declined: too heavy", "the history goes on from the old one")
	assert.Contains(t, history.text, "The boat came back: time 2 with the club")
}

func TestEveryArrivalHasItsSentence(t *testing.T) {
	for _, body := range []message.Body{
		message.RightShown{}, message.IntentStated{}, message.RegistrationNoted{}, message.DoubtRaised{},
		message.DoubtSettled{}, message.BoatCameBack{}, message.PossessionNoted{}, message.TransferSigned{},
	} {
		assert.NotEmpty(t, sumArrival(body), body.Kind())
	}
}

// boatOf gives a boat's address from that of the page after a form.
func boatOf(address string) string {
	address, _, _ = strings.Cut(address, "?")
	return address
}

// Numbers and what they say: 33 CFR 181.25 and 181.27 (pkg/hin has the table).
func TestAHullNumberIsReadBeforeTheBoatIsWrittenDown(t *testing.T) {
	c := open(t, intakeRoom)
	steward, auditor := c.member(people.Steward), c.member(people.Auditor)
	old := steward.logged()

	// Without a script the form's second button reads it and keeps what was typed.
	form := steward.open("/boats/new")
	button := all(form.byID("log-boat"), "button")[1]
	assert.Equal(t, "/boats/new#f-facts-hull_number", attr(button, "formaction"))
	values := url.Values{attr(button, "name"): {attr(button, "value")}, "boat": {form.hidden("log-boat", "boat")}}
	for name, value := range with(heron, "name", "Egret", "facts.hull_number", "US-oxl12345a717") {
		values.Set(name, value)
	}
	read := steward.send("/boats/new", values)
	require.Equal(t, http.StatusOK, read.status)
	reading := read.says("f-facts-hull_number-reading")
	assert.Contains(t, reading, "country US, maker OXL, serial 12345, built 2017-01, model year 2017")
	assert.Contains(t, reading, "Heron (offered) bears this number in the club’s books")
	assert.Equal(t, "Egret", attr(read.byID("f-name"), "value"))
	assert.Equal(t, "Odo Reed", attr(read.byID("f-new_giver-name"), "value"))
	assert.Equal(t, form.hidden("log-boat", "boat"), read.hidden("log-boat", "boat"))
	assert.NotContains(t, auditor.open("/boats").text, "Egret", "nothing is written")
	assert.NotContains(t, steward.open(old+"/facts").says("f-facts-hull_number-reading"), "Heron", "its own number is no other boat's")

	page := auditor.open("/hull-number?number=XYZ1234OH394")
	assert.Contains(t, page.says("reading"), "at character 8") // 33 CFR 181.25(b): no letter O
	assert.Contains(t, page.says("reading"), "No other boat")
	assert.Equal(t, http.StatusUnprocessableEntity, auditor.get("/hull-number?number="+strings.Repeat("1", 201)).status)
	steward.done(old+"/decline", "decline", map[string]string{"reason": "too heavy", "way": "its owner keeps it as it is", "stake": "none"})
	assert.Contains(t, auditor.open("/hull-number?number=OXL12345A717").says("reading"), "The club has had this boat: Heron (declined)")

	var api apiHull
	require.NoError(t, json.Unmarshal(steward.program().ask("GET", "/api/hull-number?number=OXL12345A717", "", nil).body, &api))
	assert.True(t, api.Valid)
	assert.Equal(t, 2017, api.ModelYear)
	assert.Equal(t, "Heron", api.InTheBooks[0].Name)
	c.RebuildIsTheSame(Name)
}
