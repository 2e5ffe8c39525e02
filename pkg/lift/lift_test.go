package lift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/fault"
)

// ideal is the metric task of the load constant: every multiplier is 1.
var ideal = Task{Units: Metric, Horizontal: 25, Vertical: 75, Distance: 25, PerMinute: 0.2, Hours: 1, Coupling: Good}

func with(change func(*Task)) Task {
	t := ideal
	change(&t)
	return t
}

func height(v float64) *float64 { return &v }

// The manual is DHHS (NIOSH) 94-110. Rows without a page of it are its formulas
// worked by hand.
func TestFullPrecision(t *testing.T) {
	for _, c := range []struct {
		name   string
		task   Task
		rwl    float64
		within float64
	}{
		{"94-110: load constant, metric", ideal, 23, 1e-12},
		{"94-110: load constant, US", Task{Units: US, Horizontal: 10, Vertical: 30, Distance: 10, PerMinute: 0, Hours: 1, Coupling: Good}, 51, 1e-12},
		{"side lift of a boat, origin", Task{Metric, 40, 75, 75, 0, 0.2, 1, Fair, nil, false}, 12.65, 1e-12},
		{"side lift of a boat, destination", Task{Metric, 45, 150, 75, 0, 0.2, 1, Fair, height(75), false}, 8.714, 5e-4},
		{"from the ground", Task{Metric, 30, 20, 55, 0, 0.2, 1, Fair, nil, false}, 13.711, 5e-4},
		{"twisted, poor hold", Task{Metric, 35, 70, 80, 30, 0.2, 1, Poor, nil, false}, 11.537, 5e-4},
		{"textbook: 3 a minute for 45 minutes", Task{Metric, 25, 55, 95, 0, 3, 0.75, Fair, nil, false}, 15.677, 5e-4},
		{"moderate, 1 a minute, 45° twist", Task{Metric, 50, 100, 50, 45, 1, 2, Fair, nil, false}, 7.292, 5e-4},
		{"at the reach limit, 63 cm", with(func(t *Task) { t.Horizontal = 63 }), 9.127, 5e-4},
		{"beyond it, 64 cm", with(func(t *Task) { t.Horizontal = 64 }), 0, 0},
		{"at the height limit, 175 cm", with(func(t *Task) { t.Vertical, t.Distance = 175, 100 }), 13.926, 5e-4},
		{"beyond it, 176 cm", with(func(t *Task) { t.Vertical, t.Distance = 176, 100 }), 0, 0},
		{"at the twist limit, 135°", with(func(t *Task) { t.Asymmetry = 135 }), 13.064, 5e-4},
		{"beyond it, 136°", with(func(t *Task) { t.Asymmetry = 136 }), 0, 0},
		{"at the travel limit, 175 cm", with(func(t *Task) { t.Distance = 175 }), 23 * (0.82 + 4.5/175), 1e-12},
		{"beyond it, 176 cm", with(func(t *Task) { t.Distance = 176 }), 0, 0},
		{"H below 25 cm counts as 25", with(func(t *Task) { t.Horizontal = 0 }), 23, 1e-12},
		{"D below 25 cm counts as 25", with(func(t *Task) { t.Distance = 0 }), 23, 1e-12},
		{"F below 0.2 counts as 0.2", with(func(t *Task) { t.PerMinute = 0 }), 23, 1e-12},
		{"US: 25 in", Task{Units: US, Horizontal: 25, Vertical: 30, Distance: 10, Hours: 1, Coupling: Good}, 20.4, 1e-12},
		{"US: 25.1 in", Task{Units: US, Horizontal: 25.1, Vertical: 30, Distance: 10, Hours: 1, Coupling: Good}, 0, 0},
		{"US: 70 in high", Task{Units: US, Horizontal: 10, Vertical: 70, Distance: 10, Hours: 1, Coupling: Good}, 35.7, 1e-12},
		{"US: 70.1 in high", Task{Units: US, Horizontal: 10, Vertical: 70.1, Distance: 10, Hours: 1, Coupling: Good}, 0, 0},
		{"US: 70.1 in of travel", Task{Units: US, Horizontal: 10, Vertical: 30, Distance: 70.1, Hours: 1, Coupling: Good}, 0, 0},
		{"94-110 example 4, origin, unrounded", Task{US, 10, 22, 37, 0, 3, 1, Fair, nil, false}, 34.8, 0.05},
		{"94-110 example 4, destination, unrounded", Task{US, 20, 59, 37, 0, 3, 1, Fair, height(22), false}, 15.3, 0.05},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Evaluate(c.task)
			require.NoError(t, err)
			assert.InDelta(t, c.rwl, r.RWL, c.within)
			_, ok := r.Index(10)
			assert.Equal(t, c.rwl > 0, ok, "an index needs a limit")
		})
	}
}

// Multipliers and RWL of example 4 are printed in 94-110; its loads, and the
// inputs of examples 1 to 3, are from memory and were worked again with the
// formulas, which govern over the manual's printed tables.
func TestTheManualsWorksheets(t *testing.T) {
	for _, c := range []struct {
		name                   string
		task                   Task
		hm, vm, dm, am, fm, cm float64
		rwl, load, index       float64
	}{
		{"example 4, origin", Task{US, 10, 22, 37, 0, 3, 1, Fair, nil, true}, 1, .94, .87, 1, .88, .95, 34.9, 26, 0.7},
		{"example 4, destination", Task{US, 20, 59, 37, 0, 3, 1, Fair, height(22), true}, .50, .78, .87, 1, .88, 1, 15.2, 26, 1.7},
		{"example 1, origin, HM of the formula", Task{US, 23, 15, 49, 0, 0.2, 1, Fair, nil, true}, .43, .89, .86, 1, 1, .95, 15.9, 44, 2.8},
		{"example 2", Task{US, 20, 27, 17, 0, 0.2, 1, Poor, nil, true}, .50, .98, .93, 1, 1, .90, 20.9, 35, 1.7},
		{"example 3", Task{US, 18, 15, 21, 45, 0.2, 1, Fair, nil, true}, .56, .89, .91, .86, 1, .95, 18.9, 40, 2.1},
		{"textbook", Task{Metric, 25, 55, 95, 0, 3, 0.75, Fair, nil, true}, 1, .94, .87, 1, .88, .95, 15.7, 12, 0.8},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Evaluate(c.task)
			require.NoError(t, err)
			assert.Equal(t, [6]float64{c.hm, c.vm, c.dm, c.am, c.fm, c.cm}, [6]float64{r.HM, r.VM, r.DM, r.AM, r.FM, r.CM})
			assert.Equal(t, c.rwl, r.RWL)
			index, ok := r.Index(c.load)
			assert.True(t, ok)
			assert.Equal(t, c.index, index)
		})
	}
}

// Decimal halves that a float64 holds an ulp too low, or exactly.
func TestWorksheetHalvesGoUp(t *testing.T) {
	for v, want := range map[float64]float64{70: 0.99, 80: 0.99, 60: 0.96, 65: 0.97, 45: 0.91, 175: 0.70, 0: 0.78, 5: 0.79, 70.1: 0.99, 69.9: 0.98} {
		r, err := Evaluate(with(func(t *Task) { t.Vertical, t.Worksheet = v, true }))
		require.NoError(t, err)
		assert.Equal(t, want, r.VM, "VM at %v cm", v)
	}
	r, err := Evaluate(with(func(t *Task) { t.Horizontal, t.Worksheet = 40, true }))
	require.NoError(t, err)
	assert.Equal(t, 0.63, r.HM, "25/40 = 0.625")
	assert.Equal(t, 14.5, r.RWL, "23 × 0.63 = 14.49")
	slack, err := Evaluate(with(func(t *Task) { t.Vertical, t.Coupling, t.Worksheet = 74, Fair, true }))
	require.NoError(t, err)
	assert.Equal(t, 21.9, slack.RWL, "23 × 0.95 = 21.85, in binary 21.849999999999998")
	index, _ := r.Index(5.075)
	assert.Equal(t, 0.4, index, "5.075 / 14.5 = 0.35")
}

func TestFrequencyMultiplier(t *testing.T) {
	for _, c := range []struct {
		name         string
		f, hours, v  float64
		want, within float64
	}{
		{"10 a minute for 8 of 15 minutes (94-110, bursts)", 16.0 / 3, 1, 70, .7833, 5e-5},
		{"2.4 a minute (94-110 example 7)", 2.4, 1, 70, .898, 1e-12},
		{"between the first rows", 0.35, 8, 70, .83, 1e-12},
		{"9 a minute all day, low", 9, 8, 74.9, 0, 0},
		{"9 a minute all day, from 75 cm", 9, 8, 75, .15, 0},
		{"above the last row that is not 0", 8.5, 8, 70, 0, 0},
		{"at that row", 8, 8, 70, .18, 0},
		{"2 h, low: last row 10", 10, 2, 70, .26, 0},
		{"2 h, low: above it", 10.1, 2, 70, 0, 0},
		{"2 h, high: last row 12", 12, 1.5, 80, .21, 0},
		{"2 h, high: above it", 12.1, 1.5, 80, 0, 0},
		{"1 h, low: last row 12", 12, 1, 70, .37, 0},
		{"1 h, low: above it", 12.5, 1, 70, 0, 0},
		{"1 h, high: last row 15", 15, 0.1, 75, .28, 0},
		{"1 h, high: above it", 15.01, 0.1, 75, 0, 0},
		{"16 a minute", 16, 1, 80, 0, 0},
		{"a minute more than an hour is moderate", 1, 61.0 / 60, 70, .88, 0},
		{"a minute more than two is long", 1, 121.0 / 60, 70, .75, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Evaluate(with(func(t *Task) { t.PerMinute, t.Hours, t.Vertical = c.f, c.hours, c.v }))
			require.NoError(t, err)
			assert.InDelta(t, c.want, r.FM, c.within)
		})
	}
}

// 94-110 takes the frequency from the origin's height and the coupling from the
// height of the evaluated point (inferred from its example 4).
func TestWhichHeightDecides(t *testing.T) {
	at := func(v float64, origin *float64) Result {
		r, err := Evaluate(with(func(t *Task) {
			t.Vertical, t.OriginVertical, t.PerMinute, t.Hours, t.Coupling = v, origin, 9, 8, Fair
		}))
		require.NoError(t, err)
		return r
	}
	assert.Equal(t, [2]float64{.15, 1}, [2]float64{at(100, nil).FM, at(100, nil).CM})
	assert.Equal(t, [2]float64{0, 1}, [2]float64{at(100, height(20)).FM, at(100, height(20)).CM})
	assert.Equal(t, [2]float64{.15, .95}, [2]float64{at(20, height(100)).FM, at(20, height(100)).CM})
}

func TestUSHeightsAreSplitAtThirtyInches(t *testing.T) {
	for v, want := range map[float64]float64{29.9: .95, 30: 1} {
		r, err := Evaluate(Task{Units: US, Horizontal: 10, Vertical: v, Distance: 10, Hours: 1, Coupling: Fair})
		require.NoError(t, err)
		assert.Equal(t, want, r.CM)
	}
}

func TestRefusedTasks(t *testing.T) {
	for field, change := range map[string]func(*Task){
		"h":          func(t *Task) { t.Horizontal = -1 },
		"v":          func(t *Task) { t.Vertical = math.NaN() },
		"d":          func(t *Task) { t.Distance = math.Inf(1) },
		"a":          func(t *Task) { t.Asymmetry = -0.1 },
		"per_minute": func(t *Task) { t.PerMinute = -0.2 },
		"v_origin":   func(t *Task) { t.OriginVertical = height(-1) },
		"hours":      func(t *Task) { t.Hours = 0 },
		"units":      func(t *Task) { t.Units = "" },
		"coupling":   func(t *Task) { t.Coupling = "" },
	} {
		_, err := Evaluate(with(change))
		require.Error(t, err, field)
		assert.Equal(t, field, fault.Of(err).Field)
	}
	_, err := Evaluate(with(func(t *Task) { t.Hours = 8.01 }))
	assert.Error(t, err)
}

// More reach, twist, travel or frequency never raises the limit.
func TestHarderIsNeverMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		easy := Task{
			Units:      Metric,
			Horizontal: rapid.Float64Range(0, 70).Draw(t, "h"),
			Vertical:   rapid.Float64Range(0, 180).Draw(t, "v"),
			Distance:   rapid.Float64Range(0, 180).Draw(t, "d"),
			Asymmetry:  rapid.Float64Range(0, 140).Draw(t, "a"),
			PerMinute:  rapid.Float64Range(0, 16).Draw(t, "f"),
			Hours:      rapid.Float64Range(0.1, 8).Draw(t, "hours"),
			Coupling:   rapid.SampledFrom([]Coupling{Good, Fair, Poor}).Draw(t, "coupling"),
		}
		hard := easy
		more := rapid.Float64Range(0, 20).Draw(t, "more")
		rapid.SampledFrom([]func(){
			func() { hard.Horizontal += more },
			func() { hard.Distance += more },
			func() { hard.Asymmetry += more },
			func() { hard.PerMinute += more },
		}).Draw(t, "change")()
		a, err := Evaluate(easy)
		b, err2 := Evaluate(hard)
		if err != nil || err2 != nil || b.RWL > a.RWL+1e-12 || a.RWL > 23 || b.RWL < 0 {
			t.Fatalf("%+v: %v, %v; %+v, %v", easy, a.RWL, err, b.RWL, err2)
		}
	})
}
