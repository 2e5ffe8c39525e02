package hin

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestOneNumberInSeveralSpellings(t *testing.T) {
	// 33 CFR 181.25 wants the number uninterrupted and 181.27 allows the prefix;
	// people write it otherwise.
	for _, spelling := range []string{"XYZ12345L495", "xyz-12345-l495", "US-XYZ12345L495", " XYZ 12345 L495 "} {
		assert.Equal(t, "XYZ12345L495", Key(spelling), spelling)
	}
	assert.NotEqual(t, Key("XYZ12345L495"), Key("CA-XYZ12345L495"), "another country's number")
	assert.Equal(t, Key("OLD-4711-b"), Key("old 4711 B"), "a number of no known form")
	for _, nothing := range []string{"", "illegible", "---", "0"} {
		assert.Empty(t, Key(nothing), "%q tells no boat from another", nothing)
	}
}
