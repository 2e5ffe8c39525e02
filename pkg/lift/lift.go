// Package lift says what one person may lift by hand, and how many people a
// boat's mass asks for.
//
// Source of Evaluate: the revised lifting equation of Waters, Putz-Anderson and
// Garg, Applications Manual, DHHS (NIOSH) publication 94-110, revised September
// 2021. Source of Carry: guidance of the Health and Safety Executive on the
// Manual Handling Operations Regulations 1992.
//
// The equation does not apply to lifting with one hand, for more than 8 hours,
// seated or kneeling, in a confined space, of unstable loads (water in a hull),
// while carrying, pushing or pulling, with a barrow or shovel, fast (over about
// 30 in/s), on a slippery floor (a wet ramp), or in great heat, cold or damp. A
// lifting index of 1 or less is a goal and not a promise: nothing here says that
// a lift is safe for a certain back.
package lift

import (
	"math"

	"refloat.example/pkg/fault"
)

// Units is the system of a task's lengths and masses. The equation's constants
// in the two systems are not exact conversions (51 lb is 23.13 kg), so a task is
// computed in the one it was measured in.
type Units string

const (
	// Metric: centimetres and kilograms.
	Metric Units = "metric"
	// US: inches and pounds.
	US Units = "us"
)

// Coupling is how well hands hold the load.
type Coupling string

const (
	// Good: handles, or a grip the fingers close around.
	Good Coupling = "good"
	// Fair: poor handles, or fingers bent 90° under it; moulded carry toggles.
	Fair Coupling = "fair"
	// Poor: bulky, slippery or sagging; a bare hull.
	Poor Coupling = "poor"
)

// Task is one lift, evaluated at one point (its origin or its destination).
// Lengths are in cm or in, mass in kg or lb.
type Task struct {
	Units      Units
	Horizontal float64 // H, from between the ankles to the hands
	Vertical   float64 // V, height of the hands above the floor
	Distance   float64 // D, how far up or down the load travels
	Asymmetry  float64 // A, degrees of twist
	PerMinute  float64 // F, lifts a minute; for bursts, lifts in 15 minutes ÷ 15
	Hours      float64 // how long: to 1 short, to 2 moderate, to 8 long
	Coupling   Coupling
	// OriginVertical is V at the origin, which the frequency multiplier goes by,
	// where the point evaluated is the destination. Nil is Vertical.
	OriginVertical *float64
	// Worksheet rounds as the manual's worksheets do: multipliers to 2 places
	// and results to 1, halves up, the index from the rounded limit.
	Worksheet bool
}

// Result holds the multipliers and the recommended weight limit (RWL) in the
// task's unit of mass. Beyond the equation's limits a multiplier is 0, and so
// is the RWL.
type Result struct {
	HM, VM, DM, AM, FM, CM float64
	RWL                    float64
	worksheet              bool
}

// constants are those of one system of units: the load constant, the terms of
// HM, VM and DM, and the limits beyond which each is 0.
type constants struct {
	load                    float64
	nearest, farthest       float64
	knuckle, perHeight      float64
	highest                 float64
	perDistance, longestWay float64
}

var constantsOf = map[Units]constants{
	Metric: {load: 23, nearest: 25, farthest: 63, knuckle: 75, perHeight: 0.003, highest: 175, perDistance: 4.5, longestWay: 175},
	US:     {load: 51, nearest: 10, farthest: 25, knuckle: 30, perHeight: 0.0075, highest: 70, perDistance: 1.8, longestWay: 70},
}

// Evaluate computes RWL = LC × HM × VM × DM × AM × FM × CM. The rule itself
// raises H and D below 25 cm (10 in) to that, and F below 0.2 to 0.2. Faults
// name h, v, d, a, per_minute, hours, coupling, units or v_origin.
func Evaluate(t Task) (Result, error) {
	if err := t.check(); err != nil {
		return Result{}, err
	}
	c := constantsOf[t.Units]
	r := Result{
		HM:        horizontal(c, t.Horizontal),
		VM:        vertical(c, t.Vertical),
		DM:        distance(c, t.Distance),
		AM:        asymmetry(t.Asymmetry),
		FM:        frequency(t.PerMinute, t.Hours, t.origin() >= c.knuckle),
		CM:        coupling(t.Coupling, t.Vertical >= c.knuckle),
		worksheet: t.Worksheet,
	}
	for _, m := range []*float64{&r.HM, &r.VM, &r.DM, &r.AM, &r.FM, &r.CM} {
		*m = r.rounded(*m, 100)
	}
	r.RWL = r.rounded(c.load*r.HM*r.VM*r.DM*r.AM*r.FM*r.CM, 10)
	return r, nil
}

// Index gives the lifting index, load ÷ RWL, for a load in the unit of the RWL.
// There is none (ok is false) where the RWL is 0.
func (r Result) Index(load float64) (index float64, ok bool) {
	if r.RWL == 0 {
		return 0, false
	}
	return r.rounded(load/r.RWL, 10), true
}

// origin is the height that the frequency multiplier goes by.
func (t Task) origin() float64 {
	if t.OriginVertical != nil {
		return *t.OriginVertical
	}
	return t.Vertical
}

func (t Task) check() error {
	for _, c := range []struct {
		name  string
		value float64
	}{{"h", t.Horizontal}, {"v", t.Vertical}, {"d", t.Distance}, {"a", t.Asymmetry}, {"per_minute", t.PerMinute}, {"v_origin", t.origin()}} {
		if !(c.value >= 0) || math.IsInf(c.value, 1) {
			return fault.Field(c.name, "must not be negative")
		}
	}
	if !(t.Hours > 0 && t.Hours <= 8) {
		return fault.Field("hours", "must be above 0 and at most 8; the equation has no limits for longer")
	}
	if _, ok := constantsOf[t.Units]; !ok {
		return fault.Field("units", "must be metric or us")
	}
	if t.Coupling != Good && t.Coupling != Fair && t.Coupling != Poor {
		return fault.Field("coupling", "must be good, fair or poor")
	}
	return nil
}

func horizontal(c constants, h float64) float64 {
	if h > c.farthest {
		return 0
	}
	return c.nearest / max(h, c.nearest)
}

func vertical(c constants, v float64) float64 {
	if v > c.highest {
		return 0
	}
	return 1 - c.perHeight*math.Abs(v-c.knuckle)
}

// distance: the shortest way that counts is as long as the nearest reach.
func distance(c constants, d float64) float64 {
	if d > c.longestWay {
		return 0
	}
	return 0.82 + c.perDistance/max(d, c.nearest)
}

func asymmetry(a float64) float64 {
	if a > 135 {
		return 0
	}
	return 1 - 0.0032*a
}

// coupling is the manual's table 7; high is V of 75 cm (30 in) or more.
func coupling(c Coupling, high bool) float64 {
	switch {
	case c == Poor:
		return 0.90
	case c == Fair && !high:
		return 0.95
	}
	return 1
}

// frequencyRows are the manual's table 5: lifts a minute, then the multiplier
// for work of up to 1, 2 and 8 hours, each for V below 75 cm (30 in) and from
// there up.
var frequencyRows = [][7]float64{
	{0.2, 1.00, 1.00, .95, .95, .85, .85},
	{0.5, .97, .97, .92, .92, .81, .81},
	{1, .94, .94, .88, .88, .75, .75},
	{2, .91, .91, .84, .84, .65, .65},
	{3, .88, .88, .79, .79, .55, .55},
	{4, .84, .84, .72, .72, .45, .45},
	{5, .80, .80, .60, .60, .35, .35},
	{6, .75, .75, .50, .50, .27, .27},
	{7, .70, .70, .42, .42, .22, .22},
	{8, .60, .60, .35, .35, .18, .18},
	{9, .52, .52, .30, .30, .00, .15},
	{10, .45, .45, .26, .26, .00, .13},
	{11, .41, .41, .00, .23, .00, .00},
	{12, .37, .37, .00, .21, .00, .00},
	{13, .00, .34, .00, .00, .00, .00},
	{14, .00, .31, .00, .00, .00, .00},
	{15, .00, .28, .00, .00, .00, .00},
}

// frequency reads table 5, in a straight line between rows (as the manual's
// example 7 does), and is 0 above the last row of a column that is not 0.
func frequency(perMinute, hours float64, high bool) float64 {
	column := frequencyColumn(hours, high)
	f := max(perMinute, frequencyRows[0][0])
	for i, row := range frequencyRows {
		if f > row[0] {
			continue
		}
		if f == row[0] || row[column] == 0 {
			return row[column]
		}
		below := frequencyRows[i-1]
		return below[column] + (row[column]-below[column])*(f-below[0])/(row[0]-below[0])
	}
	return 0
}

func frequencyColumn(hours float64, high bool) int {
	column := 5
	switch {
	case hours <= 1:
		column = 1
	case hours <= 2:
		column = 3
	}
	if high {
		column++
	}
	return column
}

// halfSlack is added before rounding down, because a decimal half such as
// 23 × 0.95 = 21.85 may lie an ulp below itself in binary. It is larger than the
// error of seven factors and smaller than the step between two results that
// multipliers of two places can give.
const halfSlack = 5e-12

func (r Result) rounded(x, perUnit float64) float64 {
	if !r.worksheet {
		return x
	}
	return math.Floor(x*perUnit+0.5+halfSlack) / perUnit
}
