package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// Payer says whose money paid for something. It matters: what the donor paid
// changes the donor's paper, and a volunteer's own pocket is owed or given.
type Payer string

// The payers.
const (
	ClubPays  Payer = "club"
	DonorPays Payer = "donor"
	OwnPocket Payer = "own pocket"
)

// Payers lists the payers.
var Payers = []Payer{ClubPays, DonorPays, OwnPocket}

// TestKind is a test that a boat passes before it may go out.
type TestKind = mend.Test

// Spending says what money was spent on.
type Spending string

// What money is spent on.
const (
	ForPart    Spending = "part"
	ForOutside Spending = "outside work"
	ForFee     Spending = "fee"
)

// Spendings lists what money is spent on.
var Spendings = []Spending{ForPart, ForOutside, ForFee}

// Doing is a kind of work on which hours are spent.
type Doing string

// The kinds of work. Learning is done beside somebody who has the skill.
const (
	Cleaning    Doing = "cleaning"
	Welding     Doing = "hot work"
	Laminating  Doing = "laminating"
	Fitting     Doing = "fitting"
	Testing     Doing = "testing"
	Learning    Doing = "learning under supervision"
	OtherDoings Doing = "other"
)

// Doings lists the kinds of work.
var Doings = []Doing{Cleaning, Welding, Laminating, Fitting, Testing, Learning, OtherDoings}

// Skill gives what somebody must be signed off for to do the work alone; empty:
// nothing.
func (d Doing) Skill() mend.Skill {
	switch d {
	case Welding:
		return mend.HotWork
	case Laminating:
		return mend.Laminating
	}
	return ""
}

// WorkPlanned is said when a person decided what is to be done about findings;
// Words give the reason for the choice.
type WorkPlanned struct {
	v2
	Boat     boat.ID  `json:"boat"`
	Work     string   `json:"work"`
	Findings []string `json:"findings"`
	Method   string   `json:"method"`
	Minutes  int      `json:"minutes"` // expected
	// Cost is what parts and outside work are expected to cost.
	Cost  money.Amount `json:"cost,omitzero"`
	Words string       `json:"words,omitempty"`
}

// Kind is constant.
func (WorkPlanned) Kind() Kind { return "repair.work-planned" }

// PartBooked is said when a part, a consumable or outside work was paid for.
type PartBooked struct {
	v2
	Boat   boat.ID      `json:"boat"`
	Entry  string       `json:"entry"`
	What   Spending     `json:"what"`
	Words  string       `json:"words"`
	Cost   money.Amount `json:"cost"`
	PaidBy Payer        `json:"paid_by"`
	// Pocket is the member who paid, when it was their own.
	Pocket people.ID `json:"pocket,omitempty"`
	// Receipt is the SHA-256 of the receipt's photo, in hexadecimal.
	Receipt string     `json:"receipt,omitempty"`
	On      clock.Date `json:"on"`
}

// Kind is constant.
func (PartBooked) Kind() Kind { return "repair.part-booked" }

// PartReversed is said when a booking was wrong; the right one is booked anew.
type PartReversed struct {
	v1
	Boat  boat.ID      `json:"boat"`
	Entry string       `json:"entry"` // the booking that is taken back
	Cost  money.Amount `json:"cost"`  // of that booking
	// PaidBy is whose money the booking had said.
	PaidBy Payer      `json:"paid_by"`
	On     clock.Date `json:"on"`
	Why    string     `json:"why"`
}

// Kind is constant.
func (PartReversed) Kind() Kind { return "repair.part-reversed" }

// HoursBooked is said when somebody worked on a boat. Hours never become money
// on a paper.
type HoursBooked struct {
	v2
	Boat    boat.ID    `json:"boat"`
	Entry   string     `json:"entry"`
	Who     people.ID  `json:"who"`
	Minutes int        `json:"minutes"`
	What    Doing      `json:"what"`
	Doing   string     `json:"doing"`
	On      clock.Date `json:"on"`
}

// Kind is constant.
func (HoursBooked) Kind() Kind { return "repair.hours-booked" }

// HoursReversed is said when hours were booked wrong: on the wrong boat, twice, or too
// many. The right ones are booked anew. It is not said to put a day or words right.
type HoursReversed struct {
	v1
	Boat    boat.ID    `json:"boat"`
	Entry   string     `json:"entry"`   // the booking that is taken back
	Who     people.ID  `json:"who"`     // whose hours they were
	Minutes int        `json:"minutes"` // of that booking
	On      clock.Date `json:"on"`
	Why     string     `json:"why"`
}

// Kind is constant.
func (HoursReversed) Kind() Kind { return "repair.hours-reversed" }

// WorkFinished is said when planned work is done. The findings that it was for
// are then ended, with the words that the disclosure will carry.
type WorkFinished struct {
	v1
	Boat     boat.ID  `json:"boat"`
	Work     string   `json:"work"`
	Findings []string `json:"findings"`
	Words    string   `json:"words"`
}

// Kind is constant.
func (WorkFinished) Kind() Kind { return "repair.work-finished" }

// FindingReopened is said when a test showed that a mended finding is not
// mended.
type FindingReopened struct {
	v1
	Boat    boat.ID `json:"boat"`
	Finding string  `json:"finding"`
	Test    string  `json:"test"`
}

// Kind is constant.
func (FindingReopened) Kind() Kind { return "repair.finding-reopened" }

// TestRecorded is said when a boat was tested.
type TestRecorded struct {
	v2
	Boat    boat.ID  `json:"boat"`
	Test    string   `json:"test"`
	What    TestKind `json:"what"`
	Reading string   `json:"reading"` // as read: "no water after 20 min"
	TestNumbers
	Passed   bool       `json:"passed"`
	Tester   people.ID  `json:"tester"`
	On       clock.Date `json:"on"`
	Findings []string   `json:"findings,omitempty"` // which findings a failed test shows as not mended
}

// TestNumbers are what a test states beside its reading; which of them it must
// state follows from its kind.
type TestNumbers struct {
	How         string `json:"how,omitempty"`          // "on stands, filled", "afloat with bags"
	Minutes     int    `json:"minutes,omitempty"`      // for how long
	LoadG       int    `json:"load_g,omitempty"`       // proof load, or pull
	LoadPercent int    `json:"load_percent,omitempty"` // of the rated load, when that is known
	// PressureMbar is what was pumped, RatedMbar the maker's number on the boat.
	PressureMbar int `json:"pressure_mbar,omitempty"`
	RatedMbar    int `json:"rated_mbar,omitempty"`
}

// Kind is constant.
func (TestRecorded) Kind() Kind { return "repair.test-recorded" }

// BoatReady is said when every test that the boat needs is passed and no finding
// that forbids use is open.
type BoatReady struct {
	v1
	Boat  boat.ID    `json:"boat"`
	Grade boat.Grade `json:"grade"` // overall condition now
	// Disclosure is what the next household is told, one line a finding.
	Disclosure []DisclosedFinding `json:"disclosure"`
}

// DisclosedFinding is one line of the honest page that goes with a boat.
type DisclosedFinding struct {
	Finding string      `json:"finding"`
	Place   Place       `json:"place"`
	Defect  boat.Defect `json:"defect"`
	End     string      `json:"end"` // what was done, or that it was left and why
}

// Kind is constant.
func (BoatReady) Kind() Kind { return "repair.boat-ready" }

// BoatRetired is said when mending does not pay or cannot be trusted, and the
// boat ends as parts.
type BoatRetired struct {
	v1
	Boat     boat.ID `json:"boat"`
	Reason   string  `json:"reason"`
	Disposal string  `json:"disposal"`
}

// Kind is constant.
func (BoatRetired) Kind() Kind { return "repair.boat-retired" }

var (
	_ = declare[WorkPlanned](onlyMore)
	_ = declare[PartBooked](with("what", ForPart))
	_ = declare[PartReversed]()
	_ = declare[HoursBooked](with("what", OtherDoings))
	_ = declare[HoursReversed]()
	_ = declare[WorkFinished]()
	_ = declare[FindingReopened]()
	_ = declare[TestRecorded](onlyMore)
	_ = declare[BoatReady]()
	_ = declare[BoatRetired]()
)

// The commands of the repair room about a boat. All are a repairer's.
type (
	// PlanWork decides what is to be done about findings.
	PlanWork struct {
		Boat     boat.ID  `json:"boat"`
		Work     string   `json:"work"`
		Findings []string `json:"findings"`
		Method   string   `json:"method"`
		Minutes  int      `json:"minutes"`
		// Cost is what parts and outside work are expected to cost.
		Cost  money.Amount `json:"cost,omitzero"`
		Words string       `json:"words,omitempty"`
	}
	// BookPart books money spent on a boat. Without What it was for a part;
	// without Pocket, out of the pocket of whoever books it.
	BookPart struct {
		Boat    boat.ID      `json:"boat"`
		Entry   string       `json:"entry"`
		What    Spending     `json:"what,omitempty"`
		Words   string       `json:"words"`
		Cost    money.Amount `json:"cost"`
		PaidBy  Payer        `json:"paid_by"`
		Pocket  people.ID    `json:"pocket,omitempty"`
		Receipt string       `json:"receipt,omitempty"`
		On      clock.Date   `json:"on"`
	}
	// ReversePart takes a booking back.
	ReversePart struct {
		Boat  boat.ID    `json:"boat"`
		Entry string     `json:"entry"`
		On    clock.Date `json:"on"`
		Why   string     `json:"why"`
	}
	// ReverseHours takes a booking of hours back.
	ReverseHours struct {
		Boat  boat.ID    `json:"boat"`
		Entry string     `json:"entry"`
		On    clock.Date `json:"on"`
		Why   string     `json:"why"`
	}
	// BookHours books time worked on a boat.
	BookHours struct {
		Boat    boat.ID    `json:"boat"`
		Entry   string     `json:"entry"`
		Who     people.ID  `json:"who"`
		Minutes int        `json:"minutes"`
		What    Doing      `json:"what,omitempty"` // other, when it is left out
		Doing   string     `json:"doing"`
		On      clock.Date `json:"on"`
	}
	// FinishWork says that planned work is done. Work that needs a skill is
	// finished by somebody who was signed off for it.
	FinishWork struct {
		Boat  boat.ID `json:"boat"`
		Work  string  `json:"work"`
		Words string  `json:"words"`
	}
	// RecordTest records a test and its reading. A failed test reopens findings.
	RecordTest struct {
		Boat    boat.ID  `json:"boat"`
		Test    string   `json:"test"`
		What    TestKind `json:"what"`
		Reading string   `json:"reading"`
		TestNumbers
		Passed   bool       `json:"passed"`
		On       clock.Date `json:"on"`
		Findings []string   `json:"findings,omitempty"`
	}
	// DeclareReady says that the boat may be placed.
	DeclareReady struct {
		Boat  boat.ID    `json:"boat"`
		Grade boat.Grade `json:"grade"`
	}
	// RetireBoat ends a boat as parts.
	RetireBoat struct {
		Boat     boat.ID `json:"boat"`
		Reason   string  `json:"reason"`
		Disposal string  `json:"disposal"`
	}
)

// Verb is constant.
func (PlanWork) Verb() string { return "repair.plan-work" }

// Verb is constant.
func (BookPart) Verb() string { return "repair.book-part" }

// Verb is constant.
func (ReversePart) Verb() string { return "repair.reverse-part" }

// Verb is constant.
func (ReverseHours) Verb() string { return "repair.reverse-hours" }

// Verb is constant.
func (BookHours) Verb() string { return "repair.book-hours" }

// Verb is constant.
func (FinishWork) Verb() string { return "repair.finish-work" }

// Verb is constant.
func (RecordTest) Verb() string { return "repair.record-test" }

// Verb is constant.
func (DeclareReady) Verb() string { return "repair.declare-ready" }

// Verb is constant.
func (RetireBoat) Verb() string { return "repair.retire-boat" }
