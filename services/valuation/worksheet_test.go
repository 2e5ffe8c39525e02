package valuation

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/receipt"
)

// 26 CFR 1.170A-1(c)(2) and the Canada Revenue Agency differ in what fair market value
// is; the worksheet of each country says its own. It is no appraisal, and says so.
func TestAWorksheetIsTheDonorsOwn(t *testing.T) {
	h := kayak()
	_, err := worksheetOf(h, valued{said: message.BoatValued{AsItLies: message.Worth{Status: message.RefusedWorth}}}, nil, "US")
	faulttest.Want(t, err, fault.Conflict, "value")
	said := valuedFrom(t, h, clubRules, alike(8, func(i int, c *message.Comparable) { c.Price.Minor = int64(60_000 + 700*i) }))
	for country, words := range map[string]string{"US": "willing buyer and a willing seller", "CA": "highest price in an open and unrestricted market", "UK": ""} {
		sheet, err := worksheetOf(h, valued{said: said}, nil, country)
		assert.NoError(t, err)
		text := receipt.SheetText(sheet)
		assert.Contains(t, text, words, country)
		assert.Contains(t, text, "not an appraisal")
		assert.NotContains(t, text, "As it lies", "the club's own figure is not on it")
		assert.Contains(t, text, "600.00 USD")
		assert.NotContains(t, text, "Valued by")
		assert.Empty(t, sheet.Signatures)
		assert.Equal(t, words != "", strings.Contains(text, "Fair market value is"), country)
	}
}
