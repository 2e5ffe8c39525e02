package defects

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
)

// The intervals are those that R. G. Newcombe, Statistics in Medicine 17, 1998,
// prints for the score method without correction (table I, from memory).
func TestIntervalOnAShare(t *testing.T) {
	for _, c := range []struct {
		rate      FindRate
		low, high float64
	}{
		{FindRate{81, 263}, 0.2553, 0.3662},
		{FindRate{15, 148}, 0.0624, 0.1605},
		{FindRate{0, 20}, 0, 0.1611},
		{FindRate{1, 29}, 0.0061, 0.1718},
		{FindRate{}, 0, 1},
	} {
		low, high := c.rate.Interval()
		assert.InDelta(t, c.low, low, 5e-5, "%+v", c.rate)
		assert.InDelta(t, c.high, high, 5e-5, "%+v", c.rate)
	}
}

// By hand: the other found a, b and c at the bow and d amidships; the inspector has
// a and d, and something at the stern that nobody else saw.
func TestFindRatesByZone(t *testing.T) {
	other := []Sight{{ID: "a", Zone: "bow"}, {ID: "b", Zone: "bow"}, {ID: "c", Zone: "bow"}, {ID: "c2", Zone: "bow"}, {ID: "d", Zone: "amid"}}
	own := []Sight{{ID: "A", Zone: "forward"}, {ID: "D", Zone: "amid"}, {ID: "E", Zone: "stern"}}
	same := map[string]string{"A": "a", "D": "d", "c2": "c"}
	root := func(id string) string {
		if r, ok := same[id]; ok {
			return r
		}
		return id
	}
	assert.Equal(t, map[boat.Zone]FindRate{"bow": {1, 3}, "amid": {1, 1}}, FindRates(own, other, root))
	assert.Equal(t, map[boat.Zone]FindRate{"forward": {1, 1}, "amid": {1, 1}, "stern": {0, 1}}, FindRates(other, own, root), "the other way round")
	assert.False(t, FindRate{9, 9}.Tells())
	assert.True(t, FindRate{0, 10}.Tells())
}

func TestAShareLiesInItsInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 10_000).Draw(t, "others")
		k := rapid.IntRange(0, n).Draw(t, "both")
		low, high := FindRate{k, n}.Interval()
		share := float64(k) / float64(n)
		if low < 0 || high > 1 || low > share+1e-12 || high < share-1e-12 {
			t.Fatalf("%d of %d: %g to %g", k, n, low, high)
		}
	})
}
