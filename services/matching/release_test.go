package matching

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

func TestWhichReleaseIsSignedOnADay(t *testing.T) {
	r := releases{[]message.ReleaseSet{
		{Version: "a", From: clock.MustDate("2026-04-01")}, {Version: "b", From: clock.MustDate("2026-05-01")},
		{Version: "d", From: clock.MustDate("2026-05-01")}, {Version: "c", From: clock.MustDate("2026-04-10")},
	}}
	for day, want := range map[string]string{
		"2026-04-01": "a", "2026-04-09": "a", "2026-04-10": "c", "2026-04-30": "c", "2026-05-01": "d", "2027-01-01": "d",
	} {
		require.NotNil(t, r.on(clock.MustDate(day)), day)
		assert.Equal(t, want, r.on(clock.MustDate(day)).Version, day)
	}
	assert.Nil(t, r.on(clock.MustDate("2026-03-31")), "none yet")
}

func TestAReleaseThatIsRefused(t *testing.T) {
	today := clock.MustDate("2026-04-01")
	r := releases{[]message.ReleaseSet{{Version: "2026-1", From: today}}}
	fine := message.SetRelease{Version: "2026-2", From: today, Text: "We know that water is wet.\nWe sign."}
	require.NoError(t, r.may(fine, today))
	for name, c := range map[string]struct {
		spoil func(*message.SetRelease)
		field string
	}{
		"no name":          {func(c *message.SetRelease) { c.Version = " " }, "version"},
		"a long name":      {func(c *message.SetRelease) { c.Version = strings.Repeat("x", 41) }, "version"},
		"a name used":      {func(c *message.SetRelease) { c.Version = "2026-1" }, "version"},
		"yesterday":        {func(c *message.SetRelease) { c.From = clock.MustDate("2026-03-31") }, "from"},
		"no text":          {func(c *message.SetRelease) { c.Text = "\n" }, "text"},
		"too much":         {func(c *message.SetRelease) { c.Text = strings.Repeat("x", 20_001) }, "text"},
		"no printable one": {func(c *message.SetRelease) { c.Text = "a\x00b" }, "text"},
	} {
		order := fine
		c.spoil(&order)
		err := r.may(order, today)
		require.Error(t, err, name)
		assert.Equal(t, c.field, fault.Of(err).Field, name)
	}
	r.versions = make([]message.ReleaseSet, maxReleases)
	assert.Error(t, r.may(fine, today), "bounded")
}

func TestAReleaseHasToBePrintable(t *testing.T) {
	set := message.ReleaseSet{Version: "2026-2", Text: strings.Repeat("We know that water is wet.\n", 700)}
	require.NoError(t, printable(set, clock.MustDate("2026-04-01")))
	set.Text = "We sign \u2603\U0001F6F6"
	assert.Equal(t, "text", fault.Of(printable(set, clock.MustDate("2026-04-01"))).Field)
}

// Two households of one round may not count on the same jacket.
func TestJacketsAreCountedOverAllHouseholds(t *testing.T) {
	two := message.Wish{Adults: []message.Paddler{{MassG: 80_000}}, Children: []message.Paddler{{MassG: 30_000}, {}}}
	own := two
	own.OwnJackets = true
	has := map[string]int{"adult": 2, "youth": 1}
	assert.Empty(t, jacketsShort([]message.Wish{two}, has).Short)
	a := jacketsShort([]message.Wish{two, own, two}, has)
	assert.Equal(t, []message.JacketCount{{Size: "youth", Wanted: 2, Has: 1}}, a.Short)
	assert.Equal(t, 2, a.Unknown)
	assert.True(t, a.Counted)
	assert.False(t, jacketsShort(nil, nil).Counted)
}
