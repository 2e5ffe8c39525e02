package calc

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const assignHeader = "boat,applicant,weight,tier\n"

// assigned runs the calculator. A word that begins with @ stands for a file with
// the rest of the word in it.
func assigned(t testing.TB, in string, args ...string) (code int, out string) {
	for i, word := range args {
		if text, isFile := strings.CutPrefix(word, "@"); isFile {
			args[i] = filepath.Join(t.TempDir(), fmt.Sprint(i))
			require.NoError(t, os.WriteFile(args[i], []byte(text), 0o600))
		}
	}
	code, out, problems := run(assignCalculator, in, args...)
	if code == ExitBadInput {
		assert.Equal(t, out, problems)
	} else {
		assert.Empty(t, problems)
	}
	return code, out
}

func TestAssignAnswers(t *testing.T) {
	const rows = assignHeader + "b1,a1,10,1\nb2,a1,9,1\nb1,a2,8,1\nb2,a3,500,2\n"
	// Solved by hand: N = 2, W = 500, S = 1001, T = 2.
	const answer = `{"served_by_tier":[2,0],"total":17,"pairs":[{"boat":"b1","applicant":"a2"},{"boat":"b2","applicant":"a1"}],` +
		`"proof":{"step":1001,"applicants":{"a1":510,"a2":508,"a3":0},"boats":{"b1":1502,"b2":1501}}}`
	for _, c := range []struct {
		name string
		in   string
		args []string
		want string
	}{
		{"rows", rows, nil, answer},
		{"CRLF, byte order mark, blank lines, no last line end",
			"\ufeff" + strings.ReplaceAll(strings.TrimSpace(rows), "\n", "\r\n\r\n"), nil, answer},
		{"columns and rows in another order", "tier,weight,applicant,boat\n2,500,a3,b2\n1,8,a2,b1\n1,9,a1,b2\n1,10,a1,b1\n", nil, answer},
		{"quoted fields", assignHeader + "\"b,1\",\"a \"\"1\"\"<\",0,1\n", nil,
			`{"served_by_tier":[1],"total":0,"pairs":[{"boat":"b,1","applicant":"a \"1\"<"}],"proof":{"step":1,"applicants":{"a \"1\"<":1},"boats":{"b,1":0}}}`},
		{"a header alone", assignHeader, nil, `{"served_by_tier":[],"total":0,"pairs":[],"proof":{"step":1,"applicants":{},"boats":{}}}`},
		{"a pin; the pinned row itself counts for N, W, T and S", rows, []string{"--pin", "@boat,applicant\nb1,a1\n"},
			`{"served_by_tier":[1,1],"total":510,"pairs":[{"boat":"b1","applicant":"a1"},{"boat":"b2","applicant":"a3"}],` +
				`"proof":{"step":1001,"applicants":{"a1":2012,"a3":1501},"boats":{"b1":0,"b2":0}}}`},
		{"a forbidden pair", rows, []string{"--forbid", "@boat,applicant\nb2,a1\n"},
			`{"served_by_tier":[1,1],"total":510,"pairs":[{"boat":"b1","applicant":"a1"},{"boat":"b2","applicant":"a3"}],` +
				`"proof":{"step":1001,"applicants":{"a1":2,"a2":0,"a3":1501},"boats":{"b1":2010,"b2":0}}}`},
		{"an empty list of pins", rows, []string{"--pin", "@applicant,boat\r\n", "--seed", ""}, answer},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out := assigned(t, c.in, c.args...)
			assert.Equal(t, ExitOK, code)
			assert.Equal(t, c.want+"\n", out)
		})
	}
}

// The order of the ids for this seed was computed with Python's hmac and hashlib.
func TestAssignSeedDecides(t *testing.T) {
	const rows = assignHeader + "b,A-1,3,1\nb,A-2,3,1\nb,A-4,3,1\n"
	_, out := assigned(t, rows, "--seed", "refloat-test-seed")
	assert.Contains(t, out, `"pairs":[{"boat":"b","applicant":"A-4"}]`)
	_, out = assigned(t, rows, "--seed=refloat-test-seed", "--forbid", "@boat,applicant\nb,A-4\n")
	assert.Contains(t, out, `"pairs":[{"boat":"b","applicant":"A-2"}]`)
}

func TestAssignBadInput(t *testing.T) {
	const rows = assignHeader + "b1,a1,10,1\nb2,a2,9,2\n"
	for _, c := range []struct {
		name  string
		in    string
		args  []string
		row   int
		field string
	}{
		{"no header", "", nil, 1, "boat"},
		{"a missing column", "boat,applicant,tier\nb1,a1,1\n", nil, 1, "weight"},
		{"an unknown column", "boat,applicant,weight,tier,wish\n", nil, 1, "wish"},
		{"a column twice", "boat,boat,applicant,weight,tier\n", nil, 1, "boat"},
		{"a header in capitals", "Boat,applicant,weight,tier\n", nil, 1, "boat"},
		{"a broken header", "\"boat,applicant\n", nil, 1, ""},
		{"a missing field", rows + "b3,a3,1\n", nil, 4, "tier"},
		{"a field too many", rows + "b3,a3,1,1,\n", nil, 4, ""},
		{"a stray quote", rows + "b3,a\"3,1,1\n", nil, 4, ""},
		{"not UTF-8", rows + "b3,a\xff,1,1\n", nil, 4, "applicant"},
		{"no boat", rows + ",a3,-1,1\n", nil, 4, "boat"},
		{"no applicant", rows + "b3,,1,1\n", nil, 4, "applicant"},
		{"a negative weight", rows + "b3,a3,-1,1\n", nil, 4, "weight"},
		{"a fractional weight", rows + "b3,a3,1.5,1\n", nil, 4, "weight"},
		{"a weight in words", rows + "b3,a3,ten,1\n", nil, 4, "weight"},
		{"a signed weight", rows + "b3,a3,+1,1\n", nil, 4, "weight"},
		{"no weight", rows + "b3,a3,,1\n", nil, 4, "weight"},
		{"a weight with a blank", rows + "b3,a3, 1,1\n", nil, 4, "weight"},
		{"a weight of a thousand million and one", rows + "b3,a3,1000000001,1\n", nil, 4, "weight"},
		{"a weight beyond 64 bits", rows + "b3,a3,99999999999999999999,1\n", nil, 4, "weight"},
		{"tier 0", rows + "b3,a3,1,0\n", nil, 4, "tier"},
		{"tier 10", rows + "b3,a3,1,10\n", nil, 4, "tier"},
		{"a fractional tier", rows + "b3,a3,1,1.0\n", nil, 4, "tier"},
		{"two tiers", rows + "b1,a2,1,1\n", nil, 4, "tier"},
		{"a pair twice", rows + "b1,a1,10,1\n", nil, 4, "applicant"},
		{"a pair twice, before a row that cannot be read", rows + "b1,a1,10,1\nb3\n", nil, 4, "applicant"},
		{"a blank line counts as a row", rows + "\nb1,a1,10,1\n", nil, 5, "applicant"},
		{"a pin that is no row", rows, []string{"--pin", "@boat,applicant\nb1,a1\nb2,a1\n"}, 3, "applicant"},
		{"a pin of an unknown boat", rows, []string{"--pin", "@boat,applicant\n\nb9,a1\n"}, 3, "boat"},
		{"a pin that shares an end", rows + "b3,a1,1,1\n", []string{"--pin", "@boat,applicant\nb1,a1\nb3,a1\n"}, 3, "applicant"},
		{"pinned and forbidden", rows, []string{"--pin", "@boat,applicant\nb1,a1\n", "--forbid", "@boat,applicant\nb1,a1\n"}, 2, "applicant"},
		{"pins without a header", rows, []string{"--pin", "@b1,a1\n"}, 1, "boat"},
		{"a pin of three fields", rows, []string{"--pin", "@boat,applicant\nb1,a1,1\n"}, 2, ""},
		{"a pin of one field", rows, []string{"--pin", "@boat,applicant\nb1\n"}, 2, "applicant"},
		{"forbidden twice", rows, []string{"--forbid", "@boat,applicant\nb1,a1\nb1,a1\n"}, 3, "applicant"},
		{"no file of pins", rows, []string{"--pin", "/nowhere/pins.csv"}, 0, "--pin"},
		{"no file of forbidden pairs", rows, []string{"--forbid", "/nowhere/forbid.csv"}, 0, "--forbid"},
		{"no result to check", rows, []string{"--check", "/nowhere/result.json"}, 0, "--check"},
		{"an unknown flag", rows, []string{"--fast"}, 0, ""},
		{"a word", rows, []string{"rows.csv"}, 0, ""},
		{"a flag without its word", rows, []string{"--seed"}, 0, ""},
	} {
		// The checker reads rows, pins and forbidden pairs with code of its own.
		for _, check := range [][]string{nil, {"--check", `@{"pairs":[]}`}} {
			if check != nil && (len(c.args) > 0 && c.row == 0) {
				continue
			}
			t.Run(strings.Join(append([]string{c.name}, check...), " "), func(t *testing.T) {
				code, out := assigned(t, c.in, append(check[:len(check):len(check)], c.args...)...)
				assert.Equal(t, ExitBadInput, code)
				var answer struct {
					Error struct {
						Row           int
						Field, Reason string
					}
				}
				require.NoError(t, json.Unmarshal([]byte(out), &answer), out)
				assert.Equal(t, c.row, answer.Error.Row, out)
				assert.Equal(t, c.field, answer.Error.Field, out)
				assert.NotEmpty(t, answer.Error.Reason)
			})
		}
	}
}

func TestAssignTheWholeError(t *testing.T) {
	_, out := assigned(t, assignHeader+"b1,a1,10,1\nb1,a1,9,1\n")
	assert.Equal(t, `{"error":{"row":3,"field":"applicant","reason":"this boat and applicant stood in a row before"}}`+"\n", out)
	_, out = assigned(t, assignHeader+"b1,a1,10,1\n", "--pin", "@boat,applicant\nb1,a2\n")
	assert.Equal(t, `{"error":{"row":2,"field":"applicant","reason":"--pin: no row has this applicant"}}`+"\n", out)
}

func TestAssignCheck(t *testing.T) {
	const rows = assignHeader + "b1,a1,10,1\nb2,a1,9,1\nb1,a2,8,1\nb2,a3,500,2\n"
	const pins = "@boat,applicant\nb1,a1\n"
	_, plain := assigned(t, rows)
	_, pinned := assigned(t, rows, "--pin", pins)
	_, forbidden := assigned(t, rows, "--forbid", pins)
	for _, c := range []struct {
		name, result string
		args         []string
		code         int
		want         string
	}{
		{"holds", plain, nil, ExitOK, `{"ok":true}`},
		{"holds with pins", pinned, []string{"--pin", pins}, ExitOK, `{"ok":true}`},
		{"holds with forbidden pairs", forbidden, []string{"--forbid", pins}, ExitOK, `{"ok":true}`},
		{"another total", strings.Replace(plain, `"total":17`, `"total":18`, 1), nil, ExitRefused,
			`{"ok":false,"why":"total is 18, but the pairs' weights sum to 17"}`},
		{"of other pins", pinned, nil, ExitRefused,
			`{"ok":false,"why":"the prices of boat \"b1\" and applicant \"a2\" are 0 and 0, together less than the row's worth 2010"}`},
		{"no result", "", nil, ExitRefused, `{"ok":false,"why":"the result cannot be read: EOF"}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out := assigned(t, rows, append(c.args, "--check", "@"+c.result)...)
			assert.Equal(t, c.code, code)
			assert.Equal(t, c.want+"\n", out)
		})
	}
}

// Whatever is answered, the checker agrees, and refuses it once any number in it
// is another one.
func TestAssignAndItsCheckerAgree(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		var rows, pins, forbids strings.Builder
		rows.WriteString(assignHeader)
		pins.WriteString("boat,applicant\n")
		forbids.WriteString("boat,applicant\n")
		pinned := map[string]bool{}
		boats, top := rapid.IntRange(1, 12).Draw(rt, "boats"), rapid.SampledFrom([]int{0, 3, 1e9}).Draw(rt, "top")
		for a := range rapid.IntRange(1, 12).Draw(rt, "applicants") {
			tier := rapid.IntRange(1, 4).Draw(rt, "tier")
			for b := range boats {
				pair := fmt.Sprintf("b%d,a%d", b, a)
				switch rapid.IntRange(0, 20).Draw(rt, "fate") {
				case 0, 1, 2, 3, 4, 5, 6, 7, 8:
					continue
				case 9:
					fmt.Fprintln(&forbids, pair)
				case 10:
					if !pinned[fmt.Sprint("b", b)] && !pinned[fmt.Sprint("a", a)] {
						pinned[fmt.Sprint("b", b)], pinned[fmt.Sprint("a", a)] = true, true
						fmt.Fprintln(&pins, pair)
					}
				}
				fmt.Fprintf(&rows, "%s,%d,%d\n", pair, rapid.IntRange(0, top).Draw(rt, "weight"), tier)
			}
		}
		write := func(name, text string) string {
			path := filepath.Join(dir, name)
			require.NoError(rt, os.WriteFile(path, []byte(text), 0o600))
			return path
		}
		narrow := []string{"--pin", write("pins", pins.String()), "--forbid", write("forbids", forbids.String())}
		code, result, problems := run(assignCalculator, rows.String(), narrow...)
		require.Equal(rt, ExitOK, code, problems)
		check := append([]string{"--check", write("result", result)}, narrow...)
		_, verdict, _ := run(assignCalculator, rows.String(), check...)
		require.Equal(rt, "{\"ok\":true}\n", verdict)

		spoiled := spoilNumber(rt, result)
		write("result", spoiled)
		code, verdict, _ = run(assignCalculator, rows.String(), check...)
		require.Equal(rt, ExitRefused, code, "%s\n%s", spoiled, verdict)
	})
}

// spoilNumber adds one to one of the numbers that are values.
func spoilNumber(t *rapid.T, result string) string {
	var places []int
	for i := 1; i < len(result); i++ {
		if isDigit(result[i]) && !isDigit(result[i-1]) && strings.ContainsRune(":[,", rune(result[i-1])) {
			places = append(places, i)
		}
	}
	at := rapid.SampledFrom(places).Draw(t, "place")
	end := at
	for isDigit(result[end]) {
		end++
	}
	var n int64
	_, err := fmt.Sscan(result[at:end], &n)
	require.NoError(t, err)
	return fmt.Sprint(result[:at], n+1, result[end:])
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func TestAssignBrokenPipe(t *testing.T) {
	var problems strings.Builder
	assert.Equal(t, ExitRefused, assignCalculator.main(nil, strings.NewReader(assignHeader), broken{}, &problems))
	assert.Equal(t, "the disc is full\n", problems.String())
	var out strings.Builder
	assert.Equal(t, ExitBadInput, assignCalculator.main(nil, broken{}, &out, &problems))
	assert.Equal(t, `{"error":{"field":"","reason":"the pipe is broken"}}`+"\n", out.String())
}

// FuzzAssignCSV holds that solver and checker, which read CSV with separate code,
// agree on every input whether it is bad, and where.
func FuzzAssignCSV(f *testing.F) {
	for _, in := range []string{"", assignHeader, assignCalculator.Example, "\ufeff" + assignHeader + "b,a,0,9\r\n\r\n\"b\n2\",a,1,9\n",
		assignHeader + "b,a,1e3,1\n", assignHeader + "b,a,1,1\nb,a,1,1\nb\n", "tier,tier\n"} {
		f.Add(in)
	}
	result := filepath.Join(f.TempDir(), "result.json")
	f.Fuzz(func(t *testing.T, in string) {
		code, out, _ := run(assignCalculator, in)
		require.NoError(t, os.WriteFile(result, []byte(out), 0o600))
		checkCode, verdict, _ := run(assignCalculator, in, "--check", result)
		require.Equal(t, code, checkCode, "%s%s", out, verdict)
		if code != ExitBadInput {
			require.Equal(t, "{\"ok\":true}\n", verdict)
			return
		}
		var one, other struct{ Error BadInput }
		require.NoError(t, json.Unmarshal([]byte(out), &one))
		require.NoError(t, json.Unmarshal([]byte(verdict), &other))
		one.Error.Reason, other.Error.Reason = "", ""
		require.Equal(t, one, other)
	})
}
