package fault_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

func TestAFaultOverTheWire(t *testing.T) {
	sent := fault.Because(fault.Unknown, io.ErrUnexpectedEOF, "no boat %q", "b9")
	sent.Field = "boat"
	raw, err := json.Marshal(sent)
	require.NoError(t, err)
	assert.JSONEq(t, `{"kind": "unknown", "field": "boat", "text": "no boat \"b9\""}`, string(raw), "the cause stays here")

	var got fault.Fault
	require.NoError(t, json.Unmarshal(raw, &got))
	assert.Equal(t, fault.Fault{Kind: fault.Unknown, Field: "boat", Text: `no boat "b9"`}, got)
	assert.NoError(t, got.Unwrap())
}

// The kinds stand in what rooms of different versions say to each other.
func TestKindsKeepTheirWords(t *testing.T) {
	assert.Equal(t,
		[]fault.Kind{"invalid", "unknown", "sign-in", "forbidden", "conflict", "busy", "unavailable", "internal"},
		[]fault.Kind{fault.Invalid, fault.Unknown, fault.SignIn, fault.Forbidden, fault.Conflict, fault.Busy, fault.Unavailable, fault.Internal})
}

func TestOfFindsTheFaultInAnError(t *testing.T) {
	refused := fault.Field("name", "write at most %d letters", 60)
	for name, row := range map[string]struct {
		err  error
		kind fault.Kind
		text string
	}{
		"itself":          {refused, fault.Invalid, "name: write at most 60 letters"},
		"wrapped":         {fmt.Errorf("log b1: %w", refused), fault.Invalid, "name: write at most 60 letters"},
		"of a cause":      {fault.Because(fault.Unavailable, io.EOF, "try again"), fault.Unavailable, "try again: EOF"},
		"any other error": {io.EOF, fault.Internal, "something went wrong on our side; it has been written down: EOF"},
	} {
		f := fault.Of(row.err)
		assert.Equal(t, row.kind, f.Kind, name)
		assert.Equal(t, row.text, f.Error(), name)
		assert.True(t, fault.Is(row.err, row.kind), name)
		assert.False(t, fault.Is(row.err, fault.Busy), name)
	}
	assert.Nil(t, fault.Of(nil))
	assert.False(t, fault.Is(nil, fault.Internal))
	assert.True(t, errors.Is(fault.Of(io.EOF), io.EOF), "the cause is kept for the log")
	assert.NotContains(t, fault.Of(io.EOF).Text, "EOF", "and from people")
}
