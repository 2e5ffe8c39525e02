// Package assigntest makes the pairing rounds on which the solver is tested and
// timed. A round is a function of its six numbers alone, on any machine and in
// any language, so that other solvers can be given the very same rows.
package assigntest

import (
	"bufio"
	"fmt"
	"io"

	"refloat.example/pkg/assign"
)

// A Round says which rows to make.
type Round struct {
	// Clustered draws each applicant's boats from one of eight clusters, of
	// which the low ones are crowded; else boats are drawn from all.
	Clustered bool
	// Boats and Applicants are how many there are. Clustered rounds need a
	// multiple of eight boats.
	Boats, Applicants int
	// Each is how many different boats every applicant can use, at most Boats
	// (Boats/8 when clustered).
	Each int
	// Seed starts the generator.
	Seed uint64
	// Weights is the largest weight; 0 stands for 1000.
	Weights int
}

// Rounds with published checksums and optima; the comment beside each table in
// the tests says where they come from.
var (
	Small     = Round{Boats: 200, Applicants: 800, Each: 20, Seed: 1}
	Medium    = Round{Boats: 1000, Applicants: 4000, Each: 50, Seed: 2}
	Large     = Round{Boats: 5000, Applicants: 20000, Each: 100, Seed: 3}
	Clustered = Round{Clustered: true, Boats: 5000, Applicants: 20000, Each: 100, Seed: 4}
)

// clusters is the number of clusters of a clustered round.
const clusters = 8

// Draws is a 64-bit linear congruential generator (Knuth's MMIX constants).
type Draws uint64

// Next gives a number from 0 to r - 1.
func (d *Draws) Next(r int) int {
	*d = *d*6364136223846793005 + 1442695040888963407
	return int(uint64(*d>>33) % uint64(r))
}

func (d *Draws) tier() int {
	switch x := d.Next(10); {
	case x < 2:
		return 1
	case x < 5:
		return 2
	}
	return 3
}

// Pairs gives the round's rows in drawing order: boats are named b0, b1, …,
// applicants a0, a1, …, tiers run from 1 to 3.
func (r Round) Pairs() []assign.Pair {
	random := Draws(r.Seed)
	pairs := make([]assign.Pair, 0, r.Applicants*r.Each)
	boats := names("b", r.Boats)
	taken := make([]int, r.Boats)
	for a, applicant := range names("a", r.Applicants) {
		tier, cluster := random.tier(), 0
		if r.Clustered {
			cluster = min(random.Next(clusters), random.Next(clusters))
		}
		for k := 0; k < r.Each; {
			b := r.boat(&random, cluster)
			if taken[b] == a+1 {
				continue
			}
			taken[b] = a + 1
			k++
			pairs = append(pairs, assign.Pair{Boat: boats[b], Applicant: applicant, Weight: r.weight(&random), Tier: tier})
		}
	}
	return pairs
}

func (r Round) boat(random *Draws, cluster int) int {
	if r.Clustered {
		return clusters*random.Next(r.Boats/clusters) + cluster
	}
	return random.Next(r.Boats)
}

func (r Round) weight(random *Draws) int64 {
	if r.Weights == 0 {
		return int64(1 + random.Next(1000))
	}
	return int64(1 + random.Next(r.Weights))
}

func names(prefix string, n int) []string {
	all := make([]string, n)
	for i := range all {
		all[i] = fmt.Sprintf("%s%d", prefix, i)
	}
	return all
}

// WriteCSV writes rows as `refloat calc assign` reads them, with LF line ends.
func WriteCSV(w io.Writer, pairs []assign.Pair) error {
	buffered := bufio.NewWriter(w)
	fmt.Fprintln(buffered, "boat,applicant,weight,tier")
	for _, p := range pairs {
		fmt.Fprintf(buffered, "%s,%s,%d,%d\n", p.Boat, p.Applicant, p.Weight, p.Tier)
	}
	return buffered.Flush()
}
