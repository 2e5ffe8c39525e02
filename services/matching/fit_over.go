package matching

import "refloat.example/pkg/lift"

// By how much a boat that does not fit misses the limit of a rule.

func inDays(n int) string { return plural(n, "day", "days") }

func inSeats(n int) string { return plural(n, "seat", "seats") }

func overDrying(m match) int {
	return m.craft.quarantine.DaysSince(m.club.today)
}

func overSeats(m match) int {
	return len(m.ask.wish.Adults) + len(m.ask.wish.Children) - m.craft.facts.Seats
}

func overLoad(m match) int {
	load, _ := m.load()
	limit, _ := m.craft.capacity(m.club.loadPercent)
	return load - limit.most
}

func overFreeboard(m match) int {
	load, _ := m.load()
	left, _ := freeboardOf(m.craft.facts, load)
	return int(freeboardNeeded(m.craft.facts.Type) - left)
}

func overCarry(m match) int {
	each, _, err := m.each()
	if err != nil {
		return 0
	}
	c, err := lift.Carry(float64(m.craft.facts.MassG)/1000, 0, each)
	if err != nil {
		return 0
	}
	lifted := c.Total
	if m.ask.wish.HasCart {
		lifted = c.EndLift
	}
	return int(1000 * (lifted - c.TeamLimit[min(m.ask.wish.Carriers, largestTeam)-1]))
}

func overRoof(m match) int {
	return m.craft.facts.MassG + m.beside + m.ask.wish.RackG - m.ask.wish.RoofLoadG
}

func overStorage(m match) int {
	return m.craft.facts.LengthMM - m.ask.wish.StorageMM
}
