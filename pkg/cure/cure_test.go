package cure

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func celsius(fahrenheit float64) float64 { return (fahrenheit - 32) / 1.8 }

// A pot life of 25 minutes at 77 °F under the published rule of 18 °F.
func TestPotLife(t *testing.T) {
	for fahrenheit, minutes := range map[float64]float64{77: 25, 59: 50, 68: 35.36, 95: 12.5, 41: 100} {
		assert.InDelta(t, minutes, 25*Factor(25, celsius(fahrenheit)), 5e-3, "%v °F", fahrenheit)
	}
}

// Full cure of 5 days at 77 °F and 10 days at 59 °F is published beside the rule.
func TestFullCureFollowsTheSameRule(t *testing.T) {
	assert.InDelta(t, 10, 5*Factor(celsius(77), celsius(59)), 1e-9)
}

func TestThereAndBackIsOneAndTenDegreesAreTwo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-20, 60).Draw(t, "a"), rapid.Float64Range(-20, 60).Draw(t, "b")
		assert.InDelta(t, 1, Factor(a, b)*Factor(b, a), 1e-9)
		assert.InDelta(t, 2*Factor(a, b), Factor(a, b-10), 1e-9)
	})
}

// The published table of full cure: 5 days at 77 °F, 10 days at 59 °F; and no
// stress for 24 hours at 70 °F. Warmth shortens nothing here.
func TestWaitingFollowsTheTableAndIsNeverShorterThanTheLabel(t *testing.T) {
	assert.Equal(t, 10*24*time.Hour, Wait(FullCure, FullCureAt, celsius(59)))
	assert.Equal(t, 24*time.Hour, Wait(NoStress, NoStressAt, NoStressAt))
	assert.Equal(t, 48*time.Hour, Wait(NoStress, NoStressAt, 11))
	assert.Equal(t, 24*time.Hour, Wait(NoStress, NoStressAt, 35))
	assert.Equal(t, 2*time.Minute, Wait(time.Minute, 25, 24), "to the next minute")
}
