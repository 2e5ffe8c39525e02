package watch

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	dto "github.com/prometheus/client_model/go"
)

// A Figure is one measure as people read it. A histogram is a count with the
// values below which half and 99 of 100 lie, both estimated within a bucket.
type Figure struct {
	Name   string   `json:"name"`
	About  string   `json:"about,omitempty"` // labels, "room=intake sort=do"
	Value  float64  `json:"value"`           // of a histogram: its count
	Half   *float64 `json:"half,omitempty"`
	Nearly *float64 `json:"nearly_all,omitempty"`
}

// Words say the figure's value: a count of durations with the two in
// milliseconds, any other as it is.
func (f Figure) Words() string {
	value := strconv.FormatFloat(f.Value, 'f', -1, 64)
	switch {
	case f.Half == nil:
		return value
	case strings.HasSuffix(f.Name, "_seconds"):
		return fmt.Sprintf("%s, half below %.2f ms, 99 of 100 below %.2f ms", value, 1000**f.Half, 1000**f.Nearly)
	}
	return fmt.Sprintf("%s, half up to %.0f, 99 of 100 up to %.0f", value, math.Ceil(*f.Half), math.Ceil(*f.Nearly))
}

// Summary gives the project's own figures, in order. What cannot be gathered is
// left out.
func (f *Figures) Summary() []Figure {
	families, _ := f.registry.Gather() // what it gives beside an error is good
	figures := []Figure{}
	for _, family := range families {
		if !strings.HasPrefix(family.GetName(), "refloat_") {
			continue
		}
		for _, m := range family.GetMetric() {
			figures = append(figures, figureOf(family.GetName(), m))
		}
	}
	return figures
}

func figureOf(name string, m *dto.Metric) Figure {
	var labels []string
	for _, l := range m.GetLabel() {
		labels = append(labels, l.GetName()+"="+l.GetValue())
	}
	figure := Figure{Name: name, About: strings.Join(labels, " ")}
	switch {
	case m.GetHistogram() != nil:
		h := m.GetHistogram()
		figure.Value = float64(h.GetSampleCount())
		if figure.Value > 0 {
			half, nearly := quantile(h, 0.5), quantile(h, 0.99)
			figure.Half, figure.Nearly = &half, &nearly
		}
	case m.GetCounter() != nil:
		figure.Value = m.GetCounter().GetValue()
	default:
		figure.Value = m.GetGauge().GetValue()
	}
	return figure
}

// quantile estimates, like Prometheus does, where in its bucket a quantile lies.
// Beyond the last border it gives that border.
func quantile(h *dto.Histogram, q float64) float64 {
	buckets := h.GetBucket()
	rank := q * float64(h.GetSampleCount())
	i := sort.Search(len(buckets), func(i int) bool { return float64(buckets[i].GetCumulativeCount()) >= rank })
	if i == len(buckets) {
		return buckets[len(buckets)-1].GetUpperBound()
	}
	var below, from float64
	if i > 0 {
		below, from = float64(buckets[i-1].GetCumulativeCount()), buckets[i-1].GetUpperBound()
	}
	inside := float64(buckets[i].GetCumulativeCount()) - below
	return from + (buckets[i].GetUpperBound()-from)*(rank-below)/inside
}
