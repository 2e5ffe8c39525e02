// Package calc answers `refloat calc`: the trade's arithmetic from the command
// line, one JSON object a line in and one out, without the book, the network
// or the clock.
//
// A calculator is a small adapter in a file of its own (hin.go, lift.go, …)
// that reads an Object and calls the same pure package that the rooms call.
// It registers itself in the table below.
package calc

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Exit codes of the command.
const (
	ExitOK       = 0
	ExitRefused  = 1 // a check that did not hold
	ExitBadInput = 2
)

// A Calculator answers one kind of question.
type Calculator struct {
	Name string
	// Summary is one line for --list.
	Summary string
	// Explain is what --explain prints before the example: the formula, its
	// source with date, and the limits of its use.
	Explain string
	// Example is an input line that Explain shows; a test runs it.
	Example string
	// Answer reads one object and gives what is to be printed, or a *BadInput.
	Answer func(in *Object) (any, error)
	// Run, where set, answers the whole input in a form of its own instead of
	// line by line. args are the command's words after the calculator's name.
	Run func(args []string, in io.Reader, out, problems io.Writer) int
}

// calculators in the order in which --list names them.
var calculators = []Calculator{}

// Main runs `refloat calc ARGS`.
func Main(args []string, in io.Reader, out, problems io.Writer) int {
	if len(args) == 0 {
		fmt.Fprintln(problems, "say which calculator, or --list to see them: refloat calc NAME < input.jsonl")
		return ExitBadInput
	}
	if args[0] == "--list" {
		for _, c := range calculators {
			fmt.Fprintf(out, "%-12s %s\n", c.Name, c.Summary)
		}
		return ExitOK
	}
	i := slices.IndexFunc(calculators, func(c Calculator) bool { return c.Name == args[0] })
	if i < 0 {
		fmt.Fprintf(problems, "there is no calculator %q; refloat calc --list names them\n", args[0])
		return ExitBadInput
	}
	return calculators[i].main(args[1:], in, out, problems)
}

func (c Calculator) main(args []string, in io.Reader, out, problems io.Writer) int {
	switch {
	case slices.Equal(args, []string{"--explain"}):
		fmt.Fprintf(out, "%s: %s\n\n%s\n\nExample\n  %s\n", c.Name, c.Summary, strings.TrimSpace(c.Explain), c.Example)
		return ExitOK
	case c.Run != nil:
		return c.Run(args, in, out, problems)
	case len(args) > 0:
		fmt.Fprintf(problems, "calc %s takes no %q\n", c.Name, args[0])
		return ExitBadInput
	}
	return c.lines(in, out, problems)
}

// maxInput bounds the whole input, in bytes.
const maxInput = 256 << 20

// lines answers line by line. An input that as a whole is one object, printed
// over several lines, is answered as one.
func (c Calculator) lines(in io.Reader, out, problems io.Writer) int {
	raw, err := io.ReadAll(io.LimitReader(in, maxInput+1))
	if err == nil && len(raw) > maxInput {
		err = fmt.Errorf("the input is larger than %d MiB", maxInput>>20)
	}
	if err != nil {
		fmt.Fprintln(problems, err)
		return ExitBadInput
	}
	w := bufio.NewWriter(out)
	defer w.Flush()
	if json.Valid(raw) {
		return c.line(1, raw, w, problems)
	}
	exit, number := ExitOK, 0
	for line := range bytes.Lines(raw) {
		number++
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		if code := c.line(number, line, w, problems); code != ExitOK {
			exit = code
		}
	}
	return exit
}

func (c Calculator) line(number int, raw []byte, out, problems io.Writer) int {
	o, err := Parse(raw)
	var answer any
	if err == nil {
		answer, err = c.Answer(o)
	}
	if err == nil {
		err = writeJSON(out, answer)
	}
	if err != nil {
		bad, ok := err.(*BadInput)
		if !ok {
			bad = &BadInput{Reason: err.Error()}
		}
		_ = writeJSON(out, map[string]any{"error": bad})
		fmt.Fprintf(problems, "line %d: %s: %s\n", number, bad.Field, bad.Reason)
		return ExitBadInput
	}
	return ExitOK
}

func writeJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}
