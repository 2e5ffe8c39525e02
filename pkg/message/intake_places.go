package message

import "refloat.example/pkg/boat"

// IntakePlace is the stream of a place where boats lie.
func IntakePlace(id string) string { return "intake.place/" + id }

// PlaceSet is said when a place where boats lie is made or measured anew.
type PlaceSet struct {
	v1
	Place    string `json:"place"` // its id
	Shed     string `json:"shed"`
	Name     string `json:"name"` // within the shed: "rack 3, lowest arms"
	LengthMM int    `json:"length_mm"`
	WidthMM  int    `json:"width_mm"` // for boats beside each other
}

// Kind is constant.
func (PlaceSet) Kind() Kind { return "intake.place-set" }

// PlaceClosed is said when no boat is to lie at a place any more. It is empty then.
type PlaceClosed struct {
	v1
	Place string `json:"place"`
	Why   string `json:"why"`
}

// Kind is constant.
func (PlaceClosed) Kind() Kind { return "intake.place-closed" }

// BoatMoved is said when a boat is laid somewhere else. It stands in the boat's
// stream, so that a boat lies at one place or at none.
type BoatMoved struct {
	v1
	Boat  boat.ID `json:"boat"`
	From  string  `json:"from,omitempty"` // a place; empty: none
	To    string  `json:"to,omitempty"`
	Words string  `json:"words,omitempty"`
}

// Kind is constant.
func (BoatMoved) Kind() Kind { return "intake.boat-moved" }

// BerthTaken is said beside BoatMoved in the stream of the place to which the boat
// goes, so that two boats that are moved at one moment do not share room for one.
// It concerns the intake room alone.
type BerthTaken struct {
	v1
	Place string  `json:"place"`
	Boat  boat.ID `json:"boat"`
}

// Kind is constant.
func (BerthTaken) Kind() Kind { return "intake.berth-taken" }

// BerthLeft is said beside BoatMoved in the stream of the place that the boat
// leaves. It concerns the intake room alone.
type BerthLeft struct {
	v1
	Place string  `json:"place"`
	Boat  boat.ID `json:"boat"`
}

// Kind is constant.
func (BerthLeft) Kind() Kind { return "intake.berth-left" }

var (
	_ = declare[PlaceSet]()
	_ = declare[PlaceClosed]()
	_ = declare[BoatMoved]()
	_ = declare[BerthTaken]()
	_ = declare[BerthLeft]()
)

// The commands about where boats lie. Stewards; whoever works on boats moves them,
// too.
type (
	// SetPlace makes a place, or measures it anew.
	SetPlace struct {
		Place    string `json:"place"`
		Shed     string `json:"shed"`
		Name     string `json:"name"`
		LengthMM int    `json:"length_mm"`
		WidthMM  int    `json:"width_mm"`
	}
	// ClosePlace closes a place at which nothing lies.
	ClosePlace struct {
		Place string `json:"place"`
		Why   string `json:"why"`
	}
	// MoveBoat lays a boat at a place, or at none.
	MoveBoat struct {
		Boat  boat.ID `json:"boat"`
		To    string  `json:"to,omitempty"`
		Words string  `json:"words,omitempty"`
	}
)

// Verb is constant.
func (SetPlace) Verb() string { return "intake.set-place" }

// Verb is constant.
func (ClosePlace) Verb() string { return "intake.close-place" }

// Verb is constant.
func (MoveBoat) Verb() string { return "intake.move-boat" }
