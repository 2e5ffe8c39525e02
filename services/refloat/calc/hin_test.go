package calc

import "testing"

// Numbers from 33 CFR 181.25 and 181.27 with invented makers; see pkg/hin for
// the rules themselves. Here: names, nulls and order of the answer.
func TestHin(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"valid", `{"hin":"XYZ12345L495"}`,
			`{"valid":true,"format":"current","country":null,"maker":"XYZ","serial":"12345","built":"1994-12","model_year":1995,"state_issued":false,"normalised":"XYZ12345L495","problem":null,"notices":[]}`},
		{"no model year", `{"hin":"XYZ123451072"}`,
			`{"valid":true,"format":"straight-year","country":null,"maker":"XYZ","serial":"12345","built":"1972-10","model_year":null,"state_issued":false,"normalised":"XYZ123451072","problem":null,"notices":["before-1972-11"]}`},
		{"another country", `{"hin":"gb-miz12345l495"}`,
			`{"valid":true,"format":"current","country":"GB","maker":"MIZ","serial":"12345","built":null,"model_year":null,"state_issued":true,"normalised":"MIZ12345L495","problem":null,"notices":["not-us"]}`},
		{"letter O", `{"hin":"XYZ1234OH394"}`,
			`{"valid":false,"format":null,"country":null,"maker":"XYZ","serial":null,"built":null,"model_year":null,"state_issued":false,"normalised":null,"problem":{"position":8,"reason":"'O' may not stand in the serial number"},"notices":[]}`},
		{"separators", `{"hin":"XYZ-12345L495"}`,
			`{"valid":false,"format":null,"country":null,"maker":"XYZ","serial":"12345","built":null,"model_year":null,"state_issued":false,"normalised":"XYZ12345L495","problem":{"position":0,"reason":"written with separators; the number must be uninterrupted"},"notices":[]}`},
		{"nothing", `{"hin":""}`,
			`{"valid":false,"format":null,"country":null,"maker":null,"serial":null,"built":null,"model_year":null,"state_issued":false,"normalised":null,"problem":{"position":0,"reason":"has 0 characters, not 12 (14 with a country)"},"notices":[]}`},
		{"no text", `{"hin":12}`, `{"error":{"field":"hin","reason":"must be a text"}}`},
		{"missing", `{}`, `{"error":{"field":"hin","reason":"missing"}}`},
		{"unknown", `{"hin":"","boat":1}`, `{"error":{"field":"boat","reason":"unknown field"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, hinCalculator, c.in, c.want) })
	}
}
