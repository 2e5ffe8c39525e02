package calc

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

// halve is the smallest calculator there can be; the frame is tested with it.
var halve = Calculator{
	Name:    "halve",
	Summary: "half of x",
	Explain: "Formula: x / 2.\n\nSource: arithmetic.\n\nLimits: none.",
	Example: `{"x":3}`,
	Answer: func(in *Object) (any, error) {
		x := in.Float("x")
		if err := in.Done(); err != nil {
			return nil, err
		}
		switch x {
		case 13:
			return nil, fault.Field("x", "must not be 13")
		case 14:
			return nil, errors.New("no 14 either")
		case 15:
			return math.Inf(1), nil
		}
		return map[string]any{"half": x / 2, "text": "<&>"}, nil
	},
}

func run(c Calculator, in string, args ...string) (code int, out, problems string) {
	var o, p strings.Builder
	code = c.main(args, strings.NewReader(in), &o, &p)
	return code, o.String(), p.String()
}

// answersExactly compares the whole line, so that names, nulls and their order
// are held to the contract.
func answersExactly(t *testing.T, c Calculator, in, want string) {
	t.Helper()
	code, out, _ := run(c, in)
	assert.Equal(t, want+"\n", out)
	assert.Equal(t, strings.HasPrefix(want, `{"error"`), code == ExitBadInput)
}

func TestEachLineIsAnsweredInItsPlace(t *testing.T) {
	in := "\n{\"x\":3}\r\n  \n{}\n{\"x\":\n{\"x\":13}\n{\"x\":14}\n{\"x\":15}\n{\"x\":5}"
	code, out, problems := run(halve, in)
	assert.Equal(t, ExitBadInput, code)
	assert.Equal(t, []string{
		`{"half":1.5,"text":"<&>"}`,
		`{"error":{"field":"x","reason":"missing"}}`,
		`{"error":{"field":"","reason":"not JSON: unexpected end of JSON input"}}`,
		`{"error":{"field":"x","reason":"must not be 13"}}`,
		`{"error":{"field":"","reason":"no 14 either"}}`,
		`{"error":{"field":"","reason":"the answer is too large for a number"}}`,
		`{"half":2.5,"text":"<&>"}`,
	}, strings.Split(strings.TrimSuffix(out, "\n"), "\n"))
	assert.Equal(t, []string{
		`line 4: {"error":{"field":"x","reason":"missing"}}`,
		`line 5: {"error":{"field":"","reason":"not JSON: unexpected end of JSON input"}}`,
		`line 6: {"error":{"field":"x","reason":"must not be 13"}}`,
		`line 7: {"error":{"field":"","reason":"no 14 either"}}`,
		`line 8: {"error":{"field":"","reason":"the answer is too large for a number"}}`,
	}, strings.Split(strings.TrimSuffix(problems, "\n"), "\n"))
}

func TestAnObjectOverSeveralLinesIsOneInput(t *testing.T) {
	code, out, problems := run(halve, "\n\n{\n  \"x\":\n  3\n}\n\n")
	assert.Equal(t, ExitOK, code)
	assert.Equal(t, "{\"half\":1.5,\"text\":\"<&>\"}\n", out)
	assert.Empty(t, problems)

	code, out, problems = run(halve, "\n\n{\n  \"x\": NaN\n}\n")
	assert.Equal(t, ExitBadInput, code)
	assert.Equal(t, 1, strings.Count(out, "\n"), "one broken object is one error: %s", out)
	assert.Contains(t, problems, "line 3: ", "the line on which the object begins")
}

func TestNoInputHasNoAnswer(t *testing.T) {
	for _, in := range []string{"", "\n", " \n\t\n"} {
		code, out, problems := run(halve, in)
		assert.Equal(t, ExitOK, code)
		assert.Empty(t, out+problems)
	}
}

func TestAListOfObjectsIsNotLines(t *testing.T) {
	code, out, _ := run(halve, "[{\"x\":1},\n{\"x\":2}]")
	assert.Equal(t, ExitBadInput, code)
	assert.Equal(t, "{\"error\":{\"field\":\"\",\"reason\":\"not a JSON object\"}}\n", out)
}

// broken fails on every use.
type broken struct{}

func (broken) Read([]byte) (int, error)  { return 0, errors.New("the pipe is broken") }
func (broken) Write([]byte) (int, error) { return 0, errors.New("the disc is full") }

func TestABrokenPipeIsNotSilent(t *testing.T) {
	var problems strings.Builder
	assert.Equal(t, ExitRefused, halve.main(nil, strings.NewReader(`{"x":3}`), broken{}, &problems))
	assert.Equal(t, "the disc is full\n", problems.String())
	problems.Reset()
	assert.Equal(t, ExitBadInput, halve.main(nil, broken{}, io.Discard, &problems))
	assert.Equal(t, "the pipe is broken\n", problems.String())
}

func TestTheCommandLine(t *testing.T) {
	for _, c := range []struct {
		name          string
		args          []string
		code          int
		out, problems string
	}{
		{"no calculator", nil, ExitBadInput, "", "say which calculator"},
		{"an unknown one", []string{"horoscope"}, ExitBadInput, "", `there is no calculator "horoscope"`},
		{"a word too many", []string{"hin", "XYZ12345L495"}, ExitBadInput, "", `calc hin takes no "XYZ12345L495"`},
		{"a calculator", []string{"hin"}, ExitOK, `"maker":"XYZ"`, ""},
		{"its explanation", []string{"hin", "--explain"}, ExitOK, "33 CFR 181.23", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out, problems strings.Builder
			code := Main(c.args, strings.NewReader(`{"hin":"XYZ12345L495"}`), &out, &problems)
			assert.Equal(t, c.code, code)
			assert.Contains(t, out.String(), c.out)
			assert.Contains(t, problems.String(), c.problems)
			assert.Equal(t, c.problems == "", problems.Len() == 0)
		})
	}
}

func TestListNamesEveryCalculatorOnce(t *testing.T) {
	var out strings.Builder
	require.Equal(t, ExitOK, Main([]string{"--list"}, nil, &out, io.Discard))
	lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
	require.Len(t, lines, len(calculators))
	seen := map[string]bool{}
	for i, c := range calculators {
		assert.Regexp(t, "^"+regexp.QuoteMeta(c.Name)+" +"+regexp.QuoteMeta(c.Summary)+"$", lines[i])
		assert.NotEmpty(t, c.Summary, c.Name)
		assert.False(t, seen[c.Name], "%s stands twice", c.Name)
		seen[c.Name] = true
	}
}

func TestEveryExampleIsAnsweredAndExplained(t *testing.T) {
	for _, c := range calculators {
		t.Run(c.Name, func(t *testing.T) {
			code, answer, problems := run(c, c.Example)
			require.Equal(t, ExitOK, code, problems)
			assert.Empty(t, problems)
			assert.NotContains(t, answer, `"error"`)
			assert.True(t, json.Valid([]byte(strings.Split(answer, "\n")[0])))

			code, text, problems := run(c, "", "--explain")
			assert.Equal(t, ExitOK, code)
			assert.Empty(t, problems)
			for _, part := range []string{"\nFormula:", "\nSource", "\nLimits:", "\nExample:\n"} {
				assert.Contains(t, text, part)
			}
			assert.Contains(t, text, strings.Split(c.Example, "\n")[0])
			assert.Contains(t, text, "→ "+strings.TrimSpace(answer))
		})
	}
}
