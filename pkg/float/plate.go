package float

import "math"

// Plate is what 33 CFR 183.43 allows aboard a boat with manual propulsion.
type Plate struct {
	PersonsPounds float64 // at most, in lb
	PersonsExact  float64 // before rounding
	Persons       int     // whole persons
}

// PlateFor computes persons from the maximum weight capacity in lb (33 CFR
// 183.43): nine tenths of it in pounds, and (pounds + 32) / 141 heads, halves
// rounded up. Canoes, kayaks, inflatables and sailboats carry no such plate, so
// for them it is a sanity check and nothing more.
func PlateFor(maxWeight float64) Plate {
	pounds := maxWeight * 9 / 10
	exact := (pounds + 32) / 141
	return Plate{pounds, exact, int(math.Floor(exact + 0.5))}
}
