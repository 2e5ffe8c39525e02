package defects

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/fault"
)

// The numbers of the first and fourth row are printed in the documentation of
// the R package recapr and on a teaching page; the others are Chapman's formulas
// worked by hand on published (948, 421, 167), classic (109, 177, 57, from
// memory) and invented counts.
func TestSecondLook(t *testing.T) {
	for _, c := range []struct {
		name                                          string
		first, second, both, distinct                 int64
		total, variance, se, missed, low, high, digit float64
	}{
		{"recapr vignette", 100, 150, 20, 230, 725.2381, 16348.22, 127.8601, 495.24, 531.0, 1044.8, 0.05},
		{"fisheries documentation", 948, 421, 167, 1202, 2382.798, 16655.5, 129.056, 1180.80, 2155.7, 2664.0, 0.05},
		{"sunfish", 109, 177, 57, 229, 336.586, 615.587, 24.811, 107.59, 297.9, 397.1, 0.05},
		{"teaching page", 5, 4, 2, 7, 9, 5, 2.236, 2, 7.3, 18.7, 0.05},
		{"three in common", 5, 4, 3, 6, 6.5, 0.75, 0.8660, 0.5, 6.0497, 11.0258, 0.005},
		{"12, 10, 8", 12, 10, 8, 14, 14.8889, 1.4123, 1.1884, 0.889, 14.1, 20.5, 0.05},
		{"20, 15, 12", 20, 15, 12, 23, 24.8462, 3.4083, 1.8462, 1.846, 23.4, 32.4, 0.05},
		{"8, 11, 5", 8, 11, 5, 14, 17, 7.7143, 2.7775, 3, 14.64, 28.02, 0.005},
		{"14, 9, 6", 14, 9, 6, 17, 20.4286, 9.1837, 3.0305, 3.429, 17.8, 32.2, 0.05},
		{"nothing in common", 7, 6, 0, 13, 55, 1176, 34.293, 42, 23.3, 183.5, 0.05},
		{"the same nine", 9, 9, 9, 9, 9, 0, 0, 0, 9, 9, 0},
		{"one list holds the other", 9, 5, 5, 9, 9, 0, 0, 0, 9, 9, 0},
		{"nobody found anything", 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, err := SecondLook(c.first, c.second, c.both)
			require.NoError(t, err)
			assert.Equal(t, c.distinct, e.Distinct)
			assert.InDelta(t, c.total, e.Total, 0.005)
			assert.InEpsilon(t, c.variance+1, e.Variance+1, 1e-4)
			assert.InDelta(t, c.se, e.SE(), 0.005)
			assert.InDelta(t, c.missed, e.Missed, 0.005)
			assert.InDelta(t, c.low, e.Low, c.digit)
			assert.InDelta(t, c.high, e.High, c.digit)
			assert.Equal(t, c.both >= 3, e.Shown())
		})
	}
}

func TestRefusedCounts(t *testing.T) {
	for _, c := range []struct {
		first, second, both int64
		field               string
	}{
		{-1, 3, 0, "first"}, {3, -1, 0, "second"}, {3, 3, -1, "both"},
		{3, 5, 4, "both"}, {5, 3, 4, "both"}, {maxFound + 1, 3, 3, "first"},
	} {
		_, err := SecondLook(c.first, c.second, c.both)
		require.Error(t, err)
		assert.Equal(t, c.field, fault.Of(err).Field)
	}
}

// When to look again is our proposal; that fewer than three in common carry no
// weight is the course notes'.
func TestWhenToLookAgain(t *testing.T) {
	for _, c := range []struct {
		first, second, both int64
		again               bool
		reason              string
	}{
		{5, 4, 2, true, "too few"},
		{5, 4, 3, true, ""}, // up to 11 of 6 found
		{12, 10, 8, true, ""},
		{20, 18, 17, false, ""},
		{9, 9, 9, false, "proves nothing"},
		{0, 0, 0, true, "too few"},
		{2, 2, 2, true, "too few"},
	} {
		e, err := SecondLook(c.first, c.second, c.both)
		require.NoError(t, err)
		assert.Equal(t, c.again, e.LookAgain(), c)
		if c.reason == "" {
			assert.Empty(t, e.Reason(), c)
		} else {
			assert.Contains(t, e.Reason(), c.reason, c)
		}
	}
}

// Who looked first does not matter, what was found is never unfound, and the
// estimate is Chapman's in its plain form.
func TestWhatAlwaysHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first, second := rapid.Int64Range(0, 500).Draw(t, "first"), rapid.Int64Range(0, 500).Draw(t, "second")
		both := rapid.Int64Range(0, min(first, second)).Draw(t, "both")
		e, err := SecondLook(first, second, both)
		swapped, err2 := SecondLook(second, first, both)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		assert.Equal(t, e, swapped)
		assert.LessOrEqual(t, float64(e.Distinct), e.Low)
		assert.LessOrEqual(t, e.Low, e.High)
		assert.InDelta(t, e.Total, float64(e.Distinct)+e.Missed, 1e-6)
	})
}
