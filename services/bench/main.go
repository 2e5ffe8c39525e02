// Command bench measures Refloat beside references: for each figure of ours
// something well known is measured in the same run, on the same machine, round by
// round in turn, and the medians are compared. Absolute times of a busy machine say
// little; ratios say whether a change made something slower.
//
// deploy/bench starts it. It prints one JSON object a line (see result).
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"syscall"
)

// A bench measures one part of the program.
type bench struct {
	name    string
	summary string
	run     func(ctx context.Context, s *session) error
}

// benches in the order in which they run.
var benches = []bench{
	{"assign", "the pairing of boats and applicants beside scipy and LEMON", benchAssign},
	{"fit", "5,000 boats held against 20,000 requests by every rule beside weighing each pair in full", benchFit},
	{"ledger", "appending to the book and checking it, beside PostgreSQL alone", benchLedger},
	{"proof", "proofs of one event in a long book beside their bounds in time and size", benchProof},
	{"plan", "300 repairs over 60 boats under two budgets beside a mixed-integer solver", benchPlan},
	{"value", "values and their ranges on open data of sold goods, beside plainer ways", benchValue},
	{"papers", "donors' papers set as PDF on one core beside ReportLab", benchPapers},
	{"book", "the cost book of a boat with 2,000 entries beside a bare SELECT of its events", benchBook},
	{"clicks", "every page of a club of 2,000 boats and 5,000 people while 20 click, beside a bare handler", benchClicks},
	{"pages", "lists and pages of 10,000 boats with 200,000 findings beside a bare SELECT of the same rows", benchPages},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

// run measures the named benches, or all.
func run(ctx context.Context, args []string, out, notes io.Writer) error {
	s := &session{out: out, notes: notes}
	flags := flag.NewFlagSet("bench", flag.ContinueOnError)
	flags.SetOutput(notes)
	flags.Usage = func() { explain(flags, notes) }
	flags.BoolVar(&s.quick, "quick", false, "smaller and shorter: each bench under a minute")
	flags.Uint64Var(&s.seed, "seed", 0, "also measure input generated from this seed, where a bench generates any")
	flags.BoolVar(&s.huge, "huge", false, "also the sizes that take tens of minutes")
	// The names may stand before or after the flags.
	var names []string
	for len(args) > 0 {
		if err := flags.Parse(args); err != nil {
			return err
		}
		if args = flags.Args(); len(args) > 0 {
			names, args = append(names, args[0]), args[1:]
		}
	}
	chosen, err := choose(names)
	if err != nil {
		return err
	}
	fmt.Fprintln(notes, "on", machine())
	for _, b := range chosen {
		fmt.Fprintf(notes, "%s: %s\n", b.name, b.summary)
		if err := s.measure(ctx, b); err != nil {
			return fmt.Errorf("%s: %w", b.name, err)
		}
	}
	return nil
}

// choose gives the benches of these names; none means all.
func choose(names []string) ([]bench, error) {
	if len(names) == 0 {
		return benches, nil
	}
	var chosen []bench
	for _, name := range names {
		i := slices.IndexFunc(benches, func(b bench) bool { return b.name == name })
		if i < 0 {
			return nil, fmt.Errorf("there is no bench %q; -h lists them", name)
		}
		chosen = append(chosen, benches[i])
	}
	return chosen, nil
}

func explain(flags *flag.FlagSet, to io.Writer) {
	fmt.Fprintln(to, "deploy/bench [NAME…] [--quick] [--seed N] [--huge]")
	for _, b := range benches {
		fmt.Fprintf(to, "  %-10s %s\n", b.name, b.summary)
	}
	flags.PrintDefaults()
}
