// Package calc answers `refloat calc`: the trade's arithmetic from the command
// line, one JSON object a line in and one out, without the book, the network
// or the clock.
//
// A calculator is a small adapter in a file of its own (hin.go, lift.go, …)
// that reads an Object and calls the same pure package that the rooms call.
// The file declares it (var hinCalculator = Calculator{…}) and the table below
// names it. Nothing here computes: a wrong number is mended in the pure package.
package calc

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"

	"refloat.example/pkg/fault"
)

// Exit codes of the command.
const (
	ExitOK       = 0
	ExitRefused  = 1 // a check that did not hold, or an answer that could not be written
	ExitBadInput = 2
)

// A Calculator answers one kind of question.
type Calculator struct {
	Name string
	// Summary is one line for --list.
	Summary string
	// Explain is what --explain prints before the example, in three paragraphs
	// that begin "Formula:", "Source:" (with its date) and "Limits:"; a test
	// asks for them.
	Explain string
	// Example is an input that --explain shows together with its answer; a test
	// runs it.
	Example string
	// Answer reads one object and gives what is to be printed. Its error is a
	// *BadInput or a fault that names the field.
	Answer func(in *Object) (any, error)
	// Run, where set, answers the whole input in a form of its own instead of
	// line by line. args are the command's words after the calculator's name.
	Run func(args []string, in io.Reader, out, problems io.Writer) int
}

// calculators in the order in which --list names them.
var calculators = []Calculator{
	hinCalculator,
	liftCalculator,
	carryCalculator,
	secondLookCalculator,
	floatCalculator,
	plateCalculator,
	jacketsCalculator,
	dryCalculator,
	cureCalculator,
	valueCalculator,
	offerCalculator,
	planCalculator,
	assignCalculator,
	letterCalculator,
}

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
		c.explain(out)
		return ExitOK
	case c.Run != nil:
		return c.Run(args, in, out, problems)
	case len(args) > 0:
		fmt.Fprintf(problems, "calc %s takes no %q\n", c.Name, args[0])
		return ExitBadInput
	}
	return c.lines(in, out, problems)
}

// explain prints the text and the example, whose answer is computed on the spot
// so that the two cannot drift apart.
func (c Calculator) explain(out io.Writer) {
	var answer strings.Builder
	c.main(nil, strings.NewReader(c.Example), &answer, io.Discard)
	fmt.Fprintf(out, "%s: %s\n\n%s\n\nExample:\n  %s\n→ %s\n", c.Name, c.Summary, strings.TrimSpace(c.Explain),
		strings.ReplaceAll(c.Example, "\n", "\n  "), strings.TrimSpace(answer.String()))
}

// maxInput bounds the whole input, in bytes.
const maxInput = 256 << 20

// lines answers each object of the input in its place.
func (c Calculator) lines(in io.Reader, out, problems io.Writer) int {
	raw, err := io.ReadAll(io.LimitReader(in, maxInput+1))
	if err == nil && len(raw) > maxInput {
		err = fmt.Errorf("the input is larger than %d MiB", maxInput>>20)
	}
	if err != nil {
		fmt.Fprintln(problems, err)
		return ExitBadInput
	}
	exit, w := ExitOK, bufio.NewWriter(out)
	for number, text := range objects(raw) {
		exit = max(exit, c.line(number, text, w, problems))
	}
	if err := w.Flush(); err != nil {
		fmt.Fprintln(problems, err)
		return max(exit, ExitRefused)
	}
	return exit
}

// objects gives the texts to be answered, each with the number of the line it
// begins on: the lines that are not blank, or, where the whole input is one
// object printed over several lines, that.
func objects(raw []byte) iter.Seq2[int, []byte] {
	return func(yield func(int, []byte) bool) {
		if whole := bytes.TrimSpace(raw); isOneObject(whole) {
			before := raw[:bytes.Index(raw, whole)]
			yield(1+bytes.Count(before, []byte("\n")), whole)
			return
		}
		number := 0
		for line := range bytes.Lines(raw) {
			number++
			if line = bytes.TrimSpace(line); len(line) > 0 && !yield(number, line) {
				return
			}
		}
	}
}

// isOneObject says whether a whole input is one JSON value. A broken one counts
// as well when its first line is a lone { and its last a lone }: it then gets
// one error and not one for each of its lines.
func isOneObject(whole []byte) bool {
	if json.Valid(whole) {
		return true
	}
	first, rest, _ := bytes.Cut(whole, []byte("\n"))
	last := rest[bytes.LastIndexByte(rest, '\n')+1:]
	return string(bytes.TrimSpace(first)) == "{" && string(bytes.TrimSpace(last)) == "}"
}

// line answers one object. What cannot be written is reported by the Flush of
// the caller.
func (c Calculator) line(number int, raw []byte, out, problems io.Writer) int {
	text, err := c.answer(raw)
	if err == nil {
		_, _ = out.Write(text)
		return ExitOK
	}
	text, _ = encode(map[string]any{"error": badInput(err)})
	_, _ = out.Write(text)
	fmt.Fprintf(problems, "line %d: %s", number, text)
	return ExitBadInput
}

func (c Calculator) answer(raw []byte) ([]byte, error) {
	in, err := Parse(raw)
	if err != nil {
		return nil, err
	}
	answer, err := c.Answer(in)
	if err != nil {
		return nil, err
	}
	text, err := encode(answer)
	if err != nil {
		return nil, &BadInput{Reason: "the answer is too large for a number"}
	}
	return text, nil
}

// badInput gives what an error says about the input. The pure packages speak of
// a field in a fault; it has the name that it has here.
func badInput(err error) *BadInput {
	if bad, ok := errors.AsType[*BadInput](err); ok {
		return bad
	}
	if f, ok := errors.AsType[*fault.Fault](err); ok {
		return &BadInput{Field: f.Field, Reason: f.Text}
	}
	return &BadInput{Reason: err.Error()}
}

// encode writes compact JSON and a line end.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return b.Bytes(), err
}

// nullIfZero gives what JSON prints as null where a value is not stated.
func nullIfZero[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}
