// Package cure says how the shop's temperature changes the times of resin: how
// long mixed epoxy stays workable, and how long it takes to hold.
//
// Source: the rule that epoxy makers publish: pot life doubles for each 18 °F
// (10 °C) that it is colder and halves for each 18 °F that it is warmer; their
// tables of full cure (5 days at 77 °F, 10 at 59 °F) follow it as well.
//
// It is a rule of thumb for a small cup near the temperatures of the label. A
// larger mass heats itself and goes off sooner, a thin film later: the same
// makers give only about a third more time for a thin film. The label of the
// product decides, for times, for the mix, and for gloves and air.
//
// How long wet wood, foam or a crack dries has no published rule by temperature:
// it is dry when it shows no damp any more.
package cure

import (
	"math"
	"time"
)

// Rule names the rule, for whoever reads a number that came of it.
const Rule = "epoxy makers' published rule: times double for each 10 °C (18 °F) colder and halve for each 10 °C warmer"

// doublingCelsius is the change of temperature that doubles or halves.
const doublingCelsius = 10

// TooCold is the temperature, in °C, below which ordinary epoxy cures slowly or
// never (published; some slow hardeners are made for as little as 5 °C).
const TooCold = 10

// PolyesterTooCold is the temperature, in °C, below which polyester resin stops
// curing (from memory).
const PolyesterTooCold = 15

// The published times of epoxy, each at its temperature in °C.
const (
	NoStress   = 24 * time.Hour // before it may be loaded, at NoStressAt
	NoStressAt = 21             // 70 °F
	FullCure   = 5 * 24 * time.Hour
	FullCureAt = 25 // 77 °F
)

// Factor gives by how much a time known at a temperature is longer (above 1) or
// shorter now, both in °C.
func Factor(at, now float64) float64 { return math.Exp2((at - now) / doublingCelsius) }

// Wait gives how long something takes now that takes a known time at a
// temperature, both in °C, to the next minute. It is never shorter than the
// label says: heat hurries resin, but nobody is hurt by waiting.
func Wait(known time.Duration, at, now float64) time.Duration {
	minutes := math.Ceil(known.Minutes()*max(1, Factor(at, now)) - 1e-9)
	return time.Duration(minutes) * time.Minute
}
