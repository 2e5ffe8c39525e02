package regress

import "math"

// refinements is how often the first solution is mended; each pass wins back
// about as many digits as the conditioning of the table leaves.
const refinements = 4

// refine finds intercept, slopes and residuals together, as Björck (1967) does:
// how far they miss the two equations residual + plane = y and columns·residual
// = 0 is worked out from the unscaled table in twice the usual precision, and
// the reduction of the scaled table turns the miss into a correction. The first
// pass, from zero, is plain least squares.
func (f *Fit) refine(x Rows, y []float64) {
	f.Slopes, f.Residuals = make([]float64, len(f.columns.norm)), make([]float64, len(y))
	for range 1 + refinements {
		left, against, againstOne := f.misses(x, y)
		f.correct(left, against, againstOne)
	}
}

// misses gives y − residual − plane by row, and −column·residual by column and
// for the column of ones.
func (f *Fit) misses(x Rows, y []float64) (left, against []float64, againstOne float64) {
	left, against = make([]float64, len(y)), make([]float64, len(f.Slopes))
	columns := make([]double, len(f.Slopes))
	var ones double
	for i := range y {
		var sum double
		sum.add(y[i])
		sum.add(-f.Residuals[i])
		sum.add(-f.Intercept)
		for j, slope := range f.Slopes {
			sum.addProduct(-slope, x[i][j])
			columns[j].addProduct(-f.Residuals[i], x[i][j])
		}
		left[i] = sum.value()
		ones.add(-f.Residuals[i])
	}
	for j := range columns {
		columns[j].addProduct(-f.columns.middle[j], ones.value())
		against[j] = columns[j].value() / f.columns.norm[j]
	}
	if f.origin {
		return left, against, 0
	}
	return left, against, ones.value()
}

func (f *Fit) correct(left, against []float64, againstOne float64) {
	along := 0.0
	if !f.origin {
		along = Mean(left)
	}
	centred := make([]float64, len(left))
	for i := range left {
		centred[i] = left[i] - along
	}
	f.reduced.turn(centred)
	onColumns := f.reduced.solveTransposed(against)
	change := append([]float64{}, centred[:len(onColumns)]...)
	for j := range change {
		change[j] -= onColumns[j]
		centred[j] = onColumns[j]
	}
	change = f.reduced.backSubstitute(change)
	f.reduced.turnBack(centred)
	shift := againstOne / float64(len(left))
	f.Intercept += along
	if !f.origin {
		f.Intercept -= shift
	}
	for j := range change {
		step := change[j] / f.columns.norm[j]
		f.Slopes[j] += step
		f.Intercept -= step * f.columns.middle[j]
	}
	for i := range centred {
		f.Residuals[i] += centred[i] + shift
	}
}

// double is a sum kept in twice the usual precision (Dekker 1971, Knuth).
type double struct{ high, low float64 }

func (d *double) add(x float64) {
	sum := d.high + x
	part := sum - d.high
	d.low += (d.high - (sum - part)) + (x - part)
	d.high = sum
}

func (d *double) addProduct(a, b float64) {
	product := a * b
	d.add(product)
	d.low += math.FMA(a, b, -product)
}

func (d *double) value() float64 { return d.high + d.low }
