package regress

import (
	"math"
	"slices"
)

// MADFactor turns a median absolute deviation into the standard deviation of a
// normal distribution with that deviation, to the usual five digits.
const MADFactor = 1.4826

// HubersK is the bound, in standard deviations, within which Huber's location
// lets a value pull in full: 95 % as good as the mean for normal data.
const HubersK = 1.345

// Mean is the arithmetic mean, taken in two passes. It is NaN for no values.
func Mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	first := sum / float64(len(values))
	left := 0.0
	for _, v := range values {
		left += v - first
	}
	return first + left/float64(len(values))
}

// SD is the sample standard deviation, with n − 1; 0 for fewer than two values.
func SD(values []float64) float64 {
	if len(values) < 2 {
		return 0
	}
	mean, sum := Mean(values), 0.0
	for _, v := range values {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(values)-1))
}

// Median is the middle value, or the mean of the two middle ones; NaN for no
// values.
func Median(values []float64) float64 { return medianOfSorted(slices.Sorted(slices.Values(values))) }

func medianOfSorted(sorted []float64) float64 {
	n := len(sorted)
	switch {
	case n == 0:
		return math.NaN()
	case n%2 == 1:
		return sorted[n/2]
	}
	return sorted[n/2-1] + (sorted[n/2]-sorted[n/2-1])/2
}

// MAD is the median absolute deviation about the median, not rescaled.
func MAD(values []float64) float64 {
	middle := Median(values)
	deviations := make([]float64, len(values))
	for i, v := range values {
		deviations[i] = math.Abs(v - middle)
	}
	return Median(deviations)
}

// noSpread is the MAD, in units of the values, below which they count as equal.
const noSpread = 1e-12

// HuberLocation is the middle in which each value pulls with its distance, but
// with no more than k scales; the scale is the MAD about the median, held
// fixed. Where more than half of the values agree it is the median.
func HuberLocation(values []float64, k float64) float64 {
	middle := Median(values)
	bound := k * MADFactor * MAD(values)
	if bound < k*MADFactor*noSpread {
		return middle
	}
	for range 1000 {
		pull := 0.0
		for _, v := range values {
			pull += min(max(v-middle, -bound), bound)
		}
		step := pull / float64(len(values))
		middle += step
		if math.Abs(step) < 1e-14*max(1, math.Abs(middle)) {
			break
		}
	}
	return middle
}
