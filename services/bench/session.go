package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
)

// A session is one call of the program: what was asked, and where results go.
type session struct {
	quick bool
	huge  bool
	seed  uint64
	out   io.Writer
	notes io.Writer

	scratch string // a folder of the bench that runs, on a real disk; removed after it
}

// measure runs one bench in a scratch folder of its own.
func (s *session) measure(ctx context.Context, b bench) error {
	// Not the system's folder for temporary files: that may lie in memory, where
	// nothing waits for a disk.
	folder, err := os.MkdirTemp("/var/tmp", "refloat-bench-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	s.scratch = folder
	return b.run(ctx, s)
}

// need installs Debian packages that a reference comes in: "COMMAND:PACKAGE".
func (s *session) need(ctx context.Context, needs ...string) error {
	cmd := exec.CommandContext(ctx, "deploy/needs", needs...)
	cmd.Stdout, cmd.Stderr = s.notes, s.notes
	return cmd.Run()
}

// needFile installs a package by a file that it brings, where it brings no command.
func (s *session) needFile(ctx context.Context, file, pkg string) error {
	if _, err := os.Stat(file); err == nil {
		return nil
	}
	return s.need(ctx, "a-command-that-"+pkg+"-has-not:"+pkg)
}

// rounds gives the number of rounds for medians.
func (s *session) rounds() int {
	if s.quick {
		return 3
	}
	return 5
}

// result is one line of output.
type result struct {
	Bench     string  `json:"bench"` // bench/figure
	Ours      float64 `json:"ours"`
	Reference float64 `json:"reference"`
	Against   string  `json:"against"` // what the reference is
	Unit      string  `json:"unit"`
	Better    string  `json:"better"` // higher or lower
	Ratio     float64 `json:"ratio"`  // ours to reference, turned so that more is better
	Demand    float64 `json:"demand,omitempty"`
	Met       *bool   `json:"met,omitempty"`
	Note      string  `json:"note,omitempty"`
}

// The two directions of a result.
const (
	higher = "higher"
	lower  = "lower"
)

// report prints a result, working out the ratio, and whether the demand is met
// if there is one.
func (s *session) report(r result) error {
	switch r.Better {
	case higher:
		r.Ratio = r.Ours / r.Reference
	case lower:
		r.Ratio = r.Reference / r.Ours
	default:
		return fmt.Errorf("%s: better is %q", r.Bench, r.Better)
	}
	if r.Demand > 0 {
		met := r.Ratio >= r.Demand
		r.Met = &met
	}
	line, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("%s: %w", r.Bench, err)
	}
	_, err = fmt.Fprintf(s.out, "%s\n", line)
	return err
}

// inTurn measures several things in turn, round by round, so that a change of the
// machine's speed meets all of them, and gives the median of each.
func (s *session) inTurn(ctx context.Context, measures ...func(context.Context) (float64, error)) ([]float64, error) {
	seen := make([][]float64, len(measures))
	for range s.rounds() {
		for i, measure := range measures {
			v, err := measure(ctx)
			if err != nil {
				return nil, err
			}
			seen[i] = append(seen[i], v)
		}
	}
	medians := make([]float64, len(measures))
	for i, values := range seen {
		medians[i] = median(values)
	}
	return medians, nil
}

// median sorts values in place.
func median(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	if n%2 == 1 {
		return values[n/2]
	}
	return (values[n/2-1] + values[n/2]) / 2
}

// machine says where this runs.
func machine() string {
	model := "an unnamed processor"
	if info, err := os.ReadFile("/proc/cpuinfo"); err == nil {
		for line := range strings.Lines(string(info)) {
			if name, is := strings.CutPrefix(line, "model name"); is {
				model = strings.Trim(name, "\t :\n")
				break
			}
		}
	}
	return fmt.Sprintf("%d cores of %s, %s/%s, %s", runtime.NumCPU(), model, runtime.GOOS, runtime.GOARCH, runtime.Version())
}
