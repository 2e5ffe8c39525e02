package clock

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAddMonthsKeepsTheDayOrTheMonthsEnd(t *testing.T) {
	for _, c := range []struct {
		from   string
		months int
		want   string
	}{
		{"2026-01-15", 6, "2026-07-15"},
		{"2026-08-31", 6, "2027-02-28"},
		{"2027-08-31", 6, "2028-02-29"},
		{"2028-02-29", 12, "2029-02-28"},
		{"2026-03-31", -1, "2026-02-28"},
		{"2026-12-31", 1, "2027-01-31"},
	} {
		assert.Equal(t, c.want, MustDate(c.from).AddMonths(c.months).String(), "%s + %d months", c.from, c.months)
	}
}

func TestDateReadsAndWrites(t *testing.T) {
	for _, bad := range []string{"2026-02-29", "2026-2-3", "03/02/2026", "2026-13-01", "x"} {
		_, err := ParseDate(bad)
		assert.Error(t, err, bad)
	}
	var d Date
	require.NoError(t, json.Unmarshal([]byte(`"2028-02-29"`), &d))
	assert.Equal(t, NewDate(2028, time.February, 29), d)
	assert.Equal(t, 366, MustDate("2029-01-01").DaysSince(MustDate("2028-01-01")), "2028 is a leap year")
	require.NoError(t, json.Unmarshal([]byte(`""`), &d))
	assert.True(t, d.IsZero())
}
