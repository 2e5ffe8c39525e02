package jackets

import (
	"slices"

	"refloat.example/pkg/fault"
)

// Sort is how a wearable jacket floats.
type Sort string

// The two sorts. One that has foam and chambers is judged as either, and passes
// only when it passes as both.
const (
	Foam       Sort = "foam"
	Inflatable Sort = "inflatable"
)

// Sorts lists the sorts in the order in which pages show them.
var Sorts = []Sort{Foam, Inflatable}

// Answer is what somebody says to a check.
type Answer string

// The answers. What was not answered could not be checked.
const (
	Holds          Answer = "in order"
	Fails          Answer = "fails"
	CouldNotBeSeen Answer = "could not be checked"
)

// Answers lists the answers in the order in which pages show them.
var Answers = []Answer{Holds, Fails, CouldNotBeSeen}

// Check is one condition of a serviceable jacket.
type Check struct {
	// ID stands in events for ever.
	ID string
	// Fails is what a jacket has that fails.
	Fails string
	// How is how to look. Common practice, no source.
	How string
	// Source is the rule.
	Source string
}

// Checks gives the conditions for a sort of jacket, in the order in which a
// person meets them.
//
// Source: 33 CFR 175.23 (a), for all, (b), with inherently buoyant material, and
// (c), inflatable; 33 CFR 175.21 for the approval number. Paragraphs inside them
// are named where they are known for sure.
func Checks(s Sort) []Check {
	switch s {
	case Foam:
		return slices.Concat(ofAll, ofFoam)
	case Inflatable:
		return slices.Concat(ofAll, ofInflatable)
	}
	return nil
}

var ofAll = []Check{
	{"label", "The approval number cannot be read.", "Find the label inside. A faded one counts as none.", "33 CFR 175.21"},
	{"hardware", "A buckle, zip or other fastening is broken, bent or weakened by rust.", "Close and pull each one.", "33 CFR 175.23(a)"},
	{"straps", "A strap is ripped, torn or off at one end.", "Pull each strap at both ends.", "33 CFR 175.23(a)(2)"},
	{"rot", "A part that holds it together is rotten and gives way when tugged.", "Tug at seams, loops and shoulders, hard.", "33 CFR 175.23(a)"},
}

var ofFoam = []Check{
	{"fabric", "The cloth has a rip, tear or open seam large enough to let foam out.", "Turn it over and open every fold.", "33 CFR 175.23(b)"},
	{"foam", "The foam is hard, stays pressed flat, or is full of water, oil, fungus or mildew.", "Squeeze it: it should come back at once. Weigh it in the hand: it should be light. Smell it.", "33 CFR 175.23(b)(2)"},
	{"foam-lost", "Foam is missing, or slides about inside.", "Feel along each panel from the outside.", "33 CFR 175.23(b)"},
}

var ofInflatable = []Check{
	{"armed", "The mechanism is not armed, its cartridge is not full, or an indicator does not say that it is armed.", "By its manual: unscrew the cartridge and weigh it against the mass stamped on it.", "33 CFR 175.23(c)"},
	{"chambers", "A chamber does not hold air.", "Blow it up by mouth and leave it overnight.", "33 CFR 175.23(c)"},
	{"tube", "The tube for the mouth is blocked, off or broken.", "Blow and let out through it.", "33 CFR 175.23(c)"},
	{"lanyard", "The lanyard or lever is missing, broken or out of reach.", "Put it on and reach for it; do not pull.", "33 CFR 175.23(c)"},
	{"indicators", "An indicator is broken or does not work.", "Hold it against the picture in the manual.", "33 CFR 175.23(c)"},
}

// Verdict is what a check of a jacket comes to.
type Verdict struct {
	// Serviceable holds when every condition was looked at and is in order. It is
	// true of that day only, and says nothing of the size for a person.
	Serviceable bool
	Failing     []string // ids of checks, in their order
	Unchecked   []string // those that could not be checked or were not answered
}

// Judge holds the answers to the checks of a sort, by their ids, against the
// conditions. Faults name sort, or answers for a check that the sort has not.
func Judge(s Sort, answers map[string]Answer) (Verdict, error) {
	checks := Checks(s)
	if checks == nil {
		return Verdict{}, fault.Field("sort", "must be foam or inflatable")
	}
	var v Verdict
	answered := 0
	for _, c := range checks {
		a, there := answers[c.ID]
		if there {
			answered++
		}
		switch a {
		case Holds:
		case Fails:
			v.Failing = append(v.Failing, c.ID)
		case CouldNotBeSeen, "":
			v.Unchecked = append(v.Unchecked, c.ID)
		default:
			return Verdict{}, fault.Field("answers", "the answer to %s must be one of: in order, fails, could not be checked", c.ID)
		}
	}
	if answered < len(answers) {
		return Verdict{}, fault.Field("answers", "answer the checks of %s jackets alone", s)
	}
	v.Serviceable = len(v.Failing)+len(v.Unchecked) == 0
	return v, nil
}

// FindCheck gives a check by its id.
func FindCheck(id string) (Check, bool) {
	for _, list := range [][]Check{ofAll, ofFoam, ofInflatable} {
		if i := slices.IndexFunc(list, func(c Check) bool { return c.ID == id }); i >= 0 {
			return list[i], true
		}
	}
	return Check{}, false
}
