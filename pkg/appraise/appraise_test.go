package appraise

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/regress"
)

var today = clock.MustDate("2026-04-01")

// Two open data sets of sold goods (testdata/published/valuation/README.md):
// taught on rows 1, 3, 5 …, tried on rows 2, 4, 6 …. Expected values by R's lm and
// predict on the same rows.
func TestHedonicModelsAgreeWithR(t *testing.T) {
	cars := []string{"mileage", "cylinder", "cruise", "sound", "leather", "make", "body"}
	houses := []string{"ln lotsize", "bedrooms", "bathrooms", "stories", "driveway", "recreation", "fullbase", "gasheat", "aircon", "garage", "prefer"}
	for _, c := range []struct {
		file                      string
		columns                   []string
		sd, middle, mean, covered float64
	}{
		{"used-cars-2005.csv", cars, 0.1086779, 7.414, 9.046, 0.88806},
		{"house-sales-1987.csv", houses, 0.2226988, 13.255, 15.906, 0.92674},
	} {
		sales, names := openSales(t, c.file, c.columns)
		q := plain(names)
		q.Method, q.Interval = OLSLog, TInterval
		taught, _ := withSales(q, everyOther(sales, 0)).usable()
		m, err := q.fit(OLSLog, taught)
		require.NoError(t, err)
		s := q.spread(OLSLog, m, taught, nil)
		tried, _ := withSales(q, everyOther(sales, 1)).usable()
		var errors []float64
		inside := 0.0
		for i := range tried.y {
			errors = append(errors, 100*math.Abs(math.Expm1(m.at(tried.x[i])-tried.y[i])))
			if low, high := s.ends(tried.x[i]); low <= tried.y[i] && tried.y[i] <= high {
				inside++
			}
		}
		assert.InDelta(t, c.sd, s.sd, 5e-8, c.file)
		assert.InDelta(t, c.middle, regress.Median(errors), 5e-4, c.file)
		assert.InDelta(t, c.mean, regress.Mean(errors), 5e-4, c.file)
		assert.InDelta(t, c.covered, inside/float64(len(tried.y)), 5e-6, c.file)
	}
}

func everyOther(sales []Sale, from int) []Sale {
	var kept []Sale
	for i := from; i < len(sales); i += 2 {
		kept = append(kept, sales[i])
	}
	return kept
}

// openSales reads a file's rows as sales. A column of words becomes a yes-or-no
// feature for each word but the first in the alphabet, as R does it.
func openSales(t *testing.T, file string, columns []string) (sales []Sale, names []string) {
	t.Helper()
	in, err := os.Open("../../testdata/published/valuation/" + file)
	require.NoError(t, err)
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	require.NoError(t, err)
	header, rows := rows[0], rows[1:]
	for _, row := range rows {
		price, err := strconv.ParseFloat(row[slices.Index(header, "price")], 64)
		require.NoError(t, err)
		sales = append(sales, Sale{PriceMinor: int64(math.Round(price * 100)), SoldOn: today, Features: map[string]float64{}})
	}
	for _, column := range columns {
		name, logged := column, false
		if len(name) > 3 && name[:3] == "ln " {
			name, logged = name[3:], true
		}
		at := slices.Index(header, name)
		require.GreaterOrEqual(t, at, 0, column)
		var words []string
		for i, row := range rows {
			x, err := strconv.ParseFloat(row[at], 64)
			switch {
			case err != nil:
				words = append(words, row[at])
			case logged:
				sales[i].Features[column] = math.Log(x)
			default:
				sales[i].Features[column] = x
			}
		}
		if words == nil {
			names = append(names, column)
			continue
		}
		for _, word := range slices.Compact(slices.Sorted(slices.Values(words)))[1:] {
			names = append(names, word)
			for i, row := range rows {
				sales[i].Features[word] = 0
				if row[at] == word {
					sales[i].Features[word] = 1
				}
			}
		}
	}
	return sales, names
}

// plain is a question with the defaults.
func plain(columns []string) Question {
	return Question{
		On: today, Columns: columns, Subject: make([]float64, len(columns)), Effects: make([]float64, len(columns)),
		Method: Auto, Lambda: 3, Coverage: 0.9, Interval: AutoInterval, Retransform: NoRetransform, RoundTo: 1,
	}
}

func withSales(q Question, sales []Sale) Question {
	q.Sales = sales
	return q
}

// priced makes sales of one feature, on the day of the valuation.
func priced(prices []int64, ages ...float64) []Sale {
	var sales []Sale
	for i, price := range prices {
		sale := Sale{ID: string(rune('a' + i)), PriceMinor: price, SoldOn: today, Features: map[string]float64{"age": 5}}
		if i < len(ages) {
			sale.Features["age"] = ages[i]
		}
		sales = append(sales, sale)
	}
	return sales
}

func TestWhichRangeAndWhyNone(t *testing.T) {
	for _, c := range []struct {
		name     string
		method   Method
		asked    Interval
		n        int
		coverage float64
		kind     Interval
		reason   string
	}{
		{"two sales", GridMedian, AutoInterval, 2, 0.9, NoInterval, FewerThanThree},
		{"two sales, t asked", GridMedian, TInterval, 2, 0.9, NoInterval, FewerThanThree},
		{"none asked", GridMedian, NoInterval, 2, 0.9, NoInterval, NotAsked},
		{"three sales", GridMedian, AutoInterval, 3, 0.9, TInterval, ""},
		{"eight", GridHuber, AutoInterval, 8, 0.5, TInterval, ""},
		{"nine", GridHuber, AutoInterval, 9, 0.9, JackknifePlus, ""},
		{"nine, too sure", GridHuber, AutoInterval, 9, 0.95, TInterval, ""},
		{"nine, too sure for ridge", RidgeLog, AutoInterval, 9, 0.95, NoInterval, TooFewForRange},
		{"nine by ridge", RidgeLog, AutoInterval, 9, 0.9, JackknifePlus, ""},
		{"five by ridge", RidgeLog, AutoInterval, 5, 0.9, NoInterval, TooFewForRange},
		{"ols", OLSLog, AutoInterval, 30, 0.9, TInterval, ""},
		{"t of ridge", RidgeLog, TInterval, 30, 0.9, NoInterval, TNotDefined},
		{"jackknife+ of four at 80 %", GridMedian, JackknifePlus, 4, 0.8, JackknifePlus, ""},
		{"jackknife+ of four at 81 %", GridMedian, JackknifePlus, 4, 0.81, NoInterval, TooFewForRange},
	} {
		q := plain(nil)
		q.Interval, q.Coverage = c.asked, c.coverage
		kind, reason := q.interval(c.method, c.n)
		assert.Equal(t, c.kind, kind, c.name)
		assert.Equal(t, c.reason, reason, c.name)
	}
}

// 0.55 · 20 is a little more than 11 in binary.
func TestRankForgivesBinaryFractions(t *testing.T) {
	low, high := Question{Coverage: 0.55}.rank(19)
	assert.Equal(t, []int{9, 11}, []int{low, high})
}

func TestRefusals(t *testing.T) {
	five := []int64{10000, 9000, 8000, 7000, 6000}
	for _, c := range []struct {
		name   string
		method Method
		sales  []Sale
		reason string
	}{
		{"nothing", Auto, nil, NoComparables},
		{"three for a line", OLSLog, priced(five[:3], 1, 2, 3), TooFewForModel},
		{"four for ridge", RidgeLog, priced(five[:4], 1, 2, 3, 4), TooFewForModel},
		{"four for Theil-Sen", TheilSenLog, priced(five[:4], 1, 2, 3, 4), TooFewForModel},
		{"all of an age, Theil-Sen", TheilSenLog, priced(five), NoVariation},
		{"all of an age, ols", OLSLog, priced(five), NoVariation},
		{"no price any more", Auto, priced(five[:1], 1e9), OutOfRange},
	} {
		q := withSales(plain([]string{"age"}), c.sales)
		q.Method, q.Effects[0] = c.method, -0.08
		q.AfterRepair = []float64{0}
		opinion := Value(q)
		assert.Equal(t, Refused, opinion.Status, c.name)
		require.NotNil(t, opinion.Reason, c.name)
		assert.Equal(t, c.reason, *opinion.Reason, c.name)
		assert.Nil(t, opinion.ValueMinor, c.name)
		assert.Equal(t, NoValue, *opinion.IntervalReason, c.name)
		assert.Equal(t, Refused, opinion.AfterRepair.Status, c.name)
	}
	q := withSales(plain([]string{"age"}), priced(five))
	q.Method = RidgeLog
	assert.Equal(t, OK, Value(q).Status, "ridge keeps the effect of a column that does not vary")
}

func TestSalesLeftOut(t *testing.T) {
	days, effect := int64(365), -0.1
	sale := func(change func(*Sale)) Sale {
		s := Sale{ID: "s", PriceMinor: 10000, SoldOn: today.AddDays(-365), Features: map[string]float64{"age": 1, "kit": 1}}
		change(&s)
		return s
	}
	for _, c := range []struct {
		name   string
		sale   Sale
		effect *float64
		reason string
	}{
		{"good", sale(func(s *Sale) {}), nil, ""},
		{"later, and everything else", sale(func(s *Sale) {
			s.SoldOn, s.Related, s.Asking, s.Features = today.AddDays(1), true, true, nil
		}), nil, "after_valuation_date"},
		{"a day too old", sale(func(s *Sale) { s.SoldOn, s.Related = today.AddDays(-366), true }), nil, "too_old"},
		{"to a brother", sale(func(s *Sale) { s.Related, s.Asking = true, true }), nil, "not_arms_length"},
		{"only asked", sale(func(s *Sale) { s.Asking, s.Features = true, nil }), nil, "asking_price"},
		{"asked, with an effect", sale(func(s *Sale) { s.Asking = true }), &effect, ""},
		{"first feature missing", sale(func(s *Sale) { s.Features = nil }), nil, "missing_feature:kit"},
	} {
		q := plain([]string{"kit", "age"})
		q.MaxAgeDays, q.AskingEffect = &days, c.effect
		assert.Equal(t, c.reason, q.reasonAgainst(c.sale), c.name)
	}
}

// An asking price of 1000.00 a Julian year and a half old, prices rising by 2 % a
// year and 10 % taken off in logs: worked by hand.
func TestTimeAndAskingMoveThePrice(t *testing.T) {
	effect := -0.10
	q := plain(nil)
	q.TimeEffect, q.AskingEffect = 0.02, &effect
	q.Sales = []Sale{{ID: "a", PriceMinor: 100000, SoldOn: today.AddDays(-548), Asking: true}}
	opinion := Value(q)
	shift := 0.02*548/365.25 - 0.10
	assert.InDelta(t, math.Log(100000)+shift, *opinion.CentreLog, 1e-12)
	assert.InDelta(t, shift, opinion.Adjusted[0].NetLog, 1e-12)
	assert.InDelta(t, -shift, opinion.Adjusted[0].GrossLog, 1e-12)
}

// Worked by hand: 100, 100, 400 have the median 100; the residuals in logs are
// 0, 0, ln 4.
func TestRetransformMultipliesTheValueOnly(t *testing.T) {
	q := withSales(plain([]string{"age"}), priced([]int64{10000, 10000, 40000}))
	q.Subject[0] = 5
	plainly := Value(q)
	for factor, want := range map[Retransform]float64{
		Smearing: (1 + 1 + 4) / 3.0, Lognormal: math.Exp(math.Log(4) * math.Log(4) / 2 / 2), NoRetransform: 1,
	} {
		q.Retransform = factor
		got := Value(q)
		assert.InDelta(t, want, *got.RetransformFactor, 1e-12, factor)
		assert.Equal(t, int64(math.Round(10000*want)), *got.ValueMinor, factor)
		assert.Equal(t, plainly.HighMinor, got.HighMinor, factor)
		assert.Equal(t, plainly.CentreLog, got.CentreLog, factor)
	}
}

func TestRounding(t *testing.T) {
	for _, c := range []struct {
		minor          float64
		to             int64
		near, down, up int64
	}{
		{12344.5, 1, 12345, 12344, 12345},
		{12345, 10, 12350, 12340, 12350},
		{math.Exp(math.Log(12345)), 10, 12350, 12340, 12350},
		{12345.0000004, 1, 12345, 12345, 12345},
		{12344.9999996, 1, 12345, 12345, 12345},
		{499, 1000, 0, 0, 1000},
	} {
		q := Question{RoundTo: c.to}
		assert.Equal(t, []int64{c.near, c.down, c.up}, []int64{q.rounded(c.minor), q.roundedDown(c.minor), q.roundedUp(c.minor)}, "%v to %d", c.minor, c.to)
	}
}

func TestAfterRepair(t *testing.T) {
	q := withSales(plain([]string{"age"}), priced([]int64{70000, 68000, 71000}))
	q.Subject[0], q.Effects[0], q.AfterRepair = 5, -0.08, []float64{3}
	got := Value(q)
	assert.Equal(t, int64(70000), *got.ValueMinor)
	assert.Equal(t, int64(math.Round(70000*math.Exp(0.16))), *got.AfterRepair.ValueMinor)
	assert.Equal(t, *got.AfterRepair.ValueMinor-70000, *got.GainMinor)
	assert.Less(t, *got.AfterRepair.LowMinor, *got.AfterRepair.ValueMinor)
}

func TestOutlierIsFlaggedNotDropped(t *testing.T) {
	q := withSales(plain([]string{"age"}), priced([]int64{50000, 51000, 52000, 53000, 9000}))
	q.Subject[0] = 5
	got := Value(q)
	assert.Equal(t, 5, got.Used)
	for i, line := range got.Adjusted {
		assert.Equal(t, i == 4, line.Outlier, line.ID)
	}
}

// drawn is a question of any kind that should be answered or refused, with
// prices of used boats and effects within reason.
func drawn(t *rapid.T) Question {
	columns := []string{"age", "condition", "kit"}[:rapid.IntRange(0, 3).Draw(t, "columns")]
	q := plain(columns)
	q.Method = rapid.SampledFrom([]Method{Auto, GridMedian, GridHuber, RidgeLog, OLSLog, TheilSenLog, HuberLog}).Draw(t, "method")
	if len(columns) == 0 && q.Method == TheilSenLog {
		q.Method = Auto
	}
	q.Interval = rapid.SampledFrom([]Interval{AutoInterval, NoInterval, TInterval, JackknifePlus}).Draw(t, "interval")
	q.Retransform = rapid.SampledFrom([]Retransform{NoRetransform, Smearing, Lognormal}).Draw(t, "retransform")
	q.Coverage = rapid.SampledFrom([]float64{0.5, 0.8, 0.9, 0.99}).Draw(t, "coverage")
	q.Lambda = rapid.SampledFrom([]float64{0, 0.5, 3, 100}).Draw(t, "lambda")
	small := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(0, 8).Draw(t, "feature")) })
	for j := range columns {
		q.Subject[j] = small.Draw(t, "subject")
		q.Effects[j] = rapid.Float64Range(-0.3, 0.3).Draw(t, "effect")
	}
	for i := range rapid.IntRange(0, 12).Draw(t, "n") {
		sale := Sale{ID: strconv.Itoa(i), PriceMinor: rapid.Int64Range(100, 500_000).Draw(t, "price"), SoldOn: today.AddDays(-rapid.IntRange(0, 900).Draw(t, "days")), Features: map[string]float64{}}
		for _, name := range columns {
			sale.Features[name] = small.Draw(t, name)
		}
		q.Sales = append(q.Sales, sale)
	}
	return q
}

func TestEveryNumberIsFiniteAndEveryRangeInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := drawn(t)
		q.AfterRepair = q.Subject
		got := Value(q)
		if got.Status == Refused {
			assert.Nil(t, got.ValueMinor)
			return
		}
		numbers := []float64{*got.CentreLog, *got.RetransformFactor}
		for _, number := range []*float64{got.InterceptLog, got.ResidualSDLog, got.LeaveOneOutError} {
			if number != nil {
				numbers = append(numbers, *number)
			}
		}
		for _, x := range numbers {
			assert.False(t, math.IsNaN(x) || math.IsInf(x, 0))
		}
		if got.LowMinor != nil {
			assert.LessOrEqual(t, *got.LowMinor, *got.HighMinor)
		} else {
			assert.NotNil(t, got.IntervalReason)
		}
		assert.Equal(t, got.ValueMinor, got.AfterRepair.ValueMinor, "the same boat has the same value")
	})
}

func TestOrderOfSalesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := drawn(t)
		turned := q
		turned.Sales = slices.Clone(q.Sales)
		slices.Reverse(turned.Sales)
		a, b := Value(q), Value(turned)
		require.Equal(t, a.Status, b.Status)
		near(t, a.ValueMinor, b.ValueMinor, 1)
		near(t, a.LowMinor, b.LowMinor, 1)
		near(t, a.HighMinor, b.HighMinor, 1)
	})
}

// Ten times the prices are ten times the value, but for rounding.
func TestScalingPricesScalesTheValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := drawn(t)
		scaled := withSales(q, slices.Clone(q.Sales))
		for i := range scaled.Sales {
			scaled.Sales[i].PriceMinor *= 10
		}
		a, b := Value(q), Value(scaled)
		if b.Reason != nil && *b.Reason == OutOfRange {
			t.Skip("ten times the range is no price any more")
		}
		require.Equal(t, a.Status, b.Status)
		if a.ValueMinor != nil {
			ten := *a.ValueMinor * 10
			near(t, &ten, b.ValueMinor, 10)
		}
	})
}

func near(t require.TestingT, a, b *int64, tolerance float64) {
	require.Equal(t, a == nil, b == nil)
	if a != nil {
		require.InDelta(t, float64(*a), float64(*b), tolerance+1e-12*float64(*a), "%d and %d", *a, *b)
	}
}

func TestMoreDamageNeverRaisesTheValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := drawn(t)
		q.Method = rapid.SampledFrom([]Method{GridMedian, GridHuber}).Draw(t, "grid")
		if len(q.Columns) == 0 || len(q.Sales) == 0 {
			t.Skip("no damage to speak of")
		}
		q.Effects[0] = rapid.Float64Range(-0.5, 0).Draw(t, "harm")
		q.AfterRepair = slices.Clone(q.Subject)
		q.AfterRepair[0] += rapid.Float64Range(0, 10).Draw(t, "more")
		got := Value(q)
		if got.Status == Refused {
			t.Skip("refused")
		}
		assert.LessOrEqual(t, *got.AfterRepair.ValueMinor, *got.ValueMinor)
	})
}
