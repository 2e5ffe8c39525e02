package treasury_test

import (
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
	"refloat.example/services/treasury"
)

// bankFile is the season's cash: 300.00 out for "bought" on 20 March, 25.00 and 99.00 out for
// parts on 1 April (the second taken back), 470.00 in for the sale on 1 April.
const bankFile = "Date,Description,Amount,Reference\n" +
	"2026-03-23,P. Quill boat,-300.00,1\n" +
	"2026-04-01,Dues,40.00,2\n" +
	"2026-04-01,Dues,40.00,2\n" +
	"2026-03-30,From A. Buyer,470.00,3\n"

func TestTheBanksRowsAreHeldAgainstTheBooks(t *testing.T) {
	c := start(t)
	season(t, c)
	treasurer := c.Member(people.Treasurer)
	ask := func(by people.Actor) message.BankMatches {
		c.Settle()
		return desktest.Ask[message.BankMatches](c, by, message.BankList{From: clock.MustDate("2026-01-01"), To: today})
	}
	assert.Len(t, ask(treasurer).Postings, 3, "what was taken back never came to the bank")
	c.Do(treasurer, message.ReadBank{File: bankFile})
	list := ask(treasurer)
	require.Len(t, list.Proposed, 2)
	assert.Equal(t, "P. Quill boat", list.Proposed[0].Row.Text)
	assert.Equal(t, "paid-bought", list.Proposed[0].Posting.Entry)
	assert.Equal(t, "sale-bought", list.Proposed[1].Posting.Entry)
	assert.False(t, list.Proposed[1].Others)
	require.Len(t, list.Rows, 2, "two rows that say the same are two")
	require.Len(t, list.Postings, 1)
	assert.Equal(t, "part-p1", list.Postings[0].Entry)
	assert.Equal(t, usd(-2_500), list.Postings[0].Amount)
	assert.Empty(t, ask(c.Member(people.Auditor)).Proposed[0].Row.Text, "the words on the bank's list name people")

	// The same file again, and a later one that overlaps it.
	c.WritesNothing(func() { c.Do(treasurer, message.ReadBank{File: bankFile}) })
	c.Settle()
	reply := c.Do(treasurer, message.ReadBank{File: strings.Replace(bankFile, "2026-03-23,P. Quill boat,-300.00,1\n", "2026-04-01,Dues,40.00,2\n", 1)})
	assert.Len(t, reply.Events, 1, "the third of its sort is new")

	sale := message.MatchBankRow{Row: list.Proposed[1].Row.Row, Posting: list.Proposed[1].Posting.Posting}
	c.Do(treasurer, sale)
	c.Do(treasurer, message.SetBankRowAside{Row: list.Rows[0].Row, Why: "members' dues"})
	after := ask(treasurer)
	require.Len(t, after.Matched, 1)
	assert.Equal(t, "bought sold", strings.TrimPrefix(after.Matched[0].Posting.Words, "Heron "))
	require.Len(t, after.Aside, 1)
	assert.Equal(t, "members' dues", after.Aside[0].Why)
	assert.Len(t, after.Rows, 2)

	_, err := c.Try(treasurer, sale)
	faulttest.Want(t, err, fault.Conflict, "row")
	_, err = c.Try(treasurer, message.MatchBankRow{Row: after.Rows[0].Row, Posting: sale.Posting})
	faulttest.Want(t, err, fault.Conflict, "entry", "matched already")
	_, err = c.Try(treasurer, message.MatchBankRow{Row: after.Rows[0].Row, Posting: list.Postings[0].Posting})
	faulttest.Want(t, err, fault.Conflict, "entry", "of another amount")
	assert.ErrorContains(t, err, "the bank says 40.00 USD, the entry -25.00 USD")
	_, err = c.Try(treasurer, message.MatchBankRow{Row: list.Rows[0].Row, Posting: list.Postings[0].Posting})
	faulttest.Want(t, err, fault.Conflict, "row", "it was set aside")
	c.Do(treasurer, message.FreeBankRow{Row: sale.Row})
	c.Do(treasurer, message.FreeBankRow{Row: list.Rows[0].Row})
	_, err = c.Try(treasurer, message.FreeBankRow{Row: sale.Row})
	faulttest.Want(t, err, fault.Conflict, "row")
	again := message.SetBankRowAside{Row: list.Rows[0].Row, Why: "members' dues"}
	c.Do(treasurer, again) // what was taken back can be said again
	_, err = c.Try(treasurer, again)
	faulttest.Want(t, err, fault.Conflict, "row", "it was set aside")
	c.Do(treasurer, message.FreeBankRow{Row: list.Rows[0].Row})
	assert.Len(t, ask(treasurer).Proposed, 2)

	// After five times on a connection PostgreSQL keeps one plan for all questions, which
	// may look for the days of one that has none.
	for range 40 {
		one := desktest.Ask[message.BankMatches](c, treasurer, message.BankList{Row: sale.Row})
		require.Len(t, one.Proposed, 1)
		require.Equal(t, sale.Row, one.Proposed[0].Row.Row)
	}

	// A second row of the sale's amount: the entry is matched with one of them.
	c.Do(treasurer, message.ReadBank{File: "Date,Amount\n2026-04-01,470.00\n"})
	twice := ask(treasurer)
	require.Len(t, twice.Proposed, 2)
	assert.True(t, twice.Proposed[1].Others, "a person decides which")
	assert.Equal(t, today, twice.Proposed[1].Row.On, "the nearest day first")
	c.Do(treasurer, message.MatchBankRow{Row: twice.Proposed[1].Row.Row, Posting: sale.Posting})
	_, err = c.Try(treasurer, sale)
	faulttest.Want(t, err, fault.Conflict, "entry", "matched with another row")
	c.Settle()
	c.RebuildIsTheSame(treasury.Name)
}

func TestWhoAndWhatOfTheBankIsRefused(t *testing.T) {
	c := start(t)
	season(t, c)
	treasurer := c.Member(people.Treasurer)
	read := message.ReadBank{File: bankFile}
	c.Do(treasurer, read)
	c.Settle()
	list := desktest.Ask[message.BankMatches](c, treasurer, message.BankList{From: clock.MustDate("2026-01-01"), To: today})
	match := message.MatchBankRow{Row: list.Proposed[0].Row.Row, Posting: list.Proposed[0].Posting.Posting}
	aside := message.SetBankRowAside{Row: list.Rows[0].Row, Why: "dues"}
	for _, order := range []desk.Commanded{read, match, aside, message.FreeBankRow{Row: list.Rows[0].Row}} {
		c.OnlyFor("donor-of-given", order, people.Treasurer)
	}
	c.WritesNothing(func() {
		for _, bad := range []struct {
			order  desk.Commanded
			change map[string]any
			field  string
			kind   fault.Kind
		}{
			{read, map[string]any{"file": ""}, "file", fault.Invalid},
			{read, map[string]any{"file": "Date,Amount\n2026-04-02,1\n"}, "file", fault.Invalid},
			{read, map[string]any{"decimal": "dot"}, "decimal", fault.Invalid},
			{read, map[string]any{"order": "year first"}, "order", fault.Invalid},
			{read, map[string]any{"file": "Date,Amount\n01/02/2026,1\n"}, "order", fault.Invalid},
			{match, map[string]any{"row": "a b"}, "row", fault.Invalid},
			{match, map[string]any{"row": "nowhere"}, "row", fault.Unknown},
			{match, map[string]any{"entry": ""}, "entry", fault.Invalid},
			{match, map[string]any{"boat": "a/b"}, "boat", fault.Invalid},
			{match, map[string]any{"entry": "nowhere"}, "entry", fault.Unknown},
			{aside, map[string]any{"why": " "}, "why", fault.Invalid},
			{aside, map[string]any{"why": strings.Repeat("x", 501)}, "why", fault.Invalid},
			{aside, map[string]any{"row": "nowhere"}, "row", fault.Unknown},
			{message.FreeBankRow{}, map[string]any{"row": ""}, "row", fault.Invalid},
		} {
			faulttest.Want(t, c.TryChanged(treasurer, bad.order, bad.change), bad.kind, bad.field, bad.change)
		}
	})
	_, err := desk.Ask[message.BankMatches](t.Context(), c.Client, desk.Asking{By: treasurer}, message.BankList{From: today})
	faulttest.Want(t, err, fault.Invalid, "to")
	_, err = desk.Ask[message.BankMatches](t.Context(), c.Client, desk.Asking{By: c.Member(people.Steward)}, message.BankList{From: today, To: today})
	faulttest.Want(t, err, fault.Forbidden, "")
}
