package ledger

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A copy holds everything that the hashes cover, byte for byte, and tells in which
// line it was changed.
func TestACopyOfTheBookCanBeChecked(t *testing.T) {
	b := newBook(t)
	rows := b.fill(6)
	var copied bytes.Buffer
	n, err := b.Copy(t.Context(), &copied)
	require.NoError(t, err)
	assert.EqualValues(t, 6, n)
	var read []Row
	require.NoError(t, EachLine(bytes.NewReader(copied.Bytes()), func(r *Row) error {
		read = append(read, *r)
		return nil
	}))
	assert.Equal(t, rows, read)

	lines := strings.SplitAfter(copied.String(), "\n")
	for name, row := range map[string]struct {
		spoilt string
		what   string
	}{
		"a changed actor":  {strings.Replace(copied.String(), rows[2].Actor, rows[2].Actor+"x", 3), "line 1: it was changed"},
		"a line taken out": {strings.Join(append(append([]string{}, lines[:2]...), lines[3:]...), ""), "line 3: event 3 is missing"},
		"two lines turned": {lines[0] + lines[2] + lines[1], "line 2: event 2 is missing"},
		"no JSON":          {lines[0] + "x\n", "line 2"},
		"a field too many": {strings.Replace(copied.String(), `{"position"`, `{"more":1,"position"`, 1), "line 1"},
	} {
		err := EachLine(strings.NewReader(row.spoilt), func(*Row) error { return nil })
		assert.ErrorContains(t, err, row.what, name)
	}
}
