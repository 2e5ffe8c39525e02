package watch

import (
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"refloat.example/pkg/fault"
)

// Figures are what one process measures of its own work. A nil *Figures measures
// nothing. They are safe for concurrent use.
type Figures struct {
	registry *prometheus.Registry

	appendSeconds prometheus.Histogram
	appends       map[string]prometheus.Counter
	batchAppends  prometheus.Histogram
	batchEvents   prometheus.Histogram
	commitSeconds prometheus.Histogram
	leads         prometheus.Gauge
	sealed        prometheus.Gauge
	orders        *prometheus.HistogramVec
	pages         *prometheus.HistogramVec
}

// Outcomes of appends and orders that are no faults.
const (
	written  = "written"
	repeated = "repeated"
	answered = "answered"
)

// seconds are the borders between which durations are counted.
var seconds = []float64{.0005, .001, .002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5, 10}

// NewFigures makes figures with a registry of their own.
func NewFigures() *Figures {
	f := &Figures{
		registry:      prometheus.NewRegistry(),
		appendSeconds: histogram("refloat_append_seconds", "From handing an append to the book to its answer, waiting included.", seconds),
		batchAppends:  histogram("refloat_batch_appends", "Appends that one statement wrote together.", prometheus.ExponentialBuckets(1, 2, 10)),
		batchEvents:   histogram("refloat_batch_events", "Events that one statement wrote together.", prometheus.ExponentialBuckets(1, 2, 12)),
		commitSeconds: histogram("refloat_commit_seconds", "From gathering a batch to its commit.", seconds),
		leads:         gauge("refloat_writer_leads", "1 in the process that writes the book, 0 in the others."),
		sealed:        gauge("refloat_sealed_position", "Position up to which the newest signed checkpoint reaches, as this process knows it; 0 where no sealer runs."),
		orders:        histograms("refloat_order_seconds", "Work of a room on one command or question.", "room", "sort", "outcome"),
		pages:         histograms("refloat_page_seconds", "Work on one request to the pages.", "status"),
		appends:       map[string]prometheus.Counter{},
	}
	outcomes := prometheus.NewCounterVec(prometheus.CounterOpts{Name: "refloat_appends_total", Help: "Appends by what became of them."}, []string{"outcome"})
	for _, outcome := range []string{written, repeated, string(fault.Conflict), string(fault.Busy), string(fault.Unavailable), string(fault.Invalid), string(fault.Internal)} {
		f.appends[outcome] = outcomes.WithLabelValues(outcome)
	}
	f.registry.MustRegister(f.appendSeconds, outcomes, f.batchAppends, f.batchEvents, f.commitSeconds, f.leads, f.sealed, f.orders, f.pages,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return f
}

func histogram(name, help string, borders []float64) prometheus.Histogram {
	return prometheus.NewHistogram(prometheus.HistogramOpts{Name: name, Help: help, Buckets: borders})
}

func histograms(name, help string, labels ...string) *prometheus.HistogramVec {
	return prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: name, Help: help, Buckets: seconds}, labels)
}

func gauge(name, help string) prometheus.Gauge {
	return prometheus.NewGauge(prometheus.GaugeOpts{Name: name, Help: help})
}

// Add takes in a collector of somebody else's. It panics when another has its
// names already.
func (f *Figures) Add(c prometheus.Collector) {
	if f != nil {
		f.registry.MustRegister(c)
	}
}

// Appended counts an append that was answered.
func (f *Figures) Appended(took time.Duration, again bool, err error) {
	if f == nil {
		return
	}
	f.appendSeconds.Observe(took.Seconds())
	outcome := written
	if again {
		outcome = repeated
	}
	if counter, ok := f.appends[outcomeOf(outcome, err)]; ok {
		counter.Inc()
	}
}

// Committed counts a batch that was written.
func (f *Figures) Committed(appends, events int, took time.Duration) {
	if f == nil {
		return
	}
	f.batchAppends.Observe(float64(appends))
	f.batchEvents.Observe(float64(events))
	f.commitSeconds.Observe(took.Seconds())
}

// Queue tells, when somebody looks, how many appends wait and how many may.
func (f *Figures) Queue(length func() int, limit int) {
	if f == nil {
		return
	}
	f.registry.MustRegister(
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "refloat_queue_length", Help: "Appends that wait for the writer."},
			func() float64 { return float64(length()) }),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "refloat_queue_limit", Help: "Appends that may wait; beyond it callers hear that the book is busy."},
			func() float64 { return float64(limit) }))
}

// Leads says whether this process writes the book.
func (f *Figures) Leads(yes bool) {
	if f == nil {
		return
	}
	f.leads.Set(0)
	if yes {
		f.leads.Set(1)
	}
}

// Sealed says how far the newest signed checkpoint reaches.
func (f *Figures) Sealed(position int64) {
	if f != nil {
		f.sealed.Set(float64(position))
	}
}

// Ordered counts a room's answer. sort is "do" or "ask".
func (f *Figures) Ordered(room, sort string, took time.Duration, err error) {
	if f != nil {
		f.orders.WithLabelValues(room, sort, outcomeOf(answered, err)).Observe(took.Seconds())
	}
}

// Paged counts an answer of the pages.
func (f *Figures) Paged(status int, took time.Duration) {
	if f != nil {
		f.pages.WithLabelValues(strconv.Itoa(status/100) + "xx").Observe(took.Seconds())
	}
}

func outcomeOf(good string, err error) string {
	if err == nil {
		return good
	}
	return string(fault.Of(err).Kind)
}
