package treasury_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/treasury"
)

// The days are reckoned by hand from the texts named beside each: the gift was on
// 20 March 2026, today is 1 April.
func TestWhatFallsDueWithTheDaysArithmetic(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	for _, id := range []boat.ID{"sold", "used", "waits", "small"} {
		gift(t, c, id)
	}
	c.Do(treasurer, message.SellBoat{Boat: "sold", On: today, Gross: usd(78_000), ArmsLength: true})
	c.Do(treasurer, message.StateUse{Boat: "used", On: today, Use: "fleet", From: today, To: today.AddDays(365), Regular: true, Significant: true})
	c.Do(treasurer, message.StateClaim{Boat: "small", Claim: usd(45_000), On: today})
	for _, id := range []boat.ID{"sold", "used"} {
		c.Do(treasurer, issue(id, "p-"+string(id)))
	}
	c.Settle()
	var lines []string
	for _, k := range desktest.Ask[message.ClockList](c, c.Member(people.Auditor), message.Clocks{}).Clocks {
		lines = append(lines, fmt.Sprintf("%s %s %s: %s", k.Due, k.BoatName, k.Serial, k.What))
	}
	assert.Equal(t, []string{
		// IRC 170(f)(12)(C)(ii): 30 days from the contribution, 20 March + 30
		"2026-04-19 Heron used US-2026-0002: The donor has the paper",
		"2026-04-19 Heron waits : Sell, or attest improvement, use or placement, and give the paper",
		// IRC 170(f)(12)(C)(i): 30 days from the sale, 1 April + 30
		"2026-05-01 Heron sold US-2026-0001: The donor has the paper",
		// Form 1098-C instructions: six months from the contribution
		"2026-09-20 Heron used US-2026-0002: A sale up to here makes the certificate presumed false",
		// Notice 2006-1: 28 February 2027 is a Sunday
		"2027-03-01 Heron sold US-2026-0001: 1098-C copy A is filed, on paper", "2027-03-01 Heron used US-2026-0002: 1098-C copy A is filed, on paper",
		"2027-03-31 Heron sold US-2026-0001: 1098-C copy A is filed, electronically", "2027-03-31 Heron used US-2026-0002: 1098-C copy A is filed, electronically",
		// IRC 170(f)(8)(C), the due date of the return
		"2027-04-15 Heron small : The donor has the paper",
		// the club's own rule: seven years
		"2033-12-31 Heron sold US-2026-0001: The paper is kept up to here", "2033-12-31 Heron used US-2026-0002: The paper is kept up to here",
	}, lines)

	o := desktest.Ask[message.Outlook](c, treasurer, message.PaperOutlook{Boat: "waits"})
	assert.Equal(t, "awaiting sale or decision", o.WhyNot)
	var ids []string
	for _, r := range o.Rules {
		ids = append(ids, r.ID)
		assert.NotEmpty(t, r.Source)
	}
	assert.Equal(t, []string{"US-VEH-500", "US-VEH-30D-GIFT"}, ids)
	o = desktest.Ask[message.Outlook](c, treasurer, message.PaperOutlook{Boat: "used"})
	assert.Equal(t, []string{"1098-C (boxes 5a, 5c)"}, o.Papers)
	for _, r := range o.Rules {
		assert.Equal(t, r.ID == "US-8283-500" || r.ID == "US-8283-B", r.FromMemory, "%s: the start of these is from memory", r.ID)
	}
	c.RebuildIsTheSame(treasury.Name)
}
