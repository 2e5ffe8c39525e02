package calc

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPlanNetIsComparedInSixtieths(t *testing.T) {
	// Worked by hand: a gains 600 − 1 − 7·999/60 = 482.45, b 500 − 1 − 999/60 =
	// 482.35. In whole minor units they would tie, and b takes fewer minutes.
	got := answered(t, planCalculator, `{"minutes_available":100,"cash_available_minor":1,"objective":"net","hour_value_minor":999,"repairs":[`+
		`{"id":"a","minutes":7,"cash_minor":1,"gain_minor":600},{"id":"b","minutes":1,"cash_minor":1,"gain_minor":500,"excludes":["a"]}]}`)
	assert.Equal(t, []any{"a"}, got["chosen"])
	assert.InDelta(t, 482.45, got["objective"], 1e-9)
	assert.Equal(t, 93.0, got["minutes_left"])
	assert.Equal(t, 0.0, got["cash_left_minor"])
}

func TestPlanSaysWhyThereIsNone(t *testing.T) {
	const musts = `"minutes_available":60,"cash_available_minor":99,"repairs":[{"id":"a","minutes":40,"cash_minor":5,"gain_minor":1,"must":true,"requires":["b"]},{"id":"b","minutes":30,"cash_minor":6,"gain_minor":-2}`
	got := answered(t, planCalculator, `{`+musts+`]}`)
	assert.Equal(t, "infeasible", got["status"])
	assert.Equal(t, "must_do_exceeds_limits", got["reason"])
	assert.Equal(t, []any{}, got["chosen"])
	assert.Equal(t, 70.0, got["must_minutes"])
	assert.Equal(t, 11.0, got["must_cash_minor"])

	got = answered(t, planCalculator, `{`+musts+`,{"id":"c","minutes":1,"cash_minor":1,"gain_minor":0,"must":true,"excludes":["b"]}]}`)
	assert.Equal(t, "must_do_conflict", got["reason"])
}

func TestPlanRefusesBadInput(t *testing.T) {
	with := func(repairs string) string {
		return `{"currency":"USD","minutes_available":60,"cash_available_minor":60,"repairs":[` + repairs + `]}`
	}
	repair := func(id, more string) string {
		return `{"id":"` + id + `","minutes":1,"cash_minor":1,"gain_minor":1` + more + `}`
	}
	many := strings.Repeat(repair("x", "")+",", 300) + repair("x", "")
	for _, c := range []struct{ name, in, field string }{
		{"no minutes", `{"cash_available_minor":60,"repairs":[]}`, "minutes_available"},
		{"no cash", `{"minutes_available":60,"repairs":[]}`, "cash_available_minor"},
		{"no repairs", `{"minutes_available":60,"cash_available_minor":60}`, "repairs"},
		{"too many", with(many), "repairs"},
		{"no gain", with(`{"id":"a","minutes":1,"cash_minor":1}`), "repairs[0].gain_minor"},
		{"negative minutes", with(`{"id":"a","minutes":-1,"cash_minor":1,"gain_minor":1}`), "repairs[0].minutes"},
		{"typo", with(repair("a", `,"require":["a"]`)), "repairs[0].require"},
		{"the same id twice", with(repair("a", "") + "," + repair("a", "")), "repairs[1].id"},
		{"unknown prerequisite", with(repair("a", "") + "," + repair("b", `,"requires":["c"]`)), "repairs[1].requires"},
		{"the same prerequisite twice", with(repair("a", "") + "," + repair("b", `,"requires":["a","a"]`)), "repairs[1].requires"},
		{"unknown exclusion", with(repair("a", `,"excludes":["c"]`)), "repairs[0].excludes"},
		{"excludes itself", with(repair("a", `,"excludes":["a"]`)), "repairs[0].excludes"},
		{"circle of one", with(repair("a", `,"requires":["a"]`)), "repairs[0].requires"},
		{"circle behind a way in", with(repair("a", `,"requires":["c"]`) + "," + repair("b", `,"requires":["c"]`) + "," + repair("c", `,"requires":["b"]`)), "repairs[1].requires"},
		{"beyond adding", with(`{"id":"a","minutes":1,"cash_minor":1,"gain_minor":1152921504606846976}`), "repairs"},
	} {
		assert.Equal(t, c.field, blamed(t, planCalculator, c.in), c.name)
	}
}
