package appraise

import (
	"errors"
	"math"
	"slices"

	"refloat.example/pkg/regress"
)

// A model is what the sales teach: the log price of any boat.
type model struct {
	intercept float64
	slopes    []float64
	// plane is set for a least squares fit, which knows its own uncertainty; of
	// names the columns that it was fitted to.
	plane *regress.Fit
	of    []int
	// refused are the columns that keep the club's effect because the sales teach
	// one of a sign that it cannot have.
	refused []int
}

func (m model) at(x []float64) float64 {
	y := m.intercept
	for j, slope := range m.slopes {
		y += slope * x[j]
	}
	return y
}

// residuals are observed minus fitted.
func (m model) residuals(t table) []float64 {
	left := make([]float64, t.len())
	for i := range left {
		left[i] = t.y[i] - m.at(t.x[i])
	}
	return left
}

func (m Method) isGrid() bool { return m == GridMedian || m == GridHuber }

// chosen gives the method in use for n sales.
func (m Method) chosen(n int) Method {
	switch {
	case m != Auto:
		return m
	case n <= 4:
		return GridMedian
	case n <= 8:
		return GridHuber
	}
	return RidgeLog
}

// fewest is how many sales a method needs for a number of columns. Leave-one-out
// fits make do with one sale less.
func (m Method) fewest(columns int) int {
	switch m {
	case OLSLog, HuberLog:
		return columns + 3
	case RidgeLog, TheilSenLog:
		return 5
	}
	return 1
}

// fit teaches a method's model from a table. Columns whose effect comes out with
// a sign that it cannot have are held at the club's effect, and the others are
// taught anew.
func (q Question) fit(method Method, t table) (model, error) {
	var held []int
	for {
		m, err := q.fitHolding(method, t, held)
		if err != nil || method.isGrid() {
			return m, err
		}
		wrong := q.wrongSigned(m, held)
		if len(wrong) == 0 {
			m.refused = held
			return m, nil
		}
		held = append(held, wrong...)
		slices.Sort(held)
	}
}

// wrongSigned lists the columns, besides those held, whose effect has a sign that
// it cannot have.
func (q Question) wrongSigned(m model, held []int) []int {
	var wrong []int
	for j, sign := range q.Signs {
		if float64(sign)*m.slopes[j] < 0 && !slices.Contains(held, j) {
			wrong = append(wrong, j)
		}
	}
	return wrong
}

func (q Question) fitHolding(method Method, t table, held []int) (model, error) {
	switch method {
	case OLSLog:
		return q.plane(method, t, held)
	case HuberLog:
		return q.plane(method, t, slices.Concat(held, t.constant()))
	case RidgeLog:
		return q.ridge(t, held)
	case TheilSenLog:
		return q.theilSen(t, held)
	}
	return q.grid(method, t), nil
}

// plane is fitted to all columns but the held ones, whose effects are taken out of
// the prices first: by least squares, or robustly.
func (q Question) plane(method Method, t table, held []int) (model, error) {
	m := model{slopes: append([]float64{}, q.Effects...)}
	for j := range q.Columns {
		if !slices.Contains(held, j) {
			m.of = append(m.of, j)
		}
	}
	rows, y := make(regress.Rows, t.len()), append([]float64{}, t.y...)
	for i := range rows {
		rows[i] = chosen(t.x[i], m.of)
		for _, j := range held {
			y[i] -= q.Effects[j] * t.x[i][j]
		}
	}
	slopes, err := m.fitPlane(method, rows, y)
	if err != nil {
		return m, err
	}
	for k, j := range m.of {
		m.slopes[j] = slopes[k]
	}
	return m, nil
}

// constant lists the columns that do not vary: of them nothing can be learned.
func (t table) constant() []int {
	var columns []int
	for j := range t.x[0] {
		if regress.SD(t.column(j)) < noSpread {
			columns = append(columns, j)
		}
	}
	return columns
}

func (m *model) fitPlane(method Method, x regress.Rows, y []float64) ([]float64, error) {
	if method == HuberLog {
		robust, err := regress.Robust(x, y, regress.Huber(regress.HubersK), nil)
		m.intercept = robust.Intercept
		return robust.Slopes, err
	}
	plane, err := regress.Plane(x, y)
	if err != nil {
		return nil, err
	}
	m.plane, m.intercept = plane, plane.Intercept
	return plane.Slopes, nil
}

// chosen gives some columns of a row.
func chosen(row []float64, columns []int) []float64 {
	part := make([]float64, len(columns))
	for k, j := range columns {
		part[k] = row[j]
	}
	return part
}

// grid keeps the club's effects and finds only the level.
func (q Question) grid(method Method, t table) model {
	levels := q.levels(t, -1)
	if method == GridMedian {
		return model{intercept: regress.Median(levels), slopes: q.Effects}
	}
	return model{intercept: regress.HuberLocation(levels, regress.HubersK), slopes: q.Effects}
}

// levels takes the club's effects out of the log prices, except that of one
// column (-1 for none).
func (q Question) levels(t table, except int) []float64 {
	levels := make([]float64, t.len())
	for i := range levels {
		levels[i] = t.y[i]
		for j, effect := range q.Effects {
			if j != except {
				levels[i] -= effect * t.x[i][j]
			}
		}
	}
	return levels
}

// theilSen fits one feature and moves the others by the club's effects.
func (q Question) theilSen(t table, held []int) (model, error) {
	if len(held) > 0 {
		return q.grid(GridMedian, t), nil
	}
	intercept, slope, err := regress.TheilSen(t.column(q.Feature), q.levels(t, q.Feature))
	if err != nil {
		return model{}, err
	}
	slopes := append([]float64{}, q.Effects...)
	slopes[q.Feature] = slope
	return model{intercept: intercept, slopes: slopes}, nil
}

// ridge lets the sales correct the club's effects against a pull of Lambda
// back toward them. A column that does not vary, or is held, keeps the club's
// effect.
func (q Question) ridge(t table, held []int) (model, error) {
	slopes, means := append([]float64{}, q.Effects...), make([]float64, len(q.Columns))
	var free []int
	var spread []float64
	for j := range slopes {
		column := t.column(j)
		means[j] = regress.Mean(column)
		if sd := regress.SD(column); sd >= noSpread && !slices.Contains(held, j) {
			free, spread = append(free, j), append(spread, sd)
		}
	}
	rows := make(regress.Rows, t.len())
	for i := range rows {
		for k, j := range free {
			rows[i] = append(rows[i], (t.x[i][j]-means[j])/spread[k])
		}
	}
	levels := q.levels(t, -1)
	middle := regress.Mean(levels)
	for i := range levels {
		levels[i] -= middle
	}
	corrections, err := regress.Ridge(rows, levels, q.Lambda)
	if err != nil {
		return model{}, err
	}
	for k, j := range free {
		slopes[j] += corrections[k] / spread[k]
	}
	intercept := regress.Mean(t.y)
	for j, slope := range slopes {
		intercept -= slope * means[j]
	}
	return model{intercept: intercept, slopes: slopes}, nil
}

// reasonFor turns a failed fit into the reason of a refusal.
func reasonFor(err error) string {
	if errors.Is(err, regress.ErrTooFew) {
		return TooFewForModel
	}
	return NoVariation
}

// meanFactor is what turns the median price into the mean price. Where no
// freedom is left to judge the scatter by, it is 1.
func (q Question) meanFactor(method Method, m model, t table) float64 {
	left := m.residuals(t)
	switch q.Retransform {
	case Smearing:
		sum := 0.0
		for _, r := range left {
			sum += math.Exp(r)
		}
		return sum / float64(len(left))
	case Lognormal:
		freedom := len(left) - 1
		if !method.isGrid() {
			freedom -= len(q.Columns)
		}
		if freedom <= 0 {
			return 1
		}
		sum := 0.0
		for _, r := range left {
			sum += r * r
		}
		return math.Exp(sum / float64(freedom) / 2)
	}
	return 1
}
