package repair

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Bounds on what a test states, far beyond every boat.
const (
	mostTestMinutes = 30 * 24 * 60
	mostLoadG       = 2_000_000
	mostMbar        = 5_000
)

// goodNumbers wants what a passed test of the kind has to state, and never more
// than the maker's numbers. A failed one states what it can.
func goodNumbers(h *hull, c message.RecordTest) error {
	err := desk.First(
		desk.OneLine("how", c.How, desk.MaxLine),
		desk.Within("minutes", c.Minutes, 0, mostTestMinutes),
		desk.Within("load_g", c.LoadG, 0, mostLoadG),
		desk.Within("pressure_mbar", c.PressureMbar, 0, mostMbar),
		desk.Within("rated_mbar", c.RatedMbar, 0, mostMbar),
	)
	if c.LoadPercent != 0 {
		return fault.Field("load_percent", "is worked out from the load; leave it out")
	}
	if err != nil || !c.Passed {
		return err
	}
	return passable(h, c, mend.TrialOf(c.What))
}

// passable wants of a passed test what makes it one.
func passable(h *hull, c message.RecordTest, trial mend.Trial) error {
	switch {
	case c.Minutes < trial.Least:
		return fault.Field("minutes", "say for how many minutes; a %s test takes at least %d", c.What, trial.Least)
	case c.What == mend.Load && c.LoadG == 0:
		return fault.Field("load_g", "say how much was laid in")
	case c.What == mend.Load && h.shareOfRated(c.LoadG) > 100:
		return fault.Field("load_g", "is more than the maker rates the boat for, %.0f kg: never load above it", float64(h.facts.RatedLoadG)/1000)
	case trial.PressureOf && c.RatedMbar == 0:
		return fault.Field("rated_mbar", "read the maker's rated pressure from the boat and write it down")
	case trial.PressureOf && c.PressureMbar > c.RatedMbar:
		return fault.Field("pressure_mbar", "is above the maker's rated pressure: never pump above it")
	case c.What == mend.Pressure && c.PressureMbar*100 < c.RatedMbar*leastPressure:
		return fault.Field("pressure_mbar", "is less than %d %% of the rated pressure, at which the boat has to hold", leastPressure)
	case trial.PressureOf && c.PressureMbar == 0:
		return fault.Field("pressure_mbar", "say what the gauge read")
	}
	return nil
}

// leastPressure is how near to the rated pressure a test has to come, in per cent:
// as near as a hand pump's gauge can be read (common practice, no source).
const leastPressure = 90

// waive decides to let a boat go out without a test.
func (b *bench) waive(h *hull, c message.WaiveTest, by people.ID) (message.Body, error) {
	err := desk.First(
		h.isHere(b),
		boat.Known("what", c.What, mend.Tests),
		desk.Needed("why", c.Why, "say why the boat may do without it; the reason stands on every later paper"),
	)
	if err != nil {
		return nil, err
	}
	if !mend.Waivable(c.What) {
		return nil, fault.Field("what", "nobody can do without the %s test: it says whether the boat floats and carries", c.What)
	}
	for _, n := range b.needed(h) {
		if n.Test != c.What {
			continue
		}
		if b.lacks(n) == "" {
			return nil, desk.Conflict("what", "nothing is missing of the %s test", c.What)
		}
		return message.TestWaived{Boat: c.Boat, What: c.What, Why: c.Why, By: by}, nil
	}
	return nil, desk.Conflict("what", "%s needs no %s test", h.name, c.What)
}
