package float

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Sheets A and B are published data sheets of two touring kayaks, in feet and
// pounds; they print the immersion with more figures than the area has.
func TestImmersion(t *testing.T) {
	for _, c := range []struct {
		name       string
		got, want  float64
		withinUnit float64
	}{
		{"sheet A, sea", LbPerIn(19.083, Sea), 101.7754, 2e-3},
		{"sheet B, sea", LbPerIn(17.267, Sea), 92.0918, 2e-3},
		{"fresh is 5.2 lb/in a square foot", LbPerIn(10, Fresh), 52, 1e-12},
		{"worked canoe, fresh", KgPerCm(2.5024, Fresh), 25.02, 5e-3},
		{"sheet A in metres, sea", KgPerCm(1.7729, Sea), 18.17, 5e-3},
		{"sheet A in metres, fresh", KgPerCm(1.7729, Fresh), 17.73, 5e-3},
		{"worked canoe, 100 kg more", 100 / KgPerCm(2.5024, Fresh), 4.00, 5e-3},
	} {
		assert.InDelta(t, c.want, c.got, c.withinUnit, c.name)
	}
}

func TestDisplacement(t *testing.T) {
	canoe := Hull{Length: 4.60, Beam: 0.80, Draught: 0.12, Block: 0.45}
	assert.InDelta(t, 198.72, canoe.Displacement(Fresh), 1e-9, "worked by hand")
	assert.InDelta(t, 203.688, canoe.Displacement(Sea), 1e-9, "worked by hand")

	const cubicFoot = 0.3048 * 0.3048 * 0.3048
	sheetA := Hull{Length: 17.4552 * 0.3048, Beam: 1.6875 * 0.3048, Draught: 0.3869 * 0.3048, Block: 0.4447}
	assert.InDelta(t, 5.068, sheetA.Displacement(Fresh)/1000/cubicFoot, 1e-3, "sheet A prints 5.068 ft³")
}

func TestPlate(t *testing.T) {
	for _, c := range []struct {
		weight, pounds, exact float64
		persons               int
	}{
		{400, 360, 2.780, 3},
		{250, 225, 1.823, 2},
		{290, 261, 2.078, 2},
	} {
		p := PlateFor(c.weight)
		assert.InDelta(t, c.pounds, p.PersonsPounds, 1e-9, "33 CFR 183.43: 0.90 of %v lb", c.weight)
		assert.InDelta(t, c.exact, p.PersonsExact, 5e-4)
		assert.Equal(t, c.persons, p.Persons)
	}
	assert.Equal(t, 3, PlateFor((2.5*141-32)/0.9).Persons, "a half goes up")
}
