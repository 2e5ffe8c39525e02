package treasury_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Whoever tampers with the database behind the room's back is found by the numbers
// alone. That each receipt bears its own serial number is Income Tax Regulations
// s. 3501(1)(c).
func TestNumbersThatAreMissingOrDoubleAreFound(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	ask := func() message.SeriesReport {
		return desktest.Ask[message.SeriesReport](c, treasurer, message.PaperSeries{})
	}
	assert.Equal(t, message.SeriesReport{Issuer: "Quillwater Paddlers", Series: []message.SeriesCount{}}, ask())
	for _, id := range []boat.ID{"1", "2", "3", "4", "5"} {
		gift(t, c, id)
		order := issue(id, "p"+string(id))
		order.Final = true
		c.Do(treasurer, order)
	}
	c.Do(treasurer, message.CancelPaper{Paper: "p5", Why: "the name was wrong"})
	again := issue("5", "p5-anew")
	again.Final = true
	c.Do(treasurer, again)
	want := message.SeriesCount{
		Series: "US-2026", Country: "US", Year: 2026, First: "US-2026-0001", Last: "US-2026-0006", Count: 6, Cancelled: 1, Replacing: 1,
		Gaps: []string{}, Doubles: []string{}, Odd: []string{},
	}
	report := ask()
	require.Equal(t, []message.SeriesCount{want}, report.Series)
	assert.True(t, report.Whole())

	c.DB.Exec(`ALTER TABLE ledger.event DISABLE TRIGGER ALL`)
	c.DB.Exec(`UPDATE ledger.event SET data = replace(data, '"serial":"US-2026-0006"', '"serial":"US-2026-0004"')
		WHERE stream = 'treasury.series/US-2026' AND version = 6`)
	c.DB.Exec(`DELETE FROM ledger.event WHERE stream = 'treasury.series/US-2026' AND version IN (2, 3)`)
	report = ask()
	want.Last, want.Count = "US-2026-0005", 4
	want.Gaps, want.Doubles = []string{"US-2026-0002 to 0003"}, []string{"US-2026-0004"}
	assert.Equal(t, []message.SeriesCount{want}, report.Series)
	assert.False(t, report.Whole())
}
