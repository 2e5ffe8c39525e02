package treasury_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

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
