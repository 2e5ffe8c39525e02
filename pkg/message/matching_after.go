package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
)

// Fetchings lists how a boat comes to the household that accepted it.
var Fetchings = []string{"fetched at the club", "brought by the club"}

// FetchingAgreed is said when club and household agreed on when the boat changes
// hands. A later one takes the place of an earlier one.
type FetchingAgreed struct {
	v1
	Boat    boat.ID    `json:"boat"`
	Request string     `json:"request"`
	On      clock.Date `json:"on"`
	At      string     `json:"at"`  // 10:30, in the club's time
	How     string     `json:"how"` // one of Fetchings
}

// Kind is constant.
func (FetchingAgreed) Kind() Kind { return "matching.fetching-agreed" }

// FollowUps are the days after a hand-over on which the club asks how it goes.
var FollowUps = []int{30, 180}

// Fares lists how it goes with a boat when the club asks.
var Fares = []string{"in use", "not used yet", "something is wrong", "does not suit", "nobody was reached"}

// FollowUpNoted is said when a household was asked, or tells by itself, how it goes
// with its boat.
type FollowUpNoted struct {
	v1
	Boat    boat.ID    `json:"boat"`
	Request string     `json:"request"`
	Days    int        `json:"days"` // one of FollowUps
	On      clock.Date `json:"on"`
	Fares   string     `json:"fares"`            // one of Fares
	Sealed  string     `json:"sealed,omitempty"` // in the household's words: a string, under SealWords
}

// Kind is constant.
func (FollowUpNoted) Kind() Kind { return "matching.follow-up-noted" }

// Comebacks lists where a boat goes that did not suit.
var Comebacks = []string{"back to the club", "handed on by the household"}

// BoatReturned is said when a boat that was handed over is with its household no
// more. One that is back with the club is logged anew.
type BoatReturned struct {
	v1
	Boat    boat.ID    `json:"boat"`
	Request string     `json:"request"`
	On      clock.Date `json:"on"`
	Where   string     `json:"where"`            // one of Comebacks
	Sealed  string     `json:"sealed,omitempty"` // why, in the household's words: a string, under SealWords
}

// Kind is constant.
func (BoatReturned) Kind() Kind { return "matching.boat-returned" }

// UseStopped is said when the club tells the household of a boat that was handed
// over to use it no more.
type UseStopped struct {
	v1
	Boat    boat.ID `json:"boat"`
	Request string  `json:"request"`
	Why     string  `json:"why"`  // in the club's words
	What    string  `json:"what"` // what the household is to do
}

// Kind is constant.
func (UseStopped) Kind() Kind { return "matching.use-stopped" }

// Harms lists what came of an incident.
var Harms = []string{"nobody was hurt", "somebody was hurt"}

// IncidentReported is said when something happened with a boat that was handed
// over.
type IncidentReported struct {
	v1
	Boat     boat.ID    `json:"boat"`
	Request  string     `json:"request"`
	Incident string     `json:"incident"`
	On       clock.Date `json:"on"`
	Harm     string     `json:"harm"`   // one of Harms
	Sealed   string     `json:"sealed"` // what happened, in the household's words: a string, under SealWords
}

// Kind is constant.
func (IncidentReported) Kind() Kind { return "matching.incident-reported" }

// AppealMade is said when an applicant wants a second member to look at what was
// decided.
type AppealMade struct {
	v1
	Request string `json:"request"`
	Appeal  string `json:"appeal"`
	Sealed  string `json:"sealed"` // what is wrong, in the household's words: a string, under SealWords
}

// Kind is constant.
func (AppealMade) Kind() Kind { return "matching.appeal-made" }

// AppealDecided is said when another member than who had decided looked at it.
// What follows from an appeal that is upheld is said by itself, a new tier say.
type AppealDecided struct {
	v1
	Request string `json:"request"`
	Appeal  string `json:"appeal"`
	Upheld  bool   `json:"upheld"`
	Why     string `json:"why"` // in the club's words
}

// Kind is constant.
func (AppealDecided) Kind() Kind { return "matching.appeal-decided" }

var (
	_ = declare[FetchingAgreed]()
	_ = declare[FollowUpNoted]()
	_ = declare[BoatReturned]()
	_ = declare[UseStopped]()
	_ = declare[IncidentReported]()
	_ = declare[AppealMade]()
	_ = declare[AppealDecided]()
)

// What can be ordered after a hand-over, and the appeal.
type (
	// AgreeFetching writes down when an accepted boat changes hands. A coordinator's.
	AgreeFetching struct {
		Boat boat.ID    `json:"boat"`
		On   clock.Date `json:"on"`
		At   string     `json:"at"`
		How  string     `json:"how"`
	}
	// NoteFollowUp writes down how it goes with a boat. A coordinator's, or its
	// household's by private link.
	NoteFollowUp struct {
		Boat  boat.ID    `json:"boat"`
		Days  int        `json:"days"`
		On    clock.Date `json:"on"`
		Fares string     `json:"fares"`
		Words string     `json:"words,omitempty"`
	}
	// NoteComeback writes down that a boat did not stay. A coordinator's.
	NoteComeback struct {
		Boat  boat.ID    `json:"boat"`
		On    clock.Date `json:"on"`
		Where string     `json:"where"`
		Words string     `json:"words,omitempty"`
	}
	// StopUse tells a household to use its boat no more. A coordinator's or a
	// steward's.
	StopUse struct {
		Boat boat.ID `json:"boat"`
		Why  string  `json:"why"`
		What string  `json:"what"`
	}
	// ReportIncident tells what happened. A coordinator's, or the household's by
	// private link.
	ReportIncident struct {
		Boat     boat.ID    `json:"boat"`
		Incident string     `json:"incident"`
		On       clock.Date `json:"on"`
		Harm     string     `json:"harm"`
		Words    string     `json:"words"`
	}
	// MakeAppeal asks a second member to look again. The applicant by private link,
	// or a coordinator on their word.
	MakeAppeal struct {
		Request string `json:"request"`
		Appeal  string `json:"appeal"`
		Words   string `json:"words"`
	}
	// DecideAppeal answers an appeal. A coordinator's or an administrator's, who
	// decided nothing of what is appealed.
	DecideAppeal struct {
		Request string `json:"request"`
		Appeal  string `json:"appeal"`
		Upheld  bool   `json:"upheld"`
		Why     string `json:"why"`
	}
)

// Verb is constant.
func (AgreeFetching) Verb() string { return "matching.agree-fetching" }

// Verb is constant.
func (NoteFollowUp) Verb() string { return "matching.note-follow-up" }

// Verb is constant.
func (NoteComeback) Verb() string { return "matching.note-comeback" }

// Verb is constant.
func (StopUse) Verb() string { return "matching.stop-use" }

// Verb is constant.
func (ReportIncident) Verb() string { return "matching.report-incident" }

// Verb is constant.
func (MakeAppeal) Verb() string { return "matching.make-appeal" }

// Verb is constant.
func (DecideAppeal) Verb() string { return "matching.decide-appeal" }
