package appraise

import (
	"cmp"
	"math"
	"slices"

	"refloat.example/pkg/regress"
)

// The steps of an explanation that are no features.
const (
	TimeStep   = "time"
	AskingStep = "asking"
)

// A Line says how one sale speaks for the subject: its price, and what each
// difference makes of it.
type Line struct {
	Sale          Sale
	Steps         []Step // time, asking, then the features in the question's order; 0 where nothing differs
	AdjustedMinor int64
	NetLog        float64 // all steps together
	GrossLog      float64 // all steps, none of them outweighing another
	Outlier       bool
}

// A Step is one adjustment, in log points of the price.
type Step struct {
	Name string
	Log  float64
}

// Percent is what a step in log points does to a price.
func Percent(log float64) float64 { return 100 * math.Expm1(log) }

// Explain gives the sales that an opinion used, the most similar first: those
// with the smallest gross adjustment. The effects are the opinion's own, so that
// the middle of the adjusted prices is the value: their median for GridMedian,
// Huber's location for GridHuber, their geometric mean for RidgeLog.
func (q Question) Explain(o Opinion) []Line {
	if o.Status == Refused {
		return nil
	}
	out := map[string]bool{}
	for _, e := range o.Excluded {
		out[e.ID] = true
	}
	var lines []Line
	var levels []float64
	for _, sale := range q.Sales {
		if !out[sale.ID] {
			l := q.explain(o, sale)
			lines, levels = append(lines, l), append(levels, math.Log(float64(sale.PriceMinor))+l.NetLog)
		}
	}
	middle, spread := regress.Median(levels), regress.MADFactor*regress.MAD(levels)
	for i := range lines {
		lines[i].Outlier = spread > noSpread && math.Abs(levels[i]-middle)/spread > outlier
	}
	slices.SortFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(a.GrossLog, b.GrossLog), b.Sale.SoldOn.Compare(a.Sale.SoldOn), cmp.Compare(a.Sale.ID, b.Sale.ID))
	})
	return lines
}

func (q Question) explain(o Opinion, sale Sale) Line {
	l := Line{Sale: sale}
	asking := 0.0
	if sale.Asking && q.AskingEffect != nil {
		asking = *q.AskingEffect
	}
	l.Steps = []Step{{TimeStep, q.moved(sale) - asking}, {AskingStep, asking}}
	for j, name := range q.Columns {
		l.Steps = append(l.Steps, Step{name, o.Coefficients[name] * (q.Subject[j] - sale.Features[name])})
	}
	for _, step := range l.Steps {
		l.NetLog += step.Log
		l.GrossLog += math.Abs(step.Log)
	}
	l.AdjustedMinor = q.rounded(math.Exp(math.Log(float64(sale.PriceMinor)) + l.NetLog))
	return l
}
