package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/quarantine"
)

// The rules by which a boat dries; package quarantine has their sources. They are
// also the values of the club's setting "drying-rule".
const (
	DryingUtah   = "utah"   // by the season of the day on which it came out
	DryingThirty = "thirty" // thirty days
	DryingDays   = "days"   // a number of days
)

// DryingRules lists the rules.
var DryingRules = []string{DryingUtah, DryingThirty, DryingDays}

// FoundOnBoats lists what a boat may carry from one water to another.
var FoundOnBoats = []string{"mud", "plants", "mussels", "other animals"}

// Treatment is hot water that a boat was treated with.
type Treatment struct {
	Medium  quarantine.Medium `json:"medium"`
	Tenths  int               `json:"celsius_tenths"` // of a degree, where it touched the boat
	Seconds int               `json:"seconds"`        // of contact
	// Meets are the published minimums that it reaches, with their sources; none:
	// it reaches none.
	Meets []string `json:"meets,omitempty"`
}

// QuarantineSet is said when a boat came from a water from which it may carry
// living things; until the day named it must not go to another water. In its
// first shape it held the last water, the day out, the rule and the end alone.
type QuarantineSet struct {
	v2
	Boat       boat.ID    `json:"boat"`
	LastWater  string     `json:"last_water"`
	OutOfWater clock.Date `json:"out_of_water"`
	Rule       string     `json:"rule"` // one of DryingRules
	Until      clock.Date `json:"until"`

	Days       int      `json:"days,omitempty"`
	Source     string   `json:"source,omitempty"` // of the rule
	StandingML int      `json:"standing_ml,omitempty"`
	Found      []string `json:"found,omitempty"`
	// CleanedOn is the day on which it was cleaned and drained, from which the
	// days count; none: it came out clean and drained.
	CleanedOn   clock.Date `json:"cleaned_on"`
	Treatment   *Treatment `json:"treatment,omitempty"`
	FrozenHours int        `json:"frozen_hours,omitempty"` // consecutive, below freezing
	FrozenEnd   clock.Date `json:"frozen_end"`
}

// Kind is constant.
func (QuarantineSet) Kind() Kind { return "intake.quarantine-set" }

var _ = declare[QuarantineSet](onlyMore)

// SetQuarantine records the last water, what was found, how it was treated, and
// how long to dry. A steward's.
type SetQuarantine struct {
	Boat        boat.ID           `json:"boat"`
	LastWater   string            `json:"last_water"`
	OutOfWater  clock.Date        `json:"out_of_water"`
	Rule        string            `json:"rule"`           // empty: the club's own
	Days        int               `json:"days,omitempty"` // for the rule "days"
	StandingML  int               `json:"standing_ml,omitempty"`
	Found       []string          `json:"found,omitempty"`
	CleanedOn   clock.Date        `json:"cleaned_on"`
	Medium      quarantine.Medium `json:"medium,omitempty"` // empty: not treated
	Tenths      int               `json:"celsius_tenths,omitempty"`
	Seconds     int               `json:"seconds,omitempty"`
	FrozenHours int               `json:"frozen_hours,omitempty"`
	FrozenEnd   clock.Date        `json:"frozen_end"`
}

// Verb is constant.
func (SetQuarantine) Verb() string { return "intake.set-quarantine" }
