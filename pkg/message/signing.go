package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/people"
)

// MandateGiven is said when an administrator appoints a member to sign papers. It is
// not said for the role of treasurer, without which a mandate opens nothing.
type MandateGiven struct {
	v1
	Mandate string     `json:"mandate"`
	Person  people.ID  `json:"person"`
	Office  string     `json:"office"` // stands with the name below the signature
	From    clock.Date `json:"from"`
	To      clock.Date `json:"to,omitzero"` // the last day; missing: until it is ended
}

// Kind is constant.
func (MandateGiven) Kind() Kind { return "treasury.mandate-given" }

// MandateEnded is said when a mandate gets another last day than it had. What was
// signed under it stays signed.
type MandateEnded struct {
	v1
	Mandate string     `json:"mandate"`
	To      clock.Date `json:"to"` // the last day
	Why     string     `json:"why"`
}

// Kind is constant.
func (MandateEnded) Kind() Kind { return "treasury.mandate-ended" }

// PaperPrepared is said when the first of two signatories has signed a paper. It has
// no number yet, and takes the place of what was prepared for the boat before. Not
// said of a paper for which one signature is enough.
type PaperPrepared struct {
	v1
	Boat  boat.ID    `json:"boat"`
	Paper string     `json:"paper"`
	By    people.ID  `json:"by,omitempty"` // who signed first; none: at the machine
	On    clock.Date `json:"on"`
	Final bool       `json:"final,omitempty"` // as in IssuePaper
	// Digest is SHA-256, in hexadecimal, over the salt and the content that was signed,
	// without its date: the second signature is put under the same words.
	Salt   string `json:"salt"`
	Digest string `json:"digest"`
}

// Kind is constant.
func (PaperPrepared) Kind() Kind { return "treasury.paper-prepared" }

// PreparationWithdrawn is said when a paper that waits for its second signature is
// not to be issued. No number was used.
type PreparationWithdrawn struct {
	v1
	Boat  boat.ID `json:"boat"`
	Paper string  `json:"paper"`
	Why   string  `json:"why"`
}

// Kind is constant.
func (PreparationWithdrawn) Kind() Kind { return "treasury.preparation-withdrawn" }

var (
	_ = declare[MandateGiven]()
	_ = declare[PaperPrepared]()
	_ = declare[PreparationWithdrawn]()
	_ = declare[MandateEnded]()
)

type (
	// GiveMandate appoints a member to sign papers, from a day on, up to and including
	// another where one is set. An administrator's.
	GiveMandate struct {
		Mandate string     `json:"mandate"`
		Person  people.ID  `json:"person"`
		Office  string     `json:"office"`
		From    clock.Date `json:"from"`
		To      clock.Date `json:"to,omitzero"`
	}
	// EndMandate sets a mandate's last day. An administrator's.
	EndMandate struct {
		Mandate string     `json:"mandate"`
		To      clock.Date `json:"to"`
		Why     string     `json:"why"`
	}
	// SignPaper puts the second signature under a paper that was prepared, and so
	// issues it. The paper bears this day. A treasurer's.
	SignPaper struct {
		Boat  boat.ID    `json:"boat"`
		Paper string     `json:"paper"`
		On    clock.Date `json:"on"`
	}
	// WithdrawPreparation drops a paper that waits for its second signature. A
	// treasurer's.
	WithdrawPreparation struct {
		Boat  boat.ID `json:"boat"`
		Paper string  `json:"paper"`
		Why   string  `json:"why"`
	}
	// Mandates asks who may sign papers and who might once. The administrator, the
	// treasurer or the auditor. It answers with MandateList.
	Mandates struct{}
	// MandateList is every mandate as it stands, in the order of appointment.
	MandateList struct {
		Mandates []MandateGiven `json:"mandates"`
	}
)

// Verb is constant.
func (GiveMandate) Verb() string { return "treasury.give-mandate" }

// Verb is constant.
func (EndMandate) Verb() string { return "treasury.end-mandate" }

// Verb is constant.
func (Mandates) Verb() string { return "treasury.mandates" }

// Verb is constant.
func (SignPaper) Verb() string { return "treasury.sign-paper" }

// Verb is constant.
func (WithdrawPreparation) Verb() string { return "treasury.withdraw-preparation" }
