package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
)

// DonorNumberStated is said when a donor's taxpayer identification number is written down
// because a Form 1098-C needs it. It takes the place of what was stated before. The number
// is sealed under the donor's key and goes with it.
type DonorNumberStated struct {
	v1
	Boat   boat.ID    `json:"boat"`
	On     clock.Date `json:"on"`
	Sealed string     `json:"sealed"` // DonorNumber
}

// Kind is constant.
func (DonorNumberStated) Kind() Kind { return "treasury.donor-number-stated" }

// DonorNumber is a donor's taxpayer identification number, as 000-00-0000 or 00-0000000. It
// is sealed.
type DonorNumber struct {
	Number string `json:"number"`
}

// SealDonorNumber is the purpose under which a DonorNumber is sealed.
const SealDonorNumber = "treasury.donor-number"

// CopyAOpened is said when somebody was shown what copy A of a paper holds, the donor's whole
// number with it: once a day for each paper and reader. Who it was is the event's actor.
type CopyAOpened struct {
	v1
	Paper  string `json:"paper"`
	Serial string `json:"serial"`
}

// Kind is constant.
func (CopyAOpened) Kind() Kind { return "treasury.copy-a-opened" }

var (
	_ = declare[DonorNumberStated]()
	_ = declare[CopyAOpened]()
)

// StateDonorNumber writes a donor's taxpayer identification number down. A treasurer's.
type StateDonorNumber struct {
	Boat   boat.ID    `json:"boat"`
	On     clock.Date `json:"on"`
	Number string     `json:"number"`
	// Salt is random: the book keeps a digest of each order, and nine digits could be
	// guessed from one.
	Salt string `json:"salt"`
}

// Verb is constant.
func (StateDonorNumber) Verb() string { return "treasury.state-donor-number" }

// The questions about copy A of Form 1098-C. They are a treasurer's alone.
type (
	// CopyA asks for what copy A of a standing paper holds. It answers with CopyASheet.
	CopyA struct {
		Paper string `json:"paper"`
	}
	// CopyASheet is the form's boxes, by their public names, in the form's order.
	CopyASheet struct {
		Serial string      `json:"serial"`
		Boat   boat.ID     `json:"boat"`
		Boxes  []PaperLine `json:"boxes"`
		// Lacking says that the donor's number is not known.
		Lacking bool `json:"lacking,omitempty"`
	}
	// CopiesA asks for the same of all papers that were dated in a year, as a table. It
	// answers with an Export.
	CopiesA struct {
		Year int `json:"year"`
	}
)

// Verb is constant.
func (CopyA) Verb() string { return "treasury.copy-a" }

// Verb is constant.
func (CopiesA) Verb() string { return "treasury.copies-a" }
