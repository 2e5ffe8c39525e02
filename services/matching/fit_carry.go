package matching

import (
	"fmt"
	"sync"

	"refloat.example/pkg/lift"
)

// levelCarry is a boat held at the hip by its carry toggles: hands 40 cm in front
// of the ankles and 75 cm high, hardly lifted any further, now and then. That a
// moulded toggle is a fair coupling is our proposal.
var levelCarry = lift.Task{Units: lift.Metric, Horizontal: 40, Vertical: 75, Distance: 25, PerMinute: 0.2, Hours: 1, Coupling: lift.Fair}

// ofLevelCarry is evaluated once.
var ofLevelCarry = sync.OnceValues(func() (lift.Result, error) { return lift.Evaluate(levelCarry) })

// largestTeam is the largest that the guidance has a factor for; more people do
// not carry more by it.
const largestTeam = 3

// each gives what one person is reckoned to lift, in kg, and says whose figure
// it is.
func (m match) each() (limit float64, whose string, err error) {
	if stated := m.ask.wish.EachLiftsG; stated > 0 {
		return float64(stated) / 1000, "as stated", nil
	}
	task, err := ofLevelCarry()
	return task.RWL, "by the NIOSH equation, which is for two hands, a level load and good footing, not for a walk or a wet ramp", err
}

func judgeCarry(m match) (answer, string) {
	w, mass := m.ask.wish, m.craft.facts.MassG
	if mass == 0 {
		return asks, "The boat's mass has not been noted; weigh it."
	}
	if w.Carriers == 0 {
		return asks, m.say("The boat weighs %s; ask who carries it.", kg(mass))
	}
	each, whose, err := m.each()
	if err != nil {
		return asks, "What one person may lift cannot be reckoned: " + err.Error() + "."
	}
	c, err := lift.Carry(float64(mass)/1000, 0, each)
	if err != nil {
		return asks, "The carry cannot be reckoned: " + err.Error() + "."
	}
	return judgeTeam(m, c, m.say("%.1f kg a person %s", each, whose))
}

// judgeTeam compares the boat with what its carriers may carry together, and
// with a cart what they lift at one end.
func judgeTeam(m match, c lift.Carrying, each string) (answer, string) {
	w := m.ask.wish
	limit := c.TeamLimit[min(w.Carriers, largestTeam)-1]
	switch {
	case c.Total <= limit:
		return fits, m.say("The boat weighs %s, and %d may carry %.1f kg (%s).", kg(m.craft.facts.MassG), w.Carriers, limit, each)
	case w.HasCart && c.EndLift <= limit:
		return fits, m.say("On a cart one end is lifted at a time, %.1f kg, and %d may lift %.1f kg (%s).", c.EndLift, w.Carriers, limit, each)
	case w.HasCart && w.EachLiftsG > 0:
		return not, m.say("Even on a cart one end is %.1f kg, and %d may lift %.1f kg (%s).", c.EndLift, w.Carriers, limit, each)
	case w.EachLiftsG > 0:
		return not, m.say("The boat weighs %s, and %d may carry %.1f kg (%s); a cart would help.", kg(m.craft.facts.MassG), w.Carriers, limit, each)
	}
	return asks, m.say("The boat weighs %s, and %d may carry %.1f kg (%s); ask what each can lift, and for a cart.", kg(m.craft.facts.MassG), w.Carriers, limit, each)
}

func judgeRoof(m match) (answer, string) {
	w, mass := m.ask.wish, m.craft.facts.MassG
	switch {
	case w.Transport == noCar:
		return fits, "There is no car; how the boat gets home is agreed with the club."
	case packs(m.craft.facts.Type):
		return fits, "The boat packs small and goes inside."
	case w.Transport == byTrailer:
		return fits, "On a trailer; its plate says what it may carry."
	case mass == 0:
		return asks, "The boat's mass has not been noted; weigh it."
	case w.RoofLoadG == 0:
		return asks, m.say("The boat weighs %s; ask for the roof limit in the vehicle's handbook.", kg(mass))
	case m.beside > 0:
		return judgeTwoOnRoof(m)
	case mass+w.RackG > w.RoofLoadG:
		return not, m.say("Boat %s and rack %s are more than the roof's %s.", kg(mass), kg(w.RackG), kg(w.RoofLoadG))
	case w.RackG == 0:
		return asks, m.say("The boat weighs %s and the roof takes %s; ask for the rack's mass, which counts.", kg(mass), kg(w.RoofLoadG))
	}
	return fits, m.say("Boat %s and rack %s are within the roof's %s.%s", kg(mass), kg(w.RackG), kg(w.RoofLoadG), overhang(m.craft.facts.LengthMM, w.VehicleMM))
}

// judgeTwoOnRoof is for two boats that lie on one roof.
func judgeTwoOnRoof(m match) (answer, string) {
	w, both := m.ask.wish, m.craft.facts.MassG+m.beside
	switch {
	case both+w.RackG > w.RoofLoadG:
		return not, m.say("Both boats %s and rack %s are more than the roof's %s.", kg(both), kg(w.RackG), kg(w.RoofLoadG))
	case w.RackG == 0:
		return asks, m.say("Both boats weigh %s and the roof takes %s; ask for the rack's mass, which counts.", kg(both), kg(w.RoofLoadG))
	}
	return fits, m.say("Both boats %s and rack %s are within the roof's %s.%s", kg(both), kg(w.RackG), kg(w.RoofLoadG), overhang(m.craft.facts.LengthMM, w.VehicleMM))
}

// From how far a load sticks out something is asked for, in mm. One metre: the
// United Kingdom's guidance on overhanging loads. Four feet: many of the United
// States (three in some; from memory).
const (
	markedFrom = 1000
	flagFrom   = 1219
)

// overhang is a notice and no rule: how far a boat that lies in the middle sticks
// out, and from where on somebody may want it marked. It begins with a space.
func overhang(lengthMM, vehicleMM int) string {
	out := (lengthMM - vehicleMM) / 2
	switch {
	case lengthMM == 0 || vehicleMM == 0:
		return " Measure how far the boat sticks out at the rear: from 1 m on many places want it marked."
	case out >= flagFrom:
		return fmt.Sprintf(" In the middle of the car it sticks out by about %s at each end. Mark it well: many of the United States want a red flag. Look up the local law.", metres(out))
	case out >= markedFrom:
		return fmt.Sprintf(" In the middle of the car it sticks out by about %s at each end. Mark the end so that it is seen. Look up the local law.", metres(out))
	}
	return ""
}
