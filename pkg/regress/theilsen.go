package regress

import (
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
