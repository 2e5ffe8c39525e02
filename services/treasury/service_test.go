package treasury_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"strings"
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
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/pkg/vault"
	"refloat.example/services/treasury"
)

var (
	today  = desktest.Today
	giftOn = clock.MustDate("2026-03-20")
)

var newRoom = treasury.New(treasury.Config{BaseURL: "https://quillwater.example/"})

func start(t *testing.T) *desktest.Club { return startAs(t, newRoom) }

// startAs starts the club with a room that is made in another way.
func startAs(t *testing.T, made func(desk.Kit) *desk.Desk) *desktest.Club {
	c := desktest.Start(t, desktest.Room{Name: treasury.Name, Migrations: treasury.Migrations(), New: made})
	c.Set("legal-name", "Quillwater Paddlers")
	c.Set("address", "4 Mill Lane; Amberjay")
	c.Set("registration-number", "00-0000000")
	c.Set("place", "Amberjay")
	c.Set("signatory", "T. Reed, treasurer")
	c.Set("qualified", "yes")
	return c
}

func usd(minor int64) money.Amount { return money.Of(minor, "USD") }

// boatOf lets the other rooms log and accept a boat, whose giver is introduced.
func boatOf(t *testing.T, c *desktest.Club, id boat.ID, taking message.Taking, price money.Amount) {
	t.Helper()
	giver := people.ID("donor-of-" + id)
	sealed, err := c.Vault.Seal(t.Context(), string(giver), message.SealDetails, message.PersonDetails{Name: "Odalys Fenwright", Address: "12 Quay Street\nAmberjay"})
	require.NoError(t, err)
	c.Say(message.IntakeBoat(id), string(id), message.BoatLogged{
		Boat: id, Name: "Heron " + string(id), Taking: taking, Giver: giver, Right: "owner's declaration",
		NewGiver: &message.NewPerson{Person: giver, Sort: message.DonorSort, Sealed: string(sealed), Consent: "2026-1"},
		Facts:    message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, Maker: "Oxlip", Model: "Wren", YearBuilt: 2019, HullNumber: "XYZ12345L495"},
	})
	c.Say(message.IntakeBoat(id), string(id), message.BoatAccepted{Boat: id, Price: price})
}

func receive(c *desktest.Club, id boat.ID) {
	c.Say(message.IntakeBoat(id), string(id), message.BoatReceived{Boat: id, Possession: giftOn, Signed: giftOn, On: giftOn})
}

func valued(c *desktest.Club, id boat.ID, value string, minor int64, change ...func(*message.BoatValued)) {
	v := message.BoatValued{
		Boat: id, Value: value, On: giftOn, Valuer: "steward", Purpose: message.ForBook, Used: []string{},
		AsItLies: message.Worth{Status: "ok", Value: usd(minor)},
	}
	for _, f := range change {
		f(&v)
	}
	c.Say(message.ValuationBoat(id), string(id), v)
}

// gift brings a gift, worth 900.00, into the club.
func gift(t *testing.T, c *desktest.Club, id boat.ID) {
	t.Helper()
	boatOf(t, c, id, message.Gift, usd(0))
	receive(c, id)
	valued(c, id, "v-"+string(id), 90_000)
	c.Settle()
}

func issue(id boat.ID, paper string) message.IssuePaper {
	return message.IssuePaper{Boat: id, Paper: paper, On: today}
}

func lastPaper(t *testing.T, c *desktest.Club, series string) message.PaperIssued {
	t.Helper()
	papers := desktest.Said[message.PaperIssued](c, message.TreasurySeries(series))
	require.NotEmpty(t, papers)
	return papers[len(papers)-1]
}

func printed(c *desktest.Club, by people.Actor, paper string) []byte {
	return desktest.Ask[message.Sheet](c, by, message.PrintPaper{Paper: paper}).PDF
}

func TestFromAGiftToAPaperThatStaysTheSame(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	c.Do(treasurer, message.StateClaim{Boat: "b1", Claim: usd(45_000), On: today})
	reply := c.Do(treasurer, issue("b1", "p1"))
	require.Len(t, reply.Events, 4)

	said := lastPaper(t, c, "US-2026")
	assert.Equal(t, "US-2026-0001", said.Serial)
	assert.Equal(t, []string{"170(f)(8) letter"}, said.Names)
	// IRC 170(f)(8)(C): the donor needs it by the return for the year of the gift.
	assert.Equal(t, clock.MustDate("2027-04-15"), said.Due)
	assert.Equal(t, clock.MustDate("2033-12-31"), said.KeepTo)
	assert.Contains(t, said.Decision, `"receipt":"yes"`)
	for _, secret := range []string{"Odalys", "Quay Street"} {
		e, err := c.Log.Event(t.Context(), reply.Events[0].Position)
		require.NoError(t, err)
		assert.NotContains(t, string(e.Data), secret)
	}

	first := printed(c, treasurer, "p1")
	text := receipttest.Text(t, first)
	for _, part := range []string{
		"Quillwater Paddlers", "US-2026-0001", "Odalys Fenwright", "12 Quay Street", "2026-03-20", "2026-04-01", "XYZ12345L495",
		"The club gave no goods or services in return for this gift.", "states no value", "not tax advice", said.Salt, "T. Reed, treasurer",
	} {
		assert.Contains(t, text, part)
	}
	assert.NotContains(t, text, "900.00", "IRC 170(f)(8)(B)(i): a description, not the value")

	c.Set("legal-name", "Another Club")
	c.Set("paper-format", "A4")
	c.Set("signatory", "")
	c.Say("people.person/donor-of-b1", "", message.PersonErased{Person: "donor-of-b1", Why: "asked"})
	require.NoError(t, c.Vault.Destroy(t.Context(), "donor-of-b1"))
	c.Clock.Advance(1000 * time.Hour)
	assert.True(t, bytes.Equal(first, printed(c, treasurer, "p1")), "a printed paper never changes")
	c.RebuildIsTheSame(treasury.Name)
	assert.True(t, bytes.Equal(first, printed(c, treasurer, "p1")))
}

func TestAPaperCanBeHeldAgainstTheBook(t *testing.T) {
	c := start(t)
	gift(t, c, "b1")
	c.Do(c.Member(people.Treasurer), message.IssuePaper{Boat: "b1", Paper: "p1", On: today, Final: true})
	said := lastPaper(t, c, "US-2026")
	var content message.PaperContent
	require.NoError(t, c.Vault.Unseal(t.Context(), "paper/p1", message.SealPaper, vault.Sealed(said.Sealed), &content))
	canonical, err := message.Canonical(content)
	require.NoError(t, err)
	sum := sha256.Sum256([]byte(said.Salt + string(canonical)))
	assert.Equal(t, hex.EncodeToString(sum[:]), said.Digest)
	assert.Len(t, said.Salt, 32)

	lodged := desktest.Said[message.PaperLodged](c, message.TreasuryPaper("p1"))
	require.Len(t, lodged, 1)
	pdf := printed(c, c.Member(people.Treasurer), "p1")
	file := sha256.Sum256(pdf)
	assert.Equal(t, message.PaperLodged{Serial: said.Serial, On: today, Digest: said.Digest, File: hex.EncodeToString(file[:])}, lodged[0])
	assert.Contains(t, strings.ReplaceAll(receipttest.Text(t, pdf), " ", ""), "https://quillwater.example/paper/"+said.Serial+"/"+said.Salt)
	assert.Nil(t, content.Book, "no checkpoint was there")
}

// Each paper carries the newest checkpoint out of the house.
func TestAPaperBearsTheBooksCheckpoint(t *testing.T) {
	c := start(t)
	gift(t, c, "b1")
	sealer := c.Log.Sealer(t.TempDir(), t.TempDir())
	require.NoError(t, sealer.Start(t.Context()))
	t.Cleanup(func() { _ = sealer.Stop(context.Background()) })
	require.Eventually(t, func() bool { _, err := c.Log.LastCheckpoint(t.Context()); return err == nil }, time.Minute, 10*time.Millisecond)
	checkpoint, err := c.Log.LastCheckpoint(t.Context())
	require.NoError(t, err)
	treasurer := c.Member(people.Treasurer)
	c.Do(treasurer, message.IssuePaper{Boat: "b1", Paper: "p1", On: today, Final: true})
	text := strings.ReplaceAll(receipttest.Text(t, printed(c, treasurer, "p1")), " ", "")
	assert.Contains(t, text, checkpoint.Root.String())
	assert.Contains(t, text, string(checkpoint.By[0]))
}

func TestASaleIsCertifiedWithItsData(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	_, err := c.Try(treasurer, issue("b1", "p1"))
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.ErrorContains(t, err, "awaiting sale or decision")
	assert.Empty(t, c.Bodies(message.TreasurySeries("US-2026")), "nothing is numbered")

	c.Do(treasurer, message.SellBoat{Boat: "b1", On: today, Gross: usd(78_000), ArmsLength: true})
	c.Do(treasurer, issue("b1", "p1"))
	said := lastPaper(t, c, "US-2026")
	assert.Equal(t, []string{"1098-C"}, said.Names)
	assert.Equal(t, today.AddDays(30), said.Due, "IRC 170(f)(12)(C)(i): 30 days from the sale")
	assert.Contains(t, said.Decision, `"cap":78000`)
	text := receipttest.Text(t, printed(c, treasurer, "p1"))
	for _, part := range []string{
		"Box 1, date of 2026-03-20", "2019", "Oxlip", "Wren", "hull number XYZ12345L495", "780.00 USD",
		"arm's length transaction to an unrelated party on 2026-04-01", "may not exceed the gross proceeds",
		"Donor's taxpayer", "Copy B goes with the donor's return", "no goods or services",
	} {
		assert.Contains(t, text, part)
	}
	assert.NotContains(t, text, "Box 7")

	// The donor's number: sealed, whole in copy A alone, and each opening in the book.
	number := message.StateDonorNumber{Boat: "b1", On: today, Number: "123456789", Salt: "s-1"}
	c.OnlyFor("donor-of-b1", number, people.Treasurer)
	c.Do(treasurer, number)
	assert.NotContains(t, desktest.Said[message.DonorNumberStated](c, message.TreasuryBoat("b1"))[0].Sealed, "6789")
	assert.NotContains(t, receipttest.Text(t, printed(c, treasurer, "p1")), "123-45")
	for range 2 {
		assert.Contains(t, desktest.Ask[message.CopyASheet](c, treasurer, message.CopyA{Paper: "p1"}).Boxes, message.PaperLine{Label: "Donor's TIN", Value: "123-45-6789"})
	}
	assert.Contains(t, string(desktest.Ask[message.Export](c, treasurer, message.CopiesA{Year: 2026}).File), "123-45-6789")
	assert.Len(t, desktest.Said[message.CopyAOpened](c, message.TreasuryPaper("p1")), 1, "once a day for a reader")
	_, err = desk.Ask[message.CopyASheet](t.Context(), c.Client, desk.Asking{By: c.Member(people.Auditor)}, message.CopyA{Paper: "p1"})
	faulttest.Want(t, err, fault.Forbidden, "")

	// The buyer brings it back: the paper is shown as wrong, and a new one speaks of the next sale alone.
	c.Do(treasurer, message.RefundBuyer{Boat: "b1", On: today, Refund: usd(8_000), Words: "a rudder was missing"})
	stale := func() string {
		return strings.Join(desktest.Ask[message.Outlook](c, treasurer, message.PaperOutlook{Boat: "b1"}).Warnings, "\n")
	}
	assert.Contains(t, stale(), "the club keeps 700.00 USD")
	c.Do(treasurer, message.TakeSaleBack{Boat: "b1", On: today, Refund: usd(70_000), Words: "it leaks"})
	c.Settle()
	assert.Contains(t, stale(), "the buyer brought the boat back")
	c.Do(treasurer, message.CancelPaper{Paper: "p1", Why: "the sale was taken back"})
	c.Settle()
	assert.NotContains(t, stale(), "wrong now")
	_, err = c.Try(treasurer, issue("b1", "p2"))
	assert.ErrorContains(t, err, "awaiting sale or decision", "the sale counts no more")
	c.Do(treasurer, message.SellBoat{Boat: "b1", On: today, Gross: usd(60_000), ArmsLength: true})
	c.Do(treasurer, issue("b1", "p2"))
	assert.Contains(t, lastPaper(t, c, "US-2026").Decision, `"4c":60000`)
	assert.Contains(t, receipttest.Text(t, printed(c, treasurer, "p2")), "XXX-XX-6789", "the donor's copy bears the last four digits")
	book := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1"})
	assert.Contains(t, book.Balances, message.EntryLine{Account: "sales", Amount: usd(-60_000)})
	c.RebuildIsTheSame(treasury.Name)
}

// Form 1098-C (Rev. November 2019), boxes 5a to 5c, and IRC 170(f)(12)(C)(ii): 30
// days from the contribution, which may lie in the past when the paper is written.
func TestAnExceptionIsCertifiedAsAMemberAttestsIt(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	for _, row := range []struct {
		id      boat.ID
		order   desk.Commanded
		has     []string
		lacking string
	}{
		{"improved", message.StateImprovement{Boat: "improved", On: today, Work: "hull reconstruction; cleaning", PaidBy: message.ClubPays, Major: true},
			[]string{"Box 5a", "Improvement: hull reconstruction, cleaning", "not be transferred for money, other property or services before"}, "Box 5b"},
		{"used", message.StateUse{Boat: "used", On: today, Use: "learn-to-paddle fleet, weekly", From: today, To: today.AddDays(365), Regular: true, Significant: true},
			[]string{"Box 5a", "Use: learn-to-paddle fleet, weekly, from 2026-04-01 to 2027-04-01"}, "Box 5b"},
		{"placed", message.StatePlacement{Boat: "placed", On: today, Price: usd(5_000), TransportNeed: true},
			[]string{"Box 5b", "needy individual for significantly less than its fair market value"}, "Box 5a"},
	} {
		gift(t, c, row.id)
		c.Do(treasurer, row.order)
		c.Do(treasurer, issue(row.id, "p-"+string(row.id)))
		said := lastPaper(t, c, "US-2026")
		assert.Equal(t, giftOn.AddDays(30), said.Due, row.id)
		text := receipttest.Text(t, printed(c, treasurer, said.Paper))
		for _, part := range row.has {
			assert.Contains(t, text, part, row.id)
		}
		assert.NotContains(t, text, row.lacking, row.id)
		assert.NotContains(t, text, "900.00", "the value stands on no US paper")
		_, err := c.Try(treasurer, row.order)
		faulttest.Want(t, err, fault.Conflict, "boat", "a paper stands")
	}

	// What was withdrawn is certified no more; what the donor attests never was.
	c.Do(treasurer, message.CancelPaper{Paper: "p-placed", Why: "it fell through"})
	c.Do(treasurer, message.WithdrawException{Boat: "placed", Sort: message.Placed, Why: "it fell through"})
	_, err := c.Try(treasurer, issue("placed", "p-anew"))
	assert.ErrorContains(t, err, "awaiting sale or decision")
	c.Say("people.person/donor-of-placed", "", message.RoleGiven{Person: "donor-of-placed", Role: people.Treasurer})
	_, err = c.Try(people.Member("donor-of-placed"), message.StatePlacement{Boat: "placed", On: today, TransportNeed: true})
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Set("country", "CA")
	_, err = c.Try(treasurer, message.StatePlacement{Boat: "placed", On: today, TransportNeed: true})
	faulttest.Want(t, err, fault.Conflict, "boat")
	c.RebuildIsTheSame(treasury.Name)
}

func TestABargainSaysWhatWasPaid(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	boatOf(t, c, "b1", message.Bargain, usd(20_000))
	receive(c, "b1")
	valued(c, "b1", "v1", 65_000)
	c.Settle()
	c.Do(treasurer, message.StateClaim{Boat: "b1", Claim: usd(45_000), On: today})
	c.Do(treasurer, issue("b1", "p1"))
	text := receipttest.Text(t, printed(c, treasurer, "p1"))
	assert.Contains(t, text, "In return the club gave money; in good faith it estimates the value at 200.00 USD.")
	assert.Contains(t, lastPaper(t, c, "US-2026").Decision, "bargain-sale")

	book := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1"})
	assert.Equal(t, []message.EntryLine{
		{Account: "boat:cost", Amount: usd(20_000)}, {Account: "boat:gift in kind", Amount: usd(45_000)},
		{Account: "cash", Amount: usd(-20_000)}, {Account: "contributions in kind", Amount: usd(-45_000)},
	}, book.Balances)

	boatOf(t, c, "b2", message.Purchase, usd(30_000))
	receive(c, "b2")
	c.Settle()
	_, err := c.Try(treasurer, issue("b2", "p2"))
	faulttest.Want(t, err, fault.Conflict, "boat")
}

// Income Tax Regulations s. 3501(1), item by item.
func TestACanadianReceiptHasEveryItemOfTheRegulation(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	c.Set("country", "CA")
	c.Set("currency", "CAD")
	c.Set("registration-number", "00000 0000 RR0001")
	boatOf(t, c, "b1", message.Bargain, money.Of(10_000, "CAD"))
	receive(c, "b1")
	c.Settle()
	_, err := c.Try(treasurer, issue("b1", "p1"))
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.ErrorContains(t, err, "value at the date of the gift is not known")

	valued(c, "b1", "v1", 90_000, func(v *message.BoatValued) { v.AsItLies.Value.Currency, v.Purpose = "CAD", message.ForReceipt })
	c.Settle()
	c.Do(treasurer, issue("b1", "p1"))
	text := receipttest.Text(t, printed(c, treasurer, "p1"))
	for item, part := range map[string]string{
		"statement": "Official receipt for income tax purposes", "a": "Quillwater Paddlers 4 Mill Lane Amberjay", "b": "00000 0000 RR0001",
		"c": "CA-2026-0001", "d": "Place issued Amberjay", "e.1 i": "Date received 2026-03-20", "e.1 ii": "sit-inside kayak",
		"f": "Issued 2026-04-01", "g": "Odalys Fenwright 12 Quay Street Amberjay", "h ii": "900.00 CAD", "h.1": "100.00 CAD", "h.2": "800.00 CAD",
		"i": "T. Reed, treasurer", "j": "Canada Revenue Agency: canada.ca/charities-giving",
	} {
		assert.Contains(t, text, part, item)
	}

	// ITA 248(35): acquired within three years, the lesser of value and cost counts.
	c.Do(treasurer, message.CancelPaper{Paper: "p1", Why: "the donor bought it last year"})
	c.Do(treasurer, message.StateClaim{Boat: "b1", On: today, Cost: money.Of(50_000, "CAD"), Acquired: giftOn.AddDays(-300)})
	c.Do(treasurer, issue("b1", "p2"))
	said := lastPaper(t, c, "CA-2026")
	assert.Equal(t, "CA-2026-0002", said.Serial)
	assert.Equal(t, "CA-2026-0001", said.Replaces)
	text = receipttest.Text(t, printed(c, treasurer, "p2"))
	assert.Contains(t, text, "500.00 CAD")
	assert.Contains(t, text, "replaces CA-2026-0001")
	assert.Contains(t, receipttest.Text(t, printed(c, treasurer, "p1")), "CANCELLED")
}

func TestThanksWhereThereIsNoReceipt(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	c.Set("qualified", "no")
	c.Set("registration-number", "")
	c.Do(treasurer, issue("b1", "p1"))
	assert.Equal(t, []string{message.ThankYou}, lastPaper(t, c, "US-2026").Names)
	text := receipttest.Text(t, printed(c, treasurer, "p1"))
	assert.Contains(t, text, "This letter is not a receipt for tax purposes.")
	assert.NotContains(t, text, "900.00")

	c.Set("country", "UK")
	c.Set("currency", "GBP")
	c.Set("qualified", "yes")
	boatOf(t, c, "b2", message.Gift, money.Of(0, "GBP"))
	receive(c, "b2")
	c.Settle()
	c.Do(treasurer, issue("b2", "p2"))
	said := lastPaper(t, c, "UK-2026")
	assert.Equal(t, "UK-2026-0001", said.Serial)
	assert.Contains(t, receipttest.Text(t, printed(c, treasurer, "p2")), "Donated goods do not qualify for Gift Aid.")
}
