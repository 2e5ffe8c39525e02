package matching

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// singles makes boats of a round into ones with one seat that carry a paddler.
func singles(d draw, boats ...int) {
	for _, i := range boats {
		d.crafts[i].facts.Seats, d.crafts[i].facts.RatedLoadG = 1, 180_000
	}
}

// couples makes requests into those of two adults who would take two boats.
func couplesOf(d draw, requests ...int) {
	for _, i := range requests {
		d.asks[i].wish.Adults, d.asks[i].wish.Children = []message.Paddler{{MassG: 80_000}, {MassG: 70_000}}, nil
		d.asks[i].wish.TwoSingles, d.asks[i].wish.RoofLoadG = true, 100_000
	}
}

// Two singles free the double for a family, which nobody could serve otherwise.
func TestTwoSinglesFreeTheDouble(t *testing.T) {
	d := drawOf(3, 2)
	singles(d, 1, 2)
	couplesOf(d, 0)
	d.crafts[1].facts.Type, d.crafts[1].facts.LengthMM = boat.SitInside, 4000 // second choice: 20 points for the type
	s, err := d.solve()
	require.NoError(t, err)
	// The load of 90 kg is half of 180: 40 points; nothing to add: 10. (30 + 20) / 2 for the types.
	assert.Equal(t, []string{"b000 r001 80", "b001 r000 75", "b002 r000 75"}, pairsOf(s))
	assert.Equal(t, boat.ID("b002"), s.Pairs[1].With)
	assert.Equal(t, boat.ID("b001"), s.Pairs[2].With)
	assert.Equal(t, int64(155), s.Total, "two boats together count once")
	assert.Equal(t, []int{0, 2}, s.ServedByTier)
	assert.Equal(t, []message.RoundBundle{{Request: "r000", Boats: [2]int{1, 2}, Score: 75}}, s.Bundles)
	assert.False(t, s.Search.Stopped)
	assert.Contains(t, s.Pairs[1].Reasons, "It has a seat for everyone.")
	assert.Contains(t, s.reasons["r000 b001"], "The boat is a sit-inside kayak, choice 2 of 2.")
	assert.NotContains(t, s.reasons["r000 b002"], "The boat is a sit-inside kayak, choice 2 of 2.", "each boat has its own reasons")

	d.asks[0].wish.TwoSingles = false
	s, err = d.solve()
	require.NoError(t, err)
	assert.Len(t, s.Pairs, 1)
	assert.Nil(t, s.Search)
}

// Each boat carries one adult and all the gear, whoever fits where; the roof carries
// both boats.
func TestWhatFitsTogether(t *testing.T) {
	for name, c := range map[string]struct {
		change func(d draw)
		fits   int
	}{
		"both fit": {func(draw) {}, 1},
		// The club's share is 70 %: 90 kg want 128.6, 80 kg want 114.3.
		"one carries the lighter adult":       {func(d draw) { d.crafts[0].facts.RatedLoadG = 115_000 }, 1},
		"both carry the lighter adult only":   {func(d draw) { d.crafts[0].facts.RatedLoadG, d.crafts[1].facts.RatedLoadG = 115_000, 115_000 }, 0},
		"one carries neither":                 {func(d draw) { d.crafts[0].facts.RatedLoadG = 113_000 }, 0},
		"the load is not known":               {func(d draw) { d.asks[0].wish.Adults[1].MassG = 0 }, 0},
		"the roof holds both to the kilogram": {func(d draw) { d.asks[0].wish.RoofLoadG = 44_000 }, 1},
		"the roof holds one":                  {func(d draw) { d.asks[0].wish.RoofLoadG = 43_999 }, 0},
		"the rack is not known":               {func(d draw) { d.asks[0].wish.RackG = 0 }, 0},
		"the roof holds one, and the other packs": {func(d draw) {
			d.asks[0].wish.RoofLoadG = 43_999
			d.crafts[1].facts.Type = boat.InflatableCanoe
			d.asks[0].wish.Types = append(d.asks[0].wish.Types, boat.InflatableCanoe)
		}, 1},
		"one has two seats":                 {func(d draw) { d.crafts[1].facts.Seats = 2 }, 0},
		"the seats were not counted":        {func(d draw) { d.crafts[1].facts.Seats = 0 }, 0},
		"one is of a type not asked for":    {func(d draw) { d.crafts[1].facts.Type = boat.Board }, 0},
		"one is not ready":                  {func(d draw) { d.crafts[1].ready = false }, 0},
		"they did not ask for two":          {func(d draw) { d.asks[0].wish.TwoSingles = false }, 0},
		"nobody can read what they ask for": {func(d draw) { d.asks[0].erased = true }, 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := drawOf(2, 1)
			singles(d, 0, 1)
			couplesOf(d, 0)
			c.change(d)
			assert.Len(t, bundlesOf(d.asks[0], d.crafts, d.club, d.now), c.fits)
			_, together := seat(d.crafts[0], d.crafts[1], d.asks[0], d.club, d.now)
			assert.Equal(t, c.fits == 1, together && d.crafts[0].facts.Seats == 1 && d.crafts[1].facts.Seats == 1, "as when offers are sent")
		})
	}
}

func TestTwoSinglesAreForTwoAdults(t *testing.T) {
	w := fitting().ask.wish
	require.NoError(t, goodWish(w))
	w.TwoSingles = true
	assert.ErrorContains(t, goodWish(w), "two adults", "a child would be alone in a boat")
	w.Children = nil
	assert.ErrorContains(t, goodWish(w), "two adults")
	w.Adults = append(w.Adults, message.Paddler{})
	require.NoError(t, goodWish(w))
}

// every gives the best that any choice comes to: served by tier and total, trying
// each boat, each two singles and nothing for one request after the other. It shares
// no code with the solver.
func every(d draw, i int, taken map[boat.ID]bool) (best [10]int64) {
	if i == len(d.asks) {
		return best
	}
	best = every(d, i+1, taken)
	a := d.asks[i]
	try := func(points int64, boats ...boat.ID) {
		for _, b := range boats {
			if taken[b] {
				return
			}
		}
		for _, b := range boats {
			taken[b] = true
		}
		r := every(d, i+1, taken)
		r[a.tier-1]++
		r[9] += points
		if slices.Compare(r[:], best[:]) > 0 {
			best = r
		}
		for _, b := range boats {
			delete(taken, b)
		}
	}
	for _, c := range d.crafts {
		if m := (match{craft: c, ask: a, club: d.club}); len(against(weigh(m))) == 0 {
			try(total(score(m, d.now)), c.id)
		}
	}
	for x, one := range d.crafts {
		for _, other := range d.crafts[x+1:] {
			if both, ok := seat(one, other, a, d.club, d.now); ok && one.facts.Seats == 1 && other.facts.Seats == 1 {
				try((total(score(both[0], d.now))+total(score(both[1], d.now)))/2, one.id, other.id)
			}
		}
	}
	return best
}

// Small rounds against the list of all choices, and in another order.
func TestARoundWithBundlesIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawOf(rapid.IntRange(2, 5).Draw(t, "boats"), rapid.IntRange(1, 4).Draw(t, "requests"))
		d.seed = rapid.StringN(0, 4, -1).Draw(t, "seed")
		for i := range d.crafts {
			if rapid.Bool().Draw(t, "single") {
				singles(d, i)
				d.crafts[i].facts.RatedLoadG = rapid.SampledFrom([]int{115_000, 150_000, 180_000}).Draw(t, "rated")
			}
		}
		for i := range d.asks {
			d.asks[i].tier = rapid.IntRange(1, 2).Draw(t, "tier")
			switch rapid.IntRange(0, 2).Draw(t, "party") {
			case 0:
				couplesOf(d, i)
			case 1:
				d.asks[i].wish.Children = nil // one adult, whom a single fits
			}
		}
		s, err := d.solve()
		if err != nil {
			t.Fatal(err)
		}
		got := [10]int64{}
		for i, n := range s.ServedByTier {
			got[i] = int64(n)
		}
		got[9] = s.Total
		if want := every(d, 0, map[boat.ID]bool{}); got != want {
			t.Fatalf("%v, but %v is possible: %v", got, want, pairsOf(s))
		}
		d.asks, d.crafts = rapid.Permutation(d.asks).Draw(t, "requests in another order"), rapid.Permutation(d.crafts).Draw(t, "boats in another order")
		again, err := d.solve()
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(pairsOf(again)) != fmt.Sprint(pairsOf(s)) {
			t.Fatalf("%v and then %v", pairsOf(s), pairsOf(again))
		}
	})
}

// Where the search is stopped, the round says what a better choice could come to.
func TestASearchThatIsStoppedSaysSo(t *testing.T) {
	d := drawOf(7, 6)
	singles(d, 0, 1, 2, 3, 4, 5, 6)
	couplesOf(d, 0, 1, 2, 3, 4, 5)
	bundles, _ := d.bundles()
	require.Len(t, bundles, 6*21)
	stopped, err := pair(nil, bundles, assign.Options{Seed: d.seed}, 50)
	require.NoError(t, err)
	require.NoError(t, confirm(nil, bundles, assign.Options{Seed: d.seed}, stopped))
	search := searched(stopped, 50)
	require.True(t, search.Stopped)
	require.Equal(t, []int{0, 3}, stopped.ServedByTier, "seven boats serve three at most")
	assert.GreaterOrEqual(t, search.BoundServed[1], 3)
	assert.GreaterOrEqual(t, searchLimit(0, 6*21), 10_000, "rounds of this size are searched further")
}

// One of two boats was fetched before the other left the club: what the household has
// counts, and a round that goes on tells of no bundle with one boat.
func TestHalfOfABundleWasFetched(t *testing.T) {
	o := &offer{OfferMade: message.OfferMade{Round: "r", Offer: "o1", Boat: "b001", Request: "r000", With: "b000", WithOffer: "o0"}, answer: accepted}
	var fetched promises
	fetched.Fold(message.Event{}, message.BoatHandedOver{Boat: "b000", Request: "r000"})
	assert.Equal(t, message.RequestFreed{Request: "r000", Offer: "o0", Placed: true}, o.freed(fetched))
	assert.Equal(t, message.RequestFreed{Request: "r000", Offer: "o1"}, o.freed(promises{}), "neither was fetched")
	var r request
	r.Fold(message.Event{}, o.freed(fetched))
	assert.Equal(t, 1, r.got)

	d := drawOf(2, 1)
	singles(d, 0, 1)
	couplesOf(d, 0)
	before, err := d.solve()
	require.NoError(t, err)
	require.Len(t, before.Bundles, 1)
	d.earlier = &before.RoundSolved
	stays := &offer{OfferMade: message.OfferMade{Offer: "o0", Boat: "b000", Request: "r000", With: "b001", WithOffer: "o1"}, answer: accepted}
	d.fates.together = []*offer{stays}
	s, err := d.solve()
	require.NoError(t, err)
	assert.Equal(t, []string{"b000"}, []string{string(s.Pairs[0].Boat)})
	assert.Empty(t, s.Bundles)
	d.fates.together = append(d.fates.together, o)
	s, err = d.solve()
	require.NoError(t, err)
	assert.Equal(t, before.Bundles, s.Bundles, "both stand")
}
