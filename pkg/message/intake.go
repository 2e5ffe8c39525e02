package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// BoatFacts is what is known of a boat itself. Lengths are millimetres, masses
// grams; zero means not known.
type BoatFacts struct {
	Type     boat.Type `json:"type"`
	Seats    int       `json:"seats"`
	LengthMM int       `json:"length_mm,omitempty"`
	BeamMM   int       `json:"beam_mm,omitempty"`
	// DepthMM is from the keel to the lowest place where water comes in, amidships:
	// the gunwale, or the rim of the cockpit.
	DepthMM     int    `json:"depth_mm,omitempty"`
	MassG       int    `json:"mass_g,omitempty"`
	RatedLoadG  int    `json:"rated_load_g,omitempty"`
	RatedSource string `json:"rated_source,omitempty"` // plate, maker's paper, club's estimate
	// SeatLimitG is what the maker lets one person on a seat weigh, where a label says so.
	SeatLimitG int           `json:"seat_limit_g,omitempty"`
	Material   boat.Material `json:"material"`
	Maker      string        `json:"maker,omitempty"`
	Model      string        `json:"model,omitempty"`
	Colour     string        `json:"colour,omitempty"`
	YearBuilt  int           `json:"year_built,omitempty"`
	// HullNumber is as written on the hull; empty together with a reason in
	// NoHullNumber: home-built, built before November 1972, inflatable, removed.
	HullNumber   string         `json:"hull_number,omitempty"`
	NoHullNumber string         `json:"no_hull_number,omitempty"`
	StoredWhere  string         `json:"stored_where,omitempty"`
	LastAfloat   clock.Date     `json:"last_afloat"`
	Features     []boat.Feature `json:"features,omitempty"`
}

// Taking is how a boat comes to the club.
type Taking string

// The three ways.
const (
	Gift     Taking = "gift"
	Bargain  Taking = "bargain purchase"
	Purchase Taking = "purchase"
)

// Takings lists the ways in the order in which pages show them.
var Takings = []Taking{Gift, Bargain, Purchase}

// Rights lists what entitles the giver to give the boat.
var Rights = []string{"owner's declaration", "estate", "organisation", FoundProperty}

// FoundProperty is the right of somebody who found the boat.
const FoundProperty = "found property"

// RatedSources lists where a boat's rated load was read.
var RatedSources = []string{"plate", "maker's paper", "club's estimate"}

// BoatLogged is said when somebody offers a boat to the club and it is written
// down. It does not mean that the club takes it.
type BoatLogged struct {
	v2
	Boat   boat.ID   `json:"boat"`
	Name   string    `json:"name"` // what the club calls it, unique among its boats
	Taking Taking    `json:"taking"`
	Giver  people.ID `json:"giver"` // who gives or sells it
	// NewGiver introduces the giver when the club did not know them.
	NewGiver *NewPerson   `json:"new_giver,omitempty"`
	Asked    money.Amount `json:"asked"` // the price asked; zero for a gift
	Right    string       `json:"right"` // owner's declaration, estate, organisation, found property
	Facts    BoatFacts    `json:"facts"`
}

// Kind is constant.
func (BoatLogged) Kind() Kind { return "intake.boat-logged" }

// FactsCorrected is said when what is known of a boat was wrong or incomplete.
// It carries all facts as they are now.
type FactsCorrected struct {
	v2
	Boat  boat.ID   `json:"boat"`
	Facts BoatFacts `json:"facts"`
	Why   string    `json:"why"`
}

// Kind is constant.
func (FactsCorrected) Kind() Kind { return "intake.facts-corrected" }

// LookOverBegun is said when a steward starts to look a boat over. Two look-overs
// by different people, each blind to the other, give the estimate of what both
// missed.
type LookOverBegun struct {
	v1
	Boat      boat.ID   `json:"boat"`
	Look      string    `json:"look"`
	Inspector people.ID `json:"inspector"`
}

// Kind is constant.
func (LookOverBegun) Kind() Kind { return "intake.look-over-begun" }

// Place is where on a boat something is.
type Place struct {
	Zone boat.Zone `json:"zone"`
	Side boat.Side `json:"side"`
	Face boat.Face `json:"face"`
	Part boat.Part `json:"part"`
}

// DefectFound is said for each thing that a look-over finds. A finding is never
// changed; repair ends it, and a mistake is withdrawn by an event of its own.
type DefectFound struct {
	v1
	Boat    boat.ID     `json:"boat"`
	Finding string      `json:"finding"`
	Look    string      `json:"look"`
	Place   Place       `json:"place"`
	Defect  boat.Defect `json:"defect"`
	// LengthMM is how long a crack, a tear or a worn stretch is; 0 where it has
	// no length.
	LengthMM    int           `json:"length_mm,omitempty"`
	Through     bool          `json:"through,omitempty"`
	LoadBearing bool          `json:"load_bearing,omitempty"`
	Severity    boat.Severity `json:"severity"`
	Words       string        `json:"words,omitempty"`
	// SameAs is the finding of an earlier look-over that this one sees again.
	SameAs string `json:"same_as,omitempty"`
}

// Kind is constant.
func (DefectFound) Kind() Kind { return "intake.defect-found" }

// DefectWithdrawn is said when a finding was a mistake.
type DefectWithdrawn struct {
	v1
	Boat    boat.ID `json:"boat"`
	Finding string  `json:"finding"`
	Why     string  `json:"why"`
}

// Kind is constant.
func (DefectWithdrawn) Kind() Kind { return "intake.defect-withdrawn" }

// PriceOffered is said when the club names a price to the seller.
type PriceOffered struct {
	v2
	Boat  boat.ID      `json:"boat"`
	Price money.Amount `json:"price"`
	// Ceiling is the offer ceiling in force, when valuation had set one.
	Ceiling money.Amount `json:"ceiling"`
	Words   string       `json:"words,omitempty"`
	Dealing
}

// Kind is constant.
func (PriceOffered) Kind() Kind { return "intake.price-offered" }

// BoatAccepted is said when the club decides to take the boat, and for how much.
type BoatAccepted struct {
	v2
	Boat  boat.ID      `json:"boat"`
	Price money.Amount `json:"price"` // zero for a gift
	Words string       `json:"words,omitempty"`
	Dealing
}

// Kind is constant.
func (BoatAccepted) Kind() Kind { return "intake.boat-accepted" }

// BoatDeclined is said when the club does not take the boat.
type BoatDeclined struct {
	v2
	Boat     boat.ID `json:"boat"`
	Reason   string  `json:"reason"`
	Disposal string  `json:"disposal,omitempty"` // what the owner was told to do with it
	Way      string  `json:"way,omitempty"`      // one of DisposalWays
	Stake    string  `json:"stake,omitempty"`    // as in Dealing
}

// Kind is constant.
func (BoatDeclined) Kind() Kind { return "intake.boat-declined" }

// BoatReceived is said when possession and the signed transfer both exist. Its
// day is the gift's date (or the purchase's).
type BoatReceived struct {
	v1
	Boat       boat.ID    `json:"boat"`
	Possession clock.Date `json:"possession"`
	Signed     clock.Date `json:"signed"`
	On         clock.Date `json:"on"` // the later of the two
}

// Kind is constant.
func (BoatReceived) Kind() Kind { return "intake.boat-received" }

// MarkTaken is said together with BoatLogged or FactsCorrected when a boat gets
// a name or a hull number. It stands in the mark's own stream, so that two boats
// that are logged at the same moment cannot get the same one. It concerns the
// intake room alone.
type MarkTaken struct {
	v1
	Mark Mark    `json:"mark"`
	Text string  `json:"text"` // in the spelling that is compared
	Boat boat.ID `json:"boat"`
}

// Mark is what tells one boat from all others.
type Mark string

// The marks.
const (
	NameMark Mark = "name"
	HullMark Mark = "hull-number"
)

// IntakeMark is the stream of a name or of a hull number.
func IntakeMark(mark Mark, text string) string { return "intake." + string(mark) + "/" + text }

// Kind is constant.
func (MarkTaken) Kind() Kind { return "intake.mark-taken" }

var (
	_ = declare[BoatLogged](onlyMore)
	_ = declare[FactsCorrected](onlyMore)
	_ = declare[LookOverBegun]()
	_ = declare[DefectFound]()
	_ = declare[DefectWithdrawn]()
	_ = declare[PriceOffered](onlyMore)
	_ = declare[BoatAccepted](onlyMore)
	_ = declare[BoatDeclined](onlyMore)
	_ = declare[BoatReceived]()
	_ = declare[MarkTaken]()
)

// The commands of the intake room. All are a steward's, unless said otherwise.
type (
	// LogBoat writes down a boat that is offered. Any member.
	LogBoat struct {
		Boat   boat.ID   `json:"boat"`
		Name   string    `json:"name"`
		Taking Taking    `json:"taking"`
		Giver  people.ID `json:"giver"`
		// NewGiver is filled when the club does not know the giver yet; Giver is
		// then the id that they are to have.
		NewGiver *PersonDetails `json:"new_giver,omitempty"`
		Consent  string         `json:"consent,omitempty"` // the text that a new giver agreed to
		Asked    money.Amount   `json:"asked"`
		Right    string         `json:"right"`
		Facts    BoatFacts      `json:"facts"`

		// What follows may come later, by orders of its own.

		Shown        *RightPaper   `json:"shown,omitempty"` // by what the right is shown
		Intent       *GiftIntent   `json:"intent,omitempty"`
		Registration *Registration `json:"registration,omitempty"`
		Doubts       []Doubt       `json:"doubts,omitempty"`
		// Again is the entry of the time before, when the club has had the boat.
		Again boat.ID `json:"again,omitempty"`
	}
	// CorrectFacts puts right what is known of a boat.
	CorrectFacts struct {
		Boat  boat.ID   `json:"boat"`
		Facts BoatFacts `json:"facts"`
		Why   string    `json:"why"`
		// Stood, when given, is what the sender saw before: when that is no longer so,
		// somebody else wrote meanwhile, and the order is refused.
		Stood *BoatFacts `json:"stood,omitempty"`
	}
	// BeginLookOver starts a look-over by the member who asks.
	BeginLookOver struct {
		Boat boat.ID `json:"boat"`
		Look string  `json:"look"`
	}
	// NoteDefect adds a finding to a look-over that is not finished.
	NoteDefect struct {
		Boat        boat.ID       `json:"boat"`
		Finding     string        `json:"finding"`
		Look        string        `json:"look"`
		Place       Place         `json:"place"`
		Defect      boat.Defect   `json:"defect"`
		LengthMM    int           `json:"length_mm,omitempty"`
		Through     bool          `json:"through,omitempty"`
		LoadBearing bool          `json:"load_bearing,omitempty"`
		Severity    boat.Severity `json:"severity"`
		Words       string        `json:"words,omitempty"`
	}
	// WithdrawDefect takes a finding back that was a mistake.
	WithdrawDefect struct {
		Boat    boat.ID `json:"boat"`
		Finding string  `json:"finding"`
		Why     string  `json:"why"`
	}
	// OfferPrice names a price to the seller. An offer above the ceiling needs
	// an administrator and words that say why.
	OfferPrice struct {
		Boat  boat.ID      `json:"boat"`
		Price money.Amount `json:"price"`
		Words string       `json:"words,omitempty"`
		Stake string       `json:"stake"` // one of Stakes
	}
	// AcceptBoat takes the boat, at a price unless it is a gift.
	AcceptBoat struct {
		Boat  boat.ID      `json:"boat"`
		Price money.Amount `json:"price"`
		Words string       `json:"words,omitempty"`
		Stake string       `json:"stake"` // one of Stakes
	}
	// DeclineBoat refuses the boat.
	DeclineBoat struct {
		Boat     boat.ID `json:"boat"`
		Reason   string  `json:"reason"`
		Disposal string  `json:"disposal,omitempty"`
		Way      string  `json:"way,omitempty"` // one of DisposalWays
		Stake    string  `json:"stake"`         // one of Stakes
	}
	// ReceiveBoat records possession and the signed transfer.
	ReceiveBoat struct {
		Boat       boat.ID    `json:"boat"`
		Possession clock.Date `json:"possession"`
		Signed     clock.Date `json:"signed"`
	}
)

// Verb is constant.
func (LogBoat) Verb() string { return "intake.log-boat" }

// Verb is constant.
func (CorrectFacts) Verb() string { return "intake.correct-facts" }

// Verb is constant.
func (BeginLookOver) Verb() string { return "intake.begin-look-over" }

// Verb is constant.
func (NoteDefect) Verb() string { return "intake.note-defect" }

// Verb is constant.
func (WithdrawDefect) Verb() string { return "intake.withdraw-defect" }

// Verb is constant.
func (OfferPrice) Verb() string { return "intake.offer-price" }

// Verb is constant.
func (AcceptBoat) Verb() string { return "intake.accept-boat" }

// Verb is constant.
func (DeclineBoat) Verb() string { return "intake.decline-boat" }

// Verb is constant.
func (ReceiveBoat) Verb() string { return "intake.receive-boat" }
