package treasury

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/message"
)

// Each receipt bears its own serial number (Income Tax Regulations s. 3501(1)(c)); a spoiled one
// is kept with its number (s. 3501(5)). The count goes by the events alone.
func TestASeriesIsCountedFromItsEvents(t *testing.T) {
	type said struct {
		serial, replaces string
	}
	for name, row := range map[string]struct {
		papers    []said
		cancelled []string // by serial
		want      message.SeriesCount
		whole     bool
	}{
		"whole": {[]said{{"CA-2026-0001", ""}, {"CA-2026-0002", "CA-2026-0001"}}, []string{"CA-2026-0001"},
			message.SeriesCount{First: "CA-2026-0001", Last: "CA-2026-0002", Count: 2, Cancelled: 1, Replacing: 1}, true},
		"the first is missing": {[]said{{"CA-2026-0002", ""}}, nil,
			message.SeriesCount{First: "CA-2026-0002", Last: "CA-2026-0002", Count: 1, Gaps: []string{"CA-2026-0001"}}, false},
		"two stretches are missing": {[]said{{"CA-2026-0001", ""}, {"CA-2026-0004", ""}, {"CA-2026-0006", ""}}, nil,
			message.SeriesCount{First: "CA-2026-0001", Last: "CA-2026-0006", Count: 3, Gaps: []string{"CA-2026-0002 to 0003", "CA-2026-0005"}}, false},
		"one stands thrice": {[]said{{"CA-2026-0001", ""}, {"CA-2026-0001", ""}, {"CA-2026-0001", ""}}, nil,
			message.SeriesCount{First: "CA-2026-0001", Last: "CA-2026-0001", Count: 3, Doubles: []string{"CA-2026-0001"}}, false},
		"of another series": {[]said{{"CA-2026-0001", ""}, {"US-2026-0002", ""}}, nil,
			message.SeriesCount{First: "CA-2026-0001", Last: "CA-2026-0001", Count: 2, Odd: []string{"US-2026-0002"}}, false},
		"no number": {[]said{{"CA-2026-0001", ""}, {"CA-2026-x", ""}, {"CA-2026-0000", ""}, {"", ""}}, nil,
			message.SeriesCount{First: "CA-2026-0001", Last: "CA-2026-0001", Count: 4, Odd: []string{"CA-2026-x", "CA-2026-0000", ""}}, false},
	} {
		all := newSeries()
		for i, p := range row.papers {
			all.add(message.TreasurySeries("CA-2026"), message.PaperIssued{Paper: string(rune('a' + i)), Serial: p.serial, Replaces: p.replaces})
		}
		for _, serial := range row.cancelled {
			all.add(message.TreasuryPaper("a"), message.PaperCancelled{Paper: "a", Serial: serial, Why: "the name was wrong"})
		}
		row.want.Series, row.want.Country, row.want.Year = "CA-2026", "CA", 2026
		for _, list := range []*[]string{&row.want.Gaps, &row.want.Doubles, &row.want.Odd} {
			*list = append([]string{}, *list...)
		}
		assert.Equal(t, []message.SeriesCount{row.want}, all.counts(), name)
		assert.Equal(t, row.whole, message.SeriesReport{Series: all.counts()}.Whole(), name)
	}
}
