package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/money"
)

// RepairProposed is said when somebody says what could be mended on a boat, what
// it would take, and what it would bring. It is a candidate for a plan over all
// boats in the shop, not yet work.
type RepairProposed struct {
	v1
	Boat    boat.ID      `json:"boat"`
	Repair  string       `json:"repair"`
	What    string       `json:"what"`
	Minutes int          `json:"minutes"` // of volunteers
	Cash    money.Amount `json:"cash"`    // parts, consumables, outside work
	// Steps is by how many steps it raises the boat's grade, once what it requires
	// is done; 0 for what only makes the boat fit for use.
	Steps int `json:"steps"`
	// Requires and Excludes name other proposals for the same boat.
	Requires []string `json:"requires,omitempty"`
	Excludes []string `json:"excludes,omitempty"`
	// Must marks what has to be done before anybody may use the boat.
	Must bool `json:"must,omitempty"`
}

// Kind is constant.
func (RepairProposed) Kind() Kind { return "valuation.repair-proposed" }

// RepairDropped is said when a proposal stands no more: the work is done, or it
// was a mistake.
type RepairDropped struct {
	v1
	Boat   boat.ID `json:"boat"`
	Repair string  `json:"repair"`
	Why    string  `json:"why"`
}

// Kind is constant.
func (RepairDropped) Kind() Kind { return "valuation.repair-dropped" }

// PlanMade is said when the repairs for a time were chosen, within hours and
// cash. The whole computation stands in it.
type PlanMade struct {
	v1
	Plan    string       `json:"plan"`
	Minutes int          `json:"minutes"`
	Cash    money.Amount `json:"cash"`
	// Chosen names the proposals.
	Chosen []string `json:"chosen"`
	// Input and Output are the texts of `refloat calc plan`.
	Input  string `json:"input"`
	Output string `json:"output"`
}

// Kind is constant.
func (PlanMade) Kind() Kind { return "valuation.plan-made" }

// ValuationPlan is a plan's stream.
func ValuationPlan(id string) string { return "valuation.plan/" + id }

var (
	_ = declare[RepairProposed]()
	_ = declare[RepairDropped]()
	_ = declare[PlanMade]()
)

// The commands about the shop, a repairer's, a steward's or a treasurer's.
type (
	// ProposeRepair adds a candidate.
	ProposeRepair struct {
		Boat     boat.ID      `json:"boat"`
		Repair   string       `json:"repair"`
		What     string       `json:"what"`
		Minutes  int          `json:"minutes"`
		Cash     money.Amount `json:"cash"`
		Steps    int          `json:"steps"`
		Requires []string     `json:"requires,omitempty"`
		Excludes []string     `json:"excludes,omitempty"`
		Must     bool         `json:"must,omitempty"`
	}
	// DropRepair takes a candidate back.
	DropRepair struct {
		Boat   boat.ID `json:"boat"`
		Repair string  `json:"repair"`
		Why    string  `json:"why"`
	}
	// MakePlan chooses among all candidates and writes the choice down.
	MakePlan struct {
		Plan    string       `json:"plan"`
		Minutes int          `json:"minutes"`
		Cash    money.Amount `json:"cash"`
	}
	// TryPlan asks the same as a question and writes nothing. It answers with a
	// ShopPlan.
	TryPlan struct {
		Minutes int          `json:"minutes"`
		Cash    money.Amount `json:"cash"`
	}
	// ShopPlan is a choice of repairs over all boats in the shop.
	ShopPlan struct {
		Minutes    int          `json:"minutes"`
		Cash       money.Amount `json:"cash"`
		Status     string       `json:"status"`   // optimal, best_found, infeasible
		More       money.Amount `json:"may_gain"` // what a better choice could gain at most, when best_found
		Reason     string       `json:"reason,omitempty"`
		Repairs    []PlanLine   `json:"repairs"`
		Gain       money.Amount `json:"gain"`
		UsedMins   int          `json:"minutes_used"`
		UsedCash   money.Amount `json:"cash_used"`
		MustMins   int          `json:"must_minutes"`
		MustCash   money.Amount `json:"must_cash"`
		NextHour   money.Amount `json:"next_hour"`   // what one more hour would gain
		NextMoney  money.Amount `json:"next_money"`  // what Ten more would gain
		Ten        money.Amount `json:"ten"`         // ten units of the club's money
		NoMoney    int          `json:"without"`     // candidates that no value was known for
		OtherMoney int          `json:"other_money"` // candidates in another currency, left out
		Input      string       `json:"input"`
		Output     string       `json:"output"`
	}
	// PlanLine is a candidate and what became of it.
	PlanLine struct {
		RepairProposed
		BoatName string       `json:"boat_name"`
		Gain     money.Amount `json:"gain"`
		Valued   bool         `json:"valued"` // false: no value is known, so the gain is none
		Chosen   bool         `json:"chosen"`
		// NotWorth says that it costs more than it brings, whatever the hours.
		NotWorth bool `json:"not_worth,omitempty"`
	}
	// PrintValue asks for the valuation sheet of a value. It answers with a Sheet.
	PrintValue struct {
		Boat  boat.ID `json:"boat"`
		Value string  `json:"value"`
		// Valuer is how the one who asks knows the valuer: the room knows no names.
		Valuer string `json:"valuer"`
		// Worksheet asks for the sales alone, set for a donor who weighs them by
		// themselves.
		Worksheet bool `json:"worksheet,omitempty"`
	}
)

// Verb is constant.
func (ProposeRepair) Verb() string { return "valuation.propose-repair" }

// Verb is constant.
func (DropRepair) Verb() string { return "valuation.drop-repair" }

// Verb is constant.
func (MakePlan) Verb() string { return "valuation.make-plan" }

// Verb is constant.
func (TryPlan) Verb() string { return "valuation.try-plan" }

// Verb is constant.
func (PrintValue) Verb() string { return "valuation.print-value" }
