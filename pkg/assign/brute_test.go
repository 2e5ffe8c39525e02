package assign_test

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"fmt"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/assign"
)

// The opponent of this file lists every pairing there is and applies the words of
// the contract to the list: no duals, no big step, no graph.

// pairing is the boat of each served applicant.
type pairing map[string]string

// rank is what pairings are compared by: served in tier 1 … 9, then the total.
type rank [assign.MaxTier + 1]int64

type table struct {
	applicants []string
	rows       map[string][]assign.Pair // of an applicant
}

func tabulate(pairs []assign.Pair) table {
	t := table{rows: map[string][]assign.Pair{}}
	for _, p := range pairs {
		t.rows[p.Applicant] = append(t.rows[p.Applicant], p)
	}
	t.applicants = slices.Sorted(maps.Keys(t.rows))
	return t
}

// best lists all pairings of the highest rank.
func (t table) best() (top rank, all []pairing) {
	var walk func(i int, used map[string]bool, now pairing, r rank)
	walk = func(i int, used map[string]bool, now pairing, r rank) {
		if i == len(t.applicants) {
			if c := slices.Compare(r[:], top[:]); c > 0 {
				top, all = r, nil
			} else if c < 0 {
				return
			}
			all = append(all, maps.Clone(now))
			return
		}
		walk(i+1, used, now, r)
		a := t.applicants[i]
		for _, p := range t.rows[a] {
			if used[p.Boat] {
				continue
			}
			used[p.Boat], now[a] = true, p.Boat
			next := r
			next[p.Tier-1]++
			next[assign.MaxTier] += p.Weight
			walk(i+1, used, now, next)
			delete(now, a)
			delete(used, p.Boat)
		}
	}
	walk(0, map[string]bool{}, pairing{}, rank{})
	return top, all
}

func digest(seed, id string) []byte {
	key := sha256.Sum256([]byte(seed))
	mac := hmac.New(sha256.New, key[:])
	mac.Write([]byte(id))
	return mac.Sum(nil)
}

// drawn applies the lottery to a list of equal pairings.
func drawn(applicants []string, all []pairing, seed string) pairing {
	byLot := func(x, y string) int { return bytes.Compare(digest(seed, x), digest(seed, y)) }
	for _, a := range slices.SortedFunc(slices.Values(applicants), byLot) {
		var boats []string
		for _, p := range all {
			if b, served := p[a]; served {
				boats = append(boats, b)
			}
		}
		if len(boats) == 0 {
			continue
		}
		first := slices.MinFunc(boats, byLot)
		all = slices.DeleteFunc(all, func(p pairing) bool { return p[a] != first })
	}
	return all[0]
}

// mostKept gives those pairings that keep most of the given pairs.
func mostKept(all []pairing, keep []assign.Couple) []pairing {
	kept := func(p pairing) (n int) {
		for _, c := range keep {
			if p[c.Applicant] == c.Boat {
				n++
			}
		}
		return n
	}
	most := 0
	for _, p := range all {
		most = max(most, kept(p))
	}
	return slices.DeleteFunc(all, func(p pairing) bool { return kept(p) < most })
}

// narrowed drops forbidden rows and the other rows of pinned ends.
func narrowed(pairs []assign.Pair, o assign.Options) []assign.Pair {
	return slices.DeleteFunc(slices.Clone(pairs), func(p assign.Pair) bool {
		for _, f := range o.Forbids {
			if f.Boat == p.Boat && f.Applicant == p.Applicant {
				return true
			}
		}
		for _, pin := range o.Pins {
			if (pin.Boat == p.Boat) != (pin.Applicant == p.Applicant) {
				return true
			}
		}
		return false
	})
}

// smallRound draws up to 5 boats and 6 applicants, with few different weights so
// that equal pairings are common.
func smallRound(t *rapid.T) ([]assign.Pair, assign.Options) {
	boats, applicants := rapid.IntRange(1, 5).Draw(t, "boats"), rapid.IntRange(1, 6).Draw(t, "applicants")
	heaviest := rapid.SampledFrom([]int64{0, 1, 2, 5, assign.MaxWeight}).Draw(t, "heaviest")
	tiers := rapid.SampledFrom([]int{1, 2, 3, 9}).Draw(t, "tiers")
	percent := rapid.SampledFrom([]int{25, 50, 75, 100}).Draw(t, "percent")
	var pairs []assign.Pair
	for a := range applicants {
		tier := rapid.IntRange(1, tiers).Draw(t, "tier")
		for b := range boats {
			if rapid.IntRange(1, 100).Draw(t, "fits") > percent {
				continue
			}
			weight := rapid.Int64Range(0, heaviest).Draw(t, "weight")
			pairs = append(pairs, assign.Pair{Boat: fmt.Sprint("b", b), Applicant: fmt.Sprint("a", a), Weight: weight, Tier: tier})
		}
	}
	if len(pairs) > 0 {
		pairs = rapid.Permutation(pairs).Draw(t, "order")
	}
	return pairs, smallOptions(t, pairs)
}

func smallOptions(t *rapid.T, pairs []assign.Pair) assign.Options {
	o := assign.Options{Seed: rapid.StringN(0, 3, -1).Draw(t, "seed")}
	pinned := map[string]bool{}
	for _, p := range pairs {
		c := assign.Couple{Boat: p.Boat, Applicant: p.Applicant}
		switch rapid.IntRange(0, 15).Draw(t, "fate") {
		case 0:
			o.Forbids = append(o.Forbids, c)
		case 13, 14, 15:
			o.Keep = append(o.Keep, c)
		case 1:
			if !pinned[p.Boat] && !pinned[p.Applicant] {
				pinned[p.Boat], pinned[p.Applicant] = true, true
				o.Pins = append(o.Pins, c)
			}
		}
	}
	return o
}

func TestSolveAgreesWithTheListOfAllPairings(t *testing.T) {
	t.Parallel()
	for range 60 { // times the hundred of one check
		rapid.Check(t, agreesWithTheList)
	}
}

func agreesWithTheList(t *rapid.T) {
	pairs, o := smallRound(t)
	got, err := assign.Solve(pairs, o)
	require.NoError(t, err)

	left := narrowed(pairs, o)
	all := tabulate(left)
	top, equal := all.best()
	want := drawn(all.applicants, mostKept(equal, o.Keep), o.Seed)

	require.Equal(t, want, pairingOf(got), "the lottery")
	require.Equal(t, top[assign.MaxTier], got.Total)
	for i, n := range top[:assign.MaxTier] {
		if i < len(got.ServedByTier) {
			require.EqualValues(t, n, got.ServedByTier[i])
		} else {
			require.Zero(t, n)
		}
	}
	requireProof(t, left, got)
	for _, a := range all.applicants {
		without := tabulate(slices.DeleteFunc(slices.Clone(left), func(p assign.Pair) bool { return p.Applicant == a }))
		rest, _ := without.best()
		require.Equal(t, worth(top, got)-worth(rest, got), got.Proof.Applicants[a], "the loss without %s", a)
	}
}

func pairingOf(r *assign.Result) pairing {
	p := pairing{}
	for _, c := range r.Pairs {
		p[c.Applicant] = c.Boat
	}
	return p
}

// worth is the sum of the worths of pairings of a rank, by the contract's words.
func worth(r rank, of *assign.Result) int64 {
	sum := r[assign.MaxTier]
	for i := range of.ServedByTier {
		sum += r[i] * int64(len(of.ServedByTier)-i) * of.Proof.Step
	}
	return sum
}

// requireProof checks the proof as the contract states it, on the rows that are
// left after pins and forbidden pairs.
func requireProof(t require.TestingT, left []assign.Pair, r *assign.Result) {
	boats, applicants := map[string]bool{}, map[string]bool{}
	heaviest, tiers := int64(0), 0
	for _, p := range left {
		boats[p.Boat], applicants[p.Applicant] = true, true
		heaviest, tiers = max(heaviest, p.Weight), max(tiers, p.Tier)
	}
	require.Equal(t, int64(min(len(boats), len(applicants)))*heaviest+1, r.Proof.Step)
	require.Len(t, r.ServedByTier, tiers)
	require.True(t, slices.IsSortedFunc(r.Pairs, func(x, y assign.Couple) int { return bytes.Compare([]byte(x.Boat), []byte(y.Boat)) }))

	boatOf := pairingOf(r)
	sum := int64(0)
	for _, p := range left {
		worth := p.Weight + int64(tiers+1-p.Tier)*r.Proof.Step
		if r.Proof.Boats[p.Boat]+r.Proof.Applicants[p.Applicant] < worth {
			require.Fail(t, "the prices do not reach the worth", "%+v", p) // require itself is slow on two million rows
		}
		if boatOf[p.Applicant] == p.Boat {
			sum += worth
		}
	}
	for _, prices := range []map[string]int64{r.Proof.Boats, r.Proof.Applicants} {
		for id, price := range prices {
			require.GreaterOrEqual(t, price, int64(0), id)
			sum -= price
		}
	}
	require.Zero(t, sum)
}
