package message

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
)

// frozen is where an example of each kind and schema stands, as it may stand in
// somebody's book. From the first release on these files are never edited: a new
// shape gets a new schema, an upcast and a file of its own.
const frozen = "../../testdata/events"

func frozenFile(kind Kind, schema int) string {
	return filepath.Join(frozen, string(kind), fmt.Sprintf("v%d.json", schema))
}

func TestEverySchemaEverWrittenCanBeRead(t *testing.T) {
	for _, kind := range Kinds() {
		for schema := 1; schema <= SchemaOf(kind); schema++ {
			t.Run(fmt.Sprintf("%s v%d", kind, schema), func(t *testing.T) { checkFrozen(t, kind, schema) })
		}
	}
}

func checkFrozen(t *testing.T, kind Kind, schema int) {
	raw, err := os.ReadFile(frozenFile(kind, schema))
	require.NoError(t, err, "write an example by hand: one line of canonical JSON, every field set, nothing of a real person")
	data := string(bytes.TrimSuffix(raw, []byte("\n")))
	require.NoError(t, IsCanonical(data))
	body, err := Decode(Event{Position: 1, Kind: kind, Schema: schema, Data: []byte(data)})
	require.NoError(t, err, "a published payload is never edited: add a schema and an upcast")
	assert.Equal(t, kind, body.Kind())
	assert.Equal(t, SchemaOf(kind), body.Schema())
	if schema < SchemaOf(kind) {
		return
	}
	again, err := Canonical(body)
	require.NoError(t, err)
	assert.Equal(t, data, string(again), "what is read is written the same")
	assert.Empty(t, unset(reflect.ValueOf(body), ""), "the example has to show every field")
}

// unset lists the fields that hold nothing. A field that is left out of the example
// could change its name or type without this test's noticing.
func unset(v reflect.Value, path string) []string {
	var empty []string
	switch {
	case v.Kind() == reflect.Pointer && !v.IsNil():
		return unset(v.Elem(), path)
	case v.Kind() == reflect.Slice && v.Len() > 0 && v.Type().Elem().Kind() == reflect.Struct:
		return unset(v.Index(0), path+"[0]")
	case v.Kind() == reflect.Struct && strings.HasSuffix(v.Type().PkgPath(), "/message"):
		for i := range v.NumField() {
			if field := v.Type().Field(i); field.Type.Kind() != reflect.Struct || field.Type.NumField() > 0 { // v1, v2 … hold nothing
				empty = append(empty, unset(v.Field(i), path+"."+field.Name)...)
			}
		}
		return empty
	case v.IsZero(), v.Kind() == reflect.Slice && v.Len() == 0:
		return []string{path}
	}
	return nil
}

func TestEveryFrozenExampleIsOfADeclaredKind(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(frozen, "*", "*"))
	require.NoError(t, err)
	wanted := map[string]bool{}
	for _, kind := range Kinds() {
		for schema := 1; schema <= SchemaOf(kind); schema++ {
			wanted[frozenFile(kind, schema)] = true
		}
	}
	for _, file := range files {
		assert.True(t, wanted[file], "%s: events of this kind stand in books: it has to be declared", file)
	}
}

func TestWhatIsUnsetIsNoticed(t *testing.T) {
	full := DefectWithdrawn{Boat: "b1", Finding: "f1", Why: "mistake"}
	assert.Empty(t, unset(reflect.ValueOf(full), ""))
	full.Why = ""
	assert.Equal(t, []string{".Why"}, unset(reflect.ValueOf(full), ""))
	assert.Equal(t, []string{".Person", ".Why", ".Kept[0].Serial"},
		unset(reflect.ValueOf(PersonErased{Kept: []KeptPaper{{Until: clock.MustDate("2026-05-02")}}}), ""))
}
