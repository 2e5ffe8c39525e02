package web

import (
	"fmt"
	"math"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// chart is a drawing of amounts by day, in SVG made on the server. It is never the
// only way to know them: a table beside it says the same.
type chart struct {
	Name   string // the id of the element
	Title  string // for people who do not see it: what it shows, in a sentence
	XMarks []chartMark
	YMarks []chartMark
	Dots   []chartDot
	Ranges []chartRange
	Lines  []chartLine
	Key    []chartKey
}

// chartMark is a number on an axis.
type chartMark struct {
	At    int
	Label string
}

// chartDot is one amount on one day. Its class says what it is.
type chartDot struct {
	X, Y  int
	Class string
	Words string
}

// chartRange is a span of amounts on one day.
type chartRange struct{ X, Low, High int }

// chartLine is a way through amounts.
type chartLine struct{ Points, Class string }

// chartKey explains a class.
type chartKey struct{ Class, Words string }

// Empty says whether there is nothing to draw.
func (c chart) Empty() bool { return len(c.Dots)+len(c.Lines) == 0 }

// The frame of every chart, in its own units: what is drawn lies between left and
// right, top and bottom.
const (
	chartLeft, chartRight = 84, 550
	chartInset            = 14 // so that nothing at either end is drawn over the axis
	chartTop, chartBottom = 14, 250
	mostMarks             = 5
)

// scale turns days and minor units into the chart's units.
type scale struct {
	first, last int64 // days
	low, high   int64 // minor units
	currency    money.Currency
}

// scaleOf takes in everything that will be drawn. Amounts begin at nothing, so
// that a small difference does not look like a large one.
func scaleOf(currency money.Currency, days []clock.Date, amounts []int64) scale {
	s := scale{currency: currency}
	for i, d := range days {
		n := dayNumber(d)
		if i == 0 || n < s.first {
			s.first = n
		}
		if i == 0 || n > s.last {
			s.last = n
		}
	}
	for _, a := range amounts {
		s.high = max(s.high, a)
	}
	if s.last-s.first < 30 {
		s.first, s.last = s.first-15, s.last+15
	}
	s.high = max(s.high, 1)
	step := niceStep(float64(s.high) / (mostMarks - 1))
	s.high = int64(math.Ceil(float64(s.high)/step) * step)
	return s
}

func dayNumber(d clock.Date) int64 { return d.Time().Unix() / 86_400 }

func (s scale) x(d clock.Date) int {
	part := float64(dayNumber(d)-s.first) / float64(s.last-s.first)
	return chartLeft + chartInset + int(math.Round(part*(chartRight-chartLeft-2*chartInset)))
}

func (s scale) y(minor int64) int {
	part := float64(min(max(minor, s.low), s.high)-s.low) / float64(s.high-s.low)
	return chartBottom - int(math.Round(part*(chartBottom-chartTop)))
}

// niceStep is the next larger 1, 2 or 5 times a power of ten.
func niceStep(raw float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(max(raw, 1))))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= raw {
			return m * power
		}
	}
	return 10 * power
}

// axes gives the marks of both axes.
func (s scale) axes() (x, y []chartMark) {
	step := int64(max(1, niceStep(float64(s.high-s.low)/(mostMarks-1))))
	for minor := s.low; minor <= s.high; minor += step {
		label, _, _ := strings.Cut(money.Of(minor, s.currency).Number(), ".")
		y = append(y, chartMark{s.y(minor), label})
	}
	layout := "Jan 2006"
	if s.last-s.first < 120 {
		layout = "2 Jan"
	}
	for i := range int64(4) {
		n := s.first + (s.last-s.first)*i/3
		day := clock.NewDate(1970, 1, 1).AddDays(int(n))
		x = append(x, chartMark{s.x(day), day.Time().Format(layout)})
	}
	return x, y
}

// newChart begins a chart on a scale.
func newChart(name, title string, s scale) chart {
	c := chart{Name: name, Title: title}
	c.XMarks, c.YMarks = s.axes()
	return c
}

// steps draws a sum that grows as stairs.
func (s scale) steps(days []clock.Date, sums []int64, last clock.Date) string {
	var points []string
	y := s.y(0)
	for i, d := range days {
		points = append(points, fmt.Sprintf("%d,%d", s.x(d), y))
		y = s.y(sums[i])
		points = append(points, fmt.Sprintf("%d,%d", s.x(d), y))
	}
	return strings.Join(append(points, fmt.Sprintf("%d,%d", s.x(last), y)), " ")
}
