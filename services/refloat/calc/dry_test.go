package calc

import "testing"

// Drying times of the State of Utah; see pkg/quarantine.
func TestDry(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"summer", `{"rule":"utah","out_of_water":"2026-08-20"}`, `{"days":7,"until":"2026-08-27"}`},
		{"autumn", `{"rule":"utah","out_of_water":"2026-09-05","days":null}`, `{"days":18,"until":"2026-09-23"}`},
		{"winter, frozen", `{"rule":"utah","out_of_water":"2026-12-20","frozen_hours":72}`, `{"days":30,"until":"2027-01-19","frozen_enough":true}`},
		{"winter, not frozen long enough", `{"rule":"utah","out_of_water":"2026-12-20","frozen_hours":71}`, `{"days":30,"until":"2027-01-19","frozen_enough":false}`},
		{"a club's own", `{"rule":"days","out_of_water":"2026-08-20","days":5}`, `{"days":5,"until":"2026-08-25"}`},
		{"no days at all", `{"rule":"days","out_of_water":"2026-08-20","days":0,"frozen_hours":null}`, `{"days":0,"until":"2026-08-20"}`},
		{"frost under a club's own", `{"rule":"days","out_of_water":"2026-08-20","days":5,"frozen_hours":72}`, `{"error":{"field":"frozen_hours","reason":"does not go with the rule days"}}`},
		{"days under Utah's", `{"rule":"utah","out_of_water":"2026-08-20","days":5}`, `{"error":{"field":"days","reason":"does not go with the rule utah"}}`},
		{"half a day", `{"rule":"days","out_of_water":"2026-08-20","days":5.5}`, `{"error":{"field":"days","reason":"must be a whole number"}}`},
		{"negative days", `{"rule":"days","out_of_water":"2026-08-20","days":-1}`, `{"error":{"field":"days","reason":"must be from 0 to 4000000"}}`},
		{"no days named", `{"rule":"days","out_of_water":"2026-08-20"}`, `{"error":{"field":"days","reason":"missing"}}`},
		{"negative frost", `{"rule":"utah","out_of_water":"2026-08-20","frozen_hours":-1}`, `{"error":{"field":"frozen_hours","reason":"must not be negative"}}`},
		{"no such day", `{"rule":"utah","out_of_water":"2026-02-30"}`, `{"error":{"field":"out_of_water","reason":"must be a date written YYYY-MM-DD"}}`},
		{"another rule", `{"rule":"nevada","out_of_water":"2026-08-20"}`, `{"error":{"field":"rule","reason":"must be one of utah, days"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, dryCalculator, c.in, c.want) })
	}
}
