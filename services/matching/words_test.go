package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// Whoever leaves a boat may write of their health. Their words are sealed, by
// whichever way they reach the book; what the club says of itself is not.
func TestAHouseholdsOwnReasonsAreSealed(t *testing.T) {
	const words = "my back does not bend any more"
	for name, end := range map[string]func(c club, applicant people.Actor) (plain, sealed string){
		"an offer declined by the link": func(c club, applicant people.Actor) (string, string) {
			return c.left(applicant, message.AnswerOffer{Answer: "declined", Why: words})
		},
		"an offer declined by telephone": func(c club, _ people.Actor) (string, string) {
			return c.left(c.coordinator, message.AnswerOffer{Answer: "declined", Why: words})
		},
		"a request withdrawn": func(c club, applicant people.Actor) (string, string) {
			c.Do(applicant, message.EndRequest{Request: "r1", How: "withdrawn", Why: words})
			said := find[message.RequestEnded](c.Bodies(message.MatchingRequest("r1")))
			return said.Why, said.Sealed
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			c.ready("b1", "Heron", canoe())
			applicant := c.asks("r1", wish())
			c.offers("round1")
			plain, sealed := end(c, applicant)
			assert.Empty(t, plain)
			var open string
			require.NoError(t, c.Vault.Unseal(t.Context(), "household-r1", message.SealWords, vault.Sealed(sealed), &open))
			assert.Equal(t, words, open)
		})
	}
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.asks("r1", wish())
	c.offers("round1")
	plain, sealed := c.left(c.coordinator, message.AnswerOffer{Answer: "withdrawn", Why: "the boat leaks"})
	assert.Equal(t, "the boat leaks", plain, "the club's own reason")
	assert.Empty(t, sealed)
}

// left answers the open offer of b1 and gives the reason as it is in the book.
func (c club) left(by people.Actor, a message.AnswerOffer) (plain, sealed string) {
	a.Offer, a.Boat = c.made("b1").Offer, "b1"
	c.Do(by, a)
	said := find[message.OfferAnswered](c.Bodies(message.MatchingBoat("b1")))
	return said.Why, said.Sealed
}
