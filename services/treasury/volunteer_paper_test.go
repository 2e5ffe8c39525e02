package treasury_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
)

// volunteerOf puts a member with a name and an address into the book.
func volunteerOf(t *testing.T, c *desktest.Club, roles ...people.Role) people.ID {
	t.Helper()
	id := c.Member(roles...).Person
	sealed, err := c.Vault.Seal(t.Context(), string(id), message.SealDetails, message.PersonDetails{Name: "Tobin Marsh", Address: "2 Ropewalk\nAmberjay"})
	require.NoError(t, err)
	c.Say(message.Person(id), "", message.PersonRegistered{Person: id, Sort: message.MemberSort, Sealed: string(sealed)})
	c.Settle()
	return id
}

// laysOut writes a cost down and, where it is given, that too.
func laysOut(c *desktest.Club, by people.Actor, member people.ID, cost, service string, minor int64, given bool) {
	c.Do(by, message.StateVolunteerCost{Cost: cost, Member: member, On: giftOn, Service: service, Bought: "fuel", Amount: usd(minor), Receipt: true})
	if given {
		c.Do(by, message.GiveVolunteerCost{Member: member, Cost: cost, On: today})
	}
}

func volunteerPaper(member people.ID, paper string) message.IssueVolunteerPaper {
	return message.IssueVolunteerPaper{Member: member, Year: 2026, Paper: paper, On: today, What: message.NoReturn}
}

// 26 CFR 1.170A-13(f)(10) and (f)(2), from memory: services, and what was given in return; 26
// CFR 1.170A-1(g): no value of time.
func TestAVolunteersPaperDescribesServicesAndStaysTheSame(t *testing.T) {
	c := start(t)
	treasurer, auditor := c.Member(people.Treasurer), c.Member(people.Auditor)
	member := volunteerOf(t, c, people.Repairer)
	gift(t, c, "b1")
	c.Do(treasurer, message.IssuePaper{Boat: "b1", Paper: "p0", On: today, Final: true})
	laysOut(c, treasurer, member, "c1", "fetched donated boats", 20_001, true)
	laysOut(c, treasurer, member, "c2", "taught beginners", 4_998, true)
	laysOut(c, treasurer, member, "c3", "kept the stores", 90_000, false)

	_, err := c.Try(treasurer, volunteerPaper(member, "p1"))
	faulttest.Want(t, err, fault.Conflict, "member")
	assert.Contains(t, err.Error(), "below 250 USD")
	sum := desktest.Ask[message.VolunteerCostList](c, treasurer, message.VolunteerCosts{}).Members[0]
	assert.Contains(t, sum.WhyNot, "below 250 USD")
	laysOut(c, treasurer, member, "c4", "fetched donated boats", 1, true)
	assert.Empty(t, desktest.Ask[message.VolunteerCostList](c, treasurer, message.VolunteerCosts{}).Members[0].WhyNot)

	order := volunteerPaper(member, "p1")
	order.What, order.Words, order.Value = message.GoodsReturn, "a splash jacket", usd(4_500)
	c.Do(treasurer, order)
	said := lastPaper(t, c, "US-2026")
	assert.Equal(t, "US-2026-0002", said.Serial, "in the series of all papers")
	assert.Equal(t, 2026, said.CostsOf)
	assert.Empty(t, said.Boat)
	assert.Equal(t, member, said.Donor)
	assert.Equal(t, "2027-04-15", said.Due.String(), "IRC 170(f)(8)(C)")
	assert.Equal(t, "2034-12-31", said.KeepTo.String())
	noted := desktest.Said[message.VolunteerPaperNoted](c, message.TreasuryVolunteer(member))
	assert.Equal(t, []message.VolunteerPaperNoted{{Member: member, Year: 2026, Paper: "p1", Serial: "US-2026-0002", Costs: []string{"c1", "c2", "c4"}}}, noted)

	first := printed(c, treasurer, "p1")
	text := receipttest.Text(t, first)
	for _, part := range []string{
		"Tobin Marsh", "2 Ropewalk", "US-2026-0002", "fetched donated boats", "taught beginners", "In return the club gave goods; in good faith it estimates the value at 45.00 USD.",
		"a splash jacket", "1.170A-1(g)", "T. Reed, treasurer", said.Salt,
	} {
		assert.Contains(t, text, part)
	}
	for _, never := range []string{"kept the stores", "250.00", "200.01", "49.98", "fuel", "hour"} {
		assert.NotContains(t, text, never)
	}

	// It is the member's, by their private link, and nobody's else.
	own := c.Link(member, people.OwnPapers, string(member))
	c.Settle()
	assert.True(t, bytes.Equal(first, printed(c, own, "p1")))
	stranger := c.Link("donor-of-b1", people.OwnPapers, "donor-of-b1")
	c.Settle()
	_, err = desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: stranger}, message.PrintPaper{Paper: "p1"})
	faulttest.Want(t, err, fault.Unknown, "paper")
	assert.Equal(t, 2026, desktest.Ask[message.PapersOfDonor](c, treasurer, message.DonorPapers{Donor: member}).Papers[0].CostsOf)

	// One stands for a year; while it does, its costs stay.
	_, err = c.Try(treasurer, volunteerPaper(member, "p2"))
	faulttest.Want(t, err, fault.Conflict, "member")
	_, err = c.Try(treasurer, message.WithdrawVolunteerCost{Member: member, Cost: "c2", Why: "another member's"})
	faulttest.Want(t, err, fault.Conflict, "cost")
	sum = costs(c, message.VolunteerCosts{}).Members[0]
	assert.Equal(t, "p1", sum.Paper)
	assert.False(t, sum.Stale)
	c.Do(treasurer, message.GiveVolunteerCost{Member: member, Cost: "c3", On: today})
	assert.True(t, costs(c, message.VolunteerCosts{}).Members[0].Stale, "it does not speak of what was given since")

	c.Do(treasurer, message.CancelPaper{Paper: "p1", Why: "a service is missing"})
	assert.Contains(t, receipttest.Text(t, printed(c, treasurer, "p1")), "CANCELLED")
	c.Do(treasurer, message.WithdrawVolunteerCost{Member: member, Cost: "c2", Why: "another member's"})
	c.Do(treasurer, volunteerPaper(member, "p2"))
	second := receipttest.Text(t, printed(c, treasurer, "p2"))
	assert.Contains(t, second, "This paper replaces US-2026-0002, which is cancelled.")
	assert.Contains(t, second, "kept the stores")
	assert.NotContains(t, second, "taught beginners")
	report := desktest.Ask[message.SeriesReport](c, auditor, message.PaperSeries{})
	require.Len(t, report.Series, 1)
	assert.True(t, report.Whole())
	assert.Equal(t, 3, report.Series[0].Count)
	a := statementNow(c)
	require.Len(t, a.Papers, 1)
	assert.Equal(t, 3, a.Papers[0].Issued)

	c.Set("legal-name", "Another Club")
	require.NoError(t, c.Vault.Destroy(t.Context(), string(member)))
	c.RebuildIsTheSame("treasury")
	assert.Equal(t, second, receipttest.Text(t, printed(c, treasurer, "p2")))
}

func TestWhoSignsAVolunteersPaper(t *testing.T) {
	c := start(t)
	treasurer, other := c.Member(people.Treasurer), c.Member(people.Treasurer)
	member := volunteerOf(t, c, people.Treasurer)
	laysOut(c, treasurer, member, "c1", "kept the books", 30_000, true)

	_, err := c.Try(people.Member(member), volunteerPaper(member, "p1"))
	faulttest.Want(t, err, fault.Forbidden, "", "nobody signs for their own costs")
	c.Set("two-signatures-above", "299.99")
	_, err = c.Try(treasurer, volunteerPaper(member, "p1"))
	faulttest.Want(t, err, fault.Forbidden, "", "who wrote the costs down")
	_, err = c.Try(desktest.Operator, volunteerPaper(member, "p1"))
	faulttest.Want(t, err, fault.Conflict, "paper", "nobody signs at the machine")
	c.Set("two-signatures-above", "300")
	c.Do(treasurer, volunteerPaper(member, "p1"))
	c.Do(other, message.CancelPaper{Paper: "p1", Why: "to be seen by two"})
	_, err = c.Try(people.Member(member), message.CancelPaper{Paper: "p1", Why: "again"})
	require.Error(t, err)
	c.Set("two-signatures-above", "10")
	c.Do(other, volunteerPaper(member, "p2"))

	// From the first mandate on, only who has one signs.
	c.Do(other, message.CancelPaper{Paper: "p2", Why: "to be signed under a mandate"})
	c.Do(c.Member(people.Administrator), message.GiveMandate{Mandate: "m1", Person: treasurer.Person, Office: "treasurer", From: giftOn})
	_, err = c.Try(other, volunteerPaper(member, "p3"))
	faulttest.Want(t, err, fault.Forbidden, "")
	assert.Contains(t, err.Error(), "mandate")
}

// CRA policy CPC-025 and ITA 2007 s. 416, from memory; a club that is no qualified organisation
// thanks, as it does for boats.
func TestCountriesThatKnowNoPaperForCosts(t *testing.T) {
	for country, row := range map[string]struct{ currency, says string }{"CA": {"CAD", "two transactions"}, "UK": {"GBP", "Pay the costs back"}} {
		c := start(t)
		c.Set("country", country)
		c.Set("currency", row.currency)
		c.Set("registration-number", "00000 0000 RR0001")
		treasurer, member := c.Member(people.Treasurer), volunteerOf(t, c, people.Steward)
		cost := message.StateVolunteerCost{Cost: "c1", Member: member, On: giftOn, Service: "fetched boats", Bought: "fuel", Amount: usd(90_000)}
		cost.Amount.Currency = money.Currency(row.currency)
		c.Do(treasurer, cost)
		c.Do(treasurer, message.GiveVolunteerCost{Member: member, Cost: "c1", On: today})
		c.WritesNothing(func() {
			_, err := c.Try(treasurer, volunteerPaper(member, "p1"))
			faulttest.Want(t, err, fault.Conflict, "member", country)
			assert.Contains(t, err.Error(), row.says)
			assert.Contains(t, err.Error(), "from memory")
		})
		assert.Contains(t, costs(c, message.VolunteerCosts{}).Members[0].WhyNot, row.says)
		c.Set("qualified", "no")
		c.Do(treasurer, volunteerPaper(member, "p1"))
		text := receipttest.Text(t, printed(c, treasurer, "p1"))
		assert.Contains(t, text, "Thank you for serving the club")
		assert.Contains(t, text, "not a receipt for tax purposes")
		assert.NotContains(t, text, "900.00")
	}
}

// A booking that the workshop took back after it was given is on no paper.
func TestABookingThatWasTakenBackIsOnNoPaper(t *testing.T) {
	c := start(t)
	treasurer, member := c.Member(people.Treasurer), volunteerOf(t, c, people.Repairer)
	gift(t, c, "b1")
	booked := part("b1", "own", 40_000, message.OwnPocket)
	booked.Pocket = member
	c.Say(message.RepairBoat("b1"), "b1", booked)
	c.Settle()
	c.Do(treasurer, message.TakeVolunteerCost{Cost: "c1", Member: member, Boat: "b1", Entry: "part-own", Service: "repaired boats"})
	c.Do(treasurer, message.GiveVolunteerCost{Member: member, Cost: "c1", On: today})
	c.Say(message.RepairBoat("b1"), "b1", message.PartReversed{Boat: "b1", Entry: "own", Cost: usd(40_000), PaidBy: message.OwnPocket, On: today, Why: "another boat's"})
	c.Settle()
	_, err := c.Try(treasurer, volunteerPaper(member, "p1"))
	faulttest.Want(t, err, fault.Conflict, "member")
	assert.Contains(t, err.Error(), "nothing that this member laid out in 2026 is given")
}

// Papers of boats and of volunteers take the numbers of one series, at one moment too.
func TestPapersOfBoatsAndVolunteersShareTheNumbers(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	orders := []desk.Commanded{message.IssuePaper{Boat: "b1", Paper: "b", On: today, Final: true}}
	for _, id := range []string{"x", "y", "z"} {
		member := volunteerOf(t, c, people.Steward)
		laysOut(c, treasurer, member, id, "fetched boats", 30_000, true)
		orders = append(orders, volunteerPaper(member, "p"+id))
	}
	c.Settle()
	done := make(chan error, len(orders))
	for _, order := range orders {
		go func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: treasurer, Key: desktest.ID()}, order)
			done <- err
		}()
	}
	for range orders {
		assert.NoError(t, <-done)
	}
	c.Settle()
	report := desktest.Ask[message.SeriesReport](c, treasurer, message.PaperSeries{})
	require.Len(t, report.Series, 1)
	assert.True(t, report.Whole())
	assert.Equal(t, "US-2026-0004", report.Series[0].Last)
}
