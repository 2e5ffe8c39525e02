package matching

import "refloat.example/pkg/lift"

// By how much a boat that does not fit misses the limit of a rule.

func overDrying(m match) (int, func(int) string) {
	return m.craft.quarantine.DaysSince(m.club.today), func(n int) string { return plural(n, "day", "days") }
}

func overSeats(m match) (int, func(int) string) {
	return len(m.ask.wish.Adults) + len(m.ask.wish.Children) - m.craft.facts.Seats, func(n int) string { return plural(n, "seat", "seats") }
}

func overLoad(m match) (int, func(int) string) {
	load, _ := m.load()
	limit, _ := m.craft.capacity(m.club.loadPercent)
	return load - limit.most, kg
}

func overFreeboard(m match) (int, func(int) string) {
	load, _ := m.load()
	left, _ := freeboardOf(m.craft.facts, load)
	need := canoeFreeboard
	if m.craft.facts.Type != "canoe" {
		need = kayakFreeboard
	}
	return int(need - left), metres
}

func overCarry(m match) (int, func(int) string) {
	each, _, err := m.each()
	if err != nil {
		return 0, kg
	}
	c, err := lift.Carry(float64(m.craft.facts.MassG)/1000, 0, each)
	if err != nil {
		return 0, kg
	}
	lifted := c.Total
	if m.ask.wish.HasCart {
		lifted = c.EndLift
	}
	return int(1000 * (lifted - c.TeamLimit[min(m.ask.wish.Carriers, largestTeam)-1])), kg
}

func overRoof(m match) (int, func(int) string) {
	return m.craft.facts.MassG + m.ask.wish.RackG - m.ask.wish.RoofLoadG, kg
}

func overStorage(m match) (int, func(int) string) {
	return m.craft.facts.LengthMM - m.ask.wish.StorageMM, metres
}
