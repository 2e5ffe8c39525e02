package assign_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/assign/assigntest"
)

// matrix makes the rows of a full table: boat i, applicant j. With least, a cell
// is a cost, and the best pairing is the cheapest.
func matrix(cells [][]int64, least bool) (pairs []assign.Pair, top int64) {
	if least {
		for _, row := range cells {
			top = max(top, slices.Max(row))
		}
	}
	for i, row := range cells {
		for j, cell := range row {
			if least {
				cell = top - cell
			}
			pairs = append(pairs, assign.Pair{Boat: fmt.Sprint("b", i+1), Applicant: fmt.Sprint("a", j+1), Weight: cell, Tier: 1})
		}
	}
	return pairs, top
}

func TestPublishedAssignmentProblems(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, source string
		cells        [][]int64
		least        bool
		value        int64
		columns      []int // of each row, from 1; nil where none are published
	}{
		{
			name: "3x3", source: "example of scipy's linear_sum_assignment documentation (matrix from memory, value computed with scipy 1.10.1)",
			cells: [][]int64{{4, 1, 3}, {2, 0, 5}, {3, 2, 2}}, least: true, value: 5, columns: []int{2, 1, 3},
		},
		{
			name: "5x5", source: "assignment example of the lp_solve 5.5 guide (value computed with scipy 1.10.1)",
			cells: [][]int64{{22, 30, 26, 16, 25}, {27, 29, 28, 20, 32}, {33, 25, 21, 29, 23}, {24, 24, 30, 19, 26}, {30, 33, 32, 37, 31}},
			least: true, value: 118, columns: []int{1, 4, 3, 2, 5},
		},
		{
			name: "8x8", source: "GLPK's example assign.mod, after Christofides",
			cells: [][]int64{
				{13, 21, 20, 12, 8, 26, 22, 11}, {12, 36, 25, 41, 40, 11, 4, 8}, {35, 32, 13, 36, 26, 21, 13, 37}, {34, 54, 7, 8, 12, 22, 11, 40},
				{21, 6, 45, 18, 24, 34, 12, 48}, {42, 19, 39, 15, 14, 16, 28, 46}, {16, 34, 38, 3, 34, 40, 22, 24}, {26, 20, 5, 17, 45, 31, 37, 43},
			},
			least: true, value: 76,
		},
		{
			name: "5x5, greatest", source: "unit test of the public Go library antma/algo",
			cells: [][]int64{{7, 53, 183, 439, 863}, {497, 383, 563, 79, 973}, {287, 63, 343, 169, 583}, {627, 343, 773, 959, 943}, {767, 473, 103, 699, 303}},
			value: 3315, columns: []int{5, 2, 3, 4, 1},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			pairs, top := matrix(c.cells, c.least)
			got, err := assign.Solve(pairs, assign.Options{})
			require.NoError(t, err)
			value := got.Total
			if c.least {
				value = top*int64(len(c.cells)) - value
			}
			assert.Equal(t, c.value, value, c.source)
			for i, column := range c.columns {
				assert.Equal(t, fmt.Sprint("a", column), got.Pairs[i].Applicant, "row %d: %s", i+1, c.source)
			}
			requireProof(t, pairs, got)
		})
	}
}

// The answers can be seen by hand; no source.
func TestTraps(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		pairs  []assign.Pair
		o      assign.Options
		served []int
		total  int64
		want   []assign.Couple
	}{
		{name: "nothing to pair", served: []int{}, want: []assign.Couple{}},
		{
			name:   "the first best pair costs more than it brings",
			pairs:  []assign.Pair{{"b1", "a1", 10, 1}, {"b2", "a1", 9, 1}, {"b1", "a2", 8, 1}},
			served: []int{2}, total: 17, want: []assign.Couple{{"b1", "a2"}, {"b2", "a1"}},
		},
		{
			name:   "a tier outweighs any weight",
			pairs:  []assign.Pair{{"b", "first", 1, 1}, {"b", "third", assign.MaxWeight, 3}},
			served: []int{1, 0, 0}, total: 1, want: []assign.Couple{{"b", "first"}},
		},
		{
			name:   "a pair of weight 0 serves",
			pairs:  []assign.Pair{{"b", "a", 0, 9}},
			served: []int{0, 0, 0, 0, 0, 0, 0, 0, 1}, want: []assign.Couple{{"b", "a"}},
		},
		{
			name:   "serving two outweighs the weight of one",
			pairs:  []assign.Pair{{"b1", "a1", assign.MaxWeight, 1}, {"b2", "a1", 0, 1}, {"b1", "a2", 0, 1}},
			served: []int{2}, want: []assign.Couple{{"b1", "a2"}, {"b2", "a1"}},
		},
		{
			name:   "pairs stand in the byte order of the boats",
			pairs:  []assign.Pair{{"é", "a1", 1, 1}, {"b10", "a2", 1, 1}, {"b2", "a3", 1, 1}, {"B", "a4", 1, 1}},
			served: []int{4}, total: 4, want: []assign.Couple{{"B", "a4"}, {"b10", "a2"}, {"b2", "a3"}, {"é", "a1"}},
		},
		{
			name:   "a pin stands although it costs",
			pairs:  []assign.Pair{{"b1", "a1", 10, 1}, {"b2", "a1", 9, 1}, {"b1", "a2", 8, 1}},
			o:      assign.Options{Pins: []assign.Couple{{"b1", "a1"}}},
			served: []int{1}, total: 10, want: []assign.Couple{{"b1", "a1"}},
		},
		{
			name:   "a pinned applicant's tier counts among the tiers",
			pairs:  []assign.Pair{{"b1", "a1", 5, 3}, {"b1", "a2", 7, 1}, {"b2", "a2", 6, 1}},
			o:      assign.Options{Pins: []assign.Couple{{"b1", "a1"}}},
			served: []int{1, 0, 1}, total: 11, want: []assign.Couple{{"b1", "a1"}, {"b2", "a2"}},
		},
		{
			name:   "a forbidden pair does not stand; one that is no row changes nothing",
			pairs:  []assign.Pair{{"b1", "a1", 10, 1}, {"b2", "a1", 9, 1}},
			o:      assign.Options{Forbids: []assign.Couple{{"b1", "a1"}, {"b7", "a1"}, {"b1", "a7"}}},
			served: []int{1}, total: 9, want: []assign.Couple{{"b2", "a1"}},
		},
		{
			name:   "all rows forbidden",
			pairs:  []assign.Pair{{"b1", "a1", 10, 1}},
			o:      assign.Options{Forbids: []assign.Couple{{"b1", "a1"}}},
			served: []int{}, want: []assign.Couple{},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := assign.Solve(c.pairs, c.o)
			require.NoError(t, err)
			assert.Equal(t, c.served, got.ServedByTier)
			assert.Equal(t, c.total, got.Total)
			assert.Equal(t, c.want, got.Pairs)
			requireProof(t, narrowed(c.pairs, c.o), got)
			for _, pin := range c.o.Pins {
				assert.Zero(t, got.Proof.Boats[pin.Boat])
			}
		})
	}
}

func TestEmptyResultHasStepOne(t *testing.T) {
	t.Parallel()
	got, err := assign.Solve(nil, assign.Options{Seed: "any"})
	require.NoError(t, err)
	text, err := json.Marshal(got)
	require.NoError(t, err)
	assert.JSONEq(t, `{"served_by_tier":[],"total":0,"pairs":[],"proof":{"step":1,"applicants":{},"boats":{}}}`, string(text))
}

// The lottery decides when all else is equal: one boat, and applicants whose
// order for this seed was computed with Python's hmac and hashlib.
func TestLotteryOrder(t *testing.T) {
	t.Parallel()
	left := []string{"A-1", "A-2", "A-3", "A-4", "A-5"}
	for _, first := range []string{"A-5", "A-3", "A-4", "A-2", "A-1"} {
		var pairs []assign.Pair
		for _, a := range left {
			pairs = append(pairs, assign.Pair{Boat: "b", Applicant: a, Weight: 3, Tier: 1})
		}
		got, err := assign.Solve(pairs, assign.Options{Seed: "refloat-test-seed"})
		require.NoError(t, err)
		require.Equal(t, []assign.Couple{{"b", first}}, got.Pairs)
		left = slices.DeleteFunc(left, func(a string) bool { return a == first })
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	fine := []assign.Pair{{"b1", "a1", 1, 1}, {"b2", "a2", 1, 2}, {"b3", "a1", 1, 1}}
	with := func(p ...assign.Pair) []assign.Pair { return append(slices.Clone(fine), p...) }
	for _, c := range []struct {
		name  string
		pairs []assign.Pair
		o     assign.Options
		list  assign.List
		index int
		field string
	}{
		{name: "no boat", pairs: with(assign.Pair{"", "a1", 1, 1}), list: assign.Pairs, index: 3, field: "boat"},
		{name: "no applicant", pairs: with(assign.Pair{"b1", "", 1, 1}), list: assign.Pairs, index: 3, field: "applicant"},
		{name: "negative weight", pairs: with(assign.Pair{"b1", "a3", -1, 1}), list: assign.Pairs, index: 3, field: "weight"},
		{name: "too great a weight", pairs: with(assign.Pair{"b1", "a3", assign.MaxWeight + 1, 1}), list: assign.Pairs, index: 3, field: "weight"},
		{name: "tier 0", pairs: with(assign.Pair{"b1", "a3", 1, 0}), list: assign.Pairs, index: 3, field: "tier"},
		{name: "tier 10", pairs: with(assign.Pair{"b1", "a3", 1, 10}), list: assign.Pairs, index: 3, field: "tier"},
		{name: "two tiers", pairs: with(assign.Pair{"b1", "a2", 1, 1}), list: assign.Pairs, index: 3, field: "tier"},
		{name: "a pair twice", pairs: with(assign.Pair{"b2", "a2", 4, 2}), list: assign.Pairs, index: 3, field: "applicant"},
		{name: "two pairs twice", pairs: with(assign.Pair{"b1", "a1", 4, 1}, assign.Pair{"b2", "a2", 4, 2}), list: assign.Pairs, index: 3, field: "applicant"},
		{name: "the earliest of two faults", pairs: with(assign.Pair{"b1", "a1", 4, 1}, assign.Pair{"b1", "a3", -1, 1}), list: assign.Pairs, index: 3, field: "applicant"},
		{name: "the earliest of two faults, the other way", pairs: with(assign.Pair{"b1", "a3", -1, 1}, assign.Pair{"b1", "a1", 4, 1}), list: assign.Pairs, index: 3, field: "weight"},
		{name: "too many rows", pairs: make([]assign.Pair, assign.MaxRows+1), list: assign.Pairs, index: assign.MaxRows},
		{name: "pin of an unknown boat", pairs: fine, o: assign.Options{Pins: []assign.Couple{{"b9", "a1"}}}, list: assign.Pins, field: "boat"},
		{name: "pin of an unknown applicant", pairs: fine, o: assign.Options{Pins: []assign.Couple{{"b1", "a9"}}}, list: assign.Pins, field: "applicant"},
		{name: "pin that is no row", pairs: fine, o: assign.Options{Pins: []assign.Couple{{"b1", "a1"}, {"b3", "a2"}}}, list: assign.Pins, index: 1, field: "applicant"},
		{name: "boat pinned twice", pairs: with(assign.Pair{"b1", "a2", 1, 2}), o: assign.Options{Pins: []assign.Couple{{"b1", "a1"}, {"b1", "a2"}}}, list: assign.Pins, index: 1, field: "boat"},
		{name: "applicant pinned twice", pairs: fine, o: assign.Options{Pins: []assign.Couple{{"b1", "a1"}, {"b3", "a1"}}}, list: assign.Pins, index: 1, field: "applicant"},
		{name: "pinned and forbidden", pairs: fine, o: assign.Options{Pins: []assign.Couple{{"b1", "a1"}}, Forbids: []assign.Couple{{"b1", "a1"}}}, list: assign.Pins, field: "applicant"},
		{name: "forbidden twice", pairs: fine, o: assign.Options{Forbids: []assign.Couple{{"b8", "a8"}, {"b8", "a8"}}}, list: assign.Forbids, index: 1, field: "applicant"},
		{name: "no forbidden boat", pairs: fine, o: assign.Options{Forbids: []assign.Couple{{"", "a8"}}}, list: assign.Forbids, field: "boat"},
		{name: "no forbidden applicant", pairs: fine, o: assign.Options{Forbids: []assign.Couple{{"b8", ""}}}, list: assign.Forbids, field: "applicant"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := assign.Solve(c.pairs, c.o)
			var fault *assign.InputError
			require.True(t, errors.As(err, &fault), "%v", err)
			assert.Equal(t, c.list, fault.List)
			assert.Equal(t, c.index, fault.Index)
			assert.Equal(t, c.field, fault.Field)
			assert.NotEmpty(t, fault.Reason)
			if c.list == assign.Pairs {
				assert.Equal(t, err, assign.Check(c.pairs))
			} else {
				assert.NoError(t, assign.Check(c.pairs))
			}
		})
	}
}

// Weights from 1 to 5 make ties common, so that any dependence on the order of
// the rows or on scheduling would show.
func TestResultIsAFunctionOfTheRowsAndTheSeed(t *testing.T) {
	small := assigntest.Small
	small.Weights = 5
	pairs := small.Pairs()
	solve := func(seed string) string {
		result, err := assign.Solve(pairs, assign.Options{Seed: seed})
		require.NoError(t, err)
		text, err := json.Marshal(result)
		require.NoError(t, err)
		return string(text)
	}
	want, other := solve("one"), solve("two")
	assert.NotEqual(t, want, other, "the seed must matter")
	for i := range 20 {
		random := rand.New(rand.NewPCG(1, uint64(i)))
		random.Shuffle(len(pairs), func(i, j int) { pairs[i], pairs[j] = pairs[j], pairs[i] })
		before := runtime.GOMAXPROCS(1 + i%4)
		got := solve("one")
		runtime.GOMAXPROCS(before)
		require.Equal(t, want, got)
	}
}

// What must not change the tiers and the total, or change the total by what was
// added to it.
func TestChangesThatDoNotMatter(t *testing.T) {
	t.Parallel()
	plain := assigntest.Small.Pairs()
	base, err := assign.Solve(plain, assign.Options{})
	require.NoError(t, err)
	for _, c := range []struct {
		name   string
		change func(*assign.Pair)
		more   int64
	}{
		{"other ids", func(p *assign.Pair) { p.Boat, p.Applicant = reversed(p.Boat), reversed(p.Applicant) }, 0},
		{"higher weights where every boat goes out", func(p *assign.Pair) { p.Weight += 1000 }, 1000 * 200},
		{"tiers further down", func(p *assign.Pair) { p.Tier += 2 }, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			pairs := slices.Clone(plain)
			for i := range pairs {
				c.change(&pairs[i])
			}
			got, err := assign.Solve(pairs, assign.Options{})
			require.NoError(t, err)
			assert.Equal(t, base.Total+c.more, got.Total)
			assert.Equal(t, base.ServedByTier, got.ServedByTier[len(got.ServedByTier)-3:])
		})
	}
}

func reversed(id string) string {
	letters := []byte(id)
	slices.Reverse(letters)
	return string(letters)
}
