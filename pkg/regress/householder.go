package regress

import "math"

// scaled is a table whose columns have mean 0 (unless the fit goes through the
// origin) and length 1.
type scaled struct {
	rows   Rows
	middle []float64
	norm   []float64 // 0 for a column that is constant to working precision
}

// constant is how small, against its largest entry, the spread of a column must
// be to count as rounding noise.
const constant = 1e-13

func scale(x Rows, origin bool) scaled {
	width := 0
	if len(x) > 0 {
		width = len(x[0])
	}
	s := scaled{rows: make(Rows, len(x)), middle: make([]float64, width), norm: make([]float64, width)}
	for i := range x {
		s.rows[i] = append([]float64{}, x[i]...)
	}
	for j := range width {
		s.scaleColumn(j, origin)
	}
	return s
}

func (s scaled) scaleColumn(j int, origin bool) {
	column, largest := s.rows.column(j), 0.0
	for _, value := range column {
		largest = max(largest, math.Abs(value))
	}
	if !origin {
		s.middle[j] = Mean(column)
	}
	for i := range column {
		column[i] -= s.middle[j]
	}
	norm := length(column)
	if norm <= constant*largest*math.Sqrt(float64(len(column))) {
		norm = 0
	}
	s.norm[j] = norm
	for i := range column {
		s.rows[i][j] = 0
		if norm > 0 {
			s.rows[i][j] = column[i] / norm
		}
	}
}

func (x Rows) column(j int) []float64 {
	column := make([]float64, len(x))
	for i := range x {
		column[i] = x[i][j]
	}
	return column
}

// reduction is a table brought to upper triangular form by Householder
// reflections (Golub 1965).
type reduction struct {
	mirrors [][]float64 // mirror j acts on entries j and below
	upper   Rows        // the triangle, row by row
}

// dependent is the length below which what is left of a column of length 1,
// once the columns before it are taken out, counts as rounding noise.
const dependent = 1e-12

func reduce(x Rows) (reduction, error) {
	if len(x) == 0 {
		return reduction{}, nil
	}
	work := make(Rows, len(x[0])) // by column: reflections run down columns
	lengths := make([]float64, len(work))
	for j := range work {
		work[j] = x.column(j)
		lengths[j] = length(work[j])
	}
	r := reduction{mirrors: make([][]float64, len(work)), upper: make(Rows, len(work))}
	for j := range work {
		left := length(work[j][j:])
		if !(left > dependent*lengths[j]) {
			return reduction{}, ErrNoVariation
		}
		r.mirrors[j] = mirror(work[j][j:], left)
		for k := j; k < len(work); k++ {
			reflect(r.mirrors[j], work[k][j:])
		}
	}
	for j := range work {
		r.upper[j] = make([]float64, len(work))
		for k := j; k < len(work); k++ {
			r.upper[j][k] = work[k][j]
		}
	}
	return r, nil
}

// mirror gives the unit vector across whose plane v falls on the first axis.
// The sign is the one that does not cancel digits.
func mirror(v []float64, norm float64) []float64 {
	m := append([]float64{}, v...)
	m[0] += math.Copysign(norm, v[0])
	size := length(m)
	for i := range m {
		m[i] /= size
	}
	return m
}

func reflect(mirror, v []float64) {
	twice := 2 * dot(mirror, v)
	for i := range v {
		v[i] -= twice * mirror[i]
	}
}

// turn reflects a column as the table was; turnBack undoes it.
func (r reduction) turn(y []float64) {
	for j, mirror := range r.mirrors {
		reflect(mirror, y[j:])
	}
}

func (r reduction) turnBack(y []float64) {
	for j := len(r.mirrors) - 1; j >= 0; j-- {
		reflect(r.mirrors[j], y[j:])
	}
}

// solve gives the least squares solution for one right-hand side.
func (r reduction) solve(y []float64) []float64 {
	turned := append([]float64{}, y...)
	r.turn(turned)
	return r.backSubstitute(turned[:len(r.upper)])
}

func (r reduction) backSubstitute(y []float64) []float64 {
	solution := make([]float64, len(r.upper))
	for j := len(solution) - 1; j >= 0; j-- {
		sum := y[j]
		for k := j + 1; k < len(solution); k++ {
			sum -= r.upper[j][k] * solution[k]
		}
		solution[j] = sum / r.upper[j][j]
	}
	return solution
}

// solveTransposed solves Rᵀ z = v; zᵀz is then vᵀ(XᵀX)⁻¹v.
func (r reduction) solveTransposed(v []float64) []float64 {
	z := make([]float64, len(v))
	for j := range z {
		sum := v[j]
		for k := range j {
			sum -= r.upper[k][j] * z[k]
		}
		z[j] = sum / r.upper[j][j]
	}
	return z
}

// length is the Euclidean length, safe against overflow of the squares.
func length(v []float64) float64 {
	largest := 0.0
	for _, x := range v {
		largest = max(largest, math.Abs(x))
	}
	if largest == 0 || math.IsInf(largest, 0) {
		return largest
	}
	sum := 0.0
	for _, x := range v {
		sum += (x / largest) * (x / largest)
	}
	return largest * math.Sqrt(sum)
}
