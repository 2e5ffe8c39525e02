package calc

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// publishedExample is one of testdata/published/valuation/valuation-open.json:
// worked outside this code, with R and exact arithmetic (README.md there).
type publishedExample struct {
	Name   string          `json:"name"`
	Calc   string          `json:"calc"`
	Input  json.RawMessage `json:"input"`
	Expect map[string]any  `json:"expect"`
}

func TestPublishedValuationExamples(t *testing.T) {
	raw, err := os.ReadFile("../../../testdata/published/valuation/valuation-open.json")
	require.NoError(t, err)
	var examples []publishedExample
	require.NoError(t, json.Unmarshal(raw, &examples))
	require.Len(t, examples, 12)
	by := map[string]Calculator{"value": valueCalculator, "offer": offerCalculator, "plan": planCalculator}
	for _, example := range examples {
		t.Run(example.Name, func(t *testing.T) {
			got := answered(t, by[example.Calc], string(example.Input))
			for field, want := range example.Expect {
				agrees(t, field, want, got[field])
			}
		})
	}
}

// answered gives the answer to a good input, with numbers as float64.
func answered(t *testing.T, c Calculator, in string) map[string]any {
	t.Helper()
	code, out, problems := run(c, in)
	require.Equal(t, ExitOK, code, problems)
	var got map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	return got
}

// agrees holds whole numbers to equality and others to 1e-9 relative.
func agrees(t *testing.T, field string, want, got any) {
	t.Helper()
	switch want := want.(type) {
	case float64:
		require.IsType(t, want, got, field)
		tolerance := 0.0
		if want != math.Trunc(want) || want == 0 {
			tolerance = 1e-9 * max(1e-3, math.Abs(want))
		}
		assert.InDelta(t, want, got, tolerance, field)
	case map[string]any:
		require.IsType(t, want, got, field)
		for name, value := range want {
			agrees(t, field+"."+name, value, got.(map[string]any)[name])
		}
	case []any:
		require.IsType(t, want, got, field)
		require.Len(t, got, len(want), field)
		for i, value := range want {
			agrees(t, fmt.Sprintf("%s[%d]", field, i), value, got.([]any)[i])
		}
	default:
		assert.Equal(t, want, got, field)
	}
}

func TestValueRefusesBadInput(t *testing.T) {
	const sale = `{"id":"k1","price_minor":70000,"sold_on":"2026-04-01","features":{"age":5}}`
	with := func(more string) string {
		return `{"valuation_date":"2026-04-01","currency":"USD","subject":{"features":{"age":5}},"comparables":[` + sale + `]` + more + `}`
	}
	listing := func(comparables string) string {
		return `{"valuation_date":"2026-04-01","currency":"USD","subject":{"features":{"age":5}},"comparables":[` + comparables + `]}`
	}
	require.Equal(t, 70000.0, answered(t, valueCalculator, with(""))["value_minor"])
	for _, c := range []struct{ name, in, field string }{
		{"no date", `{"currency":"USD","subject":{"features":{}},"comparables":[]}`, "valuation_date"},
		{"no currency", `{"valuation_date":"2026-04-01","subject":{"features":{}},"comparables":[]}`, "currency"},
		{"no subject", `{"valuation_date":"2026-04-01","currency":"USD","comparables":[]}`, "subject"},
		{"no features", `{"valuation_date":"2026-04-01","currency":"USD","subject":{},"comparables":[]}`, "subject.features"},
		{"no comparables", `{"valuation_date":"2026-04-01","currency":"USD","subject":{"features":{}}}`, "comparables"},
		{"a feature in words", `{"valuation_date":"2026-04-01","currency":"USD","subject":{"features":{"age":"old"}},"comparables":[]}`, "subject.features.age"},
		{"beside the features", `{"valuation_date":"2026-04-01","currency":"USD","subject":{"features":{},"age":1},"comparables":[]}`, "subject.age"},
		{"typo at the top", with(`,"methode":"auto"`), "methode"},
		{"effect of no feature", with(`,"effects":{"agee":-0.1}`), "effects.agee"},
		{"effect in words", with(`,"effects":{"age":"-8%"}`), "effects.age"},
		{"repaired without a feature", with(`,"subject_after_repair":{"features":{}}`), "subject_after_repair.features.age"},
		{"repaired with one more", with(`,"subject_after_repair":{"features":{"age":5,"kit":1}}`), "subject_after_repair.features.kit"},
		{"a sign of no feature", with(`,"effect_signs":{"agee":1}`), "effect_signs.agee"},
		{"a sign that is none", with(`,"effect_signs":{"age":2}`), "effect_signs.age"},
		{"against the own opinion", with(`,"effects":{"age":-0.1},"effect_signs":{"age":1}`), "effect_signs.age"},
		{"parts without a feature", with(`,"subject_for_parts":{"features":{}}`), "subject_for_parts.features.age"},
		{"no such method", with(`,"method":"mean"`), "method"},
		{"Theil-Sen of what", with(`,"method":"theil_sen_log"`), "feature"},
		{"Theil-Sen of no feature", with(`,"method":"theil_sen_log","feature":"kit"`), "feature"},
		{"negative pull", with(`,"ridge_lambda":-1`), "ridge_lambda"},
		{"certainty", with(`,"coverage":1`), "coverage"},
		{"less than half", with(`,"coverage":0.49`), "coverage"},
		{"steps of nothing", with(`,"round_to_minor":0`), "round_to_minor"},
		{"half a day", with(`,"max_age_days":0.5`), "max_age_days"},
		{"no such interval", with(`,"interval":"wide"`), "interval"},
		{"no such factor", with(`,"retransform":"mean"`), "retransform"},
		{"the same sale twice", listing(sale + "," + sale), "comparables[1].id"},
		{"a price of nothing", listing(`{"id":"k","price_minor":0,"sold_on":"2026-04-01","features":{}}`), "comparables[0].price_minor"},
		{"a day that is none", listing(sale + `,{"id":"k","price_minor":1,"sold_on":"2026-02-30","features":{}}`), "comparables[1].sold_on"},
		{"a sale without features", listing(`{"id":"k","price_minor":1,"sold_on":"2026-02-03"}`), "comparables[0].features"},
		{"a sale's feature in words", listing(sale + `,{"id":"j","price_minor":1,"sold_on":"2026-02-03","features":{"age":null}}`), "comparables[1].features.age"},
		{"typo in a sale", listing(`{"id":"k","price_minor":1,"sold_on":"2026-02-03","features":{},"arm_length":true}`), "comparables[0].arm_length"},
		{"neither sold nor asked", listing(`{"id":"k","price_minor":1,"sold_on":"2026-02-03","features":{},"price_kind":"given"}`), "comparables[0].price_kind"},
	} {
		assert.Equal(t, c.field, blamed(t, valueCalculator, c.in), c.name)
	}
}

// blamed gives the field that a refusal names.
func blamed(t *testing.T, c Calculator, in string) string {
	t.Helper()
	code, out, _ := run(c, in)
	assert.Equal(t, ExitBadInput, code, out)
	var refusal struct {
		Error struct {
			Field  string `json:"field"`
			Reason string `json:"reason"`
		} `json:"error"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &refusal))
	assert.NotEmpty(t, refusal.Error.Reason, out)
	return refusal.Error.Field
}

func TestOfferRefusesBadInput(t *testing.T) {
	with := func(more string) string { return `{"currency":"USD","value_after_repair_minor":60000` + more + `}` }
	looks := func(looks string) string { return with(`,"undiscovered":{` + looks + `}`) }
	require.Equal(t, 60000.0, answered(t, offerCalculator, with(""))["ceiling_minor"])
	for _, c := range []struct{ name, in, field string }{
		{"no currency", `{"value_after_repair_minor":1}`, "currency"},
		{"no value", `{"currency":"USD"}`, "value_after_repair_minor"},
		{"low end wanted", with(`,"basis":"low"`), "value_after_repair_low_minor"},
		{"more than certain", with(`,"repairs":[{"id":"r","cost_minor":1,"probability":1.1}]`), "repairs[0].probability"},
		{"a repair without a price", with(`,"repairs":[{"id":"r"}]`), "repairs[0].cost_minor"},
		{"typo in a repair", with(`,"repairs":[{"id":"r","cost_minor":1,"minuts":3}]`), "repairs[0].minuts"},
		{"typo in the margin", with(`,"margin":{"minimum":3}`), "margin.minimum"},
		{"neither form", looks(``), "undiscovered.found_by_first"},
		{"both forms", looks(`"allowance_minor":5,"found_by_first":3`), "undiscovered.found_by_first"},
		{"both forms, the rule second", looks(`"found_by_first":3,"found_by_second":3,"found_by_both":3,"severity":[{"share":1,"cost_minor":1}],"allowance_minor":5`), "undiscovered.allowance_minor"},
		{"more in common than found", looks(`"found_by_first":3,"found_by_second":9,"found_by_both":4,"severity":[{"share":1,"cost_minor":1}]`), "undiscovered.found_by_both"},
		{"shares of more than all", looks(`"found_by_first":3,"found_by_second":9,"found_by_both":3,"severity":[{"share":0.9,"cost_minor":1},{"share":0.2,"cost_minor":1}]`), "undiscovered.severity"},
		{"negative costs", with(`,"other_costs_minor":-1`), "other_costs_minor"},
		{"beyond adding", with(`,"other_costs_minor":9007199254740992`), "value_after_repair_minor"},
	} {
		assert.Equal(t, c.field, blamed(t, offerCalculator, c.in), c.name)
	}
}
