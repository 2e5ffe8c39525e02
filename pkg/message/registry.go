package message

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
)

// Upcast turns the data of one schema version into the next. It is pure: the
// same input always gives the same output, without clock or tables.
type Upcast func(data json.RawMessage) (json.RawMessage, error)

// onlyMore is the upcast to a schema that only adds fields which may be missing.
func onlyMore(data json.RawMessage) (json.RawMessage, error) { return data, nil }

type kindEntry struct {
	schema  int
	decode  func(json.RawMessage) (Body, error)
	upcasts map[int]Upcast // by the version that is read
}

// registry is filled by the package's own variables at start and only read
// afterwards.
var registry = map[Kind]kindEntry{}

// declare makes a kind known, with an upcast from each of its earlier schemas,
// the first first. It panics on a second declaration of one kind and on a missing
// upcast: those are mistakes of the programmer.
func declare[B Body](upcasts ...Upcast) struct{} {
	var zero B
	kind := zero.Kind()
	if _, again := registry[kind]; again {
		panic("kind declared twice: " + string(kind))
	}
	if len(upcasts) != zero.Schema()-1 {
		panic("an upcast from each earlier schema is needed: " + string(kind))
	}
	entry := kindEntry{schema: zero.Schema(), decode: decodeAs[B], upcasts: map[int]Upcast{}}
	for i, up := range upcasts {
		entry.upcasts[i+1] = up
	}
	registry[kind] = entry
	return struct{}{}
}

func decodeAs[B Body](data json.RawMessage) (Body, error) {
	var body B
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&body); err != nil {
		return nil, err
	}
	return body, nil
}

// Kinds lists every declared kind, sorted.
func Kinds() []Kind { return slices.Sorted(maps.Keys(registry)) }

// SchemaOf gives the newest schema number of a kind; 0 when it is not declared.
func SchemaOf(kind Kind) int { return registry[kind].schema }

// Decode reads an event's payload, brought up to the newest schema. Errors: a
// kind that this program does not know, a schema newer than its own, or data
// that does not fit its type.
func Decode(e Event) (Body, error) {
	entry, known := registry[e.Kind]
	if !known {
		return nil, fmt.Errorf("event %d: unknown kind %q: this book was written by a newer program", e.Position, e.Kind)
	}
	data, schema := e.Data, e.Schema
	for ; schema < entry.schema; schema++ {
		up, ok := entry.upcasts[schema]
		if !ok {
			return nil, fmt.Errorf("event %d: no way from %s schema %d to %d", e.Position, e.Kind, schema, schema+1)
		}
		var err error
		if data, err = up(data); err != nil {
			return nil, fmt.Errorf("event %d: bringing %s up from schema %d: %w", e.Position, e.Kind, schema, err)
		}
	}
	if schema > entry.schema {
		return nil, fmt.Errorf("event %d: %s schema %d is newer than this program's %d", e.Position, e.Kind, schema, entry.schema)
	}
	body, err := entry.decode(data)
	if err != nil {
		return nil, fmt.Errorf("event %d: reading %s: %w", e.Position, e.Kind, err)
	}
	return body, nil
}

// with is the upcast to a schema that added a field, which old events take to have
// had this value.
func with(field string, value any) Upcast {
	return func(data json.RawMessage) (json.RawMessage, error) {
		var fields map[string]any
		dec := json.NewDecoder(bytes.NewReader(data))
		dec.UseNumber()
		if err := dec.Decode(&fields); err != nil {
			return nil, err
		}
		fields[field] = value
		return json.Marshal(fields)
	}
}
