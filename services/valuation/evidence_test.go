package valuation

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/plan"
)

// alike are sales of one price, each changed by what tells it apart.
func alike(n int, change func(i int, c *message.Comparable)) []message.Comparable {
	var sales []message.Comparable
	for i := range n {
		sales = append(sales, price1(func(c *message.Comparable) {
			c.Comparable = fmt.Sprint("k", i)
			change(i, c)
		}))
	}
	return sales
}

func valuedFrom(t require.TestingT, h hull, r rules, sales []message.Comparable) message.BoatValued {
	q, err := ask(h, order(3, 4), r, sales)
	require.NoError(t, err)
	said, err := q.value(order(3, 4), h)
	require.NoError(t, err)
	return said
}

// Prices of other markets are told apart: left out unless the club says how they
// differ, and then moved by that and shown as a step.
func TestMarketsAreNeverMixedInSilence(t *testing.T) {
	sales := alike(4, func(i int, c *message.Comparable) {
		switch i {
		case 1:
			c.Market, c.Price.Minor = message.DealerSale, 105_000
		case 2:
			*c = tidied(price1(func(c *message.Comparable) { c.Comparable, c.Market, c.Price.Minor = "k2", message.ForcedSale, 9_000 }))
		case 3:
			c.PriceKind, c.Price.Minor = message.Asking, 100_000
		}
	})
	said := valuedFrom(t, kayak(), clubRules, sales)
	assert.Equal(t, []string{"k0"}, said.Used)
	assert.ElementsMatch(t, []message.LeftOut{{Comparable: "k1", Reason: "dealer_price"}, {Comparable: "k2", Reason: "not_arms_length"}, {Comparable: "k3", Reason: "asking_price"}}, said.LeftOut)

	told := clubRules
	told.Dealer, told.Asking = new(50), new(30)
	said = valuedFrom(t, kayak(), told, sales)
	assert.Equal(t, []string{"k0", "k1", "k3"}, said.Used)
	assert.Equal(t, money.Of(70_000, "USD"), said.AsItLies.Value, "1050.00 from a dealer and 1000.00 asked are both 700.00 from a private hand")
}

// Without sales enough to learn from, only what the club has an opinion of counts,
// so that no sale is left out because its length is not known.
func TestADifferenceWithoutOpinionCountsWhenSalesCanTeachIt(t *testing.T) {
	long := func(i int, c *message.Comparable) {
		c.LengthMM = 3800 + 100*(i%8)
		c.Price.Minor = int64(60_000 + 300*(i%8))
	}
	few := valuedFrom(t, kayak(), clubRules, append(alike(4, long), price1(func(c *message.Comparable) { c.Comparable, c.LengthMM = "short of facts", 0 })))
	assert.Len(t, few.Used, 5)
	assert.NotContains(t, few.Input, length)
	many := valuedFrom(t, kayak(), clubRules, alike(16, long))
	assert.Contains(t, many.Input, length)
	assert.Equal(t, "ridge_log", many.Method)
	assert.Equal(t, "ok", many.Second.Status, "a second model speaks beside")
}

// A repaired boat stays below an unrepaired one of the same grade, by the club's
// figure or by what the sales teach.
func TestAMendedBoatStaysBelow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 14).Draw(t, "sales")
		sales := alike(n, func(i int, c *message.Comparable) {
			c.Price.Minor = rapid.Int64Range(20_000, 150_000).Draw(t, "price")
			c.Mended = rapid.Bool().Draw(t, "mended")
			c.Grade = boat.Grade(rapid.IntRange(1, 5).Draw(t, "grade"))
		})
		whole, repaired := kayak(), kayak()
		repaired.mended = true
		a, b := valuedFrom(t, whole, clubRules, sales), valuedFrom(t, repaired, clubRules, sales)
		require.LessOrEqual(t, b.AsItLies.Value.Minor, a.AsItLies.Value.Minor+1)
		require.LessOrEqual(t, a.ForParts.Value.Minor, a.AsItLies.Value.Minor+1, "parts never fetch more than the boat")
	})
}

func TestFindingsBoundTheGrade(t *testing.T) {
	for _, row := range []struct {
		open boat.Severity
		top  boat.Grade
	}{{"", 5}, {boat.Use, 5}, {boat.Watch, 4}, {boat.MendBefore, 3}, {boat.DoNotUse, 2}} {
		assert.NoError(t, bounded(row.top, row.open), row.open)
		if row.top < 5 {
			faulttest.Want(t, bounded(row.top+1, row.open), fault.Invalid, "as_it_lies", row.open)
		}
	}
}

// With something unseen the rule grows, and of an estimate the upper end is taken;
// where lives depend on it there is no ceiling at all.
func TestWhatNobodyCouldSeeLowersTheCeiling(t *testing.T) {
	club := deal{missedPercent: 10, provisionalPercent: 5}
	ceiling := func(l looked, d deal) message.CeilingSet {
		p, from := offerFor(money.Of(60_000, "USD"), nil, l, d)
		said, err := p.ceiling(message.SetCeiling{Boat: "b1"})
		require.NoError(t, err)
		assert.NotEmpty(t, from)
		return said
	}
	assert.Equal(t, int64(54_000), ceiling(looked{}, club).Ceiling.Minor)
	hidden := ceiling(looked{provisional: true, unseen: []string{"keel line"}}, club)
	assert.Equal(t, int64(51_000), hidden.Ceiling.Minor)
	assert.True(t, hidden.Provisional)
	assert.Equal(t, "Offer at most 510.00 USD: repaired it would fetch about 600.00 USD; mending takes about 0.00 USD, 90.00 USD is kept for what was not found, and 0.00 USD is the club's margin.", hidden.Sentence)

	stated := deal{costs: []severity{{0.7, 1000}, {0.3, 4000}}, costsFrom: "the club's statement"}
	seen, unseen := estimated, estimated
	unseen.provisional = true
	// 0.4·19.00 and, at the upper end, 28.96 (valuation examples of `refloat calc offer`).
	assert.Equal(t, int64(60_000-760), ceiling(seen, stated).Ceiling.Minor)
	assert.Equal(t, int64(60_000-2896), ceiling(seen, stated).Upper.Minor)
	assert.Equal(t, int64(60_000-2896), ceiling(unseen, stated).Ceiling.Minor)

	assert.NoError(t, looked{unseen: []string{"keel line"}}.safe())
	faulttest.Want(t, looked{unseen: []string{"flotation"}}.safe(), fault.Conflict, "boat")
}

// Worked by hand: 500.00 as it lies, 15 % a step, 5 % off once it is told. First
// step: 500·1.15·0.95 − 500·0.95 = 71.25; second: 500·0.95·(1.15² − 1.15) = 81.94;
// being told costs 25.00 once.
func TestGainsOfRepairs(t *testing.T) {
	of := func(id string, steps int, requires ...string) candidate {
		s := slope{"USD", 50_000, logOf(15), logOf(-5), false}
		return candidate{message.RepairProposed{Boat: "b1", Repair: id, What: id, Steps: steps, Minutes: 60, Cash: money.Of(1000, "USD"), Requires: requires}, "Heron", &s}
	}
	wash := of("wash", 0)
	unvalued := of("other", 1)
	unvalued.Boat, unvalued.slope = "b2", nil
	r, gains := shop([]candidate{of("first", 1), of("second", 1, "first"), wash, unvalued}, "USD", 600, 10_000)
	assert.Equal(t, map[string]int64{"first": 7125, "second": 8194, "wash": 0, "other": 0}, gains)
	assert.Equal(t, plan.RecordedRepair{ID: "disclosed/b1", GainMinor: -2500}, r.Repairs[0])
	assert.Equal(t, []string{"first", "disclosed/b1"}, r.Repairs[2].Requires)

	p, err := planned([]candidate{of("first", 1), of("second", 1, "first"), wash, unvalued}, "USD", 90, 10_000)
	require.NoError(t, err)
	assert.Equal(t, int64(7125-2500), p.Gain.Minor)
	assert.Equal(t, 60, p.UsedMins)
	assert.Equal(t, int64(8194), p.NextHour.Minor, "another hour pays the second repair")
	assert.Zero(t, p.NextMoney.Minor)
	assert.Equal(t, 1, p.NoMoney)

	must := of("hatch", 0)
	must.Must = true
	p, err = planned([]candidate{must}, "USD", 59, 10_000)
	require.NoError(t, err)
	assert.Equal(t, []any{"infeasible", 60}, []any{p.Status, p.MustMins})

	dear := of("dear", 1)
	dear.Cash.Minor = 9000
	p, err = planned([]candidate{dear}, "USD", 600, 8000)
	require.NoError(t, err)
	assert.True(t, p.Repairs[0].NotWorth)
	assert.False(t, p.Repairs[0].Chosen)
}

// However many are mended, the plan's gain is the value after less the value
// before.
func TestAPlansGainIsTheRiseInValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := slope{"USD", rapid.Int64Range(1000, 200_000).Draw(t, "value"), logOf(rapid.IntRange(5, 40).Draw(t, "step")), logOf(-rapid.IntRange(0, 20).Draw(t, "told")), rapid.Bool().Draw(t, "before")}
		n := rapid.IntRange(1, 4).Draw(t, "repairs")
		var list []candidate
		for i := range n {
			var requires []string
			if i > 0 {
				requires = []string{fmt.Sprint(i - 1)}
			}
			list = append(list, candidate{message.RepairProposed{Boat: "b", Repair: fmt.Sprint(i), Steps: 1, Requires: requires, Must: true}, "", &s})
		}
		p, err := planned(list, "USD", 0, 0)
		require.NoError(t, err)
		require.InDelta(t, s.at(n, true)-s.at(0, false), p.Gain.Minor, 1, "rounded once a repair, and telescoping")
	})
}

func TestASlopeIsReadOffAValue(t *testing.T) {
	said := valuedFrom(t, kayak(), clubRules, alike(5, func(int, *message.Comparable) {}))
	s, says := slopeOf(said)
	require.True(t, says)
	assert.Equal(t, said.AsItLies.Value.Minor, s.at(0, false))
	assert.Equal(t, said.Repaired.Value.Minor, s.at(1, true))
	assert.InDelta(t, 15, appraise.Percent(s.Grade), 1e-9)
	_, says = slopeOf(valuedFrom(t, kayak(), clubRules, nil))
	assert.False(t, says)
}
