package message

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// measured is a toy kind in its third shape. In the first a length stood in
// centimetres, in the second in millimetres; the third says who measured.
type measured struct {
	LengthMM int    `json:"length_mm"`
	By       string `json:"by"`
}

func (measured) Kind() Kind  { return "toy.measured" }
func (measured) Schema() int { return 3 }

func centimetresToMillimetres(data json.RawMessage) (json.RawMessage, error) {
	var first struct {
		LengthCM int `json:"length_cm"`
	}
	if err := json.Unmarshal(data, &first); err != nil {
		return nil, err
	}
	if first.LengthCM < 0 {
		return nil, errors.New("a length below nought")
	}
	return Canonical(map[string]int{"length_mm": 10 * first.LengthCM})
}

func byNobodyKnown(data json.RawMessage) (json.RawMessage, error) {
	return json.RawMessage(strings.Replace(string(data), "{", `{"by":"not known",`, 1)), nil
}

// declareToy declares the toy kind for one test.
func declareToy(t *testing.T) {
	t.Helper()
	declare[measured](centimetresToMillimetres, byNobodyKnown)
	t.Cleanup(func() { delete(registry, "toy.measured") })
}

func TestOldSchemasAreBroughtUp(t *testing.T) {
	declareToy(t)
	assert.Equal(t, 3, SchemaOf("toy.measured"))
	assert.Contains(t, Kinds(), Kind("toy.measured"))
	for name, row := range map[string]struct {
		schema int
		data   string
		want   Body
		wrong  string
	}{
		"first":             {1, `{"length_cm":412}`, measured{4120, "not known"}, ""},
		"second":            {2, `{"length_mm":4120}`, measured{4120, "not known"}, ""},
		"newest":            {3, `{"by":"Ida","length_mm":4120}`, measured{4120, "Ida"}, ""},
		"newer than ours":   {4, `{}`, nil, "schema 4 is newer than this program's 3"},
		"none":              {0, `{}`, nil, "no way from toy.measured schema 0"},
		"an upcast fails":   {1, `{"length_cm":-1}`, nil, "from schema 1: a length below nought"},
		"not of its type":   {3, `{"length_mm":"long"}`, nil, "reading toy.measured"},
		"an unknown field":  {3, `{"length_mm":1,"colour":"red"}`, nil, "colour"},
		"not of its schema": {2, `{"length_cm":412}`, nil, "length_cm"},
	} {
		t.Run(name, func(t *testing.T) {
			e := Event{Position: 7, Kind: "toy.measured", Schema: row.schema, Data: []byte(row.data)}
			got, err := Decode(e)
			assert.Equal(t, row.want, got)
			assert.Equal(t, row.data, string(e.Data), "what stands in the book is left alone")
			if row.wrong == "" {
				require.NoError(t, err)
				again, err := Decode(e)
				require.NoError(t, err)
				assert.Equal(t, got, again, "the same input, the same output")
				return
			}
			assert.ErrorContains(t, err, row.wrong)
			assert.ErrorContains(t, err, "event 7")
		})
	}
}

func TestAnUnknownKindIsSaidToBeNewer(t *testing.T) {
	_, err := Decode(Event{Position: 3, Kind: "toy.measured", Schema: 1, Data: []byte(`{}`)})
	assert.ErrorContains(t, err, "newer program")
	assert.Zero(t, SchemaOf("toy.measured"))
}

func TestMistakesInDeclaringPanic(t *testing.T) {
	assert.PanicsWithValue(t, "an upcast from each earlier schema is needed: toy.measured", func() { declare[measured](byNobodyKnown) })
	declareToy(t)
	assert.PanicsWithValue(t, "kind declared twice: toy.measured", func() { declare[measured](centimetresToMillimetres, byNobodyKnown) })
}

func TestKindsAreNamedByTheirRoom(t *testing.T) {
	for _, kind := range Kinds() {
		assert.Regexp(t, `^(people|intake|repair|valuation|matching|treasury)\.[a-z]+(-[a-z]+)+$`, kind)
		assert.Equal(t, fmt.Sprintf("%s.", kind.Room()), string(kind[:len(kind.Room())+1]))
	}
	assert.IsNonDecreasing(t, Kinds())
}
