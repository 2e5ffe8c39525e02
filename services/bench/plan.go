package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"refloat.example/pkg/plan"
)

// The shop of the largest club: boats and what could be mended on each.
const (
	shopBoats   = 60
	repairsEach = 5
)

// benchPlan chooses among 300 repairs over 60 boats under two budgets, and lets a
// mixed-integer solver choose on the same instances: the optimum has to be the same.
func benchPlan(ctx context.Context, s *session) error {
	if err := s.need(ctx, "cbc:coinor-cbc", "glpsol:glpk-utils"); err != nil {
		return err
	}
	instances := 5
	if s.quick {
		instances = 2
	}
	worst := 0.0
	for i := range instances {
		task := shopOf(rand.New(rand.NewPCG(s.seed, uint64(i))))
		file := filepath.Join(s.scratch, fmt.Sprintf("shop-%d.lp", i))
		if err := writeLP(file, task); err != nil {
			return err
		}
		var ours plan.Plan
		medians, err := s.inTurn(ctx,
			func(context.Context) (float64, error) {
				began := time.Now()
				var err error
				ours, err = plan.Choose(task)
				return time.Since(began).Seconds(), err
			},
			func(ctx context.Context) (float64, error) {
				began := time.Now()
				gain, err := solveWithCBC(ctx, s.notes, file)
				if err == nil && gain != ours.GainMinor {
					err = fmt.Errorf("instance %d: ours gains %d, the solver %d", i, ours.GainMinor, gain)
				}
				return time.Since(began).Seconds(), err
			})
		if err != nil {
			return err
		}
		worst = max(worst, medians[0])
		err = s.report(result{
			Bench: fmt.Sprintf("plan/60-boats-%d", i+1), Ours: medians[0], Reference: medians[1], Against: "COIN-OR CBC, a process, gap 0", Unit: "s", Better: lower,
			Note: fmt.Sprintf("the same optimum: %d in minor units", ours.GainMinor),
		})
		if err != nil {
			return err
		}
	}
	return s.report(result{Bench: "plan/slowest-of-60-boats", Ours: worst, Reference: 1, Against: "the bound of one second", Unit: "s", Better: lower, Demand: 1})
}

// shopOf draws repairs as they occur: some need another one first, some are two ways
// to do the same, a few must be done. The budgets hold about a third.
func shopOf(r *rand.Rand) plan.Task {
	var task plan.Task
	for b := range shopBoats {
		for k := range repairsEach {
			p := plan.Repair{Minutes: 15 + r.Int64N(465), CashMinor: 100 * r.Int64N(120), GainMinor: r.Int64N(15_000)}
			at := b*repairsEach + k
			if k > 0 && r.IntN(2) == 0 {
				p.Requires = []int{at - 1 - r.IntN(k)}
			}
			if k == repairsEach-1 && !slices.Contains(p.Requires, at-1) {
				p.Excludes = []int{at - 1}
			}
			p.Must = k == 0 && r.IntN(12) == 0
			task.Repairs = append(task.Repairs, p)
			task.Minutes, task.CashMinor = task.Minutes+p.Minutes, task.CashMinor+p.CashMinor
		}
	}
	task.Minutes, task.CashMinor = task.Minutes/3, task.CashMinor/3
	return task
}

// writeLP writes a task in the LP format that solvers read.
func writeLP(path string, task plan.Task) error {
	var b strings.Builder
	sum := func(of func(plan.Repair) int64) string {
		var terms []string
		for i, p := range task.Repairs {
			if v := of(p); v != 0 {
				terms = append(terms, fmt.Sprintf("%+d x%d", v, i))
			}
		}
		return strings.Join(terms, "\n ")
	}
	fmt.Fprintf(&b, "Maximize\n gain: %s\nSubject To\n", sum(func(p plan.Repair) int64 { return p.GainMinor }))
	fmt.Fprintf(&b, " minutes: %s <= %d\n cash: %s <= %d\n", sum(func(p plan.Repair) int64 { return p.Minutes }), task.Minutes, sum(func(p plan.Repair) int64 { return p.CashMinor }), task.CashMinor)
	for i, p := range task.Repairs {
		for _, j := range p.Requires {
			fmt.Fprintf(&b, " r%d_%d: x%d - x%d <= 0\n", i, j, i, j)
		}
		for _, j := range p.Excludes {
			fmt.Fprintf(&b, " e%d_%d: x%d + x%d <= 1\n", i, j, i, j)
		}
		if p.Must {
			fmt.Fprintf(&b, " m%d: x%d >= 1\n", i, i)
		}
	}
	b.WriteString("Binary\n")
	for i := range task.Repairs {
		fmt.Fprintf(&b, " x%d\n", i)
	}
	b.WriteString("End\n")
	return os.WriteFile(path, []byte(b.String()), 0o600)
}

// solveWithCBC gives the best gain that the solver proves.
func solveWithCBC(ctx context.Context, notes io.Writer, file string) (int64, error) {
	solution := file + ".txt"
	out, err := exec.CommandContext(ctx, "cbc", file, "ratioGap", "0", "allowableGap", "0", "solve", "solu", solution).CombinedOutput()
	if err != nil {
		fmt.Fprintf(notes, "%s\n", out)
		return 0, fmt.Errorf("cbc: %w", err)
	}
	raw, err := os.Open(solution)
	if err != nil {
		return 0, err
	}
	defer raw.Close()
	lines := bufio.NewScanner(raw)
	lines.Scan()
	head := lines.Text()
	at := strings.LastIndex(head, "objective value")
	if !strings.HasPrefix(head, "Optimal") || at < 0 {
		return 0, fmt.Errorf("cbc says %q", head)
	}
	value, err := strconv.ParseFloat(strings.TrimSpace(head[at+len("objective value"):]), 64)
	if value < 0 {
		value = -value // it minimises
	}
	return int64(value + 0.5), err
}
