package regress

import (
	"math"
	"slices"
)

// PairwiseSlopes gives the slope of every pair of points with unequal x, in
// ascending order.
func PairwiseSlopes(x, y []float64) []float64 {
	var slopes []float64
	for i := range x {
		for j := range i {
			if x[i] != x[j] {
				slopes = append(slopes, (y[i]-y[j])/(x[i]-x[j]))
			}
		}
	}
	slices.Sort(slopes)
	return slopes
}

// TheilSen fits a line whose slope is the median of the pairwise slopes and
// whose intercept is the median of y − slope·x (Sen 1968). Nearly three points
// in ten may be wild.
func TheilSen(x, y []float64) (intercept, slope float64, err error) {
	slopes := PairwiseSlopes(x, y)
	if len(slopes) == 0 {
		return 0, 0, ErrNoVariation
	}
	slope = medianOfSorted(slopes)
	rest := make([]float64, len(y))
	for i := range y {
		rest[i] = y[i] - slope*x[i]
	}
	return Median(rest), slope, nil
}

// A Weigher says how much a residual counts, given in units of the scale; 1 is
// in full.
type Weigher func(residual float64) float64

// Huber counts residuals within k in full and beyond it by k/|residual|.
func Huber(k float64) Weigher {
	return func(u float64) float64 { return min(1, k/math.Abs(u)) }
}

// Bisquare is Tukey's weight: smooth, and nothing beyond c.
func Bisquare(c float64) Weigher {
	return func(u float64) float64 {
		inside := 1 - (u/c)*(u/c)
		if inside <= 0 {
			return 0
		}
		return inside * inside
	}
}

// A RobustFit is a plane from which wild rows have been weighed down.
type RobustFit struct {
	Intercept float64
	Slopes    []float64
	Weights   []float64
	Scale     float64
}

// Robust fits a plane by reweighted least squares until the residuals settle to
// 1e-12. The scale is the median absolute residual over 0.6745, taken anew at
// each step. start may be nil: then it begins with ordinary least squares.
func Robust(x Rows, y []float64, weigh Weigher, start *RobustFit) (*RobustFit, error) {
	if start == nil {
		ordinary, err := Plane(x, y)
		if err != nil {
			return nil, err
		}
		start = &RobustFit{Intercept: ordinary.Intercept, Slopes: ordinary.Slopes}
	}
	now, residuals := start, start.residuals(x, y)
	for range 500 {
		next, err := reweighted(x, y, residuals, weigh)
		if err != nil {
			return nil, err
		}
		moved := next.residuals(x, y)
		settled := distance(residuals, moved) <= 1e-12*math.Max(length(residuals), 1e-10)
		now, residuals = next, moved
		if settled {
			break
		}
	}
	return now, nil
}

func (f *RobustFit) residuals(x Rows, y []float64) []float64 {
	residuals := make([]float64, len(y))
	for i := range y {
		residuals[i] = y[i] - f.Intercept - dot(f.Slopes, x[i])
	}
	return residuals
}

func reweighted(x Rows, y, residuals []float64, weigh Weigher) (*RobustFit, error) {
	sizes := make([]float64, len(residuals))
	for i, r := range residuals {
		sizes[i] = math.Abs(r)
	}
	scale := Median(sizes) / 0.6745
	if scale == 0 {
		return nil, ErrNoVariation
	}
	weights := make([]float64, len(residuals))
	for i, r := range residuals {
		weights[i] = weigh(r / scale)
	}
	slopes, err := weighted(x, y, weights)
	if err != nil {
		return nil, err
	}
	return &RobustFit{Intercept: slopes[0], Slopes: slopes[1:], Weights: weights, Scale: scale}, nil
}

// weighted fits intercept and slopes with rows that count by their weight.
func weighted(x Rows, y, weights []float64) ([]float64, error) {
	rows, values := make(Rows, len(x)), make([]float64, len(y))
	for i, w := range weights {
		root := math.Sqrt(w)
		rows[i] = []float64{root}
		for _, value := range x[i] {
			rows[i] = append(rows[i], root*value)
		}
		values[i] = root * y[i]
	}
	plane, err := ThroughOrigin(rows, values)
	if err != nil {
		return nil, err
	}
	return plane.Slopes, nil
}

func distance(a, b []float64) float64 {
	difference := make([]float64, len(a))
	for i := range a {
		difference[i] = a[i] - b[i]
	}
	return length(difference)
}
