package jackets

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

func TestRule(t *testing.T) {
	for _, c := range []struct {
		name   string
		outing Outing
		want   Rule
	}{
		{"175.17(a): canoe of 17 ft needs no throwable", Outing{Canoe, 17, []float64{41, 40}, false}, Rule{Wearable: 2}},
		{"175.17(a): kayak of 16 ft needs no throwable", Outing{Kayak, 16, []float64{41}, false}, Rule{Wearable: 1}},
		{"175.15: rowboat of 17 ft", Outing{Rowboat, 17, []float64{41, 40}, false}, Rule{Wearable: 2, Throwable: 1}},
		{"175.15(b): raft of exactly 16 ft", Outing{Raft, 16, []float64{41}, false}, Rule{Wearable: 1, Throwable: 1}},
		{"175.15(b): raft just under 16 ft", Outing{Raft, 15.99, []float64{41}, false}, Rule{Wearable: 1}},
		{"175.15(b): board of 12 ft", Outing{Board, 12, []float64{41}, false}, Rule{Wearable: 1}},
		{"175.15(b): board of 18 ft is neither canoe nor kayak", Outing{Board, 18, []float64{41}, false}, Rule{Wearable: 1, Throwable: 1}},
		{"175.15(c): a day before 13", Outing{Kayak, 10, []float64{12 + 364.0/365}, false}, Rule{Wearable: 1, MustWear: 1}},
		{"175.15(c): on the day of 13", Outing{Kayak, 10, []float64{13}, false}, Rule{Wearable: 1}},
		{"175.15(c): two children of three people", Outing{Canoe, 17, []float64{0, 12.99, 41}, false}, Rule{Wearable: 3, MustWear: 2}},
		{"175.17(b): racing kayak", Outing{Kayak, 17, []float64{30}, true}, Rule{Exempt: true}},
		{"175.17(b): racing shell with a child", Outing{Rowboat, 26, []float64{30, 12}, true}, Rule{MustWear: 1, Exempt: true}},
		{"175.17(c): sailboard", Outing{Sailboard, 17, []float64{11}, false}, Rule{MustWear: 1, Exempt: true}},
		{"175.15(b): nobody aboard", Outing{Rowboat, 17, nil, false}, Rule{Throwable: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := For(c.outing)
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
}

func TestRefusedOutings(t *testing.T) {
	for field, o := range map[string]Outing{
		"boat":      {"yacht", 17, nil, false},
		"length_ft": {Canoe, 0, nil, false},
		"ages[1]":   {Canoe, 17, []float64{3, -1}, false},
		"racing":    {Board, 17, nil, true},
	} {
		_, err := For(o)
		require.Error(t, err, field)
		assert.Equal(t, field, fault.Of(err).Field)
	}
	for _, boat := range []Boat{Raft, Sailboard} {
		_, err := For(Outing{boat, 17, nil, true})
		assert.Error(t, err, boat)
	}
}
