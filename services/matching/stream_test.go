package matching

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// crowd is a club of invented boats and households of all sorts, always the same
// for a seed.
func crowd(boats, requests int, seed uint64) draw {
	d, r := drawOf(boats, requests), rand.New(rand.NewPCG(seed, seed))
	for i := range d.crafts {
		f := &d.crafts[i].facts
		f.Type, f.Seats = boat.Types[r.IntN(len(boat.Types))], 1+r.IntN(3)
		f.LengthMM, f.MassG, f.RatedLoadG = 2800+r.IntN(2800), 10_000+r.IntN(25_000), 90_000+r.IntN(260_000)
		if r.IntN(10) == 0 {
			f.RatedLoadG, f.RatedSource, f.DepthMM = 0, "", 300
		}
		f.Features = []boat.Feature{boat.Features[r.IntN(len(boat.Features))]}
		d.crafts[i].ready = r.IntN(20) > 0
	}
	for i := range d.asks {
		w := &d.asks[i].wish
		first := r.IntN(len(boat.Types))
		w.Types = []boat.Type{boat.Types[first], boat.Types[(first+1)%len(boat.Types)]}
		w.Adults = []message.Paddler{{MassG: 50_000 + r.IntN(60_000)}}
		if w.Children = nil; r.IntN(2) == 0 {
			w.Children = []message.Paddler{{MassG: 15_000 + r.IntN(30_000)}}
		}
		if r.IntN(6) == 0 {
			w.AnimalsG = []int{12_000}
		}
		w.StorageMM, w.RoofLoadG, w.EachLiftsG, w.HasCart = 3000+r.IntN(3000), 40_000+r.IntN(60_000), 12_000+r.IntN(12_000), r.IntN(2) == 0
		w.Experience = []string{noExperience, someExperience, muchExperience}[r.IntN(3)]
	}
	return d
}

// What comes one after the other is what the whole table says.
func TestTheStreamFindsWhatTheTableFinds(t *testing.T) {
	for seed := range uint64(5) {
		d := crowd(60, 80, seed)
		var streamed, tabled []string
		d.eachFit(func(c *craft, a *ask, points int64) { streamed = append(streamed, fmt.Sprint(c.id, a.id, points)) })
		for _, p := range d.rows(d.table()) {
			tabled = append(tabled, fmt.Sprint(p.Boat, p.Applicant, p.Weight))
		}
		slices.Sort(streamed)
		slices.Sort(tabled)
		require.NotEmpty(t, tabled)
		assert.Equal(t, tabled, streamed)
	}
}

// BenchmarkTable weighs every pair in full, with its sentences: what a round does
// for its reasons.
func BenchmarkTable(b *testing.B) {
	d := crowd(100, 400, 1)
	for b.Loop() {
		d.rows(d.table())
	}
	b.ReportMetric(float64(100*400)*float64(b.N)/b.Elapsed().Seconds(), "pairs/s")
}

// BenchmarkFit holds every boat of a large club against every request. deploy/bench
// fit runs it at the full size.
func BenchmarkFit(b *testing.B) {
	boats, requests := 200, 800
	if os.Getenv("REFLOAT_BENCH_FIT") != "" {
		boats, requests = 5000, 20_000
	}
	d := crowd(boats, requests, 1)
	for b.Loop() {
		fit := 0
		d.eachFit(func(*craft, *ask, int64) { fit++ })
		b.ReportMetric(float64(fit), "pairs-that-fit")
	}
	b.ReportMetric(float64(boats*requests)*float64(b.N)/b.Elapsed().Seconds(), "pairs/s")
}
