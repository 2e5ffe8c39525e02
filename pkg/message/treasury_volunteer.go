package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// VolunteerCostStated is said when it is written down what a member laid out for the club,
// with a service for it. It is not said of the member's time, which is no cost. Who was
// booked before in a boat's book or a bin's names that entry, and nothing is posted again.
type VolunteerCostStated struct {
	v1
	Cost    string       `json:"cost"`
	Member  people.ID    `json:"member"`
	On      clock.Date   `json:"on"`
	Service string       `json:"service"` // what the member did for the club; it stands on a paper
	Bought  string       `json:"bought"`
	Amount  money.Amount `json:"amount"`
	Receipt bool         `json:"receipt"` // whoever wrote it down saw the receipt
	Boat    boat.ID      `json:"boat,omitempty"`
	Bin     string       `json:"bin,omitempty"`
	Entry   string       `json:"entry"`            // that owes it to the member
	Booked  bool         `json:"booked,omitempty"` // the entry stood before
}

// Kind is constant.
func (VolunteerCostStated) Kind() Kind { return "treasury.volunteer-cost-stated" }

// VolunteerCostPaidBack is said when the club paid a cost back.
type VolunteerCostPaidBack struct {
	v1
	Cost   string       `json:"cost"`
	Member people.ID    `json:"member"`
	On     clock.Date   `json:"on"`
	Amount money.Amount `json:"amount"`
	How    string       `json:"how"`
}

// Kind is constant.
func (VolunteerCostPaidBack) Kind() Kind { return "treasury.volunteer-cost-paid-back" }

// VolunteerCostGiven is said when a member does not want a cost back, on the day on which
// they say so. A booking that was settled as given before is said together with its cost.
type VolunteerCostGiven struct {
	v1
	Cost   string       `json:"cost"`
	Member people.ID    `json:"member"`
	On     clock.Date   `json:"on"`
	Amount money.Amount `json:"amount"`
}

// Kind is constant.
func (VolunteerCostGiven) Kind() Kind { return "treasury.volunteer-cost-given" }

// VolunteerCostWithdrawn is said when a cost was written down wrong: it counts no more. A
// booking that it named can be written down anew.
type VolunteerCostWithdrawn struct {
	v1
	Cost   string    `json:"cost"`
	Member people.ID `json:"member"`
	Why    string    `json:"why"`
}

// Kind is constant.
func (VolunteerCostWithdrawn) Kind() Kind { return "treasury.volunteer-cost-withdrawn" }

// VolunteerCostNoted is said in a boat's book or a bin's together with a cost that stands
// there, so that one entry cannot become two costs, nor be settled beside its cost. Without
// a cost it frees the entry again. It concerns the treasury room alone.
type VolunteerCostNoted struct {
	v1
	Boat  boat.ID `json:"boat,omitempty"`
	Bin   string  `json:"bin,omitempty"`
	Entry string  `json:"entry"`
	Cost  string  `json:"cost,omitempty"`
}

// Kind is constant.
func (VolunteerCostNoted) Kind() Kind { return "treasury.volunteer-cost-noted" }

// VolunteerPaperNoted is said in a member's stream together with the paper about their costs of
// a year, so that one year cannot get two papers at one moment. It names the costs of which the
// paper speaks. It concerns the treasury room alone.
type VolunteerPaperNoted struct {
	v1
	Member people.ID `json:"member"`
	Year   int       `json:"year"`
	Paper  string    `json:"paper"`
	Serial string    `json:"serial"`
	Costs  []string  `json:"costs"`
}

// Kind is constant.
func (VolunteerPaperNoted) Kind() Kind { return "treasury.volunteer-paper-noted" }

var (
	_ = declare[VolunteerPaperNoted]()
	_ = declare[VolunteerCostStated]()
	_ = declare[VolunteerCostPaidBack]()
	_ = declare[VolunteerCostGiven]()
	_ = declare[VolunteerCostWithdrawn]()
	_ = declare[VolunteerCostNoted]()
)

// TreasuryVolunteer is the stream of what a member laid out for the club.
func TreasuryVolunteer(id people.ID) string { return "treasury.volunteer/" + string(id) }

// The orders about what members lay out. All are a treasurer's.
type (
	// StateVolunteerCost writes down what a member laid out.
	StateVolunteerCost struct {
		Cost    string       `json:"cost"`
		Member  people.ID    `json:"member"`
		On      clock.Date   `json:"on"`
		Service string       `json:"service"`
		Bought  string       `json:"bought"`
		Amount  money.Amount `json:"amount"`
		Receipt bool         `json:"receipt,omitempty"`
		Boat    boat.ID      `json:"boat,omitempty"`
	}
	// TakeVolunteerCost says which member a booking is owed to, in a boat's book or a bin's.
	TakeVolunteerCost struct {
		Cost    string    `json:"cost"`
		Member  people.ID `json:"member"`
		Boat    boat.ID   `json:"boat,omitempty"`
		Bin     string    `json:"bin,omitempty"`
		Entry   string    `json:"entry"`
		Service string    `json:"service"`
		Receipt bool      `json:"receipt,omitempty"`
	}
	// PayVolunteerCostBack pays a cost back. How says by which way the money went.
	PayVolunteerCostBack struct {
		Member people.ID  `json:"member"`
		Cost   string     `json:"cost"`
		On     clock.Date `json:"on"`
		How    string     `json:"how"`
	}
	// GiveVolunteerCost writes down that the member does not want a cost back.
	GiveVolunteerCost struct {
		Member people.ID  `json:"member"`
		Cost   string     `json:"cost"`
		On     clock.Date `json:"on"`
	}
	// WithdrawVolunteerCost takes back a cost that was written down wrong.
	WithdrawVolunteerCost struct {
		Member people.ID `json:"member"`
		Cost   string    `json:"cost"`
		Why    string    `json:"why"`
	}
)

// IssueVolunteerPaper issues the paper about all costs that a member laid out in a year and
// gave. What says what the club gave in return, Words and Value describe and estimate it.
type IssueVolunteerPaper struct {
	Member people.ID    `json:"member"`
	Year   int          `json:"year"`
	Paper  string       `json:"paper"`
	On     clock.Date   `json:"on"`
	What   Return       `json:"what"`
	Words  string       `json:"words,omitempty"`
	Value  money.Amount `json:"value,omitzero"`
}

// Verb is constant.
func (IssueVolunteerPaper) Verb() string { return "treasury.issue-volunteer-paper" }

// Verb is constant.
func (StateVolunteerCost) Verb() string { return "treasury.state-volunteer-cost" }

// Verb is constant.
func (TakeVolunteerCost) Verb() string { return "treasury.take-volunteer-cost" }

// Verb is constant.
func (PayVolunteerCostBack) Verb() string { return "treasury.pay-volunteer-cost-back" }

// Verb is constant.
func (GiveVolunteerCost) Verb() string { return "treasury.give-volunteer-cost" }

// Verb is constant.
func (WithdrawVolunteerCost) Verb() string { return "treasury.withdraw-volunteer-cost" }

// CostState is how far a volunteer's cost has come.
type CostState string

// The states of a cost.
const (
	CostOwed      CostState = "owed"
	CostPaidBack  CostState = "paid back"
	CostGiven     CostState = "given"
	CostWithdrawn CostState = "withdrawn"
	// CostUndone is the state of a cost whose booking the workshop took back.
	CostUndone CostState = "booking taken back"
)

// CostStates lists them.
var CostStates = []CostState{CostOwed, CostPaidBack, CostGiven, CostWithdrawn, CostUndone}

type (
	// VolunteerCosts asks what members laid out: Year 0 means any year, no state any state. The
	// treasurer or the auditor. It answers with VolunteerCostList.
	VolunteerCosts struct {
		Year  int       `json:"year,omitempty"`
		State CostState `json:"state,omitempty"`
	}
	// VolunteerCostList is costs, the newest first, what they come to by member, and what
	// members are owed that is nobody's cost yet.
	VolunteerCostList struct {
		Costs    []VolunteerCost    `json:"costs"`
		Members  []VolunteerSum     `json:"members"` // of all states, in the year asked for
		Bookings []VolunteerBooking `json:"bookings"`
		// More says that there are more than are listed.
		More bool `json:"more,omitempty"`
	}
	// VolunteerCost is a cost as it stands.
	VolunteerCost struct {
		VolunteerCostStated
		State CostState  `json:"state"`
		Ended clock.Date `json:"ended,omitzero"` // paid back or given on
		How   string     `json:"how,omitempty"`
		Why   string     `json:"why,omitempty"` // it was withdrawn
	}
	// VolunteerSum is what one member's costs of a year come to in one currency.
	VolunteerSum struct {
		Member   people.ID    `json:"member"`
		Year     int          `json:"year"` // in which the member laid it out
		Owed     money.Amount `json:"owed"`
		PaidBack money.Amount `json:"paid_back"`
		Given    money.Amount `json:"given"`
		Paper    string       `json:"paper,omitempty"` // that stands for the year
		Serial   string       `json:"serial,omitempty"`
		// Stale says that the paper speaks of other costs than are given by now.
		Stale bool `json:"stale,omitempty"`
		// WhyNot says, where something is given and no paper stands, why none can be issued by
		// the rules; empty: one can.
		WhyNot string `json:"why_not,omitempty"`
	}
	// VolunteerBooking is a booking that the workshop knows to be paid from a member's pocket.
	VolunteerBooking struct {
		Boat   boat.ID      `json:"boat,omitempty"`
		Bin    string       `json:"bin,omitempty"`
		Entry  string       `json:"entry"`
		Member people.ID    `json:"member,omitempty"` // none: the booking does not say whose pocket it was
		On     clock.Date   `json:"on"`
		Words  string       `json:"words"`
		Amount money.Amount `json:"amount"`
		// Given says that it was written down already that it is given.
		Given bool `json:"given,omitempty"`
	}
)

// Verb is constant.
func (VolunteerCosts) Verb() string { return "treasury.volunteer-costs" }
