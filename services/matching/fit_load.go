package matching

import (
	"fmt"
	"math"

	"refloat.example/pkg/float"
	"refloat.example/pkg/message"
)

const (
	// animalPercent is an animal with a wet coat and its jacket. Common practice,
	// no source.
	animalPercent = 110
	// estimatePercent is the part of a limit up to which the club trusts its own
	// estimate of a rated load. The club's own rule.
	estimatePercent = 80
	// formPercent is the same for a payload reckoned from the hull's form, of
	// which only length and beam are known. The club's own rule.
	formPercent = 50
	// block is the low end of published sheets of touring kayaks (0.417 to 0.445);
	// canoes are a little fuller.
	block = 0.42
	// Draughts, in m, that one builder of canoes allows for one and for two
	// people: 4 and 5 inches.
	soloDraught, tandemDraught = 0.1016, 0.127
)

// load is what would be in the boat, in grams, as far as it is stated; missing
// counts the people of whom it is not.
func (m match) load() (grams, missing int) {
	w := m.ask.wish
	for _, people := range [][]message.Paddler{w.Adults, w.Children} {
		for _, p := range people {
			grams += p.MassG
			if p.MassG == 0 {
				missing++
			}
		}
	}
	for _, animal := range w.AnimalsG {
		grams += animal * animalPercent / 100
	}
	return grams + m.gear(), missing
}

func (m match) gear() int {
	if m.ask.wish.GearG > 0 {
		return m.ask.wish.GearG
	}
	return m.club.gearG
}

// capacity is how far a boat may be loaded, in grams: up to sure it fits, above
// most it does not, and between somebody has to look.
type capacity struct {
	sure, most int
	words      func() string
}

// capacity gives false when nothing at all is known.
func (c craft) capacity(percent int) (capacity, bool) {
	f := c.facts
	share := f.RatedLoadG * percent / 100
	switch {
	case f.RatedLoadG > 0 && f.RatedSource == "club's estimate":
		return capacity{share * estimatePercent / 100, share, func() string {
			return fmt.Sprintf("%d %% of the %s that the club estimates, less a margin", percent, kg(f.RatedLoadG))
		}}, true
	case f.RatedLoadG > 0:
		return capacity{share, share, func() string { return fmt.Sprintf("the club's %d %% of the rated %s", percent, kg(f.RatedLoadG)) }}, true
	}
	payload, ok := payloadOf(f)
	return capacity{payload * percent / 100 * formPercent / 100, math.MaxInt, func() string {
		return fmt.Sprintf("%d %% of a payload of about %s reckoned from length and beam, less a margin", percent, kg(payload))
	}}, ok
}

// payloadOf reckons, in whole kilograms as grams, what a displacement hull of
// unknown form carries in fresh water. The form of boards and inflatables is too
// different.
func payloadOf(f message.BoatFacts) (grams int, ok bool) {
	if !hasForm(f) || f.LengthMM == 0 || f.BeamMM == 0 || f.MassG == 0 {
		return 0, false
	}
	draught := soloDraught
	if f.Seats > 1 {
		draught = tandemDraught
	}
	form := float.Hull{Length: float64(f.LengthMM) / 1000, Beam: float64(f.BeamMM) / 1000, Draught: draught, Block: block}
	payload := form.Displacement(float.Fresh) - float64(f.MassG)/1000
	return 1000 * int(max(0, payload)), true
}

func judgeLoad(m match) (answer, string) {
	load, missing := m.load()
	limit, known := m.craft.capacity(m.club.loadPercent)
	words := ""
	if known && !m.quiet {
		words = limit.words()
	}
	switch {
	case !known:
		return asks, "The boat's rated load is not known; look for the maker's label or paper."
	case load > limit.most:
		return not, m.say("%s of people, animals and gear is more than %s, which is %s.", kg(load), kg(limit.most), words)
	case missing > 0:
		return asks, m.say("%s stated; ask for the mass of %s. The limit is %s, %s.", kg(load), plural(missing, "person", "persons"), kg(limit.sure), words)
	case load > limit.sure:
		return asks, m.say("%s of people, animals and gear is more than %s, which is %s; look for the maker's figure.", kg(load), kg(limit.sure), words)
	}
	return fits, m.say("%s of people, animals and gear is within %s, which is %s.", kg(load), kg(limit.sure), words)
}
