package main

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
	"time"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/assign/assigntest"
)

//go:embed peers
var peers embed.FS

// assignRound is a generated round with what is known of it beforehand: the start
// of its CSV's SHA-256 and its greatest total weight; empty and 0 for a seed of
// one's own.
type assignRound struct {
	name     string
	round    assigntest.Round
	checksum string
	total    int64
}

// The optima are those on which scipy, LEMON and three maximum cardinalities agree
// (pkg/assign/rounds_test.go says more).
var assignRounds = []assignRound{
	{"u200", assigntest.Small, "164321dc5820b071", 189224},
	{"u1000", assigntest.Medium, "eeea95fee45e24e5", 976422},
	{"u5000", assigntest.Large, "54351b0b28241bf0", 4942690},
	{"c5000", assigntest.Clustered, "609c4679553f1c9b", 4656765},
}

// benchAssign holds the solver against scipy and LEMON on the same rows, tiers
// included. The solvers are timed alone: reading the rows and building the graph
// count for none of them.
func benchAssign(ctx context.Context, s *session) error {
	if err := s.need(ctx, "g++:g++"); err != nil {
		return err
	}
	if err := s.needFile(ctx, "/usr/lib/python3/dist-packages/scipy", "python3-scipy"); err != nil {
		return err
	}
	if err := s.needFile(ctx, "/usr/include/lemon/network_simplex.h", "liblemon-dev"); err != nil {
		return err
	}
	if err := os.CopyFS(s.scratch, peers); err != nil {
		return err
	}
	folder := filepath.Join(s.scratch, "peers")
	compile := exec.CommandContext(ctx, "g++", "-O2", "-o", filepath.Join(folder, "lemon"), filepath.Join(folder, "assign_lemon.cc"))
	compile.Stderr = s.notes
	if err := compile.Run(); err != nil {
		return fmt.Errorf("compiling the reference: %w", err)
	}
	rounds := assignRounds
	if s.seed != 0 {
		own := assigntest.Large
		own.Seed = s.seed
		rounds = append(rounds[:len(rounds):len(rounds)], assignRound{name: fmt.Sprintf("u5000-seed%d", s.seed), round: own})
	}
	for _, r := range rounds {
		if err := r.measure(ctx, s, folder); err != nil {
			return fmt.Errorf("%s: %w", r.name, err)
		}
	}
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		return err
	}
	return s.report(result{Bench: "assign/memory", Ours: float64(used.Maxrss) / 1024, Reference: 1024,
		Against: "1 GiB; ours is the peak of the whole process, all rounds with their rows' text", Unit: "MiB", Better: lower, Demand: 1})
}

func (r assignRound) measure(ctx context.Context, s *session, peers string) error {
	pairs := r.round.Pairs()
	rows := filepath.Join(s.scratch, "rows.csv")
	if err := r.write(rows, pairs); err != nil {
		return err
	}
	var ours assignTimes
	var worths []int64
	peer := func(name string, args ...string) func(context.Context) (float64, error) {
		return func(ctx context.Context) (float64, error) {
			out, err := exec.CommandContext(ctx, name, append(args, rows)...).Output()
			if err != nil {
				return 0, fmt.Errorf("%s: %w", name, err)
			}
			var ms float64
			var worth int64
			_, err = fmt.Sscan(string(out), &ms, &worth)
			worths = append(worths, worth)
			return ms, err
		}
	}
	part := func(of func(assignTimes) time.Duration) func(context.Context) (float64, error) {
		return func(context.Context) (float64, error) { return of(ours).Seconds() * 1000, nil }
	}
	medians, err := s.inTurn(ctx,
		func(context.Context) (float64, error) {
			var err error
			ours, err = r.solve(pairs)
			worths = append(worths, ours.worth)
			return ours.find.Seconds() * 1000, err
		},
		part(func(t assignTimes) time.Duration { return t.find + t.settle }),
		part(func(t assignTimes) time.Duration { return t.read + t.find + t.settle }),
		part(func(t assignTimes) time.Duration { return t.decline }),
		peer("/usr/bin/python3", // Debian's, which has its scipy
			filepath.Join(peers, "assign_scipy.py")),
		peer(filepath.Join(peers, "lemon")),
	)
	if err != nil {
		return err
	}
	for _, w := range worths {
		if w != worths[0] {
			return fmt.Errorf("the solvers do not agree on what the best pairing is worth: %d", worths)
		}
	}
	return r.report(s, medians)
}

// report prints what was measured; medians are in the order of measure.
func (r assignRound) report(s *session, medians []float64) error {
	find, settled, whole, decline := medians[0], medians[1], medians[2], medians[3]
	fastest, against := medians[4], "scipy min_weight_full_bipartite_matching"
	if medians[5] < fastest {
		fastest, against = medians[5], "LEMON NetworkSimplex"
	}
	// The demands are for the large rounds; on the small ones one sees growth.
	demand := func(d float64) float64 {
		if r.round.Boats < 5000 {
			return 0
		}
		return d
	}
	for _, line := range []result{
		{Bench: "assign/" + r.name, Ours: find, Reference: fastest, Against: "the faster of two: " + against, Demand: demand(1)},
		{Bench: "assign/" + r.name + "-settled", Ours: settled, Reference: fastest, Against: against + "; ours with certificate and lottery", Demand: demand(0.5)},
		{Bench: "assign/" + r.name + "-decline", Ours: decline, Reference: whole / 100, Against: "a hundredth of our own full solve from the rows", Demand: demand(1),
			Note: fmt.Sprintf("a hundredth of search, certificate and lottery alone: %.3g ms", settled/100)},
	} {
		line.Unit, line.Better = "ms", lower
		if err := s.report(line); err != nil {
			return err
		}
	}
	return nil
}

// assignTimes is what the stages of one solve took, a declined offer last.
type assignTimes struct {
	read, find, settle, decline time.Duration
	worth                       int64
}

// declines is over how many answers the time of one is averaged.
const declines = 50

func (r assignRound) solve(pairs []assign.Pair) (assignTimes, error) {
	runtime.GC() // what earlier rounds left is not this one's business
	var t assignTimes
	start := time.Now()
	took := func() time.Duration {
		d := time.Since(start)
		start = time.Now()
		return d
	}
	p, err := assign.Open(pairs, assign.Options{Seed: "bench"})
	if err != nil {
		return t, err
	}
	t.read = took()
	p.Find()
	t.find = took()
	got := p.Settle()
	t.settle = took()
	if r.total != 0 && got.Total != r.total {
		return t, fmt.Errorf("the total is %d, not the known %d", got.Total, r.total)
	}
	t.worth = got.Total
	for i, n := range got.ServedByTier {
		t.worth += int64(n) * int64(len(got.ServedByTier)-i) * got.Proof.Step
	}
	st, err := p.Stand()
	if err != nil {
		return t, err
	}
	took()
	for i := range declines {
		// An offer may have ended with an earlier answer; then this one is cheap,
		// which the average over many bears.
		if _, err := st.Decline(got.Pairs[i*len(got.Pairs)/declines]); err != nil {
			return t, err
		}
	}
	t.decline = took() / declines
	return t, nil
}

// write writes the rows for the others to read, and holds them against what is
// known of them.
func (r assignRound) write(path string, pairs []assign.Pair) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := assigntest.WriteCSV(f, pairs); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	sum := sha256.New()
	if err := assigntest.WriteCSV(sum, pairs); err != nil {
		return err
	}
	if start := hex.EncodeToString(sum.Sum(nil))[:16]; r.checksum != "" && start != r.checksum {
		return fmt.Errorf("the rows' checksum starts with %s, not %s", start, r.checksum)
	}
	return nil
}
