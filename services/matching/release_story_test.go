package matching_test

import (
	"crypto/sha256"
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/services/matching"
)

// The text that was signed stays what it was, whatever comes later.
func TestTheReleaseThatWasSigned(t *testing.T) {
	c := start(t)
	administrator := c.Member(people.Administrator)
	c.ready("b1", "Heron", canoe())
	c.ready("b2", "Coot", canoe())
	minors := form("r1", wish())
	minors.ForMinor = true
	c.Do(visitor, minors)
	c.asks("r2", wish())
	c.offers("round1")
	for _, id := range []string{"r1", "r2"} {
		actor := c.Link(people.ID("household-"+id), people.OwnRequest, id)
		o := c.made("b1")
		if o.Request != id {
			o = c.made("b2")
		}
		c.Do(actor, message.AnswerOffer{Offer: o.Offer, Boat: o.Boat, Answer: "accepted"})
	}
	first, second := c.made("b1"), c.made("b2")
	if first.Request != "r1" {
		first, second = second, first
	}
	before := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: first.Boat})
	assert.Nil(t, before.Text, "the program brings no text")
	assert.Equal(t, "guardian", before.SignedBy)

	const words = "We read the label.\nWe wear our jackets."
	set := message.SetRelease{Version: "2026-2", From: today, Text: words}
	_, err := c.Try(c.coordinator, set)
	assert.Equal(t, fault.Forbidden, kindOf(err), "an administrator's: %v", err)
	c.Do(administrator, set)
	sum := sha256.Sum256([]byte(words))
	_, err = c.Try(c.coordinator, message.HandOver{Boat: first.Boat, On: today, Checks: before.Lines, Release: before.Release})
	assert.Equal(t, "release", fault.Of(err).Field, "another version is in force now: %v", err)
	sheet := receipttest.Text(t, desktest.Ask[message.Sheet](c.Club, c.coordinator, message.HandOverSheet{Boat: first.Boat}).PDF)
	assert.Contains(t, sheet, "version 2026-2, to be signed by the guardian")
	assert.Contains(t, sheet, "We wear our jackets.")
	c.handOverNow(first.Boat)
	handed := find[message.BoatHandedOver](c.Bodies(message.MatchingBoat(first.Boat)))
	assert.Equal(t, []string{"2026-2", hex.EncodeToString(sum[:]), "guardian"}, []string{handed.Release, handed.ReleaseSHA256, handed.SignedBy})

	c.Do(administrator, message.SetRelease{Version: "2026-3", From: today, Text: "We also check the weather."})
	c.handOverNow(second.Boat)
	later := find[message.BoatHandedOver](c.Bodies(message.MatchingBoat(second.Boat)))
	assert.Equal(t, []string{"2026-3", "adult"}, []string{later.Release, later.SignedBy})
	all := desktest.Ask[message.Releases](c.Club, c.second, message.ReadReleases{})
	assert.Equal(t, "2026-3", all.InForce)
	assert.Equal(t, words, all.Versions[0].Text, "what was signed before is still there")

	// A guardian who asks once more says nothing about themselves, and still signs.
	c.ready("b3", "Grebe", canoe())
	c.Do(c.coordinator, message.MakeRequest{Request: "r3", Household: "household-r1", Link: "link-r3", Consent: "privacy 2026-1", Boats: 1, Wish: wish()})
	c.Settle()
	for _, o := range c.offers("round2") {
		c.Do(c.Link("household-r1", people.OwnRequest, "r3"), message.AnswerOffer{Offer: c.made(o.Boat).Offer, Boat: o.Boat, Answer: "accepted"})
		assert.Equal(t, "guardian", desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: o.Boat}).SignedBy)
		c.handOverNow(o.Boat)
		assert.Equal(t, "guardian", find[message.BoatHandedOver](c.Bodies(message.MatchingBoat(o.Boat))).SignedBy)
	}
	assert.Equal(t, "r3", c.solved("round2").Pairs[0].Request)
	c.RebuildIsTheSame(matching.Name)
}
