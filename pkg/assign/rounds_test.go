package assign_test

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/assign/assigntest"
)

// The checksums were computed from a generator written separately in Python. The
// optima are those on which scipy 1.10.1 (min_weight_full_bipartite_matching and
// linear_sum_assignment), LEMON 1.3.1 (network simplex, cost scaling) and, for
// the tiers, three maximum cardinalities agree. plain is the optimum without
// tiers.
var published = []struct {
	name        string
	round       assigntest.Round
	first, last assign.Pair
	checksum    string // the start of the SHA-256 of the CSV
	served      []int
	total       int64
	plain       int64
}{
	{"u200", assigntest.Small, assign.Pair{"b153", "a0", 197, 2}, assign.Pair{"b75", "a799", 185, 3}, "164321dc5820b071", []int{151, 49, 0}, 189224, 197551},
	{"u1000", assigntest.Medium, assign.Pair{"b882", "a0", 457, 1}, assign.Pair{"b726", "a3999", 976, 3}, "eeea95fee45e24e5", []int{789, 211, 0}, 976422, 995220},
	{"u5000", assigntest.Large, assign.Pair{"b963", "a0", 716, 3}, assign.Pair{"b339", "a19999", 220, 2}, "54351b0b28241bf0", []int{3959, 1041, 0}, 4942690, 4989340},
	{"c5000", assigntest.Clustered, assign.Pair{"b1172", "a0", 466, 3}, assign.Pair{"b3617", "a19999", 346, 3}, "609c4679553f1c9b", []int{3472, 905, 330}, 4656765, 4691464},
}

func TestPublishedRounds(t *testing.T) {
	t.Parallel()
	for _, c := range published {
		t.Run(c.name, func(t *testing.T) {
			if testing.Short() && c.round.Boats > 1000 {
				t.Skip("two million rows")
			}
			pairs := c.round.Pairs()
			assert.Equal(t, c.first, pairs[0])
			assert.Equal(t, c.last, pairs[len(pairs)-1])
			sum := sha256.New()
			require.NoError(t, assigntest.WriteCSV(sum, pairs))
			assert.Equal(t, c.checksum, hex.EncodeToString(sum.Sum(nil))[:16])

			got, err := assign.Solve(pairs, assign.Options{})
			require.NoError(t, err)
			assert.Equal(t, c.served, got.ServedByTier)
			assert.Equal(t, c.total, got.Total)
			requireProof(t, pairs, got)

			for i := range pairs {
				pairs[i].Tier = 1
			}
			got, err = assign.Solve(pairs, assign.Options{})
			require.NoError(t, err)
			assert.Equal(t, c.plain, got.Total)
		})
	}
}

// BenchmarkSolve times rounds from the rows in memory to the result, and names
// the stages. With equal weights nearly all is left to the lottery.
func BenchmarkSolve(b *testing.B) {
	for _, c := range published {
		pairs := c.round.Pairs()
		equal := slices.Clone(pairs)
		for i := range equal {
			equal[i].Weight = 0
		}
		b.Run(c.name, func(b *testing.B) { benchmarkStages(b, pairs) })
		b.Run(c.name+"-equal", func(b *testing.B) { benchmarkStages(b, equal) })
	}
}

func benchmarkStages(b *testing.B, pairs []assign.Pair) {
	var read, find, settle time.Duration
	for b.Loop() {
		start := time.Now()
		p, err := assign.Open(pairs, assign.Options{Seed: "seed"})
		require.NoError(b, err)
		opened := time.Now()
		p.Find()
		found := time.Now()
		p.Settle()
		read, find, settle = read+opened.Sub(start), find+found.Sub(opened), settle+time.Since(found)
	}
	for stage, took := range map[string]time.Duration{"read": read, "find": find, "settle": settle} {
		b.ReportMetric(took.Seconds()*1000/float64(b.N), stage+"-ms/op")
	}
}
