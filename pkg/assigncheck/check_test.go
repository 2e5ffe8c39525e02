package assigncheck_test

import (
	"errors"
	"go/parser"
	"go/token"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/assigncheck"
)

// A round small enough to be solved by hand: N = 2, W = 500, S = 1001, T = 2, and
// the worths of the rows are 2012, 2011, 2010 and 1501. The two pairs are worth
// 2010 + 2011 = 4021, and so are the prices. (Derived here, no source.)
const (
	rows = "boat,applicant,weight,tier\nb1,a1,10,1\nb2,a1,9,1\nb1,a2,8,1\nb2,a3,500,2\n"
	good = `{"served_by_tier":[2,0],"total":17,"pairs":[{"boat":"b1","applicant":"a2"},{"boat":"b2","applicant":"a1"}],` +
		`"proof":{"step":1001,"applicants":{"a1":510,"a2":508},"boats":{"b1":1502,"b2":1501}}}`
	// The same round with b1 pinned to a1, and (last) with that pair forbidden.
	pinned = `{"served_by_tier":[1,1],"total":510,"pairs":[{"boat":"b1","applicant":"a1"},{"boat":"b2","applicant":"a3"}],` +
		`"proof":{"step":1001,"applicants":{"a1":2012,"a3":1501},"boats":{}}}`
	// The prices cover and sum all the same, but the published form of the proof
	// (refloat calc assign --explain) leaves the pinned boat without one.
	shifted = `{"served_by_tier":[1,1],"total":510,"pairs":[{"boat":"b1","applicant":"a1"},{"boat":"b2","applicant":"a3"}],` +
		`"proof":{"step":1001,"applicants":{"a1":2011,"a3":1501},"boats":{"b1":1}}}`
	forbidden = `{"served_by_tier":[2,0],"total":17,"pairs":[{"boat":"b1","applicant":"a2"},{"boat":"b2","applicant":"a1"}],` +
		`"proof":{"step":1001,"applicants":{"a1":510,"a2":2010,"a3":0},"boats":{"b2":1501}}}`
	couple = "boat,applicant\nb1,a1\n"
)

type inputs struct{ result, rows, pins, forbids string }

func check(in inputs) error {
	reader := func(text string) io.Reader {
		if text == "" {
			return nil
		}
		return strings.NewReader(text)
	}
	return assigncheck.Check(assigncheck.Input{Result: strings.NewReader(in.result), Rows: strings.NewReader(in.rows),
		Pins: reader(in.pins), Forbids: reader(in.forbids)})
}

func TestResultsThatHold(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   inputs
	}{
		{"by hand", inputs{result: good, rows: rows}},
		{"other prices that prove the same", inputs{result: strings.NewReplacer(
			`"a1":510,"a2":508`, `"a1":500,"a2":498`, `1502`, `1512`, `1501`, `1511`).Replace(good), rows: rows}},
		{"a price of 0 for somebody unknown", inputs{result: strings.Replace(good, `"a2":508`, `"a2":508,"a9":0`, 1), rows: rows}},
		{"printed over several lines", inputs{result: strings.ReplaceAll(good, ",", ",\n") + "\n", rows: rows}},
		{"rows in another order, with mark and CRLF", inputs{result: good,
			rows: "\ufefftier,weight,applicant,boat\r\n2,500,a3,b2\r\n\r\n1,8,a2,b1\r\n1,9,a1,b2\r\n1,10,a1,b1"}},
		{"pinned", inputs{result: pinned, rows: rows, pins: couple}},
		{"forbidden", inputs{result: forbidden, rows: rows, forbids: couple}},
		{"nothing", inputs{result: `{"served_by_tier":[],"total":0,"pairs":[],"proof":{"step":1}}`, rows: "boat,applicant,weight,tier\n"}},
	} {
		t.Run(c.name, func(t *testing.T) { assert.NoError(t, check(c.in)) })
	}
}

func TestResultsThatDoNot(t *testing.T) {
	t.Parallel()
	const pairs = `{"boat":"b1","applicant":"a2"},{"boat":"b2","applicant":"a1"}`
	for _, c := range []struct {
		name     string
		from, to string // what is changed in the good result
		why      string
	}{
		{"another total", `"total":17`, `"total":18`, "total is 18"},
		{"another count", `[2,0]`, `[1,1]`, "served_by_tier[0]"},
		{"a tier too few", `[2,0]`, `[2]`, "served_by_tier has 1"},
		{"a tier too many", `[2,0]`, `[2,0,0]`, "less than the row's worth"},
		{"ten tiers", `[2,0]`, `[2,0,0,0,0,0,0,0,0,0]`, "at most 9 tiers"},
		{"a step too small", `1001`, `1000`, "proof.step is 1000"},
		{"a step too large", `1001`, `1002`, "less than the row's worth"},
		{"a step beyond all rows", `1001`, `9223372036854775807`, "which no rows give"},
		{"no step", `"step":1001,`, ``, "must have"},
		{"a price lowered", `"a2":508`, `"a2":507`, "less than the row's worth"},
		{"a price left out", `"b1":1502,`, ``, "less than the row's worth"},
		{"a price raised", `"b1":1502`, `"b1":1503`, "do not sum"},
		{"a price for a stranger", `"b1":1502`, `"b1":1502,"b3":1`, "do not sum"},
		{"prices that wrap around 64 bits", `"b1":1502`, `"b1":1502,"x":9223372036854775807,"y":9223372036854775807,"z":2`, "do not sum"},
		{"a negative price", `"a2":508`, `"a2":508,"a9":-1,"a8":1`, "is negative"},
		{"a fractional price", `"a2":508`, `"a2":508.5`, "cannot be read"},
		{"a price beyond 64 bits", `"a2":508`, `"a2":9223372036854775808`, "cannot be read"},
		{"a lesser pairing", pairs, `{"boat":"b1","applicant":"a1"}`, "served_by_tier[0]"},
		{"a pair that is no row", pairs, `{"boat":"b1","applicant":"a3"},{"boat":"b2","applicant":"a1"}`, "are no rows"},
		{"a boat that is not there", pairs, `{"boat":"b1","applicant":"a2"},{"boat":"b2","applicant":"a1"},{"boat":"b3","applicant":"a3"}`, "are no rows"},
		{"a boat twice", pairs, `{"boat":"b1","applicant":"a1"},{"boat":"b1","applicant":"a2"}`, "may stand once"},
		{"an applicant twice", pairs, `{"boat":"b1","applicant":"a1"},{"boat":"b2","applicant":"a1"}`, "stands in two pairs"},
		{"a pair twice", pairs, pairs + `,{"boat":"b2","applicant":"a1"}`, "may stand once"},
		{"pairs in another order", pairs, `{"boat":"b2","applicant":"a1"},{"boat":"b1","applicant":"a2"}`, "byte order"},
		{"no pairs", `[` + pairs + `]`, `null`, "must have"},
		{"not JSON", `{`, `[`, "cannot be read"},
		{"two results", `}}}`, `}}}{}`, "something follows"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, good, c.from)
			changed := strings.Replace(good, c.from, c.to, 1)
			requireRefusal(t, check(inputs{result: changed, rows: rows}), c.why)
		})
	}
}

func requireRefusal(t *testing.T, err error, why string) {
	t.Helper()
	var refusal *assigncheck.Refusal
	require.True(t, errors.As(err, &refusal), "%v", err)
	assert.Contains(t, refusal.Why, why)
}

func TestPinsAndForbiddenPairsBelongToTheRound(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		in   inputs
		why  string
	}{
		{"made without the pin", inputs{result: good, rows: rows, pins: couple}, "the pin of row 2"},
		{"a price for the pinned boat", inputs{result: shifted, rows: rows, pins: couple}, "has the price 1"},
		{"made with a pin", inputs{result: pinned, rows: rows}, "less than the row's worth"},
		{"made without the forbidden pair", inputs{result: good, rows: rows, forbids: "boat,applicant\nb2,a1\n"}, "are no rows"},
		{"made with a forbidden pair", inputs{result: forbidden, rows: rows}, "less than the row's worth"},
		{"other rows", inputs{result: good, rows: strings.Replace(rows, "500", "499", 1)}, "proof.step"},
		{"a row more", inputs{result: good, rows: rows + "b3,a3,0,2\n"}, "less than the row's worth"},
		{"a row less", inputs{result: good, rows: strings.Replace(rows, "b2,a1,9,1\n", "", 1)}, "are no rows"},
	} {
		t.Run(c.name, func(t *testing.T) { requireRefusal(t, check(c.in), c.why) })
	}
}

func TestBadInput(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		in    inputs
		file  assigncheck.File
		row   int
		field string
	}{
		{"no header", inputs{rows: ""}, assigncheck.Rows, 1, "boat"},
		{"a column missing", inputs{rows: "boat,applicant,weight\n"}, assigncheck.Rows, 1, "tier"},
		{"an unknown column", inputs{rows: "boat,applicant,weight,tier,wish\n"}, assigncheck.Rows, 1, "wish"},
		{"a column twice", inputs{rows: "boat,applicant,weight,tier,tier\n"}, assigncheck.Rows, 1, "tier"},
		{"a field missing", inputs{rows: rows + "b3,a4,1\n"}, assigncheck.Rows, 6, "tier"},
		{"a field too many", inputs{rows: rows + "b3,a4,1,1,1\n"}, assigncheck.Rows, 6, ""},
		{"a stray quote", inputs{rows: rows + "b3,a\"4,1,1\n"}, assigncheck.Rows, 6, ""},
		{"not UTF-8", inputs{rows: rows + "b3,a\xff,1,1\n"}, assigncheck.Rows, 6, "applicant"},
		{"no boat", inputs{rows: rows + ",a4,x,1\n"}, assigncheck.Rows, 6, "boat"},
		{"no applicant", inputs{rows: rows + "b3,,1,1\n"}, assigncheck.Rows, 6, "applicant"},
		{"a fractional weight", inputs{rows: rows + "b3,a4,1.5,1\n"}, assigncheck.Rows, 6, "weight"},
		{"a negative weight", inputs{rows: rows + "b3,a4,-1,1\n"}, assigncheck.Rows, 6, "weight"},
		{"a signed weight", inputs{rows: rows + "b3,a4,+1,1\n"}, assigncheck.Rows, 6, "weight"},
		{"no weight", inputs{rows: rows + "b3,a4,,1\n"}, assigncheck.Rows, 6, "weight"},
		{"too great a weight", inputs{rows: rows + "b3,a4,1000000001,1\n"}, assigncheck.Rows, 6, "weight"},
		{"tier 0", inputs{rows: rows + "b3,a4,1,0\n"}, assigncheck.Rows, 6, "tier"},
		{"tier 10", inputs{rows: rows + "b3,a4,1,10\n"}, assigncheck.Rows, 6, "tier"},
		{"two tiers", inputs{rows: rows + "b3,a3,1,1\n"}, assigncheck.Rows, 6, "tier"},
		{"a pair twice", inputs{rows: rows + "\nb1,a1,1,1\n"}, assigncheck.Rows, 7, "applicant"},
		{"a pin that is no row", inputs{rows: rows, pins: "boat,applicant\n\nb1,a3\n"}, assigncheck.Pins, 3, "applicant"},
		{"a pin of an unknown boat", inputs{rows: rows, pins: couple + "b9,a9\n"}, assigncheck.Pins, 3, "boat"},
		{"a pin of an unknown applicant", inputs{rows: rows, pins: couple + "b2,a9\n"}, assigncheck.Pins, 3, "applicant"},
		{"a boat pinned twice", inputs{rows: rows, pins: couple + "b1,a2\n"}, assigncheck.Pins, 3, "boat"},
		{"an applicant pinned twice", inputs{rows: rows, pins: couple + "b2,a1\n"}, assigncheck.Pins, 3, "applicant"},
		{"pinned and forbidden", inputs{rows: rows, pins: couple, forbids: couple}, assigncheck.Pins, 2, "applicant"},
		{"a pin without a boat", inputs{rows: rows, pins: couple + ",a2\n"}, assigncheck.Pins, 3, "boat"},
		{"pins without a header", inputs{rows: rows, pins: "b1,a1\n"}, assigncheck.Pins, 1, "boat"},
		{"forbidden twice", inputs{rows: rows, forbids: couple + "b1,a1\n"}, assigncheck.Forbids, 3, "applicant"},
		{"a forbidden pair without an applicant", inputs{rows: rows, forbids: couple + "b1,\n"}, assigncheck.Forbids, 3, "applicant"},
	} {
		for _, result := range []string{good, "no result"} {
			t.Run(c.name, func(t *testing.T) {
				c.in.result = result
				var bad *assigncheck.BadInput
				require.True(t, errors.As(check(c.in), &bad), "bad input comes before the result")
				assert.Equal(t, c.file, bad.File)
				assert.Equal(t, c.row, bad.Row)
				assert.Equal(t, c.field, bad.Field)
				assert.NotEmpty(t, bad.Reason)
			})
		}
	}
}

// A checker that used the solver's code would repeat its mistakes.
func TestSharesNothingWithTheSolver(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		require.NoError(t, err)
		for _, i := range file.Imports {
			assert.NotContains(t, i.Path.Value, ".", "%s: the standard library is enough", name)
		}
	}
}

type brokenPipe struct{}

func (brokenPipe) Read([]byte) (int, error) { return 0, errors.New("the pipe is broken") }

func TestUnreadableRows(t *testing.T) {
	t.Parallel()
	err := assigncheck.Check(assigncheck.Input{Result: strings.NewReader(good), Rows: brokenPipe{}})
	var bad *assigncheck.BadInput
	require.True(t, errors.As(err, &bad))
	assert.Contains(t, bad.Error(), "the pipe is broken")
}

// FuzzCSV holds that no rows make the checker panic, and that whatever it accepts
// for this result has the round's six fields in it.
func FuzzCSV(f *testing.F) {
	for _, seed := range []string{rows, "", "\ufeff" + rows, strings.ReplaceAll(rows, "\n", "\r\n"), "boat,applicant,weight,tier\n\"b\n1\",a,1,1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if check(inputs{result: good, rows: text}) != nil {
			return
		}
		for _, id := range []string{"b1", "b2", "a1", "a2", "500"} {
			if !strings.Contains(text, id) {
				t.Errorf("accepted without %s: %q", id, text)
			}
		}
	})
}
