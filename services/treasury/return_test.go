package treasury_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/services/treasury"
)

func TestPapersStateWhatTheDonorGotAndSalesMindTheirCertificates(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	gift(t, c, "b2")

	// IRC 170(f)(8)(B)(iii) and 6115: what was given in return, its value, the disclosure.
	c.Do(treasurer, message.StateClaim{Boat: "b1", Claim: usd(45_000), On: today})
	benefit := message.StateBenefit{Boat: "b1", On: today, What: message.GoodsReturn, Words: "a guidebook to the river", Value: usd(2_500)}
	c.Do(treasurer, benefit)
	c.Do(treasurer, message.StateSimilar{Boat: "b1", On: today, Amount: usd(460_000)})
	c.Do(treasurer, message.StateAppraisal{Boat: "b1", On: today, Value: usd(90_000), By: "Rosalind Sedge", Address: "3 Weir Road"})
	for _, said := range desktest.Said[message.AppraisalStated](c, message.TreasuryBoat("b1")) {
		assert.NotContains(t, said.Sealed, "Rosalind")
	}
	// IRC 170(f)(11)(F): 450.00 and 4,600.00 are above 5,000.00 together.
	outlook := desktest.Ask[message.Outlook](c, treasurer, message.PaperOutlook{Boat: "b1"})
	assert.Equal(t, []string{"8283 section B", "qualified appraisal"}, outlook.Forms)
	c.Do(treasurer, issue("b1", "p1"))
	text := receipttest.Text(t, printed(c, treasurer, "p1"))
	assert.Contains(t, text, "a guidebook to the river")
	assert.Contains(t, text, "estimates the value at 25.00 USD")
	assert.Contains(t, text, "The amount that can be deducted is limited")
	assert.NotContains(t, text, "900.00", "no value of the boat")
	_, err := c.Try(treasurer, benefit)
	faulttest.Want(t, err, fault.Conflict, "boat", "the paper stands")

	// Box 5a stands; a sale is refused until whoever sells knows.
	c.Do(treasurer, message.StateUse{Boat: "b2", On: today, Use: "learn-to-paddle fleet, weekly", From: today, To: today.AddDays(365), Regular: true, Significant: true})
	c.Do(treasurer, issue("b2", "p2"))
	sale := message.SellBoat{Boat: "b2", On: today, Gross: usd(80_000), ArmsLength: true}
	c.WritesNothing(func() {
		_, err := c.Try(treasurer, sale)
		faulttest.Want(t, err, fault.Conflict, "certified_known")
		assert.ErrorContains(t, err, "US-2026-0002 certifies in box 5a")
	})
	sale.CertifiedKnown = true
	c.Do(treasurer, sale)
	outlook = desktest.Ask[message.Outlook](c, treasurer, message.PaperOutlook{Boat: "b2"})
	assert.Contains(t, outlook.Warnings[0], "presumed false", "the page goes on saying so")
	c.RebuildIsTheSame(treasury.Name)
}

// A boat that its buyer brought back is among those that the club holds, and what the sale
// set going stops; money given back moves it. The days: IRC 170(f)(12)(C)(i), 30 days from the
// sale above 500.00; (C)(ii), 30 days from the gift; 170(f)(8)(C), the return at 500.00
// (Notice 2005-44 s. 4.02).
func TestWhatASaleSetGoingFollowsTheSaleThatStands(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	var held []string
	var falls string
	now := func() {
		t.Helper()
		c.Settle()
		held = nil
		for _, b := range desktest.Ask[message.HeldBoats](c, treasurer, message.BoatStock{Year: 2026}).Boats {
			held = append(held, b.Name)
		}
		clocks := desktest.Ask[message.ClockList](c, treasurer, message.Clocks{}).Clocks
		require.NotEmpty(t, clocks)
		falls = clocks[0].Due.String() + ": " + clocks[0].What
	}
	state := func() string {
		t.Helper()
		boats := desktest.Ask[message.Totals](c, treasurer, message.YearTotals{Year: 2026}).Boats
		require.Len(t, boats, 1)
		return boats[0].State
	}
	now()
	assert.Equal(t, []string{"Heron b1"}, held)
	c.Do(treasurer, message.SellBoat{Boat: "b1", On: today, Gross: usd(56_000), ArmsLength: true})
	now()
	assert.Empty(t, held)
	assert.Equal(t, "sold", state())
	assert.Equal(t, "2026-05-01: The donor has the paper", falls)
	c.Do(treasurer, message.RefundBuyer{Boat: "b1", On: today, Refund: usd(6_000), Words: "a rudder was missing"})
	now()
	assert.Equal(t, "2027-04-15: The donor has the paper", falls, "500.00 stay: box 7")
	c.Do(treasurer, message.TakeSaleBack{Boat: "b1", On: today, Refund: usd(50_000), Words: "it leaks"})
	now()
	assert.Equal(t, []string{"Heron b1"}, held)
	assert.Equal(t, "received", state())
	assert.Equal(t, "2026-04-19: Sell, or attest improvement, use or placement, and give the paper", falls)
	c.RebuildIsTheSame(treasury.Name)
}
