package matching

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

var noon = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)

// drawOf is a round of boats and requests that all fit each other.
func drawOf(boats, requests int) draw {
	d := draw{round: "round1", seed: "seed", club: fitting().club, now: noon}
	for i := range boats {
		c := fitting().craft
		c.id, c.name = boat.ID(fmt.Sprintf("b%03d", i)), fmt.Sprintf("Boat %d", i)
		d.crafts = append(d.crafts, c)
	}
	for i := range requests {
		a := fitting().ask
		a.id, a.made = fmt.Sprintf("r%03d", i), noon
		d.asks = append(d.asks, a)
	}
	return d
}

// The greedy trap: taking the best pair first (10) leaves the worse sum; the
// best is 9 + 8. Here in the room's own points: r0 has the choice of both boats,
// r1 of one.
func TestTheRoundTakesTheBestSumNotTheBestPair(t *testing.T) {
	d := drawOf(2, 2)
	d.crafts[1].facts.Type = boat.SitInside // r0's second choice
	d.asks[0].wish.Experience = "much"
	d.asks[1].wish.Types = []boat.Type{boat.Canoe}
	s, err := d.solve()
	require.NoError(t, err)
	require.Len(t, s.Pairs, 2)
	assert.Equal(t, "r001", s.Pairs[0].Request)
	assert.Equal(t, "r000", s.Pairs[1].Request)
	assert.Equal(t, int64(80+70), s.Total, "first choice 30 and second 20, the load's middle 40 and nothing to add 10 each")
}

// One boat; the earlier tier has it, whatever the points.
func TestTheEarlierTierComesFirst(t *testing.T) {
	d := drawOf(1, 2)
	d.asks[0].tier, d.asks[0].made = 3, noon.AddDate(-1, 0, 0) // 30 points more
	d.asks[1].tier = 1
	s, err := d.solve()
	require.NoError(t, err)
	assert.Equal(t, "r001", s.Pairs[0].Request)
	assert.Equal(t, []int{1, 0, 0}, s.ServedByTier)
	assert.Equal(t, []string{
		"Boats of this round would fit, and all of them went to other requests. So few took part that it is not told how many went where.",
		"Boats go by the club's written priorities first, then so that the round as a whole has most points, then by the lottery.",
	}, s.Unserved[0].Reasons)
	d = drawOf(1, 5)
	d.asks[0].tier, d.asks[1].tier = 3, 1
	s, err = d.solve()
	require.NoError(t, err)
	assert.Equal(t, []string{
		"1 boat of this round would fit, and all of them went to other requests.",
		"1 boat went to requests in an earlier tier of the club's written priorities.",
	}, s.Unserved[0].Reasons)
}

// The result is a function of the list and the seed, not of the order.
func TestTheOrderOfTheListDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawOf(rapid.IntRange(0, 5).Draw(t, "boats"), rapid.IntRange(0, 6).Draw(t, "requests"))
		d.seed = rapid.StringN(0, 8, -1).Draw(t, "seed")
		for i := range d.asks {
			d.asks[i].tier = rapid.IntRange(1, 3).Draw(t, "tier")
			d.asks[i].wish.GearG = rapid.IntRange(1000, 110_000).Draw(t, "gear")
		}
		before, err := d.solve()
		if err != nil {
			t.Fatal(err)
		}
		d.asks = rapid.Permutation(d.asks).Draw(t, "order")
		after, err := d.solve()
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(pairsOf(before)) != fmt.Sprint(pairsOf(after)) {
			t.Fatalf("%v and then %v", pairsOf(before), pairsOf(after))
		}
	})
}

func pairsOf(s solution) []string {
	var list []string
	for _, p := range s.Pairs {
		list = append(list, fmt.Sprint(p.Boat, " ", p.Request, " ", p.Score))
	}
	return list
}

func TestWhyNothingFits(t *testing.T) {
	d := drawOf(4, 1)
	d.crafts[0].facts.RatedLoadG = 165_000 // load alone
	d.crafts[1].facts.RatedLoadG, d.crafts[1].facts.Seats = 165_000, 1
	d.crafts[2].facts.Type = boat.Board // type alone
	d.crafts[3].facts.LengthMM = 0      // storage cannot be told: the nearest
	s, err := d.solve()
	require.NoError(t, err)
	assert.Empty(t, s.Pairs)
	assert.Equal(t, []int{}, s.ServedByTier)
	assert.Equal(t, message.RoundReason{Request: "r000", Reasons: []string{
		"None of 4 boats fits. Kept out by type 1 (1 by it alone), seats 1 (0 by it alone), load 2 (1 by it alone), storage 1 (1 by it alone).",
		"The boat that came nearest failed on: storage.",
	}}, s.Unserved[0])
	assert.ElementsMatch(t, []message.RoundBlocked{
		{Request: "r000", Rule: "type", Boats: 1}, {Request: "r000", Rule: "seats", Boats: 1},
		{Request: "r000", Rule: "load", Boats: 2}, {Request: "r000", Rule: "storage", Boats: 1},
	}, s.Blocks)
	assert.Contains(t, s.reasons["r000"], "The boat that came nearest: The boat's length has not been noted; measure it.")
}

// A result that was tampered with is never said.
func TestAPairingThatDoesNotHoldIsRefused(t *testing.T) {
	d := drawOf(2, 3)
	d.asks[0].tier = 1
	rows := d.rows(d.table())
	solve := func() *assign.Bundled {
		result, err := pair(rows, nil, assign.Options{Seed: d.seed}, 1)
		require.NoError(t, err)
		result.RestServed = slices.Clone(result.ServedByTier)
		return result
	}
	require.NoError(t, confirm(rows, nil, assign.Options{}, solve()))
	for name, tamper := range map[string]func(*assign.Bundled){
		"a pair is missing":   func(r *assign.Bundled) { r.Pairs = r.Pairs[:1] },
		"a pair is exchanged": func(r *assign.Bundled) { r.Pairs[0].Boat = "b777" },
		"the total is higher": func(r *assign.Bundled) { r.Total++; r.RestTotal++ },
		"a bundle is made up": func(r *assign.Bundled) {
			r.Taken = []assign.Bundle{{Boats: [2]string{"b8", "b9"}, Applicant: "x", Tier: 1}}
		},
		"a price is lower":     func(r *assign.Bundled) { r.Proof.Applicants["r000"]-- },
		"the step is another":  func(r *assign.Bundled) { r.Proof.Step++ },
		"a tier is miscounted": func(r *assign.Bundled) { r.ServedByTier[0]--; r.RestServed[0]-- },
	} {
		result := solve()
		tamper(result)
		assert.Error(t, confirm(rows, nil, assign.Options{}, result), name)
	}
}

// A round of a large club still fits into one event of the book.
func TestALargeRoundFitsIntoTheBook(t *testing.T) {
	d := drawOf(60, 200)
	for i := range d.crafts {
		d.crafts[i].id = boat.ID(fmt.Sprintf("0199d3a0-0000-7000-8000-%012d", i))
	}
	for i := range d.asks {
		d.asks[i].id = fmt.Sprintf("0199d3a1-0000-7000-8000-%012d", i)
		if i%3 > 0 {
			d.asks[i].wish.Types, d.asks[i].wish.StorageMM = []boat.Type{boat.Board}, 4000
		}
	}
	s, err := d.solve()
	require.NoError(t, err)
	require.Len(t, s.Pairs, 60)
	for i := range s.Unserved { // sealing makes a text a third longer
		own := strings.Join(s.reasons[s.Unserved[i].Request], `","`)
		s.Unserved[i].Sealed = strings.Repeat("x", 4*(len(own)+40)/3)
	}
	for i := range s.Pairs {
		own := strings.Join(s.reasons[s.Pairs[i].Request], `","`)
		s.Pairs[i].Sealed = strings.Repeat("x", 4*(len(own)+40)/3)
	}
	text, err := message.Canonical(s.RoundSolved)
	require.NoError(t, err, "%d bytes at most", message.MaxData)
	t.Logf("%d bytes of %d", len(text), message.MaxData)
}

func TestOffersHaveTheSameIDForTheSameRoundAndBoat(t *testing.T) {
	ids := []string{offerID("round1", "b1", 0), offerID("round1", "b2", 0), offerID("round2", "b1", 0), offerID("round1", "b1", 1)}
	assert.Equal(t, offerID("round1", "b1", 0), ids[0])
	assert.Len(t, slices.Compact(slices.Sorted(slices.Values(ids))), 4)
}
