package treasury_test

import (
	"context"
	"encoding/csv"
	"encoding/hex"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/treasury"
)

// filed brings a gift into the club, sells it for 780.00, and issues its paper, which
// certifies box 4a.
func filed(t *testing.T, c *desktest.Club, treasurer people.Actor, id boat.ID) {
	t.Helper()
	gift(t, c, id)
	c.Do(treasurer, message.SellBoat{Boat: id, On: today, Gross: usd(78_000), ArmsLength: true})
	c.Do(treasurer, issue(id, "p-"+string(id)))
	c.Settle()
}

func askCopyA(c *desktest.Club, by people.Actor, paper string) (message.CopyASheet, error) {
	return desk.Ask[message.CopyASheet](context.Background(), c.Client, desk.Asking{By: by}, message.CopyA{Paper: paper})
}

func numberOn(sheet message.CopyASheet) string {
	for _, l := range sheet.Boxes {
		if l.Label == "Donor's TIN" {
			return l.Value
		}
	}
	return "no such box"
}

// Copy A, with the whole number, is a treasurer's alone, and each opening stands in the book:
// whom it was, once a day. To anybody else nothing is shown, and nothing is written.
func TestCopyAIsATreasurersAlone(t *testing.T) {
	c := start(t)
	treasurer, second := c.Member(people.Treasurer), c.Member(people.Treasurer)
	filed(t, c, treasurer, "b1")
	c.Do(treasurer, message.StateDonorNumber{Boat: "b1", On: today, Number: "123456789", Salt: "s-1"})
	donor := c.Link("donor-of-b1", people.OwnPapers, "donor-of-b1")
	calendar := c.Link(treasurer.Person, people.Deadlines, string(treasurer.Person))
	others := []people.Actor{donor, calendar}
	for _, role := range people.Roles {
		if role != people.Treasurer {
			others = append(others, c.Member(role))
		}
	}
	c.Settle()
	c.WritesNothing(func() {
		for _, by := range others {
			_, err := askCopyA(c, by, "p-b1")
			faulttest.Want(t, err, fault.Forbidden, "", by)
			_, err = desk.Ask[message.Export](t.Context(), c.Client, desk.Asking{By: by}, message.CopiesA{Year: 2026})
			faulttest.Want(t, err, fault.Forbidden, "", by)
		}
		_, err := askCopyA(c, treasurer, "p-b9")
		faulttest.Want(t, err, fault.Unknown, "paper")
		_, err = desk.Ask[message.Export](t.Context(), c.Client, desk.Asking{By: treasurer}, message.CopiesA{Year: 20})
		faulttest.Want(t, err, fault.Invalid, "year")
	})

	opened := func() (by []string) {
		c.Settle()
		require.NoError(t, c.Log.EachOf(t.Context(), []message.Kind{message.CopyAOpened{}.Kind()}, func(e message.Event) error {
			by = append(by, e.Actor)
			return nil
		}))
		return by
	}
	table := func(by people.Actor) {
		t.Helper()
		assert.Contains(t, string(desktest.Ask[message.Export](c, by, message.CopiesA{Year: 2026}).File), "123-45-6789")
	}
	sheet, err := askCopyA(c, treasurer, "p-b1")
	require.NoError(t, err)
	assert.Equal(t, "123-45-6789", numberOn(sheet))
	assert.Equal(t, []string{treasurer.String()}, opened())
	table(treasurer) // of the same day
	assert.Len(t, opened(), 1)
	table(second) // the table alone is an opening
	assert.Equal(t, []string{treasurer.String(), second.String()}, opened())
	c.Clock.Advance(12 * time.Hour) // into the next day
	table(treasurer)
	assert.Equal(t, []string{treasurer.String(), second.String(), treasurer.String()}, opened())
}

// Only a Form 1098-C with box 4a, 5a or 5b is filed (its instructions); a cancelled one is not,
// and copy A of a year are those dated in it.
func TestOnlyWhatIsFiledHasACopyA(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	filed(t, c, treasurer, "b1")
	filed(t, c, treasurer, "b2")
	gift(t, c, "b3")
	c.Do(treasurer, message.StateClaim{Boat: "b3", Claim: usd(45_000), On: today})
	c.Do(treasurer, issue("b3", "p-b3")) // a letter of IRC 170(f)(8)
	gift(t, c, "b4")
	c.Do(treasurer, message.StateUse{Boat: "b4", On: today, Use: "learn-to-paddle fleet, weekly", From: today, To: today.AddDays(365), Regular: true, Significant: true})
	c.Do(treasurer, issue("b4", "p-b4"))
	c.Do(treasurer, message.CancelPaper{Paper: "p-b2", Why: "the name was wrong"})
	c.Settle()
	c.WritesNothing(func() {
		_, err := askCopyA(c, treasurer, "p-b3")
		faulttest.Want(t, err, fault.Conflict, "paper", "a letter")
		_, err = askCopyA(c, treasurer, "p-b2")
		faulttest.Want(t, err, fault.Conflict, "paper", "cancelled")
	})
	rows := func(year int) map[string]map[string]string {
		t.Helper()
		file := desktest.Ask[message.Export](c, treasurer, message.CopiesA{Year: year}).File
		records, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(file), "\ufeff"))).ReadAll()
		require.NoError(t, err)
		bySerial := map[string]map[string]string{}
		for _, r := range records[1:] {
			bySerial[r[0]] = map[string]string{}
			for i, head := range records[0] {
				bySerial[r[0]][head] = r[i]
			}
		}
		return bySerial
	}
	list := rows(2026)
	require.Len(t, list, 2)
	assert.Equal(t, "780.00", list["US-2026-0001"]["4c Gross proceeds from sale"])
	assert.Empty(t, list["US-2026-0004"]["4c Gross proceeds from sale"])
	assert.Equal(t, "yes", list["US-2026-0004"]["5a Not to be transferred before completion of material improvements or significant intervening use"])
	assert.Contains(t, list["US-2026-0004"]["5c Description of material improvements or significant intervening use and duration of use"], "weekly, from 2026-04-01 to 2027-04-01")
	assert.Empty(t, list["US-2026-0004"]["Donor's TIN"], "nobody told it")
	assert.Empty(t, rows(2025))
	assert.Len(t, desktest.Said[message.CopyAOpened](c, message.TreasuryPaper("p-b4")), 1)
	assert.Empty(t, desktest.Said[message.CopyAOpened](c, message.TreasuryPaper("p-b3")), "it was not shown")

	// A paper past keeping is in no table, and holds up no other.
	require.NoError(t, c.Vault.Destroy(t.Context(), "paper/p-b1"))
	assert.Len(t, rows(2026), 1)
	_, err := askCopyA(c, treasurer, "p-b1")
	faulttest.Want(t, err, fault.Unknown, "paper")
	assert.ErrorContains(t, err, "was kept until")
}

// A donor's number stands in clear in copy A alone: not in the book, not in any table, not in
// the log, not on the donor's copy, and it goes with the donor's data.
func TestADonorsNumberIsInClearInCopyAAlone(t *testing.T) {
	file := filepath.Join(t.TempDir(), "log")
	log, err := os.Create(file)
	require.NoError(t, err)
	t.Cleanup(func() { _ = log.Close() })
	c := startAs(t, func(kit desk.Kit) *desk.Desk {
		kit.Slog = slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))
		return newRoom(kit)
	})
	treasurer := c.Member(people.Treasurer)
	filed(t, c, treasurer, "b1")
	sheet, err := askCopyA(c, treasurer, "p-b1")
	require.NoError(t, err)
	assert.True(t, sheet.Lacking, "nobody told it yet")
	assert.Empty(t, numberOn(sheet))

	own := people.Member("donor-of-b1")
	c.Say("people.person/donor-of-b1", "", message.RoleGiven{Person: "donor-of-b1", Role: people.Treasurer})
	c.Settle()
	number := message.StateDonorNumber{Boat: "b1", On: today, Number: "987-65-4321", Salt: "s-1"}
	c.WritesNothing(func() {
		_, err := c.Try(own, number)
		faulttest.Want(t, err, fault.Forbidden, "", "the donor's own gift")
		err = c.TryChanged(treasurer, number, map[string]any{"number": "987-65-43210"})
		faulttest.Want(t, err, fault.Invalid, "number")
		assert.NotContains(t, err.Error(), "4321")
	})
	c.Do(treasurer, number)
	c.Settle()
	sheet, err = askCopyA(c, treasurer, "p-b1")
	require.NoError(t, err)
	assert.False(t, sheet.Lacking)
	assert.Equal(t, "987-65-4321", numberOn(sheet))

	// A number told again takes the place of the first; the next paper's donor's copy shows its end.
	number.Number, number.Salt = "12-3456789", "s-2"
	c.Do(treasurer, number)
	c.Do(treasurer, message.CancelPaper{Paper: "p-b1", Why: "the address was wrong"})
	c.Do(treasurer, issue("b1", "p2"))
	c.Settle()
	sheet, err = askCopyA(c, treasurer, "p2")
	require.NoError(t, err)
	assert.Equal(t, "12-3456789", numberOn(sheet))
	assert.Contains(t, string(desktest.Ask[message.Export](c, treasurer, message.CopiesA{Year: 2026}).File), "12-3456789")
	donor := c.Link("donor-of-b1", people.OwnPapers, "donor-of-b1")
	c.Settle()
	for _, by := range []people.Actor{treasurer, donor} {
		printed := desktest.Ask[message.Sheet](c, by, message.PrintPaper{Paper: "p2"})
		assert.Contains(t, printed.Text, "XX-XXX6789")
		assert.NotContains(t, printed.Text, "12-3456789")
	}

	c.Settle()
	said, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(said), "a donor's paper was opened", "the log was kept")
	everywhere := map[string]string{"the log": string(said)}
	rows, err := c.DB.Pool.Query(t.Context(), `SELECT schemaname || '.' || tablename FROM pg_tables WHERE schemaname NOT IN ('pg_catalog', 'information_schema')`)
	require.NoError(t, err)
	var tables []string
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		tables = append(tables, name)
	}
	require.NoError(t, rows.Err())
	assert.Subset(t, tables, []string{"ledger.event", "treasury.gift", "treasury.paper"})
	for _, name := range tables {
		everywhere[name] = c.DB.Dump(name)
	}
	for place, text := range everywhere {
		for _, digits := range []string{"987-65-4321", "987654321", "12-3456789", "123456789"} {
			assert.NotContains(t, text, digits, place)
			assert.NotContains(t, text, hex.EncodeToString([]byte(digits)), place)
		}
	}
	c.RebuildIsTheSame(treasury.Name)

	require.NoError(t, c.Vault.Destroy(t.Context(), "donor-of-b1"))
	sheet, err = askCopyA(c, treasurer, "p2")
	require.NoError(t, err)
	assert.True(t, sheet.Lacking, "it went with the donor's data")
	assert.Empty(t, numberOn(sheet))
}

// In another country's papers there is no copy A, and nothing asks for the number.
func TestOnlyPapersOfTheUnitedStatesHaveACopyA(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	filed(t, c, treasurer, "b1")
	c.Set("country", "CA")
	c.Set("currency", "CAD")
	boatOf(t, c, "b2", message.Gift, usd(0))
	receive(c, "b2")
	valued(c, "b2", "v2", 90_000, func(v *message.BoatValued) { v.AsItLies.Value.Currency, v.Purpose = "CAD", message.ForReceipt })
	c.Settle()
	c.Do(treasurer, issue("b2", "p-b2"))
	c.Settle()
	_, err := askCopyA(c, treasurer, "p-b2")
	faulttest.Want(t, err, fault.Conflict, "paper")
	_, err = c.Try(treasurer, message.StateDonorNumber{Boat: "b2", On: today, Number: "123456789", Salt: "s-1"})
	faulttest.Want(t, err, fault.Conflict, "boat")
	_, err = askCopyA(c, treasurer, "p-b1")
	assert.NoError(t, err, "what was filed before stays so")
}
