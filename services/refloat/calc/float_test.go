package calc

import "testing"

// Densities and forms: naval architecture, see pkg/float; numbers worked by hand.
func TestFloat(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"metric", `{"waterplane_m2":1.92,"added_kg":38.4,"water":"fresh"}`, `{"kg_per_cm":19.2,"sinkage_cm":2}`},
		{"nothing added", `{"waterplane_m2":1.92,"water":"fresh"}`, `{"kg_per_cm":19.2}`},
		{"null added", `{"waterplane_m2":1.92,"added_kg":null,"water":"fresh"}`, `{"kg_per_cm":19.2}`},
		{"added 0", `{"waterplane_m2":1.92,"added_kg":0,"water":"fresh"}`, `{"kg_per_cm":19.2,"sinkage_cm":0}`},
		{"fresh where no water is named", `{"waterplane_m2":1.92}`, `{"kg_per_cm":19.2}`},
		{"sea, US", `{"waterplane_ft2":19.083,"water":"sea"}`, `{"lb_per_in":101.776}`},
		{"US with a load", `{"added_lb":104,"water":"fresh","waterplane_ft2":10}`, `{"lb_per_in":52,"sinkage_in":2}`},
		{"displacement", `{"length_m":5,"beam_m":0.8,"draft_m":0.125,"cb":0.5,"hull_kg":28,"water":"fresh"}`, `{"displacement_kg":250,"payload_kg":222}`},
		{"without a hull", `{"length_m":5,"beam_m":0.8,"draft_m":0.125,"cb":0.5,"water":"fresh"}`, `{"displacement_kg":250}`},
		{"payload below 0", `{"length_m":5,"beam_m":0.8,"draft_m":0.125,"cb":0.5,"hull_kg":300,"water":"fresh"}`, `{"displacement_kg":250,"payload_kg":-50}`},
		{"two systems", `{"waterplane_m2":1.92,"added_lb":35,"water":"fresh"}`, `{"error":{"field":"added_lb","reason":"does not go with waterplane_m2"}}`},
		{"two systems, the other first", `{"added_lb":35,"waterplane_m2":1.92,"added_kg":1,"water":"fresh"}`, `{"error":{"field":"waterplane_m2","reason":"does not go with waterplane_ft2"}}`},
		{"two forms", `{"water":"fresh","cb":0.5,"waterplane_m2":1.92,"length_m":5}`, `{"error":{"field":"waterplane_m2","reason":"does not go with length_m"}}`},
		{"two forms, null", `{"waterplane_m2":1.92,"hull_kg":null}`, `{"error":{"field":"hull_kg","reason":"does not go with waterplane_m2"}}`},
		{"no form", `{"water":"sea"}`, `{"error":{"field":"waterplane_m2","reason":"missing"}}`},
		{"half a form", `{"cb":0.5,"beam_m":1,"draft_m":1,"water":"sea"}`, `{"error":{"field":"length_m","reason":"missing"}}`},
		{"load without an area", `{"added_lb":5,"water":"sea"}`, `{"error":{"field":"waterplane_ft2","reason":"missing"}}`},
		{"no area", `{"waterplane_m2":0,"added_kg":1,"water":"sea"}`, `{"error":{"field":"waterplane_m2","reason":"must be greater than 0"}}`},
		{"negative load", `{"waterplane_m2":1,"added_kg":-1,"water":"sea"}`, `{"error":{"field":"added_kg","reason":"must not be negative"}}`},
		{"brackish", `{"waterplane_m2":1,"water":"brackish"}`, `{"error":{"field":"water","reason":"must be one of fresh, sea"}}`},
		{"unknown", `{"waterplane_m2":1,"water":"sea","salt":1}`, `{"error":{"field":"salt","reason":"unknown field"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, floatCalculator, c.in, c.want) })
	}
}

// 33 CFR 183.43.
func TestPlate(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"400 lb", `{"max_weight_lb":400,"propulsion":"manual"}`,
			`{"persons_lb":360,"persons_exact":2.780141843971631,"persons":3,"applies_to":"not canoes, kayaks, inflatables or sailboats: a sanity check only"}`},
		{"motor", `{"max_weight_lb":400,"propulsion":"outboard"}`, `{"error":{"field":"propulsion","reason":"must be one of manual"}}`},
		{"nothing", `{"max_weight_lb":0,"propulsion":"manual"}`, `{"error":{"field":"max_weight_lb","reason":"must be greater than 0"}}`},
		{"too large to count", `{"max_weight_lb":1e30,"propulsion":"manual"}`, `{"error":{"field":"max_weight_lb","reason":"must be at most 1000000000"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, plateCalculator, c.in, c.want) })
	}
}
