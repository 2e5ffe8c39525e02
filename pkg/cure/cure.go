// Package cure says how long mixed epoxy stays workable at the shop's present
// temperature.
//
// Source: the rule that epoxy makers publish: pot life doubles for each 18 °F
// (10 °C) that it is colder and halves for each 18 °F that it is warmer.
//
// It is a rule of thumb for a small cup near the temperatures of the label. A
// larger mass heats itself and goes off sooner, a thin film later. The label of
// the product decides, for times, for the mix, and for gloves and air.
package cure

import "math"

// doublingCelsius is the change of temperature that doubles or halves.
const doublingCelsius = 10

// TooCold is the temperature, in °C, below which ordinary epoxy cures slowly or
// never (published; some slow hardeners are made for as little as 5 °C).
const TooCold = 10

// Factor gives by how much a pot life known at a temperature is longer (above 1)
// or shorter now, both in °C.
func Factor(at, now float64) float64 { return math.Exp2((at - now) / doublingCelsius) }
