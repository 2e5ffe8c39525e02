package web

import (
	"fmt"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/lift"
)

// caution warns of work that can hurt somebody.
type caution struct {
	Title string
	Words []string
}

func always(list ...caution) func(*visit) []caution {
	return func(*visit) []caution { return list }
}

// The usual cautions (common practice, no source, unless one is named). They
// defer to labels, local rules and licensed practice, and so must the reader.
var (
	coldWater = caution{"cold water", []string{
		"Cold water takes the breath and then the strength, long before the body is cold. Wear a life jacket and clothes for the water's temperature, not the air's, and never test a boat alone.",
		"Water below 21 °C (70 °F) is to be treated with care (advice of the National Center for Cold Water Safety). Local rules and the jacket's label go before this page.",
	}}
	heat = caution{"heat and fire", []string{
		"Hot-air tools can set plastic, solvents and dust on fire. Keep an extinguisher at hand and solvents away, wear eye protection and gloves, and never heat PVC: its fumes are corrosive.",
	}}
	hotWater = caution{"hot water", []string{
		"Water at 60 °C scalds within seconds, and a high-pressure jet cuts skin: gloves, eye protection, nobody in front of the lance. It also softens polyethylene, which then warps under straps, and opens glued seams: contact for the time that is needed, no soak.",
	}}
	dirt = caution{"dirt, dust and animals", []string{
		"Wasps, spiders, snakes and mice live in stored hulls: look and tap before you reach in. Dry droppings and mould are not for breathing: wet them down, wear gloves and a mask made for fine dust, and air the boat first.",
		"Cleaning agents: never bleach together with acid or ammonia, gloves and eye protection, away from any water, and rinse on land. The label governs. A broken laminate leaves fibres: do not rub it with bare hands.",
	}}
	fumes = caution{"fumes, dust and resin", []string{
		"Work with resin, adhesive and solvent outdoors or under extraction, with gloves, and stop if your skin itches. Wear a dust mask made for fine dust when sanding, or sand wet.",
		"Mixed resin heats itself: spread it out. Rags with linseed oil can catch fire by themselves: put them into water or a closed metal bin. The maker's label and safety data sheet govern.",
	}}
)

// working warns of what repair work on a material can do.
func working(b *Boat) []caution {
	list := lifting(b)
	if b.Facts.Material == boat.Rotomoulded || b.Facts.Material == boat.ABSSandwich || b.Facts.Material == boat.PVC {
		list = append(list, heat)
	}
	return append(list, fumes)
}

// handLift is one person lifting one end of a boat by its toggle from a low rack
// to the waist: hands 40 cm in front of the ankles, from 30 cm to 100 cm, now
// and then for less than an hour. The numbers are the club's own picture of it.
var handLift = lift.Task{Units: lift.Metric, Horizontal: 40, Vertical: 30, Distance: 70, PerMinute: 0.2, Hours: 1, Coupling: lift.Fair}

// lifting says what a boat's mass asks of those who carry it. Water that was
// found in the hull counts.
func lifting(b *Boat) []caution {
	c := caution{Title: "lifting and carrying", Words: []string{
		"Carry with others or with a cart, empty the hull first, and say aloud before you lift. A wet ramp, wind and a twisted back are worse than the weight.",
	}}
	if b.Facts.MassG == 0 {
		c.Words = append(c.Words, "The mass of this boat is not known: weigh it before anybody lifts it alone.")
		return []caution{c}
	}
	limit, err := lift.Evaluate(handLift)
	if err != nil {
		return []caution{c}
	}
	hull, water := float64(b.Facts.MassG)/1000, float64(b.water())/1000
	carry, err := lift.Carry(hull, water, limit.RWL)
	if err != nil {
		return []caution{c}
	}
	index, _ := limit.Index(carry.EndLift)
	c.Words = append(c.Words, massWords(hull, water), fmt.Sprintf(
		"Lifting one end alone is about %.1f kg. For such a lift, from a low rack to the waist, now and then, the revised lifting equation (NIOSH publication 94-110, 2021) recommends at most %.1f kg; this one is %.1f times that. %s",
		carry.EndLift, limit.RWL, index, teamWords(carry.Team)),
		"The equation does not cover carrying, one hand, slippery ground, unsteady loads (water in a hull), heat or cold, and no number is a promise for anybody's back.")
	return []caution{c}
}

func massWords(hull, water float64) string {
	if water == 0 {
		return fmt.Sprintf("The hull weighs %.1f kg.", hull)
	}
	return fmt.Sprintf("The hull weighs %.1f kg, and %.1f litres of water were found in it.", hull, water)
}

// teamWords tells the number of people; the factors for teams are guidance of
// the Health and Safety Executive on the Manual Handling Operations Regulations
// 1992, applied to the equation's limit by the club.
func teamWords(team int) string {
	switch team {
	case 1:
		return "One person may carry it by this reckoning; two are better."
	case 2, 3:
		return fmt.Sprintf("By this reckoning it takes %d people to carry it.", team)
	}
	return "By this reckoning three people are too few to carry it: take a cart or more hands."
}

// water is what the newest finished look-over found in the hull, in millilitres.
func (b *Boat) water() int {
	for i := len(b.Looks) - 1; i >= 0; i-- {
		if b.Looks[i].Finished != nil {
			return b.Looks[i].Finished.WaterML
		}
	}
	return 0
}
