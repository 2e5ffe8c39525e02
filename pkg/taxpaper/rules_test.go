package taxpaper

import (
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
)

func everyExample() []Gift {
	gifts := holidayExamples()
	for _, table := range [][]example{usBoats, usExceptions, usPenalties, usForms, usGoodsAndCash, canadian, british} {
		for _, e := range table {
			gifts = append(gifts, e.gift)
		}
	}
	for _, r := range published {
		if r.ID == "US-VEH-MI-EXCLUDED" {
			gifts = append(gifts, of(US, Boat, "2026-03-28", fair(160000), claims(160000), work(r.List()...)))
		}
	}
	return append(gifts,
		of(US, Boat, "2017-12-31", fair(2000000), claims(2000000), certified("5a"), sold("2018-01-18", 130000)),
	)
}

// answers writes all answers with their warnings' texts.
func answers(t *testing.T, b book, gifts []Gift) []string {
	var texts []string
	for _, g := range gifts {
		l, err := b.decide(g)
		require.NoError(t, err)
		text := summary(l)
		for _, w := range l.Warnings {
			text += "\n" + w.Text
		}
		texts = append(texts, text)
	}
	for _, e := range volunteers {
		l, err := b.decideExpenses(e.expenses)
		require.NoError(t, err)
		texts = append(texts, summary(l))
	}
	return texts
}

func TestEveryRuleIsLoadBearing(t *testing.T) {
	gifts := everyExample()
	whole := answers(t, published, gifts)
	for i, r := range published {
		without := slices.Delete(slices.Clone(published), i, i+1)
		assert.NotEqual(t, whole, answers(t, without, gifts), "no example needs %s from %s (%s)", r.ID, r.From, r.Value)
	}
}

func TestEveryWarningIsGivenByAnExample(t *testing.T) {
	given := map[string]bool{}
	for _, g := range everyExample() {
		l, err := Decide(g)
		require.NoError(t, err)
		for _, w := range l.Warnings {
			given[w.Code] = true
			assert.NotEmpty(t, w.Text)
		}
	}
	for _, code := range codes {
		assert.True(t, given[code], code)
	}
	assert.Len(t, given, len(codes))
}

func TestEveryRuleNamesItsSource(t *testing.T) {
	for _, r := range Rules() {
		assert.NotEmpty(t, r.Source, r.ID)
		assert.Contains(t, []string{"V", "S", "M", "D"}, r.Mark, r.ID)
		assert.True(t, r.To.IsZero() || !r.To.Before(r.From), r.ID)
	}
}

// What was not read in any text is told before anybody relies on it.
func TestTheReadmeNamesWhatIsFromMemory(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for _, r := range Rules() {
		if r.ID == "US-HOLIDAY" && r.FromMemory() {
			assert.Contains(t, string(readme), "Juneteenth")
		} else if r.FromMemory() {
			assert.Contains(t, string(readme), "`"+r.ID+"`", r.Source)
		}
	}
}

// Two rows of one name may share a day only where a rule has many rows.
func TestNoTwoRowsGovernOneDay(t *testing.T) {
	for _, r := range published {
		if r.ID == "US-HOLIDAY" || r.ID == "US-VEH-MI-EXCLUDED" {
			continue
		}
		assert.Len(t, published.all(r.ID, r.From), 1, "%s on %s", r.ID, r.From)
	}
}

func TestRulesHoldFromFirstToLastDay(t *testing.T) {
	for day, want := range map[string]string{"2024-12-31": "1320;6600;13200", "2025-01-01": "1360;6800;13600", "2025-12-31": "1360;6800;13600", "2026-01-01": "1390;6950;13900"} {
		r, ok := published.find("US-INSUB", clock.MustDate(day))
		require.True(t, ok, day)
		assert.Equal(t, want, r.Value, day)
	}
	_, ok := published.find("US-INSUB", clock.MustDate("2027-01-01"))
	assert.False(t, ok, "never extrapolated")
}
