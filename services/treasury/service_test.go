package treasury_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
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
	"refloat.example/pkg/vault"
	"refloat.example/services/treasury"
)

var (
	today  = desktest.Today
	giftOn = clock.MustDate("2026-03-20")
)

func start(t *testing.T) *desktest.Club {
	c := desktest.Start(t, desktest.Room{Name: treasury.Name, Migrations: treasury.Migrations(), New: treasury.New})
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

// words reads a paper with a program that did not write it.
func words(t *testing.T, pdf []byte) string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("needs poppler-utils: " + err.Error())
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.Command("pdftotext", "-raw", file, "-").Output()
	require.NoError(t, err)
	return strings.Join(strings.Fields(string(out)), " ")
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
	require.Len(t, reply.Events, 3)

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
	text := words(t, first)
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
	text := words(t, printed(c, treasurer, "p1"))
	for _, part := range []string{
		"Box 1, date of 2026-03-20", "2019", "Oxlip", "Wren", "hull number XYZ12345L495", "780.00 USD",
		"arm's length transaction to an unrelated party on 2026-04-01", "may not exceed the gross proceeds",
		"Donor's taxpayer", "Copy B goes with the donor's return", "no goods or services",
	} {
		assert.Contains(t, text, part)
	}
	assert.NotContains(t, text, "Box 7")
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
	text := words(t, printed(c, treasurer, "p1"))
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
	text := words(t, printed(c, treasurer, "p1"))
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
	text = words(t, printed(c, treasurer, "p2"))
	assert.Contains(t, text, "500.00 CAD")
	assert.Contains(t, text, "replaces CA-2026-0001")
	assert.Contains(t, words(t, printed(c, treasurer, "p1")), "CANCELLED")
}

func TestThanksWhereThereIsNoReceipt(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	c.Set("qualified", "no")
	c.Set("registration-number", "")
	c.Do(treasurer, issue("b1", "p1"))
	assert.Equal(t, []string{message.ThankYou}, lastPaper(t, c, "US-2026").Names)
	text := words(t, printed(c, treasurer, "p1"))
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
	assert.Contains(t, words(t, printed(c, treasurer, "p2")), "Donated goods do not qualify for Gift Aid.")
}

func TestSerialsHaveNoGapsWhoeverIssuesAtOnce(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	const boats = 4
	for i := range boats {
		gift(t, c, boat.ID(fmt.Sprint("b", i)))
	}
	head, err := c.Log.Head(t.Context())
	require.NoError(t, err)
	var all sync.WaitGroup
	for i := range boats {
		all.Go(func() {
			order := issue(boat.ID(fmt.Sprint("b", i)), fmt.Sprint("p", i))
			order.Final = true
			_, err := c.Client.Do(t.Context(), desk.Asking{By: treasurer, Key: desktest.ID(), Seen: head.Position}, order)
			assert.NoError(t, err)
		})
	}
	all.Wait()
	var serials []string
	for _, p := range desktest.Said[message.PaperIssued](c, message.TreasurySeries("US-2026")) {
		serials = append(serials, p.Serial)
	}
	assert.Equal(t, []string{"US-2026-0001", "US-2026-0002", "US-2026-0003", "US-2026-0004"}, serials)

	// One boat, two treasurers, two papers: one of them comes too late.
	gift(t, c, "b9")
	taken := make([]error, 2)
	for i := range taken {
		all.Go(func() {
			order := issue("b9", fmt.Sprint("q", i))
			order.Final = true
			_, taken[i] = c.Client.Do(t.Context(), desk.Asking{By: treasurer, Key: desktest.ID()}, order)
		})
	}
	all.Wait()
	if taken[0] == nil {
		slices.Reverse(taken)
	}
	assert.NoError(t, taken[1])
	faulttest.Want(t, taken[0], fault.Conflict, "boat")
	c.Settle()
	c.RebuildIsTheSame(treasury.Name)
}

func TestOnePaperStandsForABoat(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	final := issue("b1", "p1")
	final.Final = true
	c.Do(treasurer, final)
	second := final
	second.Paper = "p2"
	_, err := c.Try(treasurer, second)
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.ErrorContains(t, err, "US-2026-0001")
	c.Do(treasurer, message.CancelPaper{Paper: "p1", Why: "the name was spelled wrong"})
	_, err = c.Try(treasurer, message.CancelPaper{Paper: "p1", Why: "again"})
	faulttest.Want(t, err, fault.Conflict, "paper")
	_, err = c.Try(treasurer, final)
	faulttest.Want(t, err, fault.Conflict, "paper", "the id of the first")
	c.Do(treasurer, second)
	assert.Equal(t, "US-2026-0001", lastPaper(t, c, "US-2026").Replaces)
	c.RebuildIsTheSame(treasury.Name)
}

func TestDonorsReadTheirOwnPapersOnly(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	for _, id := range []boat.ID{"b1", "b2"} {
		gift(t, c, id)
		order := issue(id, "p-"+string(id))
		order.Final = true
		c.Do(treasurer, order)
	}
	donor := c.Link("donor-of-b1", people.OwnPapers, "donor-of-b1")
	own := desktest.Ask[message.PapersOfDonor](c, donor, message.DonorPapers{Donor: "donor-of-b1"})
	require.Len(t, own.Papers, 1)
	assert.Equal(t, "US-2026-0001", own.Papers[0].Serial)
	assert.Equal(t, "Heron b1", own.Papers[0].BoatName)
	assert.Equal(t, printed(c, treasurer, "p-b1"), printed(c, donor, "p-b1"))

	ask := func(by people.Actor, q desk.Commanded) error {
		_, err := desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: by}, q)
		return err
	}
	faulttest.Want(t, ask(donor, message.PrintPaper{Paper: "p-b2"}), fault.Unknown, "paper", "that of somebody else")
	faulttest.Want(t, ask(donor, message.PrintPaper{Paper: "p-b9"}), fault.Unknown, "paper")
	faulttest.Want(t, ask(donor, message.DonorPapers{Donor: "donor-of-b2"}), fault.Forbidden, "")
	asApplicant := c.Link("donor-of-b1", people.OwnRequest, "donor-of-b1")
	c.Settle()
	faulttest.Want(t, ask(asApplicant, message.PrintPaper{Paper: "p-b1"}), fault.Forbidden, "")
}

func TestDonorAndTreasurerAreTwo(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	sealed, err := c.Vault.Seal(t.Context(), string(treasurer.Person), message.SealDetails, message.PersonDetails{Name: "T. Reed"})
	require.NoError(t, err)
	c.Say(message.Person(treasurer.Person), "", message.PersonRegistered{Person: treasurer.Person, Sort: message.MemberSort, Sealed: string(sealed)})
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{Boat: "b1", Name: "Heron", Taking: message.Gift, Giver: treasurer.Person, Facts: message.BoatFacts{Type: boat.Canoe}})
	receive(c, "b1")
	valued(c, "b1", "v1", 40_000, func(v *message.BoatValued) { v.Valuer = treasurer.Person })
	c.Settle()
	_, err = c.Try(treasurer, issue("b1", "p1"))
	faulttest.Want(t, err, fault.Forbidden, "")
	other := c.Member(people.Treasurer)
	_, err = c.Try(other, issue("b1", "p1"))
	faulttest.Want(t, err, fault.Forbidden, "", "on a value of the donor's own")
	valued(c, "b1", "v2", 40_000)
	c.Settle()
	c.Do(other, issue("b1", "p1"))
	_, err = c.Try(treasurer, message.CancelPaper{Paper: "p1", Why: "I want more"})
	faulttest.Want(t, err, fault.Forbidden, "")
}

func TestAPaperIsNotIssuedUnfinished(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	order := issue("b1", "p1")
	order.Final = true
	for _, name := range []string{"legal-name", "registration-number", "address"} {
		c.Set(name, "")
		_, err := c.Try(treasurer, order)
		faulttest.Want(t, err, fault.Conflict, "", name)
		assert.ErrorContains(t, err, name)
		c.Set(name, "here again")
	}
	change := func(d message.PersonDetails) {
		sealed, err := c.Vault.Seal(t.Context(), "donor-of-b1", message.SealDetails, d)
		require.NoError(t, err)
		c.Say("people.person/donor-of-b1", "", message.PersonChanged{Person: "donor-of-b1", Sealed: string(sealed)})
	}
	change(message.PersonDetails{Name: "Odalys", Address: " "})
	_, err := c.Try(treasurer, order)
	assert.ErrorContains(t, err, "address")
	change(message.PersonDetails{Name: "Odalys 船", Address: "here"})
	_, err = c.Try(treasurer, order)
	assert.ErrorContains(t, err, "cannot be printed")
	c.Say("people.person/donor-of-b1", "", message.PersonErased{Person: "donor-of-b1", Why: "asked"})
	_, err = c.Try(treasurer, order)
	assert.ErrorContains(t, err, "erased")
	assert.Empty(t, c.Bodies(message.TreasurySeries("US-2026")))
}

func TestPapersPastKeepingAreGone(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	order := issue("b1", "p1")
	order.Final = true
	c.Do(treasurer, order)
	// A paper of the year before, which is let go of last where both are.
	lastYear := giftOn.AddMonths(-12)
	boatOf(t, c, "b0", message.Gift, usd(0))
	c.Say(message.IntakeBoat("b0"), "b0", message.BoatReceived{Boat: "b0", Possession: lastYear, Signed: lastYear, On: lastYear})
	c.Do(treasurer, message.StateClaim{Boat: "b0", Claim: usd(100), On: lastYear})
	c.Do(treasurer, message.IssuePaper{Boat: "b0", Paper: "z", On: lastYear})

	c.Settle()
	c.Clock.Advance(lastPaper(t, c, "US-2026").KeepTo.Time().Sub(c.Clock.Now())) // its last day
	c.Restart(treasury.Name)
	isGone(t, c, treasurer, "z")
	printed(c, treasurer, "p1")
	c.Clock.Advance(24 * time.Hour)
	c.Restart(treasury.Name)
	isGone(t, c, treasurer, "p1")
}

func isGone(t *testing.T, c *desktest.Club, treasurer people.Actor, paper string) {
	t.Helper()
	require.Eventually(t, func() bool {
		_, err := desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: treasurer}, message.PrintPaper{Paper: paper})
		return fault.Is(err, fault.Unknown) && strings.Contains(err.Error(), "was kept until")
	}, 10*time.Second, 10*time.Millisecond)
}
