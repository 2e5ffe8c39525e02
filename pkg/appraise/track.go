package appraise

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"refloat.example/pkg/regress"
)

// An Outcome is a boat that was valued and later sold at arm's length.
type Outcome struct {
	ValueMinor, SoldMinor int64 // greater than 0
	LowMinor, HighMinor   int64 // 0 and 0 where the value had no range
}

// A Track is what values were worth, told by later sales.
type Track struct {
	Sales int
	// BiasPercent is the middle of how far values lay above (or, negative, below)
	// what was paid.
	BiasPercent float64
	// MedianErrorPercent is the median absolute error, in per cent of the price.
	MedianErrorPercent float64
	// Ranged counts the values that had a range, Covered those whose range held
	// the price.
	Ranged, Covered int
	// AtOdds says that so few ranges held that it would happen in less than one
	// case in twenty if the stated coverage were true (binomial).
	AtOdds bool
}

// odds is how seldom what was seen must be, were the promise true, before it is
// doubted (common practice).
const odds = 0.05

// Judge compares values with later sales. coverage is what the ranges promised.
func Judge(outcomes []Outcome, coverage float64) Track {
	t := Track{Sales: len(outcomes)}
	if t.Sales == 0 {
		return t
	}
	var off, errors []float64
	for _, o := range outcomes {
		ratio := float64(o.ValueMinor) / float64(o.SoldMinor)
		off, errors = append(off, math.Log(ratio)), append(errors, math.Abs(ratio-1))
		if o.HighMinor > 0 {
			t.Ranged++
			if o.LowMinor <= o.SoldMinor && o.SoldMinor <= o.HighMinor {
				t.Covered++
			}
		}
	}
	t.BiasPercent, t.MedianErrorPercent = Percent(regress.Median(off)), 100*regress.Median(errors)
	if t.Ranged > 0 {
		t.AtOdds = distuv.Binomial{N: float64(t.Ranged), P: coverage}.CDF(float64(t.Covered)) < odds
	}
	return t
}
