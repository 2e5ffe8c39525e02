package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// PriceKind tells a price that was paid from one that was only asked.
type PriceKind string

// The kinds of price.
const (
	Sold   PriceKind = "sold"
	Asking PriceKind = "asking"
)

// Comparable is a price that somebody paid or asked for a boat like ours.
type Comparable struct {
	Comparable string       `json:"comparable"`
	Price      money.Amount `json:"price"`
	On         clock.Date   `json:"on"`
	PriceKind  PriceKind    `json:"price_kind"`
	ArmsLength bool         `json:"arms_length"`
	Type       boat.Type    `json:"type"`
	LengthMM   int          `json:"length_mm,omitempty"`
	Seats      int          `json:"seats"`
	Material   string       `json:"material,omitempty"`
	AgeYears   int          `json:"age_years"`
	// AgeUnknown says that nobody knows how old the boat was; AgeYears is then 0
	// and means nothing.
	AgeUnknown bool       `json:"age_unknown,omitempty"`
	Grade      boat.Grade `json:"grade"`
	Area       string     `json:"area,omitempty"`
	Source     string     `json:"source"`
	// OwnBoat is set when the sale was the club's own.
	OwnBoat boat.ID `json:"own_boat,omitempty"`
}

// ComparableRecorded is said when a price comes into the club's collection.
type ComparableRecorded struct {
	v1
	Comparable
}

// Kind is constant.
func (ComparableRecorded) Kind() Kind { return "valuation.comparable-recorded" }

// ComparableRefused is said when a price turns out not to be usable; values that
// used it stay as they were given.
type ComparableRefused struct {
	v1
	Comparable string `json:"comparable"`
	Why        string `json:"why"`
}

// Kind is constant.
func (ComparableRefused) Kind() Kind { return "valuation.comparable-refused" }

// SaleSeen is said together with ComparableRecorded. It stands in the stream of
// the sale itself (same day, price, type, length and source), so that two
// members who write the same sale down at one moment do not count it twice. It
// concerns the valuation room alone.
type SaleSeen struct {
	v1
	Comparable string `json:"comparable"`
}

// ValuationSale is the stream of a sale, by the digest of what tells it from
// others.
func ValuationSale(digest string) string { return "valuation.sale/" + digest }

// Kind is constant.
func (SaleSeen) Kind() Kind { return "valuation.sale-seen" }

// Worth is one of the figures of a valuation; zero amounts with Status refused
// mean that nothing can be said.
type Worth struct {
	Status string       `json:"status"` // ok, weak, indication, refused
	Value  money.Amount `json:"value"`
	Low    money.Amount `json:"low"`
	High   money.Amount `json:"high"`
	Reason string       `json:"reason,omitempty"`
}

// BoatValued is said when a member valued a boat for a day. The whole
// computation stands in it: recomputing from Input gives the same cents.
type BoatValued struct {
	v1
	Boat     boat.ID    `json:"boat"`
	Value    string     `json:"value"` // id of this valuation record
	On       clock.Date `json:"on"`    // the day valued for
	Valuer   people.ID  `json:"valuer"`
	Purpose  string     `json:"purpose"` // book, purchase, receipt
	Method   string     `json:"method"`
	AsItLies Worth      `json:"as_it_lies"`
	Repaired Worth      `json:"repaired"`
	Used     []string   `json:"used"` // comparables
	// LeftOut names the comparables that were not used, with the reason.
	LeftOut []LeftOut `json:"left_out,omitempty"`
	// Input and Output are the calculator's own JSON texts, kept as text because
	// they hold decimals.
	Input  string `json:"input"`
	Output string `json:"output"`
	// Conflict is the valuer's answer to whether they or their household give,
	// buy or will receive the boat.
	Conflict   string `json:"conflict"`
	Supersedes string `json:"supersedes,omitempty"`
}

// LeftOut is a comparable that a valuation did not use.
type LeftOut struct {
	Comparable string `json:"comparable"`
	Reason     string `json:"reason"`
}

// Kind is constant.
func (BoatValued) Kind() Kind { return "valuation.boat-valued" }

// CeilingSet is said when the most that may be offered for a boat was computed.
type CeilingSet struct {
	v1
	Boat    boat.ID      `json:"boat"`
	Ceiling money.Amount `json:"ceiling"`
	Status  string       `json:"status"` // ok, do_not_buy
	Input   string       `json:"input"`
	Output  string       `json:"output"`
}

// Kind is constant.
func (CeilingSet) Kind() Kind { return "valuation.ceiling-set" }

var (
	_ = declare[ComparableRecorded]()
	_ = declare[ComparableRefused]()
	_ = declare[SaleSeen]()
	_ = declare[BoatValued]()
	_ = declare[CeilingSet]()
)

// Purposes of a value, as ValueBoat.Purpose and BoatValued.Purpose.
const (
	ForBook     = "book"     // the club's own books
	ForPurchase = "purchase" // what to offer
	ForReceipt  = "receipt"  // a donor's paper
)

// ValuePurposes lists the purposes.
var ValuePurposes = []string{ForBook, ForPurchase, ForReceipt}

// RefusedWorth is the status of a worth that says nothing.
const RefusedWorth = "refused"

// The commands of the valuation room. All are a treasurer's or a steward's.
type (
	// RecordComparable adds a price to the collection.
	RecordComparable struct {
		Comparable
	}
	// RefuseComparable takes a price out of use.
	RefuseComparable struct {
		Comparable string `json:"comparable"`
		Why        string `json:"why"`
	}
	// ValueBoat values a boat for a day, as it lies and as repaired.
	ValueBoat struct {
		Boat    boat.ID    `json:"boat"`
		Value   string     `json:"value"`
		On      clock.Date `json:"on"`
		Purpose string     `json:"purpose"`
		// AsItLies and Repaired are the grades of the two states.
		AsItLies boat.Grade `json:"as_it_lies"`
		Repaired boat.Grade `json:"repaired"`
		Conflict string     `json:"conflict"`
	}
	// SetCeiling computes the most that may be offered, from the newest value.
	SetCeiling struct {
		Boat    boat.ID        `json:"boat"`
		Repairs []ExpectedWork `json:"repairs"`
	}
	// ExpectedWork is a repair that a ceiling reckons with.
	ExpectedWork struct {
		What           string       `json:"what"`
		Cost           money.Amount `json:"cost"`
		PercentLikely  int          `json:"percent_likely"`
		MinutesOfHands int          `json:"minutes"`
	}
)

// Verb is constant.
func (RecordComparable) Verb() string { return "valuation.record-comparable" }

// Verb is constant.
func (RefuseComparable) Verb() string { return "valuation.refuse-comparable" }

// Verb is constant.
func (ValueBoat) Verb() string { return "valuation.value-boat" }

// Verb is constant.
func (SetCeiling) Verb() string { return "valuation.set-ceiling" }
