package assign_test

import (
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/assign/assigntest"
)

// book keeps by hand what has become of a round: what Solve is told of it.
type book struct {
	pairs   []assign.Pair
	o       assign.Options
	offered []assign.Couple
}

func (b *book) accept(c assign.Couple) { b.o.Pins = append(b.o.Pins, c) }

func (b *book) decline(c assign.Couple) {
	if !slices.Contains(b.o.Forbids, c) {
		b.o.Forbids = append(b.o.Forbids, c)
	}
}

func (b *book) withdraw(gone func(assign.Pair) bool) {
	b.pairs = slices.DeleteFunc(slices.Clone(b.pairs), gone)
	b.o.Pins = slices.DeleteFunc(b.o.Pins, func(c assign.Couple) bool { return gone(assign.Pair{Boat: c.Boat, Applicant: c.Applicant}) })
}

// anew solves the round from the start, the open offers to be kept.
func (b *book) anew(t require.TestingT) *assign.Result {
	b.o.Keep = b.offered
	got, err := assign.Solve(b.pairs, b.o)
	require.NoError(t, err)
	b.offered = got.Pairs
	return got
}

func TestStandingComesToWhatSolvingAnewComesTo(t *testing.T) {
	t.Parallel()
	for range 5 { // times the hundred of one check
		rapid.Check(t, func(t *rapid.T) {
			pairs, o := smallRound(t)
			b := &book{pairs: narrowed(pairs, o), o: assign.Options{Seed: o.Seed}}
			st := stand(t, b)
			for range rapid.IntRange(1, 8).Draw(t, "answers") {
				answer(t, b, st, rapid.IntRange(0, 9).Draw(t, "answer"), func(n int) int { return rapid.IntRange(0, n-1).Draw(t, "which") })
			}
		})
	}
}

// Many answers to a round of 16,000 rows with many equal weights; a thousand in
// the long run.
func TestStandingThroughManyAnswers(t *testing.T) {
	t.Parallel()
	answers := 100
	if os.Getenv("REFLOAT_LONG") != "" {
		answers = 1000
	}
	round := assigntest.Round{Boats: 200, Applicants: 800, Each: 20, Seed: 7, Weights: 3}
	b := &book{pairs: round.Pairs(), o: assign.Options{Seed: "many answers"}}
	st := stand(t, b)
	random := assigntest.Draws(5)
	for range answers {
		answer(t, b, st, random.Next(10), random.Next)
	}
}

func stand(t require.TestingT, b *book) *assign.Standing {
	p, err := assign.Open(b.pairs, b.o)
	require.NoError(t, err)
	p.Find()
	b.offered = p.Settle().Pairs
	st, err := p.Stand()
	require.NoError(t, err)
	return st
}

// answer lets something happen to a pair of the round, and compares.
func answer(t require.TestingT, b *book, st *assign.Standing, what int, pick func(int) int) {
	open := slices.DeleteFunc(slices.Clone(b.offered), func(c assign.Couple) bool { return slices.Contains(b.o.Pins, c) })
	if len(open) == 0 {
		return
	}
	c := open[pick(len(open))]
	before := slices.Clone(b.offered)
	var change assign.Change
	var err error
	switch {
	case what < 5:
		b.decline(c)
		change, err = st.Decline(c)
	case what < 7:
		b.accept(c)
		err = st.Accept(c)
	case what == 7:
		b.withdraw(func(p assign.Pair) bool { return p.Boat == c.Boat })
		change, err = st.WithdrawBoat(c.Boat)
	case what == 8:
		b.withdraw(func(p assign.Pair) bool { return p.Applicant == c.Applicant })
		change, err = st.WithdrawApplicant(c.Applicant)
	default: // one that was not offered
		p := b.pairs[pick(len(b.pairs))]
		c = assign.Couple{Boat: p.Boat, Applicant: p.Applicant}
		if slices.Contains(b.offered, c) || slices.Contains(b.o.Forbids, c) || slices.ContainsFunc(b.o.Pins, func(pin assign.Couple) bool { return pin.Boat == c.Boat || pin.Applicant == c.Applicant }) {
			return
		}
		b.decline(c)
		change, err = st.Decline(c)
	}
	require.NoError(t, err)
	want := b.anew(t)
	require.Equal(t, want.Pairs, st.Pairs(), "after %d about %v", what, c)
	for _, ended := range change.Ended {
		before = slices.DeleteFunc(before, func(c assign.Couple) bool { return c == ended })
	}
	before = append(before, change.Made...)
	slices.SortFunc(before, func(x, y assign.Couple) int { return compareStrings(x.Boat, y.Boat) })
	require.Equal(t, want.Pairs, before, "the change adds up")
}

func compareStrings(x, y string) int {
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

func TestStandingRefusals(t *testing.T) {
	t.Parallel()
	b := &book{pairs: []assign.Pair{{"b1", "a1", 5, 1}, {"b1", "a2", 3, 1}}}
	st := stand(t, b)
	require.ErrorContains(t, st.Accept(assign.Couple{"b1", "a2"}), "not offered")
	require.ErrorContains(t, st.Accept(assign.Couple{"b9", "a2"}), "no pair")
	require.NoError(t, st.Accept(assign.Couple{"b1", "a1"}))
	_, err := st.Decline(assign.Couple{"b1", "a2"})
	require.ErrorContains(t, err, "no pair", "its boat has gone to somebody")
	_, err = st.WithdrawBoat("b9")
	require.ErrorContains(t, err, "no boat")
	_, err = st.WithdrawApplicant("")
	require.ErrorContains(t, err, "no applicant")

	big := &book{}
	for i := range 3000 {
		big.pairs = append(big.pairs, assign.Pair{Boat: fmt.Sprint("b", i), Applicant: fmt.Sprint("a", i), Weight: assign.MaxWeight, Tier: assign.MaxTier})
	}
	stand(t, big)
}

// BenchmarkDecline times one declined offer of the largest rounds, to be held
// against BenchmarkSolve.
func BenchmarkDecline(b *testing.B) {
	for _, c := range published {
		b.Run(c.name, func(b *testing.B) {
			p, err := assign.Open(c.round.Pairs(), assign.Options{Seed: "seed"})
			require.NoError(b, err)
			p.Find()
			pairs := p.Settle().Pairs
			st, err := p.Stand()
			require.NoError(b, err)
			i := 0
			for b.Loop() {
				if i++; i >= len(pairs)/2 {
					b.Fatal("too many answers for this round; use a smaller -benchtime")
				}
				_, _ = st.Decline(pairs[i])
			}
		})
	}
}
