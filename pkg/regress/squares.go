// Package regress fits straight lines and planes to small tables: ordinary and
// ridge least squares, a line through medians, and the middles that go with them.
//
// It promises numerical care: columns are centred and scaled and then reduced
// by Householder reflections, never by normal equations, and a table whose
// columns do not vary on their own is refused instead of being answered with
// noise. It knows nothing of boats or money, keeps the whole table in memory,
// and does not choose a model for anybody.
package regress

import (
	"errors"
	"math"
)

// The reasons why a table cannot be fitted.
var (
	// ErrTooFew: there are fewer rows than numbers to find.
	ErrTooFew = errors.New("too few rows for so many columns")
	// ErrNoVariation: a column is constant, or follows from the others.
	ErrNoVariation = errors.New("a column does not vary on its own")
)

// Rows is a table: one row an observation, all rows equally long.
type Rows [][]float64

// A Fit is a plane fitted by least squares.
type Fit struct {
	// Intercept is 0 for a fit through the origin.
	Intercept float64
	// Slopes has one number a column.
	Slopes []float64
	// Residuals are observed minus fitted, one a row.
	Residuals []float64
	// Freedom is the number of rows minus the numbers found, intercept included.
	Freedom int

	origin  bool
	columns scaled
	reduced reduction
	total   float64 // sum of squares about the mean, or about zero through the origin
}

// Plane fits y = intercept + slopes·x. It needs at least one row more than
// columns; an exact fit is allowed.
func Plane(x Rows, y []float64) (*Fit, error) { return fit(x, y, false) }

// ThroughOrigin fits y = slopes·x.
func ThroughOrigin(x Rows, y []float64) (*Fit, error) { return fit(x, y, true) }

func fit(x Rows, y []float64, origin bool) (*Fit, error) {
	columns := scale(x, origin)
	f := &Fit{origin: origin, columns: columns, Freedom: len(y) - len(columns.norm), total: dot(y, y)}
	if !origin {
		f.Freedom--
		f.total = SD(y) * SD(y) * float64(len(y)-1)
	}
	if f.Freedom < 0 || len(y) == 0 {
		return nil, ErrTooFew
	}
	var err error
	if f.reduced, err = reduce(columns.rows); err != nil {
		return nil, err
	}
	f.refine(x, y)
	return f, nil
}

// At gives the fitted value for one row.
func (f *Fit) At(x []float64) float64 { return f.Intercept + dot(f.Slopes, x) }

// ResidualSD is the residual standard deviation; 0 when no freedom is left.
func (f *Fit) ResidualSD() float64 {
	if f.Freedom == 0 {
		return 0
	}
	return math.Sqrt(dot(f.Residuals, f.Residuals) / float64(f.Freedom))
}

// RSquared is the share of the scatter that the fit explains: about the mean,
// or about zero for a fit through the origin.
func (f *Fit) RSquared() float64 { return 1 - dot(f.Residuals, f.Residuals)/f.total }

// Leverage says how far a row lies from the middle of the table: the variance
// of the fitted value there, in units of the residual variance.
func (f *Fit) Leverage(x []float64) float64 {
	point := make([]float64, len(x))
	for j := range x {
		point[j] = (x[j] - f.columns.middle[j]) / f.columns.norm[j]
	}
	half := f.reduced.solveTransposed(point)
	leverage := dot(half, half)
	if !f.origin {
		leverage += 1 / float64(len(f.Residuals))
	}
	return leverage
}

// StandardErrors gives the standard deviation of the intercept (0 through the
// origin) and of each slope.
func (f *Fit) StandardErrors() (intercept float64, slopes []float64) {
	sd := f.ResidualSD()
	slopes = make([]float64, len(f.Slopes))
	for j := range slopes {
		unit := make([]float64, len(slopes))
		unit[j] = 1
		half := f.reduced.solveTransposed(unit)
		slopes[j] = sd * math.Sqrt(dot(half, half)) / f.columns.norm[j]
	}
	if !f.origin {
		intercept = sd * math.Sqrt(f.Leverage(make([]float64, len(slopes))))
	}
	return intercept, slopes
}

// Ridge gives the slopes d that minimise Σ(y − d·x)² + penalty·Σ d², for
// columns and y that the caller has centred and scaled. A penalty of 0 is
// ordinary least squares.
func Ridge(x Rows, y []float64, penalty float64) ([]float64, error) {
	rows, values := append(Rows{}, x...), append([]float64{}, y...)
	if penalty > 0 && len(x) > 0 {
		for j := range x[0] {
			row := make([]float64, len(x[0]))
			row[j] = math.Sqrt(penalty)
			rows, values = append(rows, row), append(values, 0)
		}
	}
	if len(rows) > 0 && len(rows) < len(rows[0]) {
		return nil, ErrTooFew
	}
	reduced, err := reduce(rows)
	if err != nil {
		return nil, err
	}
	return reduced.solve(values), nil
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}
