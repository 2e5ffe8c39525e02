package appraise

import (
	"math"
)

// Value answers a question. A question without usable sales, or with too few
// for its method, is refused: that is an answer, not an error. The caller sees
// to it that lists fit their columns and numbers their ranges.
func Value(q Question) Opinion {
	t, excluded := q.usable()
	opinion := Opinion{
		Entered: len(q.Sales), Used: t.len(), Excluded: excluded,
		Coverage: q.Coverage, IntervalMethod: NoInterval, Adjusted: []Adjustment{},
	}
	method := q.Method.chosen(t.len())
	switch {
	case t.len() == 0:
		return q.refuse(opinion, NoComparables)
	case t.len() < method.fewest(len(q.Columns)):
		return q.refuse(opinion, TooFewForModel)
	}
	m, err := q.fit(method, t)
	if err != nil {
		return q.refuse(opinion, reasonFor(err))
	}
	return q.conclude(opinion, method, m, t)
}

func (q Question) refuse(opinion Opinion, reason string) Opinion {
	refused := Opinion{
		Status: Refused, Reason: &reason, Entered: opinion.Entered, Used: opinion.Used, Excluded: opinion.Excluded,
		Coverage: opinion.Coverage, IntervalMethod: NoInterval, IntervalReason: ref(NoValue), Adjusted: []Adjustment{},
	}
	if q.AfterRepair != nil {
		refused.AfterRepair = &AfterRepair{Status: Refused}
	}
	if q.ForParts != nil {
		refused.ForParts = &AfterRepair{Status: Refused}
	}
	return refused
}

// conclude draws value, range and honesty from a fitted model.
func (q Question) conclude(opinion Opinion, method Method, m model, t table) Opinion {
	var left *leftOut
	if t.len() >= fewestForHonest {
		left = q.leaveOneOut(method, t)
	}
	s := q.spread(method, m, t, left)
	factor := q.meanFactor(method, m, t)
	asIs, whole := q.price(m, s, factor, q.Subject)
	opinion.Status = statusOf(t.len())
	opinion.Method = &method
	opinion.CentreLog, opinion.ValueMinor, opinion.LowMinor, opinion.HighMinor = asIs.CentreLog, asIs.ValueMinor, asIs.LowMinor, asIs.HighMinor
	opinion.IntervalMethod, opinion.RetransformFactor = s.kind, &factor
	if s.reason != "" {
		opinion.IntervalReason = &s.reason
	}
	if s.kind == TInterval {
		opinion.ResidualSDLog = &s.sd
	}
	opinion.Coefficients = map[string]float64{}
	for j, name := range q.Columns {
		opinion.Coefficients[name] = m.slopes[j]
	}
	for _, j := range m.refused {
		opinion.RefusedEffects = append(opinion.RefusedEffects, q.Columns[j])
	}
	opinion.LeaveOneOutError = left.honesty()
	if method.isGrid() {
		opinion.Adjusted = q.adjusted(t)
	} else {
		opinion.InterceptLog = ref(q.interceptOf(method, m))
	}
	if q.AfterRepair != nil {
		repaired, fits := q.price(m, s, factor, q.AfterRepair)
		whole = whole && fits
		repaired.Status = opinion.Status
		opinion.AfterRepair = &repaired
		opinion.GainMinor = ref(*repaired.ValueMinor - *opinion.ValueMinor)
	}
	if q.ForParts != nil {
		parts, fits := q.price(m, s, factor, q.ForParts)
		whole = whole && fits
		parts.Status = opinion.Status
		opinion.ForParts = &parts
	}
	if !whole || !opinion.isWhole() {
		return q.refuse(opinion, OutOfRange)
	}
	return opinion
}

// interceptOf is the intercept as shown. That of TheilSenLog belongs to sales
// moved to the subject in all features but the fitted one.
func (q Question) interceptOf(method Method, m model) float64 {
	if method != TheilSenLog {
		return m.intercept
	}
	return m.at(q.Subject) - m.slopes[q.Feature]*q.Subject[q.Feature]
}

func statusOf(n int) Status {
	switch {
	case n <= 2:
		return Indication
	case n <= 4:
		return Weak
	}
	return OK
}

// price turns what a model says of one boat into money, and says whether that
// still is money.
func (q Question) price(m model, s spread, factor float64, x []float64) (AfterRepair, bool) {
	centre := m.at(x)
	priced := AfterRepair{CentreLog: &centre, ValueMinor: ref(q.rounded(math.Exp(centre) * factor))}
	whole := isPrice(*priced.ValueMinor)
	if s.ends != nil {
		low, high := s.ends(x)
		priced.LowMinor, priced.HighMinor = ref(q.roundedDown(math.Exp(low))), ref(q.roundedUp(math.Exp(high)))
		whole = whole && isPrice(*priced.LowMinor) && isPrice(*priced.HighMinor)
	}
	return priced, whole
}

// largestPrice is the largest amount, in minor units, that every reader of a
// JSON number gets exactly: 2^53.
const largestPrice = 1 << 53

// noPrice is what rounding gives for a figure that is no longer a price.
const noPrice = largestPrice + 1

func isPrice(minor int64) bool { return minor != noPrice }

// isWhole says whether every number of the opinion is one.
func (o Opinion) isWhole() bool {
	numbers := []float64{*o.CentreLog, *o.RetransformFactor}
	for _, coefficient := range o.Coefficients {
		numbers = append(numbers, coefficient)
	}
	for _, line := range o.Adjusted {
		numbers = append(numbers, line.NetLog, line.GrossLog)
		if !isPrice(line.AdjustedMinor) {
			return false
		}
	}
	if o.InterceptLog != nil {
		numbers = append(numbers, *o.InterceptLog)
	}
	if o.ResidualSDLog != nil {
		numbers = append(numbers, *o.ResidualSDLog)
	}
	for _, x := range numbers {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// snap is how close to a step, in minor units, counts as on it: logarithms and
// back lose that much.
const snap = 1e-6

// rounded gives the nearest multiple of RoundTo; halves go up.
func (q Question) rounded(minor float64) int64 {
	return q.steps(math.Floor((minor+snap)/float64(q.RoundTo) + 0.5))
}

func (q Question) roundedDown(minor float64) int64 {
	return q.steps(math.Floor((minor + snap) / float64(q.RoundTo)))
}

func (q Question) roundedUp(minor float64) int64 {
	return q.steps(math.Ceil((minor - snap) / float64(q.RoundTo)))
}

// steps turns a number of steps into minor units.
func (q Question) steps(count float64) int64 {
	minor := count * float64(q.RoundTo)
	if !(minor >= 0 && minor <= largestPrice) {
		return noPrice
	}
	return int64(count) * q.RoundTo
}

func ref[T any](x T) *T { return &x }
