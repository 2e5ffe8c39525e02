package settings

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/boat"
)

func TestJacketsAndHoursOfFitting(t *testing.T) {
	assert.Equal(t, map[string]int{"child": 4, "adult": 12}, Jackets("child 4; adult 12"))
	assert.Equal(t, map[boat.Feature]int{"high seat back": 90, "grip aids can be fitted": 60}, FittingMinutes("high seat back 1.5; grip aids can be fitted 1"))
	assert.Nil(t, Jackets(" "), "nobody has counted")
	for _, bad := range []string{"child", "child x", "child -1", "child 1.5", "large 2", "child 1; child 2", "child 1;", "child NaN"} {
		assert.Error(t, jackets(bad), bad)
	}
	for _, bad := range []string{"wings 2", "high seat back", "high seat back 1001", "high seat back 1; high seat back 2"} {
		assert.Error(t, fittingHours(bad), bad)
	}
	assert.NoError(t, fittingHours(Default("fitting-hours")))
}
