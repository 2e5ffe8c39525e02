package intake

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/quarantine"
)

// Days and dates: the rule of the State of Utah (7 days from June to August, 18
// in spring and autumn, 30 in winter, or 72 consecutive hours below freezing),
// counted on a calendar. That the days count from cleaning and draining is the
// same text's.
func TestFromWhenTheDaysCount(t *testing.T) {
	day := clock.MustDate
	today := day("2027-01-31")
	for name, row := range map[string]struct {
		c     message.SetQuarantine
		until string
		field string
	}{
		"out in August, clean":             {message.SetQuarantine{OutOfWater: day("2026-08-20")}, "2026-08-27", ""},
		"out in August, cleaned in autumn": {message.SetQuarantine{OutOfWater: day("2026-08-20"), Found: []string{"mud"}, CleanedOn: day("2026-09-05")}, "2026-09-23", ""},
		"with mud, and not cleaned":        {message.SetQuarantine{OutOfWater: day("2026-08-20"), Found: []string{"mud"}}, "", "cleaned_on"},
		"with water in it, not drained":    {message.SetQuarantine{OutOfWater: day("2026-08-20"), StandingML: 10}, "", "cleaned_on"},
		"cleaned before it came out":       {message.SetQuarantine{OutOfWater: day("2026-08-20"), CleanedOn: day("2026-08-19")}, "", "cleaned_on"},
		"cleaned in the future":            {message.SetQuarantine{OutOfWater: day("2026-08-20"), CleanedOn: day("2027-02-01")}, "", "cleaned_on"},
		"72 hours of frost":                {message.SetQuarantine{OutOfWater: day("2026-12-20"), FrozenHours: 72, FrozenEnd: day("2026-12-24")}, "2026-12-24", ""},
		"71 hours of frost":                {message.SetQuarantine{OutOfWater: day("2026-12-20"), FrozenHours: 71, FrozenEnd: day("2026-12-24")}, "2027-01-19", ""},
		"frost after the days were over":   {message.SetQuarantine{OutOfWater: day("2026-12-20"), FrozenHours: 72, FrozenEnd: day("2027-01-25")}, "2027-01-19", ""},
		"frost without an end":             {message.SetQuarantine{OutOfWater: day("2026-12-20"), FrozenHours: 72}, "", "frozen_end"},
		"frost before it was cleaned":      {message.SetQuarantine{OutOfWater: day("2026-12-20"), CleanedOn: day("2026-12-28"), FrozenHours: 72, FrozenEnd: day("2026-12-24")}, "", "frozen_end"},
		"frost under another rule":         {message.SetQuarantine{OutOfWater: day("2026-12-20"), Rule: "thirty", FrozenHours: 72, FrozenEnd: day("2026-12-24")}, "", "frozen_hours"},
		"thirty days":                      {message.SetQuarantine{OutOfWater: day("2026-08-20"), Rule: "thirty"}, "2026-09-19", ""},
		"thirty days and another number":   {message.SetQuarantine{OutOfWater: day("2026-08-20"), Rule: "thirty", Days: 5}, "", "days"},
		"a thing nobody knows":             {message.SetQuarantine{OutOfWater: day("2026-08-20"), Found: []string{"ghosts"}}, "", "found[0]"},
		"hot, without saying how":          {message.SetQuarantine{OutOfWater: day("2026-08-20"), Tenths: 600}, "", "medium"},
		"cold":                             {message.SetQuarantine{OutOfWater: day("2026-08-20"), Medium: quarantine.Spray, Tenths: 60, Seconds: 10}, "", "celsius_tenths"},
		"for no time":                      {message.SetQuarantine{OutOfWater: day("2026-08-20"), Medium: quarantine.Spray, Tenths: 600}, "", "seconds"},
		"in acid":                          {message.SetQuarantine{OutOfWater: day("2026-08-20"), Medium: "acid", Tenths: 600, Seconds: 10}, "", "medium"},
	} {
		row.c.LastWater = "Lake Amberjay"
		body, err := boatWith().dry(row.c, dryingRules{rule: "utah"}, today)
		if row.field != "" {
			faulttest.Want(t, err, fault.Invalid, row.field, name)
			continue
		}
		require.NoError(t, err, name)
		said := body.(message.QuarantineSet)
		assert.Equal(t, row.until, said.Until.String(), name)
		assert.NotEmpty(t, said.Source, name)
	}
}

// A treatment is held against the published minimums, and shortens nothing.
func TestATreatmentSaysWhichMinimumsItMeets(t *testing.T) {
	c := message.SetQuarantine{LastWater: "x", OutOfWater: clock.MustDate("2026-08-20"), Medium: quarantine.Spray, Tenths: 600, Seconds: 5}
	body, err := boatWith().dry(c, dryingRules{rule: "utah"}, clock.MustDate("2026-08-20"))
	require.NoError(t, err)
	said := body.(message.QuarantineSet)
	assert.Contains(t, strings.Join(said.Treatment.Meets, " "), "Comeau")
	assert.Equal(t, "2026-08-27", said.Until.String())
	c.Seconds = 4
	body, err = boatWith().dry(c, dryingRules{rule: "utah"}, clock.MustDate("2026-08-20"))
	require.NoError(t, err)
	assert.Empty(t, body.(message.QuarantineSet).Treatment.Meets)
}
