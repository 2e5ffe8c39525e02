package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
)

// checkOf is a check of a jacket of which all holds but what changed says.
func checkOf(s jackets.Sort, changed map[string]jackets.Answer) message.CheckJacket {
	c := message.CheckJacket{Boat: "b1", Jacket: "j1", Sort: s}
	for _, k := range jackets.Checks(s) {
		answer := jackets.Holds
		if other, ok := changed[k.ID]; ok {
			answer = other
		}
		c.Answers = append(c.Answers, message.JacketAnswer{Check: k.ID, Answer: answer})
	}
	return c
}

// Each condition of 33 CFR 175.23 and the legible number of 175.21, from both
// sides: a jacket that has it in order goes on, one that fails in it alone, or in
// which it could not be checked, does not.
func TestAJacketThatFailsIsNeverPassedOn(t *testing.T) {
	for _, s := range jackets.Sorts {
		for _, k := range jackets.Checks(s) {
			for _, answer := range jackets.Answers {
				name := k.Source + " " + string(answer)
				b := boatWith()
				said, err := b.checkJacket(checkOf(s, map[string]jackets.Answer{k.ID: answer}))
				require.NoError(t, err, name)
				b.foldJackets(said)
				good := answer == jackets.Holds
				assert.Equal(t, good, said.(message.JacketChecked).Serviceable(), name)
				for _, way := range []message.JacketWay{message.JacketKept, message.JacketPassedOn} {
					_, err = b.endJacket(message.EndJacket{Boat: "b1", Jacket: "j1", Way: way})
					if good {
						assert.NoError(t, err, name)
						continue
					}
					faulttest.Want(t, err, fault.Conflict, "way", name)
				}
				_, err = b.endJacket(message.EndJacket{Boat: "b1", Jacket: "j1", Way: message.JacketDestroyed})
				assert.NoError(t, err, name)
			}
		}
	}
}

func TestWhatBecomesOfAJacketIsSaidOnce(t *testing.T) {
	bad, err := boatWith().checkJacket(checkOf(jackets.Foam, map[string]jackets.Answer{"label": jackets.CouldNotBeSeen}))
	require.NoError(t, err)
	back := message.EndJacket{Boat: "b1", Jacket: "j1", Way: message.JacketReturned}

	b := boatWith(bad)
	good, err := b.checkJacket(checkOf(jackets.Foam, nil))
	require.NoError(t, err)
	assert.True(t, good.(message.JacketChecked).Serviceable(), "what could not be checked is checked later")
	_, err = b.checkJacket(checkOf(jackets.Inflatable, nil))
	faulttest.Want(t, err, fault.Conflict, "sort")
	gone, err := b.endJacket(back)
	require.NoError(t, err, "it is its giver's still")
	b.foldJackets(gone)
	_, err = b.endJacket(back)
	faulttest.Want(t, err, fault.Conflict, "jacket")
	_, err = b.checkJacket(checkOf(jackets.Foam, nil))
	faulttest.Want(t, err, fault.Conflict, "jacket")

	club := boatWith(bad, message.BoatReceived{Boat: "b1", Possession: day, Signed: day, On: day})
	_, err = club.endJacket(back)
	faulttest.Want(t, err, fault.Conflict, "way")

	for i := range maxJackets - 1 {
		more := bad.(message.JacketChecked)
		more.Jacket = string(rune('A' + i))
		club.foldJackets(more)
	}
	c := checkOf(jackets.Foam, nil)
	c.Jacket = "one-more"
	_, err = club.checkJacket(c)
	faulttest.Want(t, err, fault.Conflict, "jacket")
}
