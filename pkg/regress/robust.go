package regress

import "math"

// A Psi is how strongly an observation pulls that lies u scales off, as a weight
// from 0 to 1.
type Psi func(u float64) float64

// Huber lets observations within k scales pull in full, and others no more than
// those at k. With k = HubersK it is 95 % as good as least squares for normal data.
func Huber(k float64) Psi {
	return func(u float64) float64 { return min(1, k/math.Abs(u)) }
}

// Bisquare lets observations beyond c scales not pull at all (Tukey; c = 4.685 is
// as good as Huber's default).
func Bisquare(c float64) Psi {
	return func(u float64) float64 {
		within := 1 - min(1, (u/c)*(u/c))
		return within * within
	}
}

// The rounds that a robust fit may take, and when it has settled: the change of
// its residuals against their size.
const (
	mostRounds = 500
	settled    = 1e-13
)

// A RobustFit is a plane from which wild points are kept.
type RobustFit struct {
	Intercept float64
	Slopes    []float64
	Weights   []float64 // by row: how much it had to say
	Scale     float64   // of the residuals: their median size by 0.6745
}

// At gives the fitted value for one row.
func (f RobustFit) At(x []float64) float64 { return f.Intercept + dot(f.Slopes, x) }

// normalQuartile turns a median absolute residual into a standard deviation.
const normalQuartile = 0.6745

// Robust fits a plane by iterated weights (M-estimation, Huber 1981), starting
// from one given or, for nil, from least squares. The scale is estimated anew in
// each round. Where more than half of the rows lie on the plane the scale is 0 and
// the round before is the answer.
func Robust(x Rows, y []float64, psi Psi, from *RobustFit) (RobustFit, error) {
	fitted, err := robustStart(x, y, from)
	if err != nil {
		return fitted, err
	}
	left := fitted.residuals(x, y)
	for range mostRounds {
		scale := medianSize(left) / normalQuartile
		if scale < noSpread {
			break
		}
		fitted.Scale = scale
		for i, r := range left {
			fitted.Weights[i] = psi(r / scale)
		}
		if fitted.Intercept, fitted.Slopes, err = weighted(x, y, fitted.Weights); err != nil {
			return fitted, err
		}
		before := left
		left = fitted.residuals(x, y)
		if change(before, left) < settled {
			break
		}
	}
	return fitted, nil
}

func robustStart(x Rows, y []float64, from *RobustFit) (RobustFit, error) {
	weights := make([]float64, len(y))
	for i := range weights {
		weights[i] = 1
	}
	if from != nil {
		return RobustFit{from.Intercept, from.Slopes, weights, from.Scale}, nil
	}
	plain, err := Plane(x, y)
	if err != nil {
		return RobustFit{}, err
	}
	return RobustFit{plain.Intercept, plain.Slopes, weights, 0}, nil
}

func (f RobustFit) residuals(x Rows, y []float64) []float64 {
	left := make([]float64, len(y))
	for i := range y {
		left[i] = y[i] - f.At(x[i])
	}
	return left
}

func medianSize(left []float64) float64 {
	sizes := make([]float64, len(left))
	for i, r := range left {
		sizes[i] = math.Abs(r)
	}
	return Median(sizes)
}

// change is how far residuals moved, against their size.
func change(before, after []float64) float64 {
	moved, size := 0.0, 0.0
	for i := range before {
		moved += (before[i] - after[i]) * (before[i] - after[i])
		size += before[i] * before[i]
	}
	return math.Sqrt(moved / max(1e-300, size))
}

// weighted fits a plane to rows that count by weights: each row, its one and its y
// are multiplied by the weight's root.
func weighted(x Rows, y, weights []float64) (intercept float64, slopes []float64, err error) {
	rows, values := make(Rows, len(y)), make([]float64, len(y))
	for i := range y {
		root := math.Sqrt(weights[i])
		rows[i] = append(rows[i], root)
		for _, v := range x[i] {
			rows[i] = append(rows[i], root*v)
		}
		values[i] = root * y[i]
	}
	fitted, err := ThroughOrigin(rows, values)
	if err != nil {
		return 0, nil, err
	}
	return fitted.Slopes[0], fitted.Slopes[1:], nil
}
