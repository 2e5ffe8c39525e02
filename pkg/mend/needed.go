package mend

import (
	"slices"

	"refloat.example/pkg/boat"
)

// Test is a kind of test that a boat passes before it may go out. The words stand
// in events for ever.
type Test string

// The tests.
const (
	Leak      Test = "leak"
	Load      Test = "load"
	Fittings  Test = "fittings"
	Flotation Test = "flotation"
	Pressure  Test = "pressure"
	Valves    Test = "valves"
)

// Tests lists the tests in the order in which they are made.
var Tests = []Test{Leak, Load, Fittings, Flotation, Pressure, Valves}

// Waivable says whether an administrator may do without a test. Nobody does
// without those that say whether a boat floats and carries; of a hull that floats
// on air, pressure is the one that says so.
func Waivable(t Test) bool { return t == Fittings || t == Valves }

// Boat is what the tests follow from.
type Boat struct {
	Type     boat.Type
	Material boat.Material
	// Found are the findings that stand; Mended those of them that were ended by
	// work on the boat.
	Found, Mended []Finding
}

// Need is a test that a boat needs, with the reasons.
type Need struct {
	Test    Test
	Because string
	Mark    Mark // of the first reason
}

type rule struct {
	test    Test
	because string
	mark    Mark
	holds   func(b Boat) bool
}

// rules lists why tests are needed, in the order of Tests.
var rules = []rule{
	{Leak, "its shell keeps the water out", Practice, func(b Boat) bool { return b.Material != boat.PVC }},
	{Load, "a part that carries load was worked on", Practice, func(b Boat) bool {
		return slices.ContainsFunc(b.Mended, func(f Finding) bool { return f.LoadBearing })
	}},
	{Fittings, "a fitting was worked on", Practice, func(b Boat) bool {
		return slices.ContainsFunc(b.Mended, func(f Finding) bool { return isFitting(f.Part) })
	}},
	{Flotation, "bulkheads, foam or bags keep a sit-inside kayak up when it is full of water", Guides, func(b Boat) bool {
		return b.Type == boat.SitInside && b.Material != boat.PVC
	}},
	{Flotation, "tanks or foam keep a canoe of this material up when it is full of water", Memory, func(b Boat) bool {
		return b.Type == boat.Canoe && (b.Material == boat.Composite || b.Material == boat.Aluminium)
	}},
	{Flotation, "something was found on what keeps it afloat", Guides, func(b Boat) bool {
		return slices.ContainsFunc(b.Found, func(f Finding) bool { return keepsAfloat(f.Part) })
	}},
	{Pressure, "it floats on air", Practice, func(b Boat) bool { return b.Material == boat.PVC }},
	{Valves, "a valve was worked on", Practice, func(b Boat) bool {
		return slices.ContainsFunc(b.Mended, func(f Finding) bool { return f.Part == "valve" })
	}},
}

func keepsAfloat(p boat.Part) bool {
	return p == "bulkhead" || p == "foam pillar" || p == "flotation"
}

func isFitting(p boat.Part) bool {
	return !p.OfHull() && !keepsAfloat(p) && p != "hull number" && p != "valve"
}

// Needed gives the tests that a boat needs.
func Needed(b Boat) []Need {
	var needs []Need
	for _, r := range rules {
		if !r.holds(b) {
			continue
		}
		if last := len(needs) - 1; last >= 0 && needs[last].Test == r.test {
			needs[last].Because += "; " + r.because
			continue
		}
		needs = append(needs, Need{r.test, r.because, r.mark})
	}
	return needs
}

// Trial is how a test is made.
type Trial struct {
	Test Test
	// How says it in steps; Cautions what can hurt somebody; Passes when it is
	// passed.
	How, Cautions []string
	Passes        string
	// Least is the shortest time that counts, in minutes. LoadOf and PressureOf:
	// how much is to be stated, too.
	Least              int
	LoadOf, PressureOf bool
	Mark               Mark
}

// trials says how each test is made (common practice, no source, unless marked).
// No test asks for a person in or under a mended boat.
var trials = map[Test]Trial{
	Leak: {
		Test: Leak, Least: 20, Mark: Practice,
		How: []string{
			"Set the boat on stands that carry it over a wide face, level, and mark the mended places with chalk.",
			"Fill water in until it stands above the mended place, or set the boat afloat, tethered, with water bags as ballast up to where people would sit.",
			"Leave it for the time that you write down, at least 20 minutes, and look at every mended place from the dry side.",
		},
		Cautions: []string{
			"A litre of water weighs a kilogram: a bathtub full of it breaks stands, backs and hulls. Fill no more than you need, nobody stands or reaches under the boat, and let the water out before anybody lifts it.",
			"Afloat: on a line from the shore, nobody aboard, life jackets on, and never alone at cold water.",
		},
		Passes: "No water on the dry side after the time stated.",
	},
	Load: {
		Test: Load, Least: 5, LoadOf: true, Mark: Practice,
		How: []string{
			"Support the boat as the water would: on wide, padded stands or afloat on a line.",
			"Lay the load in as water bags or sand bags, spread over where it will sit, a little at a time, and listen after each.",
			"Stop at the share of the rated load that you write down, never above the maker's number, and leave it for the time that you write down, at least 5 minutes.",
		},
		Cautions: []string{
			"Never test a mended boat with a person first: bags cannot drown or break a leg.",
			"Nobody stands or reaches under a loaded boat; feet out of the way of bags; two people for every lift.",
		},
		Passes: "No crack, no new bend, nothing that moves, under load and after it.",
	},
	Fittings: {
		Test: Fittings, LoadOf: true, Mark: Practice,
		How: []string{
			"Pull every mended fitting in the direction in which it is used, steadily, with a strap and a luggage scale.",
			"Seats and foot braces: as much as a person leans on them. Toggles: as much as the boat weighs. Write the pull down.",
		},
		Cautions: []string{"Stand so that you do not fall when it comes off, with your face out of the line of pull, and wear eye protection."},
		Passes:   "Nothing moves, lifts or cracks around the fasteners.",
	},
	Flotation: {
		Test: Flotation, Mark: Guides,
		How: []string{
			"Look at bulkheads, foam and bags: present, sound, fastened so that they stay when the hull is full.",
			"In warm, shallow water, tethered and with nobody aboard, swamp the boat and see whether it floats level.",
		},
		Cautions: []string{
			"A swamped boat weighs hundreds of kilograms and moves: nobody between it and the shore or the dock, and drain it before anybody lifts it.",
			"Cold water takes the breath. Life jackets on, never alone.",
		},
		Passes: "It floats level, full of water, with flotation at both ends that stays where it is.",
	},
	Pressure: {
		Test: Pressure, Least: 60, PressureOf: true, Mark: Practice,
		How: []string{
			"Read the maker's rated pressure from the boat and write it down.",
			"Pump by hand with a gauge up to the rated pressure, never above it, in the shade.",
			"Wait for the time that you write down, at least an hour, at the same temperature, and read the gauge again.",
		},
		Cautions: []string{
			"Never pump above the maker's number, never with a compressor, and never leave it in the sun: air that warms bursts seams.",
			"Keep your face away from valves and seams under pressure.",
		},
		Passes: "The gauge reads the same again, as near as it can be read, at the same temperature.",
	},
	Valves: {
		Test: Valves, Least: 5, PressureOf: true, Mark: Practice,
		How: []string{
			"At the rated pressure, never above it, brush soapy water on valve and valve seat.",
			"Leave it for the time that you write down, at least 5 minutes, and brush again.",
		},
		Cautions: []string{"Keep your face away from a valve under pressure; let the air out before you work on it."},
		Passes:   "No bubbles grow in the time stated.",
	},
}

// TrialOf says how a test is made.
func TrialOf(t Test) Trial { return trials[t] }
