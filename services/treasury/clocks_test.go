package treasury_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
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
	require.Len(t, o.Holidays, 12, "copy A is filed in 2027")
	assert.Equal(t, clock.MustDate("2027-01-01"), o.Holidays[0].On)
	for _, r := range o.Rules {
		assert.Equal(t, r.ID == "US-8283-500" || r.ID == "US-8283-B", r.FromMemory, "%s: the start of these is from memory", r.ID)
	}
	followsByALink(t, c)
	isRemindedOnce(t, c)
	c.RebuildIsTheSame(treasury.Name)
}

// A calendar's link shows what falls due without a name, for as long as its member is a
// treasurer.
func followsByALink(t *testing.T, c *desktest.Club) {
	t.Helper()
	member := c.Member(people.Treasurer)
	link := c.Link(member.Person, people.Deadlines, string(member.Person))
	c.Settle()
	list := desktest.Ask[message.ClockList](c, link, message.Clocks{}).Clocks
	require.Len(t, list, 11)
	for _, k := range list {
		assert.Empty(t, k.BoatName)
	}
	_, err := desk.Ask[message.PapersOfYear](t.Context(), c.Client, desk.Asking{By: link}, message.YearPapers{Year: 2026})
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Say(message.Person(member.Person), "", message.RoleTaken{Person: member.Person, Role: people.Treasurer})
	c.Settle()
	_, err = desk.Ask[message.ClockList](t.Context(), c.Client, desk.Asking{By: link}, message.Clocks{})
	faulttest.Want(t, err, fault.Forbidden, "")
}

// What falls due within the days that the club has set is said once, whatever is started
// again; what comes near later is said then.
func isRemindedOnce(t *testing.T, c *desktest.Club) {
	t.Helper()
	said := func(n int) []message.DeadlinesNear {
		var all []message.DeadlinesNear
		require.Eventually(t, func() bool {
			all = desktest.Said[message.DeadlinesNear](c, message.TreasuryReminders)
			return len(all) >= n
		}, time.Minute, 10*time.Millisecond)
		return all
	}
	c.Set("remind-days", "20")
	c.Settle()
	c.Restart(treasury.Name) // it looks when it starts
	first := said(1)[0]
	assert.Equal(t, clock.MustDate("2026-04-19"), first.First)
	require.Len(t, first.Deadlines, 1, "the decision about one; the paper of the other stands")
	c.Restart(treasury.Name)
	c.Clock.Advance(155 * 24 * time.Hour) // 3 September; the 20th comes near
	c.Restart(treasury.Name)
	all := said(2)
	require.Len(t, all, 2, "starting again said nothing")
	require.Len(t, all[1].Deadlines, 1)
	assert.Equal(t, boat.ID("used"), all[1].Deadlines[0].Boat)
	assert.Equal(t, clock.MustDate("2026-09-20"), all[1].First)
}
