package treasury_test

import (
	"fmt"
	"strings"
	"testing"

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

// outlookOfYear is what the list of a year says of each gift, in a line.
func outlookOfYear(list message.PapersOfYear) map[boat.ID]string {
	lines := map[boat.ID]string{}
	for _, g := range list.Gifts {
		switch {
		case g.Paper != "":
			lines[g.Boat] = g.Serial
		case g.Ready():
			lines[g.Boat] = "ready"
		default:
			lines[g.Boat] = g.WhyNot
		}
	}
	return lines
}

func TestAYearsPapersInOneGo(t *testing.T) {
	c := start(t)
	treasurer, auditor := c.Member(people.Treasurer), c.Member(people.Auditor)
	for i := range 5 {
		id := boat.ID(fmt.Sprint("b", i))
		gift(t, c, id)
		c.Do(treasurer, message.StateClaim{Boat: id, Claim: usd(45_000), On: today})
	}
	gift(t, c, "undecided") // above the threshold, neither sold nor decided: IRC 170(f)(12)
	boatOf(t, c, "bought", message.Purchase, usd(30_000))
	receive(c, "bought")
	c.Settle()
	c.Do(treasurer, issue("b0", "p0"))
	c.Settle()

	year := message.YearPapers{Year: 2026}
	before := desktest.Ask[message.PapersOfYear](c, auditor, year)
	lines := outlookOfYear(before)
	assert.Equal(t, "US-2026-0001", lines["b0"])
	assert.Contains(t, lines["undecided"], "awaiting sale or decision")
	assert.NotContains(t, lines, boat.ID("bought"))
	for _, id := range []boat.ID{"b1", "b2", "b3", "b4"} {
		assert.Equal(t, "ready", lines[id], id)
	}
	assert.Empty(t, desktest.Ask[message.PapersOfYear](c, auditor, message.YearPapers{Year: 2025}).Gifts)

	order := message.IssueYear{Batch: "y1", Year: 2026, On: today, Boats: []boat.ID{"b1", "undecided", "b2", "b3", "b4"}}
	c.Do(treasurer, order)
	c.Settle()
	after := desktest.Ask[message.PapersOfYear](c, treasurer, year)
	lines = outlookOfYear(after)
	for i, id := range []boat.ID{"b1", "b2", "b3", "b4"} {
		assert.Equal(t, fmt.Sprintf("US-2026-%04d", i+2), lines[id])
	}
	require.Len(t, after.Batches, 1)
	b := after.Batches[0]
	assert.Equal(t, []int{5, 4, 0}, []int{b.Of, b.Issued, b.Left()})
	require.Len(t, b.Withheld, 1, "each gift is for itself")
	assert.Equal(t, boat.ID("undecided"), b.Withheld[0].Boat)
	assert.Contains(t, b.Withheld[0].Why, "awaiting sale or decision")
	assert.Len(t, desktest.Said[message.PaperWithheld](c, message.TreasuryBatch("y1")), 1)

	// Asked for again, it is refused by its id; under another id each gift says that it has a paper.
	_, err := c.Try(treasurer, order)
	faulttest.Want(t, err, fault.Conflict, "batch")
	order.Batch = "y2"
	c.Do(treasurer, order)
	c.Settle()
	again := desktest.Ask[message.PapersOfYear](c, treasurer, year).Batches
	require.Len(t, again, 2)
	for _, b := range again {
		assert.Zero(t, b.Left())
		assert.Equal(t, b.Batch == "y1", b.Issued > 0, b.Batch)
	}
	assert.Len(t, c.Bodies(message.TreasurySeries("US-2026")), 5)
	c.RebuildIsTheSame(treasury.Name)
}

func TestWhoAndWhatABatchIsRefused(t *testing.T) {
	c := start(t)
	treasurer := ready(t, c)
	good := message.IssueYear{Batch: "y1", Year: 2026, On: today, Boats: []boat.ID{"b1"}}
	c.OnlyFor("donor-of-b1", good, people.Treasurer)
	c.WritesNothing(func() {
		for field, changes := range map[string][]any{
			"batch": {"", "a b"}, "year": {20, 3000}, "on": {"", "2026-04-02"},
			"boats": {[]string{}, []string{"a/b"}, strings.Split(strings.Repeat("b1 ", 501), " ")[:501]},
		} {
			for _, value := range changes {
				faulttest.Want(t, c.TryChanged(treasurer, good, map[string]any{field: value}), fault.Invalid, field, value)
			}
		}
		for _, boats := range [][]string{{"nowhere"}, {"b1", "b1"}} {
			faulttest.Want(t, c.TryChanged(treasurer, good, map[string]any{"boats": boats}), fault.Unknown, "boats", boats)
		}
		faulttest.Want(t, c.TryChanged(treasurer, good, map[string]any{"year": 2025}), fault.Unknown, "boats", "a gift of another year")
	})
	// Whoever valued the boat, or gave it, gets no paper issued for it in this way either.
	other := c.Member(people.Treasurer)
	valued(c, "b1", "v9", 40_000, func(v *message.BoatValued) { v.Valuer = other.Person })
	c.Do(treasurer, message.StateClaim{Boat: "b1", Claim: usd(45_000), On: today})
	c.Settle()
	c.Do(other, good)
	c.Settle()
	withheld := desktest.Said[message.PaperWithheld](c, message.TreasuryBatch("y1"))
	require.Len(t, withheld, 1)
	assert.Contains(t, withheld[0].Why, "you valued this boat yourself")
	good.Batch = "y2"
	c.Do(treasurer, good)
	c.Settle()
	assert.Equal(t, clock.MustDate("2026-04-01"), lastPaper(t, c, "US-2026").On)
	assert.Equal(t, boat.ID("b1"), lastPaper(t, c, "US-2026").Boat)
}

// Above the club's amount a batch prepares papers, and the second signature ends it.
func TestABatchWaitsForSecondSignatures(t *testing.T) {
	c := start(t)
	c.Set("two-signatures-above", "100.00")
	gift(t, c, "b1")
	ada, ben := named(t, c, "Ada Treadwell", people.Treasurer), named(t, c, "Ben Marsh", people.Treasurer)
	c.Do(ada, message.StateClaim{Boat: "b1", Claim: usd(45_000), On: today})
	c.Do(ada, message.IssueYear{Batch: "x1", Year: 2026, On: today, Boats: []boat.ID{"b1"}})
	c.Settle()
	prepared := desktest.Said[message.PaperPrepared](c, message.TreasuryBoat("b1"))
	require.Len(t, prepared, 1)
	year := func() message.PaperBatch {
		return desktest.Ask[message.PapersOfYear](c, ada, message.YearPapers{Year: 2026}).Batches[0]
	}
	assert.Equal(t, "it waits for a second signature", year().Withheld[0].Why)
	c.Do(ben, message.SignPaper{Boat: "b1", Paper: prepared[0].Paper, On: today})
	assert.Equal(t, 1, year().Issued)
	assert.Empty(t, year().Withheld)

	// Dropped before the second signature, the list says so and why, and the gift is ready again.
	gift(t, c, "b3")
	c.Do(ada, message.StateClaim{Boat: "b3", Claim: usd(45_000), On: today})
	ask := func(batch string) message.PaperPrepared {
		t.Helper()
		c.Do(ada, message.IssueYear{Batch: batch, Year: 2026, On: today, Boats: []boat.ID{"b3"}})
		c.Settle()
		said := desktest.Said[message.PaperPrepared](c, message.TreasuryBoat("b3"))
		return said[len(said)-1]
	}
	withheld := func(batch string) string {
		t.Helper()
		for _, b := range desktest.Ask[message.PapersOfYear](c, ada, message.YearPapers{Year: 2026}).Batches {
			if b.Batch == batch {
				require.Len(t, b.Withheld, 1)
				return b.Withheld[0].Why
			}
		}
		require.Fail(t, "no such batch", batch)
		return ""
	}
	first := ask("x3")
	assert.Equal(t, "it waits for a second signature", withheld("x3"))
	c.Do(ben, message.WithdrawPreparation{Boat: "b3", Paper: first.Paper, Why: "the donor asked to wait"})
	assert.Equal(t, "it was dropped before the second signature: the donor asked to wait", withheld("x3"))
	assert.Equal(t, "ready", outlookOfYear(desktest.Ask[message.PapersOfYear](c, ben, message.YearPapers{Year: 2026}))["b3"])
	// Asked for again it waits in the new list alone, until somebody prepares it by itself.
	ask("x4")
	assert.Equal(t, "it waits for a second signature", withheld("x4"))
	assert.Contains(t, withheld("x3"), "it was dropped")
	c.Do(ben, issue("b3", "p3"))
	assert.Equal(t, "it was prepared anew, apart from these", withheld("x4"), "what waits is another paper now")
	assert.Contains(t, withheld("x3"), "it was dropped")

	// Nobody signs at the machine, so that what wants two signatures is not even prepared there.
	gift(t, c, "b4")
	c.Do(ada, message.StateClaim{Boat: "b4", Claim: usd(45_000), On: today})
	c.Do(people.Service(desk.AtMachine), message.IssueYear{Batch: "x5", Year: 2026, On: today, Boats: []boat.ID{"b4"}})
	c.Settle()
	assert.Contains(t, withheld("x5"), "nobody signs at the machine")
	assert.Empty(t, desktest.Said[message.PaperPrepared](c, message.TreasuryBoat("b4")))

	// What a treasurer signed first is left alone by another's batch, and what is dropped waits no more.
	gift(t, c, "b2")
	c.Do(ada, message.StateClaim{Boat: "b2", Claim: usd(45_000), On: today})
	c.Do(ada, issue("b2", "p2"))
	c.Settle()
	assert.Equal(t, "it waits for a second signature", outlookOfYear(desktest.Ask[message.PapersOfYear](c, ben, message.YearPapers{Year: 2026}))["b2"])
	c.Do(ben, message.IssueYear{Batch: "x2", Year: 2026, On: today, Boats: []boat.ID{"b2"}})
	c.Settle()
	assert.Len(t, desktest.Said[message.PaperPrepared](c, message.TreasuryBoat("b2")), 1)
	c.Say(message.Person(ada.Person), "", message.RoleTaken{Person: ada.Person, Role: people.Treasurer})
	c.Settle()
	_, err := c.Try(ben, message.SignPaper{Boat: "b2", Paper: "p2", On: today})
	faulttest.Want(t, err, fault.Conflict, "paper", "who signed first is no treasurer any more")
	assert.ErrorContains(t, err, "role of treasurer")
	c.RebuildIsTheSame(treasury.Name)
}
