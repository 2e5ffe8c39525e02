package web

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// RFC 5545: lines end with CRLF and have at most 75 bytes, a fold being CRLF and a
// blank (3.1); commas, semicolons and backslashes in texts are escaped (3.3.11).
func TestACalendarIsWrittenAsTheStandardWants(t *testing.T) {
	clocks := []message.Clock{{Due: clock.MustDate("2026-05-18"), What: `The donor has the paper; at last, \`, Boat: "b1", BoatName: strings.Repeat("Ụ", 40), Serial: "US-2026-0001",
		Reckoned: "30 days from the sale on 2026-04-18, not moved"}}
	text := string(calendar(clocks, time.Date(2026, 4, 20, 12, 0, 0, 0, time.UTC)))
	for line := range strings.SplitSeq(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		assert.LessOrEqual(t, len(line), 75, line)
		assert.NotContains(t, line, "\n")
		assert.True(t, strings.ToValidUTF8(line, "?") == line, "no character is cut")
	}
	whole := strings.ReplaceAll(text, "\r\n ", "")
	for _, line := range []string{
		"BEGIN:VCALENDAR", "VERSION:2.0", "DTSTAMP:20260420T120000Z", "DTSTART;VALUE=DATE:20260518",
		`SUMMARY:The donor has the paper\; at last\, \\: ` + strings.Repeat("Ụ", 40), `DESCRIPTION:US-2026-0001 30 days from the sale on 2026-04-18\, not moved. No tax advice.`, "END:VCALENDAR",
	} {
		assert.Contains(t, strings.Split(whole, "\r\n"), line)
	}
	assert.NotEqual(t, text, string(calendar(append(clocks, clocks...), time.Time{})))
}
