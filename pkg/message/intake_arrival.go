package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
)

// RightPapers lists by what each right is shown. The paper itself stays in the
// club's folder; the book says which it was and of which day.
var RightPapers = map[string][]string{
	"owner's declaration": {"signed declaration", "title or registration in the giver's name", "bill of sale"},
	"estate":              {"letter of the executor or administrator", "court paper"},
	"organisation":        {"signed letter of the organisation"},
	FoundProperty:         {"report to the police", "report to whoever keeps the water"},
}

// RightPaper is by what somebody showed that they may give a boat.
type RightPaper struct {
	Paper string `json:"paper"` // one of RightPapers
	// On is the day of the paper; for found property, that of the find.
	On    clock.Date `json:"on"`
	Words string     `json:"words,omitempty"`
}

// RightShown is said when the giver has shown by what right they give the boat.
// Without it no boat is accepted. It carries the right as it was shown, which may
// be another one than was first told.
type RightShown struct {
	v1
	Boat  boat.ID `json:"boat"`
	Right string  `json:"right"`
	RightPaper
}

// Kind is constant.
func (RightShown) Kind() Kind { return "intake.right-shown" }

// GiftIntent is what the giver wrote about a gift.
type GiftIntent struct {
	On clock.Date `json:"on"` // the day of the writing
	// Restriction is what the giver binds the gift to, in the club's words and
	// without names; empty: nothing.
	Restriction string `json:"restriction,omitempty"`
}

// IntentStated is said when the giver has written that they give the boat, and
// to what they bind the gift. A later one takes the place of an earlier.
type IntentStated struct {
	v1
	Boat boat.ID `json:"boat"`
	GiftIntent
}

// Kind is constant.
func (IntentStated) Kind() Kind { return "intake.intent-stated" }

// Registration is under what a state has a boat on record. A paddled boat often
// has neither number nor title.
type Registration struct {
	State  string `json:"state"`            // which state or authority
	Number string `json:"number,omitempty"` // as on the bow
	Title  string `json:"title,omitempty"`  // the title's number
}

// RegistrationNoted is said when a state's registration or title was seen.
type RegistrationNoted struct {
	v1
	Boat boat.ID `json:"boat"`
	Registration
}

// Kind is constant.
func (RegistrationNoted) Kind() Kind { return "intake.registration-noted" }

// Doubt is a reason to ask whose a boat is.
type Doubt string

// The doubts. A hull number that a look-over finds altered is one, too.
const (
	NumberAltered Doubt = "number looks altered"
	NumberTwice   Doubt = "number of another boat"
	MaybeStolen   Doubt = "may be reported stolen"
)

// TellableDoubts are those that a member raises; that a number stands in the book
// twice, the book sees by itself.
var TellableDoubts = []Doubt{NumberAltered, MaybeStolen}

// AltersNumber says whether a finding is a doubt about whose the boat is.
func (d DefectFound) AltersNumber() bool {
	return d.Place.Part == "hull number" && d.Defect == "altered"
}

// DoubtRaised is said when it is not clear whose a boat is. Until an administrator
// settles it, the boat is neither accepted nor received.
type DoubtRaised struct {
	v1
	Boat  boat.ID `json:"boat"`
	Doubt string  `json:"doubt"` // its id
	About Doubt   `json:"about"`
	Other boat.ID `json:"other,omitempty"` // the other boat that bears the number
	Words string  `json:"words,omitempty"`
}

// Kind is constant.
func (DoubtRaised) Kind() Kind { return "intake.doubt-raised" }

// DoubtSettled is said when an administrator has found that a doubt does not
// stand against taking the boat. When it does, the boat is declined instead.
type DoubtSettled struct {
	v1
	Boat  boat.ID `json:"boat"`
	Doubt string  `json:"doubt"`
	Words string  `json:"words"` // what was found out, and where
}

// Kind is constant.
func (DoubtSettled) Kind() Kind { return "intake.doubt-settled" }

// BoatCameBack is said beside BoatLogged when the club has had the boat before:
// declined, placed, sold or retired. Each time is an entry of its own, with its
// own giver, look-over, quarantine and papers; this ties them together.
type BoatCameBack struct {
	v1
	Boat    boat.ID `json:"boat"`
	Earlier boat.ID `json:"earlier"` // the entry of the time before
	Time    int     `json:"time"`    // 2 for the second
}

// Kind is constant.
func (BoatCameBack) Kind() Kind { return "intake.boat-came-back" }

// PossessionNoted is said when the boat came into the club's hands before its
// transfer was signed. It makes nothing the club's: BoatReceived does.
type PossessionNoted struct {
	v1
	Boat boat.ID    `json:"boat"`
	On   clock.Date `json:"on"`
}

// Kind is constant.
func (PossessionNoted) Kind() Kind { return "intake.possession-noted" }

// TransferSigned is said when the transfer was signed before the club had the
// boat in its hands. It makes nothing the club's: BoatReceived does.
type TransferSigned struct {
	v1
	Boat boat.ID    `json:"boat"`
	On   clock.Date `json:"on"`
}

// Kind is constant.
func (TransferSigned) Kind() Kind { return "intake.transfer-signed" }

var (
	_ = declare[RightShown]()
	_ = declare[IntentStated]()
	_ = declare[RegistrationNoted]()
	_ = declare[DoubtRaised]()
	_ = declare[DoubtSettled]()
	_ = declare[BoatCameBack]()
	_ = declare[PossessionNoted]()
	_ = declare[TransferSigned]()
)

// The commands about how a boat comes. All are a steward's, unless said otherwise.
type (
	// ShowRight records by what the giver showed their right. A right that turned
	// out to be another one is stated as it is.
	ShowRight struct {
		Boat  boat.ID `json:"boat"`
		Right string  `json:"right"`
		RightPaper
	}
	// StateIntent records what the giver wrote about a gift.
	StateIntent struct {
		Boat boat.ID `json:"boat"`
		GiftIntent
	}
	// NoteRegistration records a state's registration or title.
	NoteRegistration struct {
		Boat boat.ID `json:"boat"`
		Registration
	}
	// RaiseDoubt says that it is not clear whose the boat is. Any member.
	RaiseDoubt struct {
		Boat  boat.ID `json:"boat"`
		Doubt string  `json:"doubt"`
		About Doubt   `json:"about"`
		Words string  `json:"words"`
	}
	// SettleDoubt lets a boat be taken in spite of a doubt. An administrator.
	SettleDoubt struct {
		Boat  boat.ID `json:"boat"`
		Doubt string  `json:"doubt"`
		Words string  `json:"words"`
	}
	// NotePossession records that the boat is in the club's hands.
	NotePossession struct {
		Boat boat.ID    `json:"boat"`
		On   clock.Date `json:"on"`
	}
	// SignTransfer records that the transfer is signed.
	SignTransfer struct {
		Boat boat.ID    `json:"boat"`
		On   clock.Date `json:"on"`
	}
)

// Verb is constant.
func (ShowRight) Verb() string { return "intake.show-right" }

// Verb is constant.
func (StateIntent) Verb() string { return "intake.state-intent" }

// Verb is constant.
func (NoteRegistration) Verb() string { return "intake.note-registration" }

// Verb is constant.
func (RaiseDoubt) Verb() string { return "intake.raise-doubt" }

// Verb is constant.
func (SettleDoubt) Verb() string { return "intake.settle-doubt" }

// Verb is constant.
func (NotePossession) Verb() string { return "intake.note-possession" }

// Verb is constant.
func (SignTransfer) Verb() string { return "intake.sign-transfer" }
