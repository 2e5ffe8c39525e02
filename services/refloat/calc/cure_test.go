package calc

import (
	"testing"

	"refloat.example/pkg/cure"
)

// The published rule of 18 °F (10 °C); see pkg/cure.
func TestCure(t *testing.T) {
	const rule = `","rule":"` + cure.Rule + `"}`
	for _, c := range []struct{ name, in, want string }{
		{"ten colder", `{"pot_life_min":25,"at_c":25,"now_c":15}`, `{"pot_life_min":50,"factor":2,"note":"` + cureNote + rule},
		{"ten warmer", `{"pot_life_min":25,"at_c":25,"now_c":35}`, `{"pot_life_min":12.5,"factor":0.5,"note":"` + cureNote + rule},
		{"at 10 °C", `{"pot_life_min":25,"at_c":20,"now_c":10}`, `{"pot_life_min":50,"factor":2,"note":"` + cureNote + rule},
		{"too cold", `{"pot_life_min":25,"at_c":25,"now_c":5}`, `{"pot_life_min":100,"factor":4,"note":"` + coldNote + rule},
		{"full cure at 59 °F", `{"pot_life_min":25,"at_c":25,"now_c":15,"cure_h":120}`, `{"pot_life_min":50,"factor":2,"cure_h":240,"note":"` + cureNote + rule},
		{"heat hurries nobody", `{"pot_life_min":25,"at_c":25,"now_c":35,"cure_h":24}`, `{"pot_life_min":12.5,"factor":0.5,"cure_h":24,"note":"` + cureNote + rule},
		{"no pot life", `{"pot_life_min":0,"at_c":25,"now_c":5}`, `{"error":{"field":"pot_life_min","reason":"must be greater than 0"}}`},
		{"colder than can be", `{"pot_life_min":5,"at_c":25,"now_c":-300}`, `{"error":{"field":"now_c","reason":"must not be below -273.15"}}`},
		{"beyond any number", `{"pot_life_min":5,"at_c":99999,"now_c":0}`, `{"error":{"field":"","reason":"the answer is too large for a number"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, cureCalculator, c.in, c.want) })
	}
}
