package matching

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/float"
	"refloat.example/pkg/message"
)

const (
	// waterplane is the low end of published sheets of touring kayaks (0.613 to
	// 0.648); canoes are a little fuller.
	waterplane = 0.61
	// Freeboards, in mm. A kayak's is ABYC H-29, quoted at second hand: 2.5 inches
	// to the lowest place where water comes in. A canoe's is common practice: 6
	// inches.
	kayakFreeboard, canoeFreeboard = 63.5, 152.4
	// freeboardDoubt is how far an estimate from length and beam is trusted, in mm:
	// an inch. The club's own rule.
	freeboardDoubt = 25.4
	// millimetresACentimetre turns cm into mm.
	millimetresACentimetre = 10
)

// madeByMaker says whether the rated load is the maker's figure.
func madeByMaker(f message.BoatFacts) bool {
	return f.RatedLoadG > 0 && f.RatedSource != "club's estimate"
}

// hasForm says whether a hull floats by the usual formulas: boards and inflatables
// do not.
func hasForm(f message.BoatFacts) bool {
	return f.Type == boat.Canoe || f.Type == boat.SitInside || f.Type == boat.SitOnTop
}

// sinkage is by how many mm a load, in grams, sinks a hull, by estimate from length
// and beam; false when they are not known.
func sinkage(f message.BoatFacts, grams int) (mm float64, known bool) {
	if !hasForm(f) || f.LengthMM == 0 || f.BeamMM == 0 {
		return 0, false
	}
	plane := waterplane * float64(f.LengthMM) / 1000 * float64(f.BeamMM) / 1000
	return float64(grams) / 1000 / float.KgPerCm(plane, float.Fresh) * millimetresACentimetre, true
}

// freeboardOf is what is left, in mm, of the depth amidships under the boat's own
// mass and a load in grams, by estimate; false when a measure is missing.
func freeboardOf(f message.BoatFacts, grams int) (mm float64, known bool) {
	if !hasForm(f) || f.LengthMM == 0 || f.BeamMM == 0 || f.DepthMM == 0 || f.MassG == 0 {
		return 0, false
	}
	aMetreDeep := float.Hull{Length: float64(f.LengthMM) / 1000, Beam: float64(f.BeamMM) / 1000, Draught: 1, Block: block}
	draught := float64(f.MassG+grams) / aMetreDeep.Displacement(float.Fresh) // g per kg a metre: mm
	return float64(f.DepthMM) - draught, true
}

// freeboardNeeded gives the least freeboard, in mm, that is wanted.
func freeboardNeeded(t boat.Type) float64 {
	if t == boat.Canoe {
		return canoeFreeboard
	}
	return kayakFreeboard
}

// judgeFreeboard leaves a boat that the maker has rated to the rating, and says by
// how much the load sinks it. A board or an inflatable has no measures to reckon
// from, so that the club's estimate stands, which judgeLoad holds at a margin.
func judgeFreeboard(m match) (answer, string) {
	f := m.craft.facts
	load, missing := m.load()
	sinks, known := sinkage(f, load)
	if madeByMaker(f) {
		text := "The maker's rated load stands for the freeboard."
		if known {
			text = m.say("The maker's rated load stands for the freeboard; %s sinks the boat by about %.0f cm (estimate).", kg(load), sinks/millimetresACentimetre)
		}
		return fits, text
	}
	if !hasForm(f) {
		if f.RatedLoadG > 0 {
			return fits, "Freeboard of a board or an inflatable cannot be reckoned; the club's estimate of its rated load stands, and the rule on load leaves a margin."
		}
		return asks, "Freeboard of a board or an inflatable cannot be reckoned, and no rated load is known; look for the maker's rating."
	}
	left, known := freeboardOf(f, load)
	if !known {
		return asks, "No maker's rating is known, and not all of length, beam, depth and mass; measure them."
	}
	need := freeboardNeeded(f.Type)
	numbers := m.say("about %.0f cm of freeboard left under %s by estimate, and %.0f cm wanted", left/millimetresACentimetre, kg(load), need/millimetresACentimetre)
	switch {
	case left < need:
		return not, m.say("Too deep: %s.", numbers)
	case missing > 0:
		return asks, m.say("Ask for the mass of %s: %s.", plural(missing, "person", "persons"), numbers)
	case left < need+freeboardDoubt:
		return asks, m.say("Too near for an estimate, try it with the people aboard: %s.", numbers)
	}
	return fits, m.say("Enough freeboard: %s.", numbers)
}

// judgeSeat looks at the heaviest person, because where the others sit cannot be
// told.
func judgeSeat(m match) (answer, string) {
	f, w := m.craft.facts, m.ask.wish
	heaviest, missing := 0, 0
	for _, people := range [][]message.Paddler{w.Adults, w.Children} {
		for _, p := range people {
			heaviest = max(heaviest, p.MassG)
			if p.MassG == 0 {
				missing++
			}
		}
	}
	limit, whose := f.SeatLimitG, "by the seat's label"
	if limit == 0 {
		rated, known := m.craft.capacity(100)
		if !known || f.Seats == 0 {
			return asks, "What one seat holds cannot be told: no seat's label, and no rated load to share among seats."
		}
		limit, whose = rated.sure/f.Seats, "an even share of what the boat carries"
	}
	switch {
	case heaviest > limit && f.SeatLimitG > 0:
		return not, m.say("A person of %s is more than one seat holds: %s, %s.", kg(heaviest), kg(limit), whose)
	case heaviest > limit:
		return asks, m.say("A person of %s is more than %s, %s; try how the boat lies with everybody aboard.", kg(heaviest), kg(limit), whose)
	case missing > 0:
		return asks, m.say("Ask for the mass of %s; one seat holds %s, %s.", plural(missing, "person", "persons"), kg(limit), whose)
	}
	return fits, m.say("The heaviest person is %s, and one seat holds %s, %s.", kg(heaviest), kg(limit), whose)
}
