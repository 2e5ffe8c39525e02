package intake_test

import (
	"testing"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// A steward who gives a boat neither takes back what another found on it nor says
// on which day the club got it, which is the day on the paper.
func TestAGiverDecidesNothingAboutTheirOwnBoat(t *testing.T) {
	c := start(t)
	giver, other := c.Member(people.Steward), c.Member(people.Steward)
	c.Do(giver, gift("b1", "Heron", giver.Person))
	c.Do(other, message.BeginLookOver{Boat: "b1", Look: "l1"})
	c.Do(other, crack("l1", "f1"))
	c.Do(other, message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 3})
	back := message.WithdrawDefect{Boat: "b1", Finding: "f1", Why: "only a scratch"}
	_, err := c.Try(giver, back)
	faulttest.Want(t, err, fault.Forbidden, "")

	c.Do(other, message.AcceptBoat{Boat: "b1", Stake: "none"})
	received := message.ReceiveBoat{Boat: "b1", Possession: today, Signed: today}
	_, err = c.Try(giver, received)
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Do(other, back)
	c.Do(other, received)
}
