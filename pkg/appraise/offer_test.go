package appraise

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// looked is 6 and 5 findings, 4 in common: by Chapman 1951 N = 7·6/5 − 1 = 7.4, M =
// 0.4, Var = 7·6·2·1/(25·6) = 0.56. Seven defects in ten cost 10.00, three 40.00.
var looked = Undiscovered{Total: 7.4, Missed: 0.4, Variance: 0.56, Level: 0.9, Severity: []Severity{{0.7, 1000}, {0.3, 4000}}}

// Worked by hand: c = 19.00, v = 0.7·81 + 0.3·441 = 189; sd = √(0.4·189 +
// 361·0.56) = 16.67; upper 90 % = 7.60 + 1.2815515655·16.666 = 28.96.
func TestWhatTwoInspectorsMissed(t *testing.T) {
	missed := looked.missed()
	assert.InDelta(t, 1900, missed.PerDefect, 1e-9)
	assert.InDelta(t, 1666.6133324799728, missed.SDMinor, 1e-9)
	assert.InDelta(t, 760, missed.expectedMinor, 1e-9)
	assert.InDelta(t, 760+1.2815515655446004*1666.6133324799728, missed.upperMinor, 1e-6)
}

func TestCeilings(t *testing.T) {
	rule := int64(2500)
	worked := Purchase{
		BasisMinor: 60000, Repairs: []LikelyRepair{{CostMinor: 5000, Probability: 1}, {CostMinor: 4000, Probability: 0.5}},
		Undiscovered: &looked, MarginRate: 0.1, MarginMinimumMinor: 3000, RoundTo: 1,
	}
	upper, coarse := worked, worked
	upper.Upper, coarse.RoundTo = true, 500
	hours := Purchase{BasisMinor: 10000, HourMinor: 1000, RoundTo: 1, Repairs: []LikelyRepair{{CostMinor: 100, Probability: 0.5, Minutes: 90}}}
	for _, c := range []struct {
		name            string
		purchase        Purchase
		before, ceiling int64
		status          string
	}{
		{"600.00 less 70.00, 7.60 and 60.00", worked, 46240, 46240, "ok"},
		{"with the upper allowance", upper, 44104, 44104, "ok"},
		{"in steps of 5.00", coarse, 46240, 46000, "ok"},
		{"240.00 less 209.70, 25.00 and 25.00", Purchase{
			BasisMinor: 24000, Repairs: []LikelyRepair{{CostMinor: 20970, Probability: 1}}, RuleMinor: &rule,
			MarginRate: 0.05, MarginMinimumMinor: 2500, RoundTo: 1,
		}, -1970, 0, "do_not_buy"},
		{"half of 1.00 and an hour and a half at 10.00", hours, 9200, 9200, "ok"},
		{"nothing left", Purchase{BasisMinor: 100, OtherCostsMinor: 100, RoundTo: 1}, 0, 0, "do_not_buy"},
	} {
		got, err := Ceiling(c.purchase)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.before, got.BeforeFloorMinor, c.name)
		assert.Equal(t, c.ceiling, got.CeilingMinor, c.name)
		assert.Equal(t, c.status, got.Status, c.name)
	}
}

func TestPriceIsHeldAgainstTheCeiling(t *testing.T) {
	fair := int64(47000)
	for price, want := range map[int64]struct {
		allowed bool
		gift    int64
	}{40000: {true, 7000}, 46240: {true, 760}, 46241: {false, 759}, 48000: {false, 0}} {
		got, err := Ceiling(Purchase{BasisMinor: 46240, PriceMinor: &price, FairValueMinor: &fair, RoundTo: 1})
		require.NoError(t, err)
		assert.Equal(t, want.allowed, *got.PriceAllowed, price)
		assert.Equal(t, want.gift, *got.GiftPartMinor, price)
	}
	got, err := Ceiling(Purchase{BasisMinor: 1, FairValueMinor: &fair, RoundTo: 1})
	require.NoError(t, err)
	assert.Nil(t, got.PriceAllowed)
	assert.Nil(t, got.GiftPartMinor)
}

func TestHigherCostNeverRaisesACeiling(t *testing.T) {
	amount := rapid.Int64Range(0, 100_000)
	rapid.Check(t, func(t *rapid.T) {
		p := Purchase{
			BasisMinor: amount.Draw(t, "basis"), RoundTo: rapid.Int64Range(1, 500).Draw(t, "step"), Upper: rapid.Bool().Draw(t, "upper"),
			MarginRate: rapid.Float64Range(0, 0.5).Draw(t, "rate"), OtherCostsMinor: amount.Draw(t, "other"),
			Repairs:      []LikelyRepair{{CostMinor: amount.Draw(t, "cost"), Probability: rapid.Float64Range(0, 1).Draw(t, "p")}},
			Undiscovered: &Undiscovered{Missed: 10, Variance: 40, Level: 0.9, Severity: []Severity{{1, amount.Draw(t, "defect")}}},
		}
		lower, err := Ceiling(p)
		require.NoError(t, err)
		dearer := p
		more := amount.Draw(t, "more")
		switch rapid.IntRange(0, 3).Draw(t, "what") {
		case 0:
			dearer.Repairs = []LikelyRepair{{CostMinor: p.Repairs[0].CostMinor + more, Probability: p.Repairs[0].Probability}}
		case 1:
			dearer.OtherCostsMinor += more
		case 2:
			dearer.MarginMinimumMinor += more
		case 3:
			dearer.Undiscovered = &Undiscovered{Missed: 10, Variance: 40, Level: 0.9, Severity: []Severity{{1, p.Undiscovered.Severity[0].CostMinor + more}}}
		}
		higher, err := Ceiling(dearer)
		require.NoError(t, err)
		assert.LessOrEqual(t, higher.CeilingMinor, lower.CeilingMinor)
	})
}
