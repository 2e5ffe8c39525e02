package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strconv"
)

// benchFit holds 5,000 boats against 20,000 requests, rule by rule, beside the way
// in which a round weighs every pair with all its sentences. Rooms are not
// imported here, so the test binary of the room measures itself.
func benchFit(ctx context.Context, s *session) error {
	size := "5000x20000"
	cmd := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-bench", "^(BenchmarkFit|BenchmarkTable)$", "-benchtime", "1x", "-timeout", "30m", "./services/matching")
	cmd.Env, cmd.Stderr = append(os.Environ(), "REFLOAT_BENCH_FIT=1"), s.notes
	if s.quick {
		size, cmd.Env = "200x800", os.Environ()
	}
	out, err := cmd.Output()
	if err != nil {
		return fmt.Errorf("go test: %w", err)
	}
	ours, err := metricOf(out, "BenchmarkFit", "pairs/s")
	if err != nil {
		return err
	}
	whole, err := metricOf(out, "BenchmarkTable", "pairs/s")
	if err != nil {
		return err
	}
	found, err := metricOf(out, "BenchmarkFit", "pairs-that-fit")
	if err != nil {
		return err
	}
	nanoseconds, err := metricOf(out, "BenchmarkFit", "ns/op")
	if err != nil {
		return err
	}
	return s.report(result{
		Bench: "fit/" + size, Ours: ours, Reference: whole, Against: "every pair weighed in full, as a round does for its reasons", Unit: "pairs/s", Better: higher,
		Note: fmt.Sprintf("%.1f s in all; %.0f pairs fit", nanoseconds/1e9, found),
	})
}

// metricOf reads one figure of a benchmark from what go test prints.
func metricOf(out []byte, benchmark, unit string) (float64, error) {
	line := regexp.MustCompile(`(?m)^` + benchmark + `(?:-\d+)?\s.*$`).Find(out)
	figure := regexp.MustCompile(`([\d.e+]+) ` + regexp.QuoteMeta(unit) + `(?:\s|$)`).FindSubmatch(line)
	if figure == nil {
		return 0, fmt.Errorf("go test printed no %s of %s: %s", unit, benchmark, out)
	}
	return strconv.ParseFloat(string(figure[1]), 64)
}
