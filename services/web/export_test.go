package web

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The characters are those of OWASP's page on CSV injection (from memory).
func TestCellsOfTablesAreNoFormulas(t *testing.T) {
	for _, bad := range []string{"=1+1", "+1", "+15550100", "-1+1", "-cmd", "@sum", "\t=1", "\r=1", "\n1", " =1", "\u00a0=1", " \t=1", "＝1"} {
		assert.Equal(t, "'"+bad, harmless(bad))
	}
	for _, good := range []string{"", " ", "Heron", "a=b", "'quoted", "7 up", "12", "-0.3", "-12", "1e3"} {
		assert.Equal(t, good, harmless(good))
	}
}
