package message

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"testing/quick"
	"unicode/utf16"

	"github.com/gowebpki/jcs"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCanonicalForm(t *testing.T) {
	for name, row := range map[string]struct{ in, want string }{
		"space goes":                   {" {\t\"a\" :\n[ 1 , 2 ]\r} ", `{"a":[1,2]}`},
		"keys are sorted":              {`{"b":1,"a":2,"":3}`, `{"":3,"a":2,"b":1}`},
		"keys in objects in lists too": {`[{"b":{"d":1,"c":2},"a":3}]`, `[{"a":3,"b":{"c":2,"d":1}}]`},
		"a key before its extension":   {`{"ab":1,"a":2}`, `{"a":2,"ab":1}`},
		// The keys of the example in RFC 8785 §3.2.3 (from memory): one
		// beyond U+FFFF comes before U+FB33, because its first unit is a surrogate.
		"order of UTF-16 units": {
			`{"\u20ac":1,"\r":2,"\ufb33":3,"1":4,"\ud83d\ude00":5,"\u0080":6,"\u00f6":7}`,
			`{"\r":2,"1":4,"` + "\u0080" + `":6,"ö":7,"€":1,"😀":5,"` + "\ufb33" + `":3}`},
		"two keys beyond U+FFFF":  {`{"😁":1,"😀":2}`, `{"😀":2,"😁":1}`},
		"keys compared unescaped": {`{"\u0062":1,"a\n":2}`, `{"a\n":2,"b":1}`},
		"shortest escapes":        {`"\u0008\u0009\u000a\u000c\u000d\u0022\u005c\/\u001F\u007f\u2028<>&"`, `"\b\t\n\f\r\"\\/\u001f` + "\u007f\u2028" + `<>&"`},
		"minus nought":            {`-0`, `0`},
		"the largest number":      {`[9007199254740991,-9007199254740991]`, `[9007199254740991,-9007199254740991]`},
		"words":                   {`[true,false,null,{},[]]`, `[true,false,null,{},[]]`},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Recanonical([]byte(row.in))
			require.NoError(t, err)
			assert.Equal(t, row.want, string(got))
			again, err := Recanonical(got)
			require.NoError(t, err)
			assert.Equal(t, row.want, string(again), "the canonical form of the canonical form")
			oracle, err := jcs.Transform([]byte(`[` + row.in + `]`))
			require.NoError(t, err)
			assert.Equal(t, string(oracle), "["+row.want+"]", "as github.com/gowebpki/jcs has it")
		})
	}
}

func TestRefusedTexts(t *testing.T) {
	for name, text := range map[string]string{
		"nothing":                     ``,
		"only space":                  `  `,
		"a fraction":                  `{"a":1.5}`,
		"a whole float":               `1.0`,
		"an exponent":                 `1e3`,
		"beyond 2^53−1":               `9007199254740992`,
		"beyond −(2^53−1)":            `-9007199254740992`,
		"beyond 64 bits":              `99999999999999999999`,
		"a leading nought":            `01`,
		"a lone minus":                `-`,
		"a plus":                      `+1`,
		"a repeated key":              `{"a":1,"a":2}`,
		"a key repeated by an escape": `{"a":1,"\u0061":2}`,
		"a repeated key further on":   `{"b":1,"c":2,"a":1,"b":2}`,
		"ill-formed UTF-8":            "\"\xff\"",
		"a surrogate in UTF-8":        "\"\xed\xa0\x80\"",
		"a lone high surrogate":       `"\ud83d"`,
		"a high surrogate and text":   `"\ud83dxxxxxx"`,
		"a lone low surrogate":        `"\ude00"`,
		"two high surrogates":         `"\ud83d\ud83d"`,
		"surrogates the wrong way":    `"\ude00\ud83d"`,
		"a lone surrogate in a key":   `{"\ud83d":1}`,
		"U+0000":                      `"\u0000"`,
		"a raw control character":     "\"\n\"",
		"an unknown escape":           `"\x"`,
		"an escape cut off":           `"\u00`,
		"an escape not hexadecimal":   `"\u00g0"`,
		"an escape with a sign":       `"\u+123"`,
		"a text without end":          `"abc`,
		"a text ending in a slash":    `"abc\`,
		"a comma too many in a list":  `[1,]`,
		"a comma too many":            `{"a":1,}`,
		"no comma":                    `[1 2]`,
		"no colon":                    `{"a" 1}`,
		"no key":                      `{1:2}`,
		"no value":                    `{"a":}`,
		"a list without end":          `[1`,
		"an object without end":       `{"a":1`,
		"the wrong end":               `[1}`,
		"something behind":            `{} 1`,
		"a brace behind":              `{}}`,
		"a bracket behind":            `[]]`,
		"half a word":                 `nul`,
		"a comment":                   `/* */ 1`,
		"an apostrophe":               `'a'`,
		"a mark of byte order":        "\ufeff{}",
		"too deep":                    strings.Repeat("[", MaxDepth+1) + strings.Repeat("]", MaxDepth+1),
		"too deep in objects":         strings.Repeat(`{"a":`, MaxDepth+1) + "1" + strings.Repeat("}", MaxDepth+1),
		"very deep":                   strings.Repeat("[", MaxData),
		"too long":                    `"` + strings.Repeat("x", MaxData-1) + `"`,
	} {
		_, err := Recanonical([]byte(text))
		assert.Error(t, err, name)
		assert.Error(t, IsCanonical(text), name)
	}
}

func TestTheLimitsThemselvesAreAllowed(t *testing.T) {
	deep := strings.Repeat("[", MaxDepth) + strings.Repeat("]", MaxDepth)
	long := `"` + strings.Repeat("x", MaxData-2) + `"`
	for _, text := range []string{deep, long} {
		assert.NoError(t, IsCanonical(text))
	}
	got, err := Canonical(strings.Repeat("<", MaxData-2))
	require.NoError(t, err)
	assert.Len(t, got, MaxData)
}

func TestOnlyTheCanonicalFormIsCanonical(t *testing.T) {
	assert.NoError(t, IsCanonical(`{"a":[1,"ö"]}`))
	for _, text := range []string{`{"a": 1}`, `{"b":1,"a":2}`, `"\u00f6"`, `-0`, `"\/"`} {
		assert.Error(t, IsCanonical(text), text)
	}
}

func TestFloatsInPayloadsAreRefused(t *testing.T) {
	_, err := Canonical(map[string]any{"length": 4.2})
	assert.ErrorContains(t, err, "whole numbers")
	got, err := Canonical(map[string]any{"<b>": "&", "a": 42})
	require.NoError(t, err)
	assert.Equal(t, `{"<b>":"&","a":42}`, string(got), "no escapes for browsers")
}

func TestKeyOrderIsThatOfUTF16Units(t *testing.T) {
	// Against the standard library's own encoder of UTF-16.
	err := quick.Check(func(a, b string) bool {
		a, b = strings.ToValidUTF8(a, ""), strings.ToValidUTF8(b, "")
		u, v := utf16.Encode([]rune(a)), utf16.Encode([]rune(b))
		want := 0
		for i := 0; want == 0 && (i < len(u) || i < len(v)); i++ {
			switch {
			case i == len(u):
				want = -1
			case i == len(v):
				want = 1
			default:
				want = int(u[i]) - int(v[i])
			}
		}
		got := compareUnits([]byte(a), []byte(b))
		return got < 0 == (want < 0) && got > 0 == (want > 0)
	}, &quick.Config{MaxCount: 2000})
	assert.NoError(t, err)
}

// tree draws values of the allowed subset.
func tree(depth int) *rapid.Generator[any] {
	leaf := rapid.OneOf(
		rapid.Just[any](nil), rapid.Map(rapid.Bool(), func(b bool) any { return b }),
		rapid.Map(rapid.Int64Range(-maxWhole, maxWhole), func(n int64) any { return n }), rapid.Map(text(), func(s string) any { return s }))
	if depth == 0 {
		return leaf
	}
	inner := tree(depth - 1)
	return rapid.OneOf(leaf,
		rapid.Map(rapid.SliceOfN(inner, 0, 5), func(l []any) any { return l }),
		rapid.Map(rapid.MapOfN(text(), inner, 0, 20), func(m map[string]any) any { return m }))
}

func text() *rapid.Generator[string] {
	return rapid.Map(rapid.StringOfN(rapid.RuneFrom([]rune("ab\"\\/<&\n\x01\x7f\u2028öß€\ufb33\uffff😀𝄞")), 0, 6, -1), func(s string) string { return s })
}

func TestAnyAllowedValueIsWrittenAsTheLibraryWritesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := tree(3).Draw(t, "value")
		got, err := Canonical(value)
		require.NoError(t, err)
		raw, err := json.Marshal([]any{value})
		require.NoError(t, err)
		want, err := jcs.Transform(raw)
		require.NoError(t, err)
		require.Equal(t, string(want), "["+string(got)+"]")
		require.NoError(t, IsCanonical(string(got)))
	})
}

func FuzzRecanonical(f *testing.F) {
	for _, seed := range []string{`{"b":1,"a":[true,null,"\u00e9\ud83d\ude00"]}`, `-0`, `1.5`, `"\ud800"`, `{"a":1,"\u0061":2}`, `[[[]]]`, `{}}`, " 1 "} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		once, err := Recanonical(raw)
		if err != nil {
			return
		}
		if !json.Valid(raw) {
			t.Fatalf("%q is not JSON and was taken", raw)
		}
		twice, err := Recanonical(once)
		if err != nil || string(twice) != string(once) {
			t.Fatalf("%q became %q, then %q (%v)", raw, once, twice, err)
		}
		want, err := jcs.Transform(fmt.Appendf(nil, "[%s]", raw))
		if err != nil || string(want) != "["+string(once)+"]" {
			t.Fatalf("%q: got %q, the library says %q (%v)", raw, once, want, err)
		}
	})
}

func BenchmarkRecanonical(b *testing.B) {
	data, err := Canonical(DefectFound{Boat: "0198b3c2-0000-7000-8000-000000000001", Finding: "f1", Look: "l1", Words: strings.Repeat("crack along the keel line ", 8)})
	require.NoError(b, err)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Recanonical(data); err != nil {
			b.Fatal(err)
		}
	}
}
