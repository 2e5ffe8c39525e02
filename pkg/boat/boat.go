// Package boat holds the trade's words for boats: types, materials, places on a
// hull, and what can be wrong there. It decides nothing.
//
// Words are the trade's own (sources: common practice for type and part names;
// 33 CFR 174.19 for the official words that a state registration uses). They are
// stored in events for ever, so a word is never renamed, only added.
package boat

import (
	"slices"

	"refloat.example/pkg/fault"
)

// ID names a boat for life. It is a UUID in text form.
type ID string

// Type is what kind of craft a boat is.
type Type string

// The types that the club takes in.
const (
	Canoe           Type = "canoe"
	SitInside       Type = "sit-inside kayak"
	SitOnTop        Type = "sit-on-top kayak"
	Board           Type = "board"
	Inflatable      Type = "inflatable kayak"
	InflatableCanoe Type = "inflatable canoe"
)

// Types lists every type in the order in which pages show them.
var Types = []Type{Canoe, SitInside, SitOnTop, Board, Inflatable, InflatableCanoe}

// WithArticle names one boat of the type in a sentence: "an inflatable kayak".
func (t Type) WithArticle() string {
	if t == Inflatable || t == InflatableCanoe {
		return "an " + string(t)
	}
	return "a " + string(t)
}

// Material is what a hull is made of.
type Material string

// The hull materials that look-over and repair know.
const (
	Rotomoulded Material = "rotomoulded polyethylene"
	CrossLinked Material = "cross-linked polyethylene"
	ABSSandwich Material = "ABS sandwich"
	Composite   Material = "fibreglass or other composite"
	PVC         Material = "inflatable PVC or drop-stitch"
	Wood        Material = "wood or wood and canvas"
	Aluminium   Material = "aluminium"
)

// Materials lists every material in the order in which pages show them.
var Materials = []Material{Rotomoulded, CrossLinked, ABSSandwich, Composite, PVC, Wood, Aluminium}

// Zone is a place along the boat, from bow to stern.
type Zone string

// Zones lists the places along the boat.
var Zones = []Zone{"bow", "forward", "amid", "aft", "stern"}

// Side is port, starboard or the centreline.
type Side string

// Sides lists the sides.
var Sides = []Side{"port", "centreline", "starboard"}

// Face says whether a finding is seen from outside or from inside.
type Face string

// Faces lists the faces.
var Faces = []Face{"outside", "inside"}

// Part is a named part of a boat.
type Part string

// Parts lists the parts on which a finding can sit.
var Parts = []Part{
	"hull", "deck", "keel line", "chine", "stem", "gunwale", "thwart", "yoke", "seat", "seat mount", "rib", "plank",
	"coaming", "cockpit", "hatch", "hatch rim", "bulkhead", "scupper", "tank well", "drain plug", "carry toggle",
	"deck line", "bungee", "skeg", "rudder", "foot brace", "foam pillar", "flotation", "seam", "fin box", "valve",
	"D-ring", "deck pad", "rivet", "hull number",
}

// Defect is the kind of thing found.
type Defect string

// Defects lists the kinds of finding. Which of them a material can have is the
// business of the look-over.
var Defects = []Defect{
	"abrasion", "gouge", "crack", "split seam", "hole", "dent", "brittleness", "chalking", "soft spot", "delamination",
	"crazing", "rot", "corrosion", "loose", "leaking", "perished", "missing", "worn", "altered",
}

// Severity says what to do about a finding; its words are the instruction.
type Severity string

// The four severities, mildest first.
const (
	Use        Severity = "use"
	Watch      Severity = "watch"
	MendBefore Severity = "mend before use"
	DoNotUse   Severity = "do not use"
)

// Severities lists the severities, mildest first.
var Severities = []Severity{Use, Watch, MendBefore, DoNotUse}

// Grade is the overall condition of a boat on a scale of five whole numbers:
// 1 for parts only, 2 poor, 3 used but sound, 4 good, 5 hardly used. The scale
// is the club's own.
type Grade int

// Feature is something a boat has, or the workshop can add, that meets a
// functional need of the people in it. Needs are asked as features, never as
// the reason for them.
type Feature string

// Features lists the features, with the trade's plain words.
var Features = []Feature{
	"wide cockpit", "high seat back", "outriggers can be fitted", "low deck for getting in", "floor space for a dog",
	"steady for standing", "second seat for a helper", "grip aids can be fitted", "open floor to sit low or move over to",
}

// Known refuses a word that is not in a list, naming the field and the choices.
func Known[W ~string](field string, word W, list []W) error {
	if slices.Contains(list, word) {
		return nil
	}
	if word == "" {
		return fault.Field(field, "choose one of: %s", join(list))
	}
	return fault.Field(field, "%q is not one of: %s", string(word), join(list))
}

func join[W ~string](list []W) string {
	text := ""
	for i, w := range list {
		if i > 0 {
			text += ", "
		}
		text += string(w)
	}
	return text
}
