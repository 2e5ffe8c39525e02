package calc

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/assigncheck"
)

var assignCalculator = Calculator{
	Name:    "assign",
	Summary: "pair boats with applicants, with a proof (CSV in)",
	Explain: `
Input: CSV with the columns boat, applicant, weight, tier; a row is a boat that
the applicant can use. weight is a whole number from 0 to 1000000000, tier from 1
(served first) to 9, the same in all rows of an applicant.
  --seed TEXT      decides between equal pairings (default: empty)
  --pin FILE       CSV boat,applicant: pairs that must stand
  --forbid FILE    CSV boat,applicant: pairs that must not stand
  --check RESULT   checks a published result against the rows, the pins and the
                   forbidden pairs: {"ok":true}, or {"ok":false,"why":"…"} and
                   exit status 1. It does not repeat the lottery.

Formula: serve as many of tier 1 as possible, then of tier 2, and so on; among
such pairings take the greatest sum of weights.
  step  S = N·W + 1 (N the smaller of the numbers of boats and applicants, W the
        largest weight; forbidden rows and the other rows of pinned boats and
        applicants are removed first, the pinned rows stay)
  worth of a row = weight + (T + 1 - tier)·S, T the largest tier in the rows
  proof: prices from 0 such that in every row boat price + applicant price >= worth;
        their sum is the sum of the worths of the pairs, so no pairing is worth
        more. Of all such prices those with the lowest boat prices are given: an
        applicant's price is what the round would lose without them. The boat of a
        pinned row has the price 0, its applicant the worth of the row.
  lottery: key = SHA-256(seed); applicants in ascending order of
        HMAC-SHA256(key, id); each takes, of the boats with which a best pairing
        can still be completed, the first in ascending order of
        HMAC-SHA256(key, boat id).

Source: shortest augmenting paths with prices, Jonker and Volgenant, Computing 38
(1987) 325-340; prices as proof are linear programming duality (textbook); that a
step linear in N·W is enough is derived in the code beside the step.

Limits: the weights and tiers are the club's own; nothing here says whether they
are fair, or what suits anybody on the water. Tiers belong to applicants, not
to pairs, and nobody gets two boats.`,
	Example: `boat,applicant,weight,tier
b1,a1,10,1
b2,a1,9,1
b1,a2,8,1
b2,a3,500,2`,
	Run: runAssign,
}

// assignFlags are the words after `refloat calc assign`.
type assignFlags struct{ seed, pin, forbid, check string }

func runAssign(args []string, in io.Reader, out, problems io.Writer) int {
	answer, err := answerAssign(args, in)
	code := ExitOK
	var refusal *assigncheck.Refusal
	switch {
	case errors.As(err, &refusal):
		answer, code = verdict{Why: refusal.Why}, ExitRefused
	case err != nil:
		answer, code = map[string]any{"error": err}, ExitBadInput
	}
	text, err := encode(answer)
	if err == nil {
		_, err = out.Write(text)
	}
	switch {
	case err != nil:
		fmt.Fprintln(problems, err)
		return max(code, ExitRefused)
	case code == ExitBadInput:
		_, _ = problems.Write(text)
	}
	return code
}

// verdict is the answer of --check.
type verdict struct {
	OK  bool   `json:"ok"`
	Why string `json:"why,omitempty"`
}

// answerAssign gives the answer, or a *BadInput or an *assigncheck.Refusal.
func answerAssign(args []string, in io.Reader) (any, error) {
	flags, err := readAssignFlags(args)
	if err != nil {
		return nil, err
	}
	pins, err := readFile("--pin", flags.pin)
	if err != nil {
		return nil, err
	}
	forbids, err := readFile("--forbid", flags.forbid)
	if err != nil {
		return nil, err
	}
	if flags.check == "" {
		return solveAssign(in, pins, forbids, flags.seed)
	}
	result, err := readFile("--check", flags.check)
	if err != nil {
		return nil, err
	}
	return checkAssign(assigncheck.Input{Result: result, Rows: in, Pins: pins, Forbids: forbids})
}

// solveAssign gives the pairing of CSV rows.
func solveAssign(in, pins, forbids io.Reader, seed string) (any, error) {
	rows, err := readPairs(in)
	if err != nil {
		return nil, err
	}
	pinned, err := readCouples("--pin", pins)
	if err != nil {
		return nil, err
	}
	forbidden, err := readCouples("--forbid", forbids)
	if err != nil {
		return nil, err
	}
	result, err := assign.Solve(rows.pairs, assign.Options{Pins: pinned.couples, Forbids: forbidden.couples, Seed: seed})
	var fault *assign.InputError
	if !errors.As(err, &fault) {
		return result, err
	}
	switch fault.List {
	case assign.Pins:
		return nil, pinned.badInput(fault)
	case assign.Forbids:
		return nil, forbidden.badInput(fault)
	}
	return nil, rows.badInput(fault)
}

// checkAssign gives the verdict on a published result.
func checkAssign(in assigncheck.Input) (any, error) {
	err := assigncheck.Check(in)
	var bad *assigncheck.BadInput
	if !errors.As(err, &bad) {
		return verdict{OK: true}, err
	}
	where := map[assigncheck.File]string{assigncheck.Pins: "--pin: ", assigncheck.Forbids: "--forbid: "}[bad.File]
	return nil, &BadInput{Row: bad.Row, Field: bad.Field, Reason: where + bad.Reason}
}

func readAssignFlags(args []string) (assignFlags, error) {
	var f assignFlags
	set := flag.NewFlagSet("assign", flag.ContinueOnError)
	set.SetOutput(io.Discard)
	set.StringVar(&f.seed, "seed", "", "")
	set.StringVar(&f.pin, "pin", "", "")
	set.StringVar(&f.forbid, "forbid", "", "")
	set.StringVar(&f.check, "check", "", "")
	if err := set.Parse(args); err != nil {
		return f, &BadInput{Reason: err.Error() + "; see refloat calc assign --explain"}
	}
	if set.NArg() > 0 {
		return f, &BadInput{Reason: fmt.Sprintf("calc assign takes no %q", set.Arg(0))}
	}
	return f, nil
}

// readFile reads the file that a flag names; without one it gives nil.
func readFile(flag, path string) (io.Reader, error) {
	if path == "" {
		return nil, nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, &BadInput{Field: flag, Reason: err.Error()}
	}
	return bytes.NewReader(text), nil
}
