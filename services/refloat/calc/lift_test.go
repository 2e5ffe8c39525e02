package calc

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Multipliers and limits: DHHS (NIOSH) 94-110; see pkg/lift. Numbers with an
// exact decimal are chosen, so that whole lines can be compared.
func TestLift(t *testing.T) {
	const us = `"units":"us","h":10,"v":30,"d":10,"a":0,"per_minute":0.2,"hours":1,"coupling":"good"`
	for _, c := range []struct{ name, in, want string }{
		{"load constant, no load", `{` + us + `,"round":"none"}`,
			`{"hm":1,"vm":1,"dm":1,"am":1,"fm":1,"cm":1,"rwl":51,"li":null}`},
		{"load null", `{` + us + `,"round":"none","load":null,"v_origin":null}`,
			`{"hm":1,"vm":1,"dm":1,"am":1,"fm":1,"cm":1,"rwl":51,"li":null}`},
		{"load 0", `{` + us + `,"round":"none","load":0}`,
			`{"hm":1,"vm":1,"dm":1,"am":1,"fm":1,"cm":1,"rwl":51,"li":0}`},
		{"beyond a limit", `{"units":"us","h":25.5,"v":30,"d":10,"a":0,"per_minute":0.2,"hours":1,"coupling":"good","load":20,"round":"none"}`,
			`{"hm":0,"vm":1,"dm":1,"am":1,"fm":1,"cm":1,"rwl":0,"li":null,"beyond_limits":true}`},
		{"example 4, destination, as the manual rounds", `{"units":"us","h":20,"v":59,"v_origin":22,"d":37,"a":0,"per_minute":3,"hours":1,"coupling":"fair","load":26,"round":"manual"}`,
			`{"hm":0.5,"vm":0.78,"dm":0.87,"am":1,"fm":0.88,"cm":1,"rwl":15.2,"li":1.7}`},
		{"other rounding", `{` + us + `,"round":"up"}`, `{"error":{"field":"round","reason":"must be one of none, manual"}}`},
		{"no rounding named", `{` + us + `}`, `{"error":{"field":"round","reason":"missing"}}`},
		{"negative load", `{` + us + `,"round":"none","load":-1}`, `{"error":{"field":"load","reason":"must not be negative"}}`},
		{"unknown", `{` + us + `,"round":"none","mass":1}`, `{"error":{"field":"mass","reason":"unknown field"}}`},
		{"negative reach", `{"units":"us","h":-1,"v":30,"d":10,"a":0,"per_minute":0.2,"hours":1,"coupling":"good","round":"none"}`,
			`{"error":{"field":"h","reason":"must not be negative"}}`},
		{"nine hours", `{"units":"us","h":10,"v":30,"d":10,"a":0,"per_minute":0.2,"hours":9,"coupling":"good","round":"none"}`,
			`{"error":{"field":"hours","reason":"must be above 0 and at most 8; the equation has no limits for longer"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, liftCalculator, c.in, c.want) })
	}
}

// Factors: guidance of the Health and Safety Executive; see pkg/lift.
func TestCarry(t *testing.T) {
	note := `"note":"` + carryNote + `"}`
	for _, c := range []struct{ name, in, want string }{
		{"two people", `{"mass_kg":23.5,"water_l":0.5,"each_kg":18}`,
			`{"total_kg":24,"team_limit_kg":[18,24,27],"team":2,"end_lift_kg":12,"needs_cart":false,` + note},
		{"a cart", `{"mass_kg":40,"water_l":0,"each_kg":18}`,
			`{"total_kg":40,"team_limit_kg":[18,24,27],"team":null,"end_lift_kg":20,"needs_cart":true,` + note},
		{"negative water", `{"mass_kg":40,"water_l":-1,"each_kg":18}`, `{"error":{"field":"water_l","reason":"must not be negative"}}`},
		{"missing limit", `{"mass_kg":40,"water_l":1}`, `{"error":{"field":"each_kg","reason":"missing"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, carryCalculator, c.in, c.want) })
	}
}

// What NIOSH 94-110 says that its equation is not for stands with the calculators.
func TestLiftingCalculatorsSayWhatTheyAreNotFor(t *testing.T) {
	for _, c := range []Calculator{liftCalculator, carryCalculator} {
		assert.Contains(t, c.Explain, "Limits:", c.Name)
		assert.Regexp(t, "ramp|slopes", c.Explain, c.Name)
		assert.Contains(t, c.Explain, "carrying", c.Name)
	}
}
