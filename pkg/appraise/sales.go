package appraise

import (
	"math"

	"refloat.example/pkg/regress"
)

// daysPerYear is the Julian year.
const daysPerYear = 365.25

// A table holds the usable sales, ready for arithmetic.
type table struct {
	ids   []string
	log   []float64    // ln of the price in minor units, as paid or asked
	moved []float64    // what time and asking add to it
	y     []float64    // log + moved
	x     regress.Rows // features in the order of the question's columns
}

// usable parts the sales into those that count and those left out.
func (q Question) usable() (table, []Exclusion) {
	t, excluded := table{}, []Exclusion{}
	for _, sale := range q.Sales {
		if reason := q.reasonAgainst(sale); reason != "" {
			excluded = append(excluded, Exclusion{sale.ID, reason})
			continue
		}
		log, moved := math.Log(float64(sale.PriceMinor)), q.moved(sale)
		t.ids = append(t.ids, sale.ID)
		t.log, t.moved, t.y = append(t.log, log), append(t.moved, moved), append(t.y, log+moved)
		row := make([]float64, len(q.Columns))
		for j, name := range q.Columns {
			row[j] = sale.Features[name]
		}
		t.x = append(t.x, row)
	}
	return t, excluded
}

// Usable counts the sales that count.
func (q Question) Usable() int {
	t, _ := q.usable()
	return t.len()
}

// reasonAgainst gives the first reason to leave a sale out, or "".
func (q Question) reasonAgainst(sale Sale) string {
	switch {
	case sale.SoldOn.After(q.On):
		return "after_valuation_date"
	case q.MaxAgeDays != nil && int64(q.On.DaysSince(sale.SoldOn)) > *q.MaxAgeDays:
		return "too_old"
	case sale.Related:
		return "not_arms_length"
	case sale.Asking && q.AskingEffect == nil:
		return "asking_price"
	}
	for _, name := range q.Columns {
		if _, known := sale.Features[name]; !known {
			return "missing_feature:" + name
		}
	}
	return ""
}

// moved is what brings a price to the valuation date, and an asked one to what
// is paid, in log points.
func (q Question) moved(sale Sale) float64 {
	shift := q.TimeEffect * float64(q.On.DaysSince(sale.SoldOn)) / daysPerYear
	if sale.Asking {
		shift += *q.AskingEffect
	}
	return shift
}

func (t table) len() int { return len(t.y) }

// without gives the table with row i left out. It shares the rows.
func (t table) without(i int) table {
	return table{
		y: append(append([]float64{}, t.y[:i]...), t.y[i+1:]...),
		x: append(append(regress.Rows{}, t.x[:i]...), t.x[i+1:]...),
	}
}

func (t table) column(j int) []float64 {
	column := make([]float64, len(t.x))
	for i := range t.x {
		column[i] = t.x[i][j]
	}
	return column
}

// outlier bounds how many scaled median absolute deviations a sale may lie from
// the median before it is asked for a reason (common practice).
const outlier = 3.5

// adjusted is the sales grid: each price brought to the subject by the effects.
func (q Question) adjusted(t table) []Adjustment {
	z := make([]float64, t.len())
	for i := range z {
		z[i] = t.y[i] + across(q.Effects, q.Subject, t.x[i])
	}
	middle, spread := regress.Median(z), regress.MADFactor*regress.MAD(z)
	lines := make([]Adjustment, len(z))
	for i := range z {
		gross := math.Abs(t.moved[i])
		for j, effect := range q.Effects {
			gross += math.Abs(effect * (q.Subject[j] - t.x[i][j]))
		}
		lines[i] = Adjustment{
			ID:            t.ids[i],
			AdjustedMinor: q.rounded(math.Exp(z[i])),
			NetLog:        z[i] - t.log[i],
			GrossLog:      gross,
			Outlier:       spread > noSpread && math.Abs(z[i]-middle)/spread > outlier,
		}
	}
	return lines
}

// noSpread is the spread, in log points, that is only rounding.
const noSpread = 1e-12

// across is what the effects make of the way from one boat to another.
func across(effects, to, from []float64) float64 {
	sum := 0.0
	for j, effect := range effects {
		sum += effect * (to[j] - from[j])
	}
	return sum
}
