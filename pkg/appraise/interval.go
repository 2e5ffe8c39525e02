package appraise

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"refloat.example/pkg/regress"
)

// rank gives the order statistics that jackknife+ takes out of n: both are
// counted from 1. The small number keeps 0.9·10 from counting as more than 9.
func (q Question) rank(n int) (low, high int) {
	high = int(math.Ceil(q.Coverage*float64(n+1) - 1e-9))
	return n + 1 - high, high
}

// interval decides which range n sales allow, and says why there is none.
func (q Question) interval(method Method, n int) (Interval, string) {
	_, high := q.rank(n)
	switch {
	case q.Interval == NoInterval:
		return NoInterval, NotAsked
	case n < fewestForRange:
		return NoInterval, FewerThanThree
	case q.Interval == AutoInterval:
		return autoInterval(method, n, high)
	case q.Interval == JackknifePlus && high > n:
		return NoInterval, TooFewForRange
	case q.Interval == TInterval && !method.isGrid() && method != OLSLog:
		return NoInterval, TNotDefined
	}
	return q.Interval, ""
}

func autoInterval(method Method, n, high int) (Interval, string) {
	switch {
	case method == OLSLog:
		return TInterval, ""
	case n >= 9 && high <= n:
		return JackknifePlus, ""
	case method.isGrid():
		return TInterval, ""
	}
	return NoInterval, TooFewForRange
}

// A spread is what a range is made from, for any boat at once.
type spread struct {
	kind   Interval
	sd     float64 // t only
	ends   func(x []float64) (low, high float64)
	reason string // why there is none
}

func (q Question) spread(method Method, m model, t table, left *leftOut) spread {
	kind, reason := q.interval(method, t.len())
	switch {
	case kind == TInterval && method == OLSLog:
		return q.planeSpread(m)
	case kind == TInterval:
		return q.gridSpread(m, t)
	case kind == JackknifePlus && left != nil:
		return spread{kind: kind, ends: func(x []float64) (float64, float64) { return q.jackknife(left, x) }}
	case kind == JackknifePlus:
		reason = TooFewForRange // leaving one sale out leaves nothing to learn from
	}
	return spread{kind: NoInterval, reason: reason}
}

// gridSpread is the t range for one more sale around a middle of levels.
func (q Question) gridSpread(m model, t table) spread {
	n := float64(t.len())
	sd := regress.SD(q.levels(t, -1))
	half := q.studentT(n-1) * sd * math.Sqrt(1+1/n)
	return spread{kind: TInterval, sd: sd, ends: func(x []float64) (float64, float64) {
		return m.at(x) - half, m.at(x) + half
	}}
}

// planeSpread is the t range for one more sale about a fitted plane.
func (q Question) planeSpread(m model) spread {
	sd := m.plane.ResidualSD()
	quantile := q.studentT(float64(m.plane.Freedom))
	return spread{kind: TInterval, sd: sd, ends: func(x []float64) (float64, float64) {
		half := quantile * sd * math.Sqrt(1+m.plane.Leverage(chosen(x, m.of)))
		return m.at(x) - half, m.at(x) + half
	}}
}

// studentT is the quantile that leaves half of what is not covered on each side.
func (q Question) studentT(freedom float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(0.5 + q.Coverage/2)
}

// leftOut holds, for each sale, the model of all others and how far it missed.
type leftOut struct {
	models []model
	misses []float64 // predicted − observed, in log points
}

// leaveOneOut refits without each sale in turn; nil when one of the fits is
// impossible.
func (q Question) leaveOneOut(method Method, t table) *leftOut {
	left := &leftOut{}
	for i := range t.y {
		m, err := q.fit(method, t.without(i))
		if err != nil {
			return nil
		}
		left.models = append(left.models, m)
		left.misses = append(left.misses, m.at(t.x[i])-t.y[i])
	}
	return left
}

// honesty is the median absolute error, in percent, of valuing each sale by all
// others; nil where it cannot be told.
func (left *leftOut) honesty() *float64 {
	if left == nil {
		return nil
	}
	errors := make([]float64, len(left.misses))
	for i, miss := range left.misses {
		errors[i] = math.Abs(math.Expm1(miss))
	}
	percent := 100 * regress.Median(errors)
	if math.IsInf(percent, 0) || math.IsNaN(percent) {
		return nil
	}
	return &percent
}

// jackknife is jackknife+ (Barber, Candès, Ramdas, Tibshirani 2021): order
// statistics of what the leave-one-out models say, less and plus their misses.
func (q Question) jackknife(left *leftOut, x []float64) (low, high float64) {
	var lows, highs []float64
	for i, m := range left.models {
		miss := math.Abs(left.misses[i])
		lows, highs = append(lows, m.at(x)-miss), append(highs, m.at(x)+miss)
	}
	slices.Sort(lows)
	slices.Sort(highs)
	lowRank, highRank := q.rank(len(lows))
	return lows[lowRank-1], highs[highRank-1]
}
