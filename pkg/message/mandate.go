package message

import (
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

var (
	_ = declare[MandateGiven]()
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
