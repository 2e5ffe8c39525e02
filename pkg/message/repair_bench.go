package message

import (
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// RepairPerson is a member's stream in the repair room: what they were signed off
// for.
func RepairPerson(id people.ID) string { return "repair.person/" + string(id) }

// SkillSigned is said when somebody vouched that a member of age can do certain
// work alone. Not said for oneself, nor for anybody under age.
type SkillSigned struct {
	v1
	Person people.ID  `json:"person"`
	Skill  mend.Skill `json:"skill"`
	By     people.ID  `json:"by"`
	Words  string     `json:"words"` // what the member was seen to do
}

// Kind is constant.
func (SkillSigned) Kind() Kind { return "repair.skill-signed" }

// SkillEnded is said when a sign-off no longer counts. Work that was signed with
// it stays signed.
type SkillEnded struct {
	v1
	Person people.ID  `json:"person"`
	Skill  mend.Skill `json:"skill"`
	Why    string     `json:"why"`
}

// Kind is constant.
func (SkillEnded) Kind() Kind { return "repair.skill-ended" }

// StepDone is said when a step of a boat's work sheet was done that is neither
// work on a finding nor a test.
type StepDone struct {
	v1
	Boat boat.ID `json:"boat"`
	Step string  `json:"step"`
}

// Kind is constant.
func (StepDone) Kind() Kind { return "repair.step-done" }

// TimerSet is said when something has to wait: resin cures, a weld cools.
type TimerSet struct {
	v1
	Boat  boat.ID   `json:"boat"`
	Timer string    `json:"timer"`
	What  string    `json:"what"`
	Until time.Time `json:"until"`
	Who   people.ID `json:"who"` // who is told when it is over
	// Rule says how the time came about.
	Rule string `json:"rule"`
}

// Kind is constant.
func (TimerSet) Kind() Kind { return "repair.timer-set" }

// TimerRang is said when the time of a timer is over.
type TimerRang struct {
	v1
	Boat  boat.ID   `json:"boat"`
	Timer string    `json:"timer"`
	Who   people.ID `json:"who"`
}

// Kind is constant.
func (TimerRang) Kind() Kind { return "repair.timer-rang" }

// TimerEnded is said when somebody has looked at what waited, or stopped waiting.
type TimerEnded struct {
	v1
	Boat  boat.ID `json:"boat"`
	Timer string  `json:"timer"`
}

// Kind is constant.
func (TimerEnded) Kind() Kind { return "repair.timer-ended" }

// TestWaived is said when an administrator lets a boat go out without a test that
// may be waived. The reason stands on every later paper about the boat. It holds
// until the boat is worked on again.
type TestWaived struct {
	v1
	Boat boat.ID   `json:"boat"`
	What TestKind  `json:"what"`
	Why  string    `json:"why"`
	By   people.ID `json:"by"`
}

// Kind is constant.
func (TestWaived) Kind() Kind { return "repair.test-waived" }

// MoneyRecovered is said when money came in for a boat in the workshop: a part
// sold on, a supplier's refund, an insurance.
type MoneyRecovered struct {
	v1
	Boat   boat.ID      `json:"boat"`
	Entry  string       `json:"entry"`
	Words  string       `json:"words"`
	Amount money.Amount `json:"amount"`
	On     clock.Date   `json:"on"`
}

// Kind is constant.
func (MoneyRecovered) Kind() Kind { return "repair.money-recovered" }

// RecoveryReversed is said when such a booking was wrong.
type RecoveryReversed struct {
	v1
	Boat   boat.ID      `json:"boat"`
	Entry  string       `json:"entry"` // the booking that is taken back
	Amount money.Amount `json:"amount"`
	On     clock.Date   `json:"on"`
	Why    string       `json:"why"`
}

// Kind is constant.
func (RecoveryReversed) Kind() Kind { return "repair.recovery-reversed" }

// StopVerdict is what the sums of a boat say.
type StopVerdict string

// The verdicts. Over: mending costs more in all than it gains, and finishing still
// gains more than it costs from here. Stop: going on costs more than it gains.
const (
	MendingOver StopVerdict = "over"
	MendingStop StopVerdict = "stop"
)

// StopAdvised is said once a verdict and value: what a boat has cost and will
// cost is more than what mending gains. A person decides what comes of it.
type StopAdvised struct {
	v1
	Boat     boat.ID      `json:"boat"`
	Verdict  StopVerdict  `json:"verdict"`
	Spent    money.Amount `json:"spent"`     // hours included, at the club's value for decisions
	ToFinish money.Amount `json:"to_finish"` // likewise
	Gain     money.Amount `json:"gain"`      // value repaired less value as it lies
	Value    string       `json:"value"`     // the valuation that this rests on
}

// Kind is constant.
func (StopAdvised) Kind() Kind { return "repair.stop-advised" }

var (
	_ = declare[SkillSigned]()
	_ = declare[SkillEnded]()
	_ = declare[StepDone]()
	_ = declare[TimerSet]()
	_ = declare[TimerRang]()
	_ = declare[TimerEnded]()
	_ = declare[TestWaived]()
	_ = declare[MoneyRecovered]()
	_ = declare[RecoveryReversed]()
	_ = declare[StopAdvised]()
)

// More commands of the repair room. All are a repairer's, but for those that say
// otherwise.
type (
	// SignSkill vouches for a member. Administrators, and repairers who have the
	// skill themselves; never for oneself.
	SignSkill struct {
		Person people.ID  `json:"person"`
		Skill  mend.Skill `json:"skill"`
		// OfAge is the signer's word that the member is of age.
		OfAge bool   `json:"of_age"`
		Words string `json:"words"`
	}
	// EndSkill takes a sign-off back. Administrators and repairers.
	EndSkill struct {
		Person people.ID  `json:"person"`
		Skill  mend.Skill `json:"skill"`
		Why    string     `json:"why"`
	}
	// DoStep ticks a step of a boat's work sheet.
	DoStep struct {
		Boat boat.ID `json:"boat"`
		Step string  `json:"step"`
	}
	// SetTimer begins to wait. Minutes are those of the label at AtCelsius; when
	// Celsius, the shop's temperature, is colder, more are added by the rule.
	SetTimer struct {
		Boat      boat.ID `json:"boat"`
		Timer     string  `json:"timer"`
		What      string  `json:"what"`
		Minutes   int     `json:"minutes"`
		AtCelsius int     `json:"at_celsius,omitempty"`
		Celsius   int     `json:"celsius,omitempty"`
		// Cures says that temperature changes the time.
		Cures bool `json:"cures,omitempty"`
	}
	// EndTimer says that somebody has looked, or stops waiting.
	EndTimer struct {
		Boat  boat.ID `json:"boat"`
		Timer string  `json:"timer"`
	}
	// WaiveTest lets a boat go out without a test that may be waived.
	// Administrator.
	WaiveTest struct {
		Boat boat.ID  `json:"boat"`
		What TestKind `json:"what"`
		Why  string   `json:"why"`
	}
	// RecoverMoney books money that came in for a boat.
	RecoverMoney struct {
		Boat   boat.ID      `json:"boat"`
		Entry  string       `json:"entry"`
		Words  string       `json:"words"`
		Amount money.Amount `json:"amount"`
		On     clock.Date   `json:"on"`
	}
	// ReverseRecovery takes such a booking back.
	ReverseRecovery struct {
		Boat  boat.ID    `json:"boat"`
		Entry string     `json:"entry"`
		On    clock.Date `json:"on"`
		Why   string     `json:"why"`
	}
)

// Verb is constant.
func (SignSkill) Verb() string { return "repair.sign-skill" }

// Verb is constant.
func (EndSkill) Verb() string { return "repair.end-skill" }

// Verb is constant.
func (DoStep) Verb() string { return "repair.do-step" }

// Verb is constant.
func (SetTimer) Verb() string { return "repair.set-timer" }

// Verb is constant.
func (EndTimer) Verb() string { return "repair.end-timer" }

// Verb is constant.
func (WaiveTest) Verb() string { return "repair.waive-test" }

// Verb is constant.
func (RecoverMoney) Verb() string { return "repair.recover-money" }

// Verb is constant.
func (ReverseRecovery) Verb() string { return "repair.reverse-recovery" }

// DisclosureSheet asks for the honest page of a boat as PDF: every finding and
// its end. Every member. It answers with a Sheet.
type DisclosureSheet struct {
	Boat boat.ID `json:"boat"`
}

// Verb is constant.
func (DisclosureSheet) Verb() string { return "repair.disclosure-sheet" }
