package message

import "refloat.example/pkg/boat"

// ProgrammeChosen is said when a treasurer has put a boat under one of the programmes
// that the club names, by which statements part what boats cost, or under none.
type ProgrammeChosen struct {
	v1
	Boat      boat.ID `json:"boat"`
	Programme string  `json:"programme,omitempty"` // in the club's words; "" for none
}

// Kind is constant.
func (ProgrammeChosen) Kind() Kind { return "treasury.programme-chosen" }

var _ = declare[ProgrammeChosen]()

// ChooseProgramme puts a boat under a programme of the club, or under none.
type ChooseProgramme struct {
	Boat      boat.ID `json:"boat"`
	Programme string  `json:"programme,omitempty"`
}

// Verb is constant.
func (ChooseProgramme) Verb() string { return "treasury.choose-programme" }
