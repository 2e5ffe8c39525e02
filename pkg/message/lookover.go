package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/people"
)

// PointAnswer is what an inspector says to one point of the guide.
type PointAnswer struct {
	Point  string       `json:"point"`
	Answer guide.Answer `json:"answer"`
}

// PointsAnswered is said when an inspector has answered points of the guide, or
// answers them otherwise than before. A point that no event names has not been
// answered.
type PointsAnswered struct {
	v1
	Boat    boat.ID       `json:"boat"`
	Look    string        `json:"look"`
	Edition string        `json:"edition"` // of the guide
	Answers []PointAnswer `json:"answers"`
}

// Kind is constant.
func (PointsAnswered) Kind() Kind { return "intake.points-answered" }

// LiftTest is what lifting a boat and letting the water out showed.
type LiftTest struct {
	Lay     guide.Storage `json:"lay"`                // how it lay before
	WeighsG int           `json:"weighs_g,omitempty"` // end by end, drained; 0: not weighed
	Feels   guide.Heft    `json:"feels,omitempty"`    // empty: not lifted
	StatedG int           `json:"stated_g,omitempty"` // the boat's mass in the book at that moment
}

// LookOverFinished is said when an inspector is done. Provisional means that
// something could not be seen, or was not looked at: an offer rests on a gamble
// then. In its first shape it held no answers to points and no lift test.
type LookOverFinished struct {
	v2
	Boat        boat.ID     `json:"boat"`
	Look        string      `json:"look"`
	Inspector   people.ID   `json:"inspector"`
	WaterML     int         `json:"water_ml"` // water found in the hull
	CouldNotSee []boat.Part `json:"could_not_see,omitempty"`
	Provisional bool        `json:"provisional"`
	Grade       boat.Grade  `json:"grade"` // overall condition as it lies, 1 to 5
	Findings    int         `json:"findings"`
	// Estimate is set when another person has looked before: what all of them
	// probably missed, by the tool's own matching of the lists.
	Estimate *MissedEstimate `json:"estimate,omitempty"`

	Edition  string    `json:"edition,omitempty"`  // of the guide; empty: without one
	Asked    int       `json:"asked,omitempty"`    // points of the guide
	Unseen   []string  `json:"unseen,omitempty"`   // points that could not be seen
	Open     []string  `json:"open,omitempty"`     // points that were not answered
	Hampered []string  `json:"hampered,omitempty"` // dirty, wet, strapped up
	Lift     *LiftTest `json:"lift,omitempty"`     // nil: none was made
}

// Kind is constant.
func (LookOverFinished) Kind() Kind { return "intake.look-over-finished" }

// MissedEstimate is the estimate of what inspectors missed, in whole numbers.
// Missed figures are in thousandths of a finding, because events hold no floats.
type MissedEstimate struct {
	First       int    `json:"first"` // found by those who looked before
	Second      int    `json:"second"`
	Both        int    `json:"both"`
	MissedMilli int    `json:"missed_milli"`
	LowMilli    int    `json:"low_milli,omitempty"` // lower end of the 95 % interval on the total
	HighMilli   int    `json:"high_milli"`          // upper end
	Shown       bool   `json:"shown"`
	Reason      string `json:"reason,omitempty"`
	// Looks is how many look-overs it rests on; 0 stands for two, in old events.
	Looks int `json:"looks,omitempty"`
	// LookAgain asks for one more person, or for a lower ceiling.
	LookAgain bool `json:"look_again,omitempty"`
}

// FindingPair says that a finding is an earlier one, seen again.
type FindingPair struct {
	Finding string `json:"finding"`
	SameAs  string `json:"same_as"`
}

// FindingsMatched is said when a person has confirmed which findings of a
// look-over are those of the ones before, and which are not. A later one takes
// the place of an earlier. Its estimate takes the place of the one that was
// worked out by the tool's own matching; none where there was none.
type FindingsMatched struct {
	v1
	Boat     boat.ID         `json:"boat"`
	Look     string          `json:"look"`
	Pairs    []FindingPair   `json:"pairs,omitempty"`
	Estimate *MissedEstimate `json:"estimate,omitempty"`
}

// Kind is constant.
func (FindingsMatched) Kind() Kind { return "intake.findings-matched" }

var (
	_ = declare[PointsAnswered]()
	_ = declare[LookOverFinished](onlyMore)
	_ = declare[FindingsMatched]()
)

// The commands about look-overs. All are a steward's.
type (
	// AnswerPoints answers points of the guide in an open look-over.
	AnswerPoints struct {
		Boat    boat.ID       `json:"boat"`
		Look    string        `json:"look"`
		Answers []PointAnswer `json:"answers"`
	}
	// FinishLookOver ends a look-over. Water, lay, mass and feel are the lift
	// test; without a lay there was none.
	FinishLookOver struct {
		Boat        boat.ID       `json:"boat"`
		Look        string        `json:"look"`
		WaterML     int           `json:"water_ml"`
		CouldNotSee []boat.Part   `json:"could_not_see,omitempty"`
		Grade       boat.Grade    `json:"grade"`
		Hampered    []string      `json:"hampered,omitempty"`
		Lay         guide.Storage `json:"lay,omitempty"`
		WeighsG     int           `json:"weighs_g,omitempty"`
		Feels       guide.Heft    `json:"feels,omitempty"`
	}
	// MatchFindings confirms which findings of a finished look-over are earlier
	// ones, seen again. Findings that no pair names are new ones.
	MatchFindings struct {
		Boat  boat.ID       `json:"boat"`
		Look  string        `json:"look"`
		Pairs []FindingPair `json:"pairs"`
	}
)

// Verb is constant.
func (AnswerPoints) Verb() string { return "intake.answer-points" }

// Verb is constant.
func (FinishLookOver) Verb() string { return "intake.finish-look-over" }

// Verb is constant.
func (MatchFindings) Verb() string { return "intake.match-findings" }
