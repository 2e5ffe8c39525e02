package quarantine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// The days are those that the State of Utah publishes; the dates are counted on
// a calendar.
func TestUtah(t *testing.T) {
	for out, want := range map[string]struct {
		days  int
		until string
	}{
		"2026-08-20": {7, "2026-08-27"},
		"2026-09-05": {18, "2026-09-23"},
		"2026-12-20": {30, "2027-01-19"},
		"2026-06-01": {7, "2026-06-08"},
		"2026-05-31": {18, "2026-06-18"},
		"2026-08-31": {7, "2026-09-07"},
		"2026-09-01": {18, "2026-09-19"},
		"2026-11-30": {18, "2026-12-18"},
		"2026-12-01": {30, "2026-12-31"},
		"2028-02-29": {30, "2028-03-30"},
		"2028-03-01": {18, "2028-03-19"},
	} {
		day := clock.MustDate(out)
		assert.Equal(t, want.days, UtahDays(day), out)
		until, err := Until(day, int64(UtahDays(day)))
		require.NoError(t, err)
		assert.Equal(t, want.until, until.String(), out)
	}
	assert.False(t, FrozenEnough(71.99), "72 consecutive hours")
	assert.True(t, FrozenEnough(72), "72 consecutive hours")
}

func TestRefusedDays(t *testing.T) {
	for _, c := range []struct {
		out   string
		days  int64
		field string
	}{
		{"2026-08-20", -1, "days"},
		{"2026-08-20", 1 << 40, "days"},
		{"9999-12-20", 12, "out_of_water"},
	} {
		_, err := Until(clock.MustDate(c.out), c.days)
		require.Error(t, err)
		assert.Equal(t, c.field, fault.Of(err).Field)
	}
	same, err := Until(clock.MustDate("2026-08-20"), 0)
	require.NoError(t, err)
	assert.Equal(t, "2026-08-20", same.String())
}
