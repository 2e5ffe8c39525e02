package guide

import (
	"fmt"

	"refloat.example/pkg/boat"
)

// Storage is how a boat lay before it was lifted.
type Storage string

// The ways in which a boat lay.
const (
	DryStored  Storage = "dry under a roof"
	RainedOn   Storage = "out in the rain"
	FromWater  Storage = "just out of the water"
	UnknownLay Storage = "not known"
)

// Storages lists them in the order in which pages show them.
var Storages = []Storage{DryStored, RainedOn, FromWater, UnknownLay}

// Heft is how heavy a boat felt to somebody who could not weigh it.
type Heft string

// The three.
const (
	Lighter    Heft = "lighter than stated"
	AsExpected Heft = "as stated"
	Heavier    Heft = "heavier than stated"
)

// Hefts lists them.
var Hefts = []Heft{Lighter, AsExpected, Heavier}

// A LiftTest is what lifting and draining a boat showed. Masses are grams, water
// is millilitres; 0 means not weighed, no water.
type LiftTest struct {
	Lay     Storage
	WeighsG int // end by end, drained
	Feels   Heft
	StatedG int // the maker's
	WaterML int
}

// The bounds of what the test says, of common practice, no source.
const (
	littleWaterML = 1000
	// moreThanStated is how far above the maker's number a boat has to weigh for
	// that to say something: makers' numbers are without seats and fittings as
	// often as with them.
	moreThanStated = 10 // per cent
)

// Says tells what the test is evidence of, and of what it is none. Common
// practice, no source.
func (l LiftTest) Says() []string {
	return append(l.water(), l.mass()...)
}

func (l LiftTest) water() []string {
	wet := l.Lay == RainedOn || l.Lay == FromWater
	switch {
	case l.WaterML > littleWaterML && l.Lay == DryStored:
		return []string{fmt.Sprintf("%s ran out of a boat that lay dry: it has been in there for long. Find where it came in, and look at everything that stood in it.", litres(l.WaterML))}
	case l.WaterML > littleWaterML:
		return []string{fmt.Sprintf("%s ran out. Rain through an open cockpit or hatch would do that, and so would a hole: look for the way in.", litres(l.WaterML))}
	case wet:
		return []string{fmt.Sprintf("%s, though it lay %s: that is evidence against a hole. It is none against a crack that does not go through, and such a crack goes through later.", little(l.WaterML), l.Lay)}
	}
	return []string{fmt.Sprintf("%s in a boat that lay %s: that is evidence of nothing. No water stood there to come in.", little(l.WaterML), layWords(l.Lay))}
}

func (l LiftTest) mass() []string {
	more := l.WeighsG - l.StatedG
	switch {
	case l.StatedG == 0:
		return []string{"The maker's mass is not known, so its weight says nothing yet."}
	case l.WeighsG == 0 && l.Feels == Heavier:
		return []string{"It felt heavier than the maker states. Weigh it: feeling is a reason to, not a number."}
	case l.WeighsG == 0:
		return []string{"It was not weighed, and a feeling tells little: water in foam or between two skins is noticed late."}
	case more*100 > l.StatedG*moreThanStated:
		return []string{fmt.Sprintf("Drained, it weighs %s more than the maker states (%s). Fittings that were added may explain that; water in the foam, between two skins or in a closed end may, too.", kilograms(more), kilograms(l.StatedG))}
	}
	return []string{"Drained, it weighs about what the maker states: that is evidence against water in foam or in a closed end, and says nothing of cracks."}
}

func little(ml int) string {
	if ml == 0 {
		return "No water ran out"
	}
	return "Little water ran out, " + litres(ml)
}

func layWords(s Storage) string {
	if s == DryStored {
		return string(s)
	}
	return "nobody knows how"
}

func litres(ml int) string   { return fmt.Sprintf("%.1f litres", float64(ml)/1000) }
func kilograms(g int) string { return fmt.Sprintf("%.1f kg", float64(g)/1000) }

// Gamble says why an offer on a boat is a gamble while its look-over is
// provisional. Common practice, no source.
func Gamble(m boat.Material) string {
	return "An offer on it is a gamble: mud, water and straps hide just those cracks that cost most, and a price that was named is hard to take back. " + hides(m)
}

// hides says what dirt and water hide on a material.
func hides(m boat.Material) string {
	switch m {
	case boat.Rotomoulded, boat.CrossLinked:
		return "On polyethylene a crack that does not go through shows only on a clean, dry hull that is flexed."
	case boat.ABSSandwich:
		return "On ABS a crack of both skins and a bubble of the skin show only on a clean hull that is pressed."
	case boat.Composite:
		return "On a laminate the white zone of a blow shows only inside, dry and in the light."
	case boat.PVC:
		return "On coated fabric a lifting seam and a slow leak show only clean and pumped up for hours."
	case boat.Wood:
		return "On wood wet grain looks alike whether it is sound or rotten."
	case boat.Aluminium:
		return "On metal pits and leaking rivets hide under mud and foam."
	}
	return ""
}
