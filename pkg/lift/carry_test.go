package lift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

func TestCarry(t *testing.T) {
	for _, c := range []struct {
		name              string
		hull, water, each float64
		team              int
		limits            [3]float64
	}{
		{"HSE: one of 20 kg, two have 26.67", 26.6, 0, 20, 2, [3]float64{20, 26.67, 30}},
		{"HSE: three of 50 kg have 75", 75, 0, 50, 3, [3]float64{50, 66.67, 75}},
		{"more than three of 50 kg", 75.001, 0, 50, 0, [3]float64{50, 66.67, 75}},
		{"24 kg on a limit of 12.65: a cart", 24, 0, 12.65, 0, [3]float64{12.65, 16.867, 18.975}},
		{"exactly what one may", 18, 0, 18, 1, [3]float64{18, 24, 27}},
		{"exactly what two may", 24, 0, 18, 2, [3]float64{18, 24, 27}},
		{"exactly what two may, in tenths", 16.8, 0, 12.6, 2, [3]float64{12.6, 16.8, 18.9}},
		{"0.4 of 0.3", 0.4, 0, 0.3, 2, [3]float64{0.3, 0.4, 0.45}},
		{"exactly what three may", 18.975, 0, 12.65, 3, [3]float64{12.65, 16.867, 18.975}},
		{"water makes the difference", 20, 0.5, 20, 2, [3]float64{20, 26.67, 30}},
		{"a tenth and two tenths are three tenths", 0.1, 0.2, 0.3, 1, [3]float64{0.3, 0.4, 0.45}},
		{"nobody may lift anything", 20, 0, 0, 0, [3]float64{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Carry(c.hull, c.water, c.each)
			require.NoError(t, err)
			assert.Equal(t, c.team, got.Team)
			assert.InDeltaSlice(t, c.limits[:], got.TeamLimit[:], 0.005)
			assert.InDelta(t, c.hull+c.water, got.Total, 1e-12)
		})
	}
}

// The end of a 24 kg boat weighs 12 kg: lever law, centre of mass amidships. On
// the 12.65 kg of a side lift that is an index of 0.949.
func TestEndLift(t *testing.T) {
	c, err := Carry(24, 0, 12.65)
	require.NoError(t, err)
	assert.Equal(t, 12.0, c.EndLift)
	r, err := Evaluate(Task{Metric, 40, 75, 75, 0, 0.2, 1, Fair, nil, false})
	require.NoError(t, err)
	index, _ := r.Index(c.EndLift)
	assert.InDelta(t, 0.949, index, 5e-4)
}

func TestRefusedCarries(t *testing.T) {
	for field, in := range map[string][3]float64{"mass_kg": {-1, 0, 1}, "water_l": {1, math.NaN(), 1}, "each_kg": {1, 0, math.Inf(1)}} {
		_, err := Carry(in[0], in[1], in[2])
		require.Error(t, err, field)
		assert.Equal(t, field, fault.Of(err).Field)
	}
}
