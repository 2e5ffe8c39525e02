package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
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
type TestKind string

// Tests lists the kinds of test.
var Tests = []TestKind{"leak", "load", "fittings", "flotation", "pressure"}

// Methods lists what can be done about a finding. Which of them suits which
// material is the repair room's business.
var Methods = []string{
	"weld", "patch", "laminate", "fill", "replace part", "re-bed fitting", "adhesive patch", "scarf", "re-rivet", "leave and watch", "scrap",
}

// WorkPlanned is said when a person decided what is to be done about findings.
type WorkPlanned struct {
	v1
	Boat     boat.ID  `json:"boat"`
	Work     string   `json:"work"`
	Findings []string `json:"findings"`
	Method   string   `json:"method"`
	Minutes  int      `json:"minutes"` // expected
	Words    string   `json:"words,omitempty"`
}

// Kind is constant.
func (WorkPlanned) Kind() Kind { return "repair.work-planned" }

// PartBooked is said when a part, a consumable or outside work was paid for.
type PartBooked struct {
	v1
	Boat   boat.ID      `json:"boat"`
	Entry  string       `json:"entry"`
	Words  string       `json:"words"`
	Cost   money.Amount `json:"cost"`
	PaidBy Payer        `json:"paid_by"`
	On     clock.Date   `json:"on"`
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
	v1
	Boat    boat.ID    `json:"boat"`
	Entry   string     `json:"entry"`
	Who     people.ID  `json:"who"`
	Minutes int        `json:"minutes"`
	Doing   string     `json:"doing"`
	On      clock.Date `json:"on"`
}

// Kind is constant.
func (HoursBooked) Kind() Kind { return "repair.hours-booked" }

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
	v1
	Boat     boat.ID    `json:"boat"`
	Test     string     `json:"test"`
	What     TestKind   `json:"what"`
	Reading  string     `json:"reading"` // as read: "no water after 20 min"
	Passed   bool       `json:"passed"`
	Tester   people.ID  `json:"tester"`
	On       clock.Date `json:"on"`
	Findings []string   `json:"findings,omitempty"` // which findings a failed test shows as not mended
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
	_ = declare[WorkPlanned]()
	_ = declare[PartBooked]()
	_ = declare[PartReversed]()
	_ = declare[HoursBooked]()
	_ = declare[WorkFinished]()
	_ = declare[FindingReopened]()
	_ = declare[TestRecorded]()
	_ = declare[BoatReady]()
	_ = declare[BoatRetired]()
)

// The commands of the repair room. All are a repairer's.
type (
	// PlanWork decides what is to be done about findings.
	PlanWork struct {
		Boat     boat.ID  `json:"boat"`
		Work     string   `json:"work"`
		Findings []string `json:"findings"`
		Method   string   `json:"method"`
		Minutes  int      `json:"minutes"`
		Words    string   `json:"words,omitempty"`
	}
	// BookPart books money spent on a boat.
	BookPart struct {
		Boat   boat.ID      `json:"boat"`
		Entry  string       `json:"entry"`
		Words  string       `json:"words"`
		Cost   money.Amount `json:"cost"`
		PaidBy Payer        `json:"paid_by"`
		On     clock.Date   `json:"on"`
	}
	// ReversePart takes a booking back.
	ReversePart struct {
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
		Doing   string     `json:"doing"`
		On      clock.Date `json:"on"`
	}
	// FinishWork says that planned work is done.
	FinishWork struct {
		Boat  boat.ID `json:"boat"`
		Work  string  `json:"work"`
		Words string  `json:"words"`
	}
	// RecordTest records a test and its reading. A failed test reopens findings.
	RecordTest struct {
		Boat     boat.ID    `json:"boat"`
		Test     string     `json:"test"`
		What     TestKind   `json:"what"`
		Reading  string     `json:"reading"`
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
func (BookHours) Verb() string { return "repair.book-hours" }

// Verb is constant.
func (FinishWork) Verb() string { return "repair.finish-work" }

// Verb is constant.
func (RecordTest) Verb() string { return "repair.record-test" }

// Verb is constant.
func (DeclareReady) Verb() string { return "repair.declare-ready" }

// Verb is constant.
func (RetireBoat) Verb() string { return "repair.retire-boat" }
