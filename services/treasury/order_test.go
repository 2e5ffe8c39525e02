package treasury_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// orders are good ones, each possible once the club is ready.
func orders() map[string]desk.Commanded {
	return map[string]desk.Commanded{
		"sell":      message.SellBoat{Boat: "b1", On: today, Gross: usd(40_000), ArmsLength: true},
		"back":      message.TakeSaleBack{Boat: "b1", On: today, Refund: usd(30_000), Words: "it leaks"},
		"refund":    message.RefundBuyer{Boat: "b1", On: today, Refund: usd(1_000), Words: "a rudder was missing"},
		"claim":     message.StateClaim{Boat: "b1", Claim: usd(40_000), On: today},
		"issue":     message.IssuePaper{Boat: "b1", Paper: "p2", On: today, Final: true},
		"cancel":    message.CancelPaper{Paper: "p1", Why: "wrong name"},
		"improve":   message.StateImprovement{Boat: "b1", On: today, Work: "hull reconstruction; new deck", PaidBy: message.ClubPays, Major: true},
		"use":       message.StateUse{Boat: "b1", On: today, Use: "learn-to-paddle fleet, weekly", From: today, To: today.AddDays(365), Regular: true, Significant: true},
		"place":     message.StatePlacement{Boat: "b1", On: today, TransportNeed: true},
		"withdraw":  message.WithdrawException{Boat: "b1", Sort: message.Placed, Why: "it fell through"},
		"close":     message.ClosePeriod{Upto: clock.MustDate("2026-02-28"), Words: "as approved"},
		"benefit":   message.StateBenefit{Boat: "b1", On: today, What: message.GoodsReturn, Words: "a guidebook", Value: usd(2_500)},
		"appraisal": message.StateAppraisal{Boat: "b1", On: today, Value: usd(90_000), By: "R. Sedge", Address: "3 Weir Road"},
		"similar":   message.StateSimilar{Boat: "b1", On: today, Amount: usd(10_000)},
		"programme": message.ChooseProgramme{Boat: "b1", Programme: "youth group"},
		"number":    message.StateDonorNumber{Boat: "b1", On: today, Number: "123-45-6789", Salt: "s-1"},
		"settle":    message.SettlePocket{Boat: "b1", Entry: "part-own", How: message.PaidBack, On: today},
		"cost":      message.StateVolunteerCost{Cost: "c2", Member: "member", On: today, Service: "fetched boats", Bought: "fuel", Amount: usd(4_200), Boat: "b1"},
		"take":      message.TakeVolunteerCost{Cost: "c3", Member: "member", Boat: "b1", Entry: "part-mine", Service: "repaired boats"},
		"pay":       message.PayVolunteerCostBack{Member: "member", Cost: "c1", On: today, How: "by transfer"},
		"give":      message.GiveVolunteerCost{Member: "member", Cost: "c3", On: today},
		"letter":    message.IssueVolunteerPaper{Member: "member", Year: 2026, Paper: "p3", On: today, What: message.NoReturn},
		"drop":      message.WithdrawVolunteerCost{Member: "member", Cost: "c2", Why: "written down twice"},
	}
}

func ready(t *testing.T, c *desktest.Club) people.Actor {
	gift(t, c, "b1")
	gift(t, c, "b0")
	c.Say(message.Club, "", message.SettingChanged{Name: "programmes", Value: "youth group; households"})
	c.Say(message.RepairBoat("b1"), "b1", part("b1", "own", 700, message.OwnPocket))
	c.Say(message.RepairBoat("b1"), "b1", part("b1", "mine", 500, message.OwnPocket))
	c.Say(message.Person("member"), "", message.RoleGiven{Person: "member", Role: people.Steward})
	c.Settle()
	treasurer := c.Member(people.Treasurer)
	c.Do(treasurer, message.StateVolunteerCost{Cost: "c1", Member: "member", On: today, Service: "fetched boats", Bought: "fuel", Amount: usd(800)})
	sealed, err := c.Vault.Seal(t.Context(), "member", message.SealDetails, message.PersonDetails{Name: "Tobin Marsh"})
	require.NoError(t, err)
	c.Say(message.Person("member"), "", message.PersonRegistered{Person: "member", Sort: message.MemberSort, Sealed: string(sealed)})
	c.Do(treasurer, message.StateVolunteerCost{Cost: "c0", Member: "member", On: today, Service: "fetched boats", Bought: "fuel", Amount: usd(30_000)})
	c.Do(treasurer, message.GiveVolunteerCost{Member: "member", Cost: "c0", On: today})
	c.Do(treasurer, message.IssuePaper{Boat: "b0", Paper: "p1", On: today, Final: true})
	return treasurer
}

func TestWhoMayDoWhat(t *testing.T) {
	c := start(t)
	treasurer := ready(t, c)
	for _, order := range orders() {
		c.OnlyFor("donor-of-b1", order, people.Treasurer)
	}
	for _, name := range []string{"claim", "improve", "use", "place", "withdraw", "benefit", "appraisal", "similar", "issue", "sell", "refund", "back", "cancel", "settle", "cost", "take", "pay", "give", "drop", "letter", "close"} {
		c.Do(treasurer, orders()[name])
	}
}

func TestWhoMayAskWhat(t *testing.T) {
	c := start(t)
	ready(t, c)
	may := map[people.Role][]string{
		people.Treasurer:     {"mandates", "print", "papers", "totals", "export", "book", "bin", "statement", "outlook", "clocks", "year", "series", "costs", "bank", "boats", "copies"},
		people.Auditor:       {"mandates", "totals", "export", "book", "bin", "statement", "outlook", "clocks", "year", "series", "costs", "bank", "boats"},
		people.Administrator: {"mandates"},
	}
	for _, role := range people.Roles {
		by := c.Member(role)
		c.Settle()
		for name, q := range map[string]desk.Commanded{
			"print": message.PrintPaper{Paper: "p1"}, "papers": message.DonorPapers{Donor: "donor-of-b0"}, "totals": message.YearTotals{Year: 2026},
			"export": message.ExportYear{Year: 2026, Format: "csv"}, "book": message.CostBook{Boat: "b1"}, "mandates": message.Mandates{}, "bin": message.BinBook{Bin: "n1"},
			"outlook": message.PaperOutlook{Boat: "b1"}, "clocks": message.Clocks{}, "year": message.YearPapers{Year: 2026}, "series": message.PaperSeries{},
			"statement": message.Statement{From: giftOn, To: today}, "costs": message.VolunteerCosts{},
			"bank": message.BankList{From: giftOn, To: today}, "boats": message.BoatStock{Year: 2026},
			"copies": message.CopiesA{Year: 2026},
		} {
			_, err := desk.Ask[json.RawMessage](t.Context(), c.Client, desk.Asking{By: by}, q)
			if slices.Contains(may[role], name) {
				assert.NoError(t, err, "%s %s", role, name)
			} else {
				faulttest.Want(t, err, fault.Forbidden, "", role, name)
			}
		}
	}
}

func TestBadInputIsRefusedByName(t *testing.T) {
	c := start(t)
	treasurer := ready(t, c)
	type bad struct {
		change map[string]any
		field  string
		kind   fault.Kind
	}
	one := func(field string, value any) bad { return bad{map[string]any{field: value}, field, fault.Invalid} }
	unknown := func(field string) bad { return bad{map[string]any{field: "nowhere"}, field, fault.Unknown} }
	amount := func(minor int64, currency string) map[string]any {
		return map[string]any{"minor": minor, "currency": currency}
	}
	rows := map[string][]bad{
		"sell": {
			one("boat", ""), unknown("boat"), one("on", ""), one("on", "2026-04-02"), one("on", "2026-03-19"), one("gross", amount(-1, "USD")),
			one("gross", amount(1, "EUR")), one("gross", amount(1_000_000_001, "USD")), one("arms_length", "yes"), one("auction", 1), one("gros", 1),
		},
		"claim": {
			one("boat", "a/b"), unknown("boat"), one("claim", amount(-1, "USD")), one("claim", amount(1, "EUR")), one("on", "2026-04-02"), one("on", ""),
			{map[string]any{"cost": amount(1, "USD")}, "acquired", fault.Invalid}, {map[string]any{"acquired_to_give": true}, "acquired", fault.Invalid},
			one("acquired", "2026-03-21"), {map[string]any{"acquired": "2026-03-01", "cost": amount(1, "EUR")}, "cost", fault.Invalid},
		},
		"issue": {
			one("boat", ""), unknown("boat"), one("paper", ""), one("paper", "a b"), {map[string]any{"paper": "p1"}, "paper", fault.Conflict},
			one("on", ""), one("on", "2026-04-02"), one("on", "2026-03-19"), one("final", "yes"),
		},
		"settle": {
			one("boat", ""), one("boat", "a b"), {map[string]any{"bin": "n1"}, "boat", fault.Invalid}, {map[string]any{"boat": "", "bin": "a b"}, "bin", fault.Invalid},
			unknown("entry"), one("how", "never"), one("on", ""), one("on", "2026-04-02"), one("on", "2026-03-31"),
		},
		// Notice 2005-44 s. 7.01(2): the exclusion list; s. 7.01(1); s. 3.02(3).
		"improve": {
			one("boat", ""), unknown("boat"), one("on", "2026-04-02"), one("work", ""), one("work", " ; "), one("work", strings.Repeat("x", 201)), one("work", strings.Repeat("x;", 21)),
			one("work", "hull wash"), one("work", "Cosmetic repairs; paint; dents and scratches"), one("work", "seat pad\nbungee cords"), one("paid_by", "the moon"), one("paid_by", "donor"), one("major", false),
		},
		"use": {
			one("boat", "a/b"), one("on", ""), one("use", " "), one("use", "two\nlines"), one("from", ""), one("from", "2026-03-19"), one("to", ""), one("to", "2026-03-31"), one("regular", false), one("significant", false),
		},
		"place": {one("boat", ""), one("on", "2026-04-02"), one("price", amount(-1, "USD")), one("price", amount(1, "EUR")), one("transport_need", false)},
		// Income Tax Regulations s. 3501(1)(e.1)(iii): the appraiser's name and address.
		"benefit": {
			one("boat", ""), unknown("boat"), one("on", "2026-04-02"), one("what", "a favour"), one("what", "nothing"), one("words", ""), one("words", "two\nlines"), one("words", strings.Repeat("x", 201)),
			one("value", amount(0, "USD")), one("value", amount(-1, "USD")), one("value", amount(1, "EUR")), one("cost", amount(1, "EUR")),
		},
		"appraisal": {one("boat", ""), one("on", ""), one("by", ""), one("address", " "), one("by", strings.Repeat("x", 121)), one("value", amount(0, "USD")), one("value", amount(1, "EUR"))},
		"similar":   {one("boat", ""), one("on", "2026-04-02"), one("amount", amount(-1, "USD")), one("amount", amount(1, "EUR"))},
		"back": {
			one("boat", ""), unknown("boat"), one("on", ""), one("on", "2026-04-02"), one("refund", amount(-1, "USD")), one("refund", amount(1, "EUR")), one("words", " "), one("words", strings.Repeat("x", 501)),
			{map[string]any{}, "boat", fault.Conflict},
		},
		"refund": {
			one("boat", ""), unknown("boat"), one("on", ""), one("on", "2026-04-02"), one("refund", amount(-1, "USD")), one("refund", amount(1, "EUR")), one("words", " "),
			{map[string]any{}, "boat", fault.Conflict},
		},
		// IRC 170(f)(12)(B)(i): nothing asks for the number while the gift is only received.
		"number": {
			one("boat", ""), unknown("boat"), one("on", ""), one("on", "2026-04-02"), one("number", ""), one("number", "123-45-678"), one("salt", ""), one("salt", "a b"),
			{map[string]any{}, "boat", fault.Conflict},
		},
		"withdraw": {one("boat", ""), one("sort", "whim"), one("why", ""), {map[string]any{}, "sort", fault.Conflict}},
		"cost": {
			one("cost", ""), one("cost", "a b"), {map[string]any{"cost": "c1"}, "cost", fault.Conflict}, one("member", ""), unknown("member"), one("on", ""), one("on", "2026-04-02"), one("service", ""), one("service", "two\nlines"), one("service", strings.Repeat("x", 201)),
			one("service", "fetched boats for 2 hours"), one("bought", " "), one("bought", strings.Repeat("x", 201)), one("amount", amount(0, "USD")), one("amount", amount(-1, "USD")), one("amount", amount(1, "EUR")), one("amount", amount(1_000_000_001, "USD")), one("boat", "a b"), unknown("boat"), one("receipt", "yes"), one("hours", 3),
		},
		"take": {
			one("cost", ""), unknown("member"), {map[string]any{"bin": "n1"}, "boat", fault.Invalid}, {map[string]any{"boat": ""}, "boat", fault.Invalid}, {map[string]any{"boat": "", "bin": "a b"}, "bin", fault.Invalid}, unknown("entry"), one("service", "hours of welding"), one("service", "rods for 9 USD"), one("receipt", 1),
		},
		"pay":  {one("member", "a b"), unknown("cost"), one("cost", "a b"), one("on", ""), one("on", "2026-04-02"), one("on", "2026-03-31"), one("how", " "), one("how", strings.Repeat("x", 121))},
		"give": {one("member", ""), unknown("cost"), {map[string]any{"cost": "c1", "on": "2026-03-31"}, "on", fault.Invalid}, {map[string]any{"cost": "c1", "on": ""}, "on", fault.Invalid}},
		"letter": {
			one("member", ""), one("member", "a b"), {map[string]any{"member": "nowhere"}, "member", fault.Conflict}, one("year", 20), {map[string]any{"year": 2025}, "member", fault.Conflict}, one("paper", ""), one("paper", "a b"), {map[string]any{"paper": "p1"}, "paper", fault.Conflict},
			one("on", ""), one("on", "2026-04-02"), one("on", "2026-03-31"), one("what", ""), one("what", "a favour"), {map[string]any{"words": "a jacket"}, "what", fault.Invalid}, {map[string]any{"what": "goods"}, "words", fault.Invalid},
			{map[string]any{"what": "goods", "words": "a jacket"}, "value", fault.Invalid}, {map[string]any{"what": "goods", "words": "a jacket", "value": amount(1, "EUR")}, "value", fault.Invalid}, {map[string]any{"what": "goods", "words": strings.Repeat("x", 201)}, "words", fault.Invalid},
		},
		"drop":   {one("member", ""), unknown("cost"), one("why", " "), one("why", strings.Repeat("x", 2001))},
		"close":  {one("upto", ""), one("upto", "2026-02-27"), one("upto", "2026-04-30"), one("words", strings.Repeat("x", 501))},
		"cancel": {one("paper", ""), unknown("paper"), one("why", " "), one("why", strings.Repeat("x", 2001))},
	}
	c.WritesNothing(func() {
		for name, bads := range rows {
			for _, b := range bads {
				err := c.TryChanged(treasurer, orders()[name], b.change)
				faulttest.Want(t, err, b.kind, b.field, name, b.change)
			}
		}
	})
	for field, q := range map[string]desk.Commanded{
		"year": message.YearPapers{Year: 20}, "format": message.ExportYear{Year: 2026, Format: "pdf"}, "donor": message.DonorPapers{}, "boat": message.CostBook{}, "bin": message.BinBook{},
		"from": message.Statement{To: today}, "to": message.Statement{From: today, To: giftOn},
	} {
		_, err := desk.Ask[json.RawMessage](t.Context(), c.Client, desk.Asking{By: treasurer}, q)
		faulttest.Want(t, err, fault.Invalid, field)
	}
}
