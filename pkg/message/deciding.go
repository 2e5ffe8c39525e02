package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
)

// NoStake is the answer of somebody who gains nothing by a decision.
const NoStake = "none"

// Stakes lists what somebody who decides may be asked about: whether they or
// theirs gain by it. Only with the first do they decide.
var Stakes = []string{NoStake, "the boat is or was mine", "my family or household gives, sells or would get it"}

// DisposalWays lists how a boat that nobody should paddle ends properly. What is
// offered where is local; the rules on waste of the place go first.
var DisposalWays = []string{
	"its owner keeps it as it is", "offered to somebody else, with its faults told", "taken apart, parts kept", "take-back or recycling of plastics",
	"metal recycling", "waste centre, as the place's rules say",
}

// Dealing is what is told with a decision about money.
type Dealing struct {
	// Stake is what who decided answered when asked whether they or theirs gain
	// by it; empty in old events, and where nobody was asked.
	Stake string `json:"stake,omitempty"`
	// Gamble is set when no look-over could see all of the boat.
	Gamble bool `json:"gamble,omitempty"`
}

// BoatHeld is said when the club puts off its decision about a boat. Every later
// decision ends that.
type BoatHeld struct {
	v1
	Boat      boat.ID    `json:"boat"`
	Why       string     `json:"why"`
	LookAgain clock.Date `json:"look_again"` // the day on which somebody looks at it again
}

// Kind is constant.
func (BoatHeld) Kind() Kind { return "intake.boat-held" }

var _ = declare[BoatHeld]()

// HoldBoat puts off the decision about a boat. A steward's or an administrator's.
type HoldBoat struct {
	Boat      boat.ID    `json:"boat"`
	Why       string     `json:"why"`
	LookAgain clock.Date `json:"look_again"`
}

// Verb is constant.
func (HoldBoat) Verb() string { return "intake.hold-boat" }
