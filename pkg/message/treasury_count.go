package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// Found says how a boat was found when the club's boats were counted.
type Found string

// How boats are found.
const (
	FoundThere   Found = "there"
	FoundLess    Found = "there, worth less"
	FoundMissing Found = "missing"
)

// Founds lists them.
var Founds = []Found{FoundThere, FoundLess, FoundMissing}

// BoatCounted is said when somebody looked whether a boat that the books hold is there, and
// in which state. What it is written down by stands in an entry of its own, said together
// with it. It is not said of boats that were sold, passed on or given up.
type BoatCounted struct {
	v1
	Boat  boat.ID      `json:"boat"`
	Count string       `json:"count"`
	On    clock.Date   `json:"on"`
	Found Found        `json:"found"`
	Worth money.Amount `json:"worth,omitzero"` // now, where it is worth less
	Words string       `json:"words,omitempty"`
	By    people.ID    `json:"by,omitempty"`
}

// Kind is constant.
func (BoatCounted) Kind() Kind { return "treasury.boat-counted" }

var _ = declare[BoatCounted]()

// CountBoat writes down how a boat was found. One that is missing is written down to
// nothing, one that is worth less to its worth; one that is found again is written up to
// what it was. The treasurer.
type CountBoat struct {
	Boat  boat.ID      `json:"boat"`
	Count string       `json:"count"`
	On    clock.Date   `json:"on"`
	Found Found        `json:"found"`
	Worth money.Amount `json:"worth,omitzero"`
	Words string       `json:"words,omitempty"`
}

// Verb is constant.
func (CountBoat) Verb() string { return "treasury.count-boat" }

// BoatStock asks for the boats that the books hold, with how each was found in a year. The
// treasurer or the auditor. It answers with HeldBoats.
type BoatStock struct {
	Year int `json:"year"`
}

// Verb is constant.
func (BoatStock) Verb() string { return "treasury.boat-stock" }

// HeldBoats lists boats by name.
type HeldBoats struct {
	Year  int        `json:"year"`
	Boats []HeldBoat `json:"boats"`
}

// HeldBoat is a boat with what its book comes to, a line a currency, and its newest count of
// the year.
type HeldBoat struct {
	Boat    boat.ID        `json:"boat"`
	Name    string         `json:"name"`
	Type    boat.Type      `json:"type"`
	Carried []money.Amount `json:"carried"`
	On      clock.Date     `json:"on,omitzero"` // of the count; none: not counted
	Found   Found          `json:"found,omitempty"`
	Words   string         `json:"words,omitempty"`
}

// BoatsCounted is what the counts of a period found.
type BoatsCounted struct {
	There   int `json:"there"`
	Less    int `json:"less"`
	Missing int `json:"missing"`
}
