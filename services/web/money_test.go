package web

import (
	"archive/zip"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func TestAGiftGetsItsPaper(t *testing.T) {
	c := openClub(t, treasuryRoom)
	heron := c.ready("Heron", openCanoe())
	treasurer, administrator := c.enter("Marigold Finch", people.Treasurer), c.enter("Linus Alder", people.Administrator)
	at := "/boats/" + string(heron)

	assert.Equal(t, "1 gift has no paper yet", treasurer.open("/").says("task-no-paper"))
	waiting := treasurer.open("/papers")
	assert.Contains(t, waiting.says("waiting"), "Heron Gift from Odo Reed, received 2 March 2026")
	treasurer.done(at+"/claim", "state-claim", map[string]string{"claim": "120.50", "on": "2026-03-20"})
	assert.Contains(t, treasurer.open("/papers").says("waiting"), "Claim: 120.50 USD")

	form := treasurer.open(at + "/paper")
	assert.Contains(t, form.says("issue-paper"), "claim: 120.50 USD", "the facts on which it rests")
	refused := treasurer.fillIn(form, "issue-paper", nil)
	assert.Equal(t, http.StatusConflict, refused.status)
	assert.Contains(t, refused.text, "legal-name", "what is missing is said")
	administrator.done("/club/legal-name", "change-setting", map[string]string{"value": "Quillwater Paddlers"})
	issued := treasurer.fillIn(treasurer.open(at+"/paper"), "issue-paper", nil)
	require.Equal(t, http.StatusSeeOther, issued.status, issued.text)
	page := treasurer.open(issued.to())
	assert.Contains(t, page.says("papers"), "US-2026-0001")
	assert.Contains(t, page.says("waiting"), "Every gift has its paper.")

	c.Settle()
	paper := paperAddress(page)
	pdf := treasurer.get(paper + "/print")
	assert.Equal(t, `attachment; filename=US-2026-0001.pdf`, pdf.header.Get("Content-Disposition"))
	assert.True(t, strings.HasPrefix(pdf.text, "%PDF-"))

	donor := c.follow(textOf(all(treasurer.open(paper+"/link").root, "code")[0]))
	own := donor.open("/my/papers")
	assert.Contains(t, own.text, "US-2026-0001: Heron")
	mine := donor.get("/my" + paper + "/print")
	assert.Equal(t, pdf.text, mine.text, "the same paper, byte for byte")
	plain := donor.get("/my" + paper + "/text")
	assert.Equal(t, `attachment; filename=US-2026-0001.txt`, plain.header.Get("Content-Disposition"))
	assert.Contains(t, plain.text, "Odo Reed")
	assert.Contains(t, plain.text, "not tax advice")
	assert.Equal(t, plain.text, treasurer.get(paper+"/text").text)

	stranger := c.followPapersOf("Ben Sedge")
	assert.Equal(t, http.StatusNotFound, stranger.get("/my"+paper+"/print").status)
	assert.Equal(t, http.StatusNotFound, stranger.get("/my"+paper+"/text").status)
	assert.NotContains(t, stranger.open("/my/papers").text, "US-2026-0001")

	cancelled := treasurer.done(paper+"/cancel", "cancel-paper", map[string]string{"why": "the name was misspelt"})
	assert.Contains(t, cancelled.says("papers"), "cancelled: the name was misspelt")
	assert.Contains(t, cancelled.says("waiting"), "Heron", "it wants another")
	auditor := c.enter("Wren Moss", people.Auditor)
	audited := auditor.open("/papers")
	assert.NotContains(t, audited.text, "Odo Reed")
	assert.Nil(t, audited.byID("issue"))
	assert.Equal(t, http.StatusForbidden, auditor.get(paper+"/print").status)

	// An address for a calendar program, which knows no session.
	made := treasurer.done("/papers/clocks/feed", "give-calendar-link", nil)
	address, err := url.Parse(textOf(all(made.byID("feeds"), "code")[0]))
	require.NoError(t, err)
	feed := c.visitor().get(address.Path)
	assert.Equal(t, "text/calendar; charset=utf-8", feed.header.Get("Content-Type"))
	assert.Contains(t, feed.text, "BEGIN:VCALENDAR")
	assert.NotContains(t, feed.text, "Heron")
	session := strings.TrimSuffix(strings.Replace(address.Path, feedPath, message.LinkPath, 1), "/papers.ics")
	assert.Equal(t, http.StatusUnauthorized, c.visitor().fill(session, "open-link", nil).status, "it opens no page")
	for _, f := range all(made.byID("feeds"), "form") {
		if strings.HasPrefix(attr(f, "id"), "end-") {
			require.Equal(t, http.StatusSeeOther, treasurer.fillIn(made, attr(f, "id"), nil).status)
		}
	}
	c.Settle()
	assert.Equal(t, http.StatusNotFound, c.visitor().get(address.Path).status)
	assert.Equal(t, http.StatusNotFound, c.visitor().get(feedPath+"guess/papers.ics").status)

	// All papers of the year in one go: there is one to issue.
	assert.Contains(t, auditor.open("/papers/years/2026").says("ready"), "Heron")
	assert.Nil(t, auditor.open("/papers/years/2026").byID("issue-all"))
	assert.Contains(t, treasurer.open(attr(treasurer.open("/papers").byID("to-year"), "href")).says("ready"), "Issue this paper")
	asked := treasurer.fill("/papers/years/2026/issue", "issue-year", nil)
	require.Equal(t, http.StatusSeeOther, asked.status, asked.text)
	c.Settle()
	year := treasurer.open(asked.to())
	assert.Contains(t, year.says("issued"), "US-2026-0002 for Heron")
	assert.Contains(t, year.says("batches"), "1 of 1 issued")
	assert.Nil(t, year.byID("going"))
	none := treasurer.fill("/papers/years/2026/issue", "issue-year", nil)
	assert.Equal(t, http.StatusConflict, none.status)
	file := treasurer.get("/papers/years/2026/zip").text
	archive, err := zip.NewReader(strings.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	require.Len(t, archive.File, 1)
	assert.Equal(t, "US-2026-0002.pdf", archive.File[0].Name)
	assert.Contains(t, auditor.open("/papers/series").says("series"), "US, 2026 US-2026-0001 to US-2026-0002: 2 papers, 1 of them cancelled, 1 in place of a cancelled one. Cancelled papers keep their numbers. Missing: none. Twice: none.")
	assert.Equal(t, http.StatusNotFound, treasurer.get("/papers/years/none").status)
	c.RebuildIsTheSame(Name)
}

// paperAddress gives the address of the first paper of the list.
func paperAddress(page answer) string {
	for _, a := range all(page.byID("papers"), "a") {
		if at, print := strings.CutSuffix(attr(a, "href"), "/print"); print {
			return at
		}
	}
	return ""
}

// followPapersOf gives the browser of another donor with a private link.
func (c *club) followPapersOf(name string) *browser {
	c.t.Helper()
	id := people.ID(freshID())
	c.knows(id, message.DonorSort, name)
	link := c.Link(id, people.OwnPapers, string(id)).Link
	return c.follow(message.LinkPath + message.LinkTokenOf(c.Vault.Blind, link))
}

func TestMoneyOfAYear(t *testing.T) {
	c := openClub(t, treasuryRoom)
	heron := c.ready("Heron", openCanoe())
	c.Say(message.RepairBoat(heron), string(heron), message.PartBooked{
		Boat: heron, Entry: "p1", Words: "=rod", Cost: usd(1250), PaidBy: message.ClubPays, On: clock.NewDate(2026, time.March, 5)})
	treasurer := c.enter("Marigold Finch", people.Treasurer)
	at := "/boats/" + string(heron)
	page := treasurer.open(at)
	for _, id := range []string{"do-sell-boat", "do-state-claim", "do-issue-paper", "cost-book"} {
		assert.NotNil(t, page.byID(id), id)
	}
	assert.Nil(t, page.byID("do-hand-over"), "that is a coordinator's")
	refused := treasurer.fill(at+"/improvement", "state-improvement", map[string]string{"work": "hull wash; new seat pad", "paid_by": "club", "major": "yes"})
	assert.Contains(t, refused.says("f-work-error"), "no material improvement by themselves")
	treasurer.done(at+"/use", "state-use", map[string]string{"use": "learn-to-paddle fleet", "from": "2026-04-01", "to": "2026-10-01", "regular": "yes", "significant": "yes"})
	assert.Contains(t, treasurer.open(at+"/paper").text, "significant use attested on")
	treasurer.done(at+"/withdraw-exception", "withdraw-exception", map[string]string{"sort": "significant use", "why": "the fleet was given up"})
	assert.NotContains(t, treasurer.open(at+"/paper").text, "significant use attested on")
	c.enter("Tobin Marsh", people.Administrator).done("/club/programmes", "change-setting", map[string]string{"value": "youth group; households"})
	assert.Nil(t, treasurer.open("/money/statement").byID("programmes"), "no boat is under one")
	treasurer.done(at+"/programme", "choose-programme", map[string]string{"programme": "youth group"})
	assert.Contains(t, treasurer.open(at).says("programme"), "youth group")
	assert.Contains(t, treasurer.open("/money/statement").says("programmes"), "youth group 1 12.50 USD")
	list := treasurer.open(attr(treasurer.open("/money").byID("to-count"), "href"))
	assert.Contains(t, list.says("left"), "1 of 1 not counted")
	counted := treasurer.fillIn(list, "there-"+string(heron), nil)
	require.Equal(t, http.StatusSeeOther, counted.status, counted.text)
	c.Settle()
	assert.Contains(t, treasurer.open(counted.to()).says("boats"), "There on")
	unsaid := treasurer.fill(at+"/count", "count-boat", map[string]string{"found": "missing"})
	assert.Contains(t, unsaid.says("f-words-error"), "say what happened")
	assert.Contains(t, treasurer.open("/money/statement").says("counted"), "1 there")
	treasurer.done(at+"/sell", "sell-boat", map[string]string{"on": "2026-03-20", "gross": "310", "arms_length": "yes"})
	c.Settle()
	assert.Nil(t, treasurer.open(at).byID("do-sell-boat"), "a boat is sold once")
	treasurer.done(at+"/sale/refund", "refund-buyer", map[string]string{"on": "2026-03-21", "refund": "10", "words": "a rudder was missing"})
	assert.Contains(t, treasurer.open(at).says("sold"), "got 10.00 USD of it back")
	tooMuch := treasurer.fill(at+"/sale/back", "take-sale-back", map[string]string{"on": "2026-03-22", "refund": "300.01", "words": "it leaks"})
	assert.Contains(t, tooMuch.says("f-refund-error"), "300.00 USD")
	treasurer.done(at+"/sale/back", "take-sale-back", map[string]string{"on": "2026-03-22", "refund": "300", "words": "it leaks"})
	page = treasurer.open(at)
	assert.Contains(t, page.says("sale-back"), "it leaks")
	assert.NotNil(t, page.byID("do-sell-boat"), "it is the club's again")
	treasurer.done(at+"/sell", "sell-boat", map[string]string{"on": "2026-03-22", "gross": "310", "arms_length": "yes"})
	c.Settle()
	money := treasurer.open("/money")
	assert.Contains(t, money.says("totals"), "Heron sold 0.00 USD 12.50 USD 12.50 USD 310.00 USD")
	assert.Contains(t, treasurer.open("/money?year=2024").says("nothing"), "Nothing was paid")
	book := treasurer.open(at + "/money")
	assert.Contains(t, book.says("balances"), "cash 297.50 USD", "310.00 in, 12.50 out")
	table := treasurer.get("/money/2026/csv")
	assert.Equal(t, "attachment; filename=boats-2026.csv", table.header.Get("Content-Disposition"))
	assert.Contains(t, table.text, "Heron")
	sheet := treasurer.get("/money/2026/xlsx")
	assert.True(t, strings.HasPrefix(sheet.text, "PK"), "a spreadsheet is a zip file")
	journal := treasurer.get("/money/2026/journal")
	assert.Equal(t, "attachment; filename=books-2026.journal", journal.header.Get("Content-Disposition"))
	assert.Contains(t, journal.text, "12.50 USD")
	statement := treasurer.open("/money/statement?from=2026-03-01&to=2026-03-10&known=bad")
	assert.Contains(t, statement.says("accounts"), "boat:parts 0.00 USD 12.50 USD 12.50 USD")
	assert.NotContains(t, statement.says("accounts"), "sales")
	assert.Contains(t, statement.says("wrong"), "not written")
	assert.Contains(t, treasurer.open("/money/statement?known=2026-01-01").says("nothing"), "Nothing was posted")
	assert.Contains(t, treasurer.open("/money/statement?from=2026-03-02&to=2026-03-01").says("wrong"), "before")
	treasurer.done("/money/close", "close-period", map[string]string{"upto": "2026-02-28"})
	assert.Contains(t, treasurer.open("/money/statement").says("closed"), "28")
	assert.Equal(t, http.StatusNotFound, treasurer.get("/money/2026/doc").status)
	assert.Equal(t, http.StatusUnprocessableEntity, treasurer.get("/money?year=12").status)

	bank := treasurer.open(attr(treasurer.open("/money").byID("to-bank"), "href"))
	assert.Contains(t, bank.says("postings"), "310.00 USD")
	unclear := treasurer.sendFiles(bank, "read-bank", nil, map[string][]byte{"bank.csv": []byte("Date,Text,Amount\n02/03/2026,Dues,30\n")})
	assert.Equal(t, http.StatusUnprocessableEntity, unclear.status)
	assert.Contains(t, unclear.says("f-order-error"), "day or the month")
	file := "Fecha;Concepto;Importe\n22.03.2026;From the buyer;310,00\n04.03.2026;Rods;-12,5\n01.03.2026;Dues;30\n"
	read := treasurer.sendFiles(treasurer.open("/money/bank"), "read-bank", nil, map[string][]byte{"bank.csv": []byte(file)})
	require.Equal(t, http.StatusSeeOther, read.status, read.text)
	c.Settle()
	bank = treasurer.open(read.to())
	assert.Contains(t, bank.says("proposed"), "22 March 2026, 310.00 USD: From the buyer Books: 22 March 2026: Heron sold")
	assert.Contains(t, bank.says("rows"), "30.00 USD: Dues")
	var forms []string
	for _, f := range all(bank.byID("proposed"), "form") {
		forms = append(forms, attr(f, "id"))
	}
	require.Len(t, forms, 2)
	same := treasurer.fillIn(bank, forms[1], nil)
	require.Equal(t, http.StatusSeeOther, same.status, same.text)
	c.Settle()
	bank = treasurer.open(same.to())
	assert.Contains(t, bank.says("matched"), "From the buyer")
	row := treasurer.open(attr(all(bank.byID("proposed"), "a")[1], "href"))
	assert.Contains(t, row.text, "2026-03-05: =rod")
	aside := treasurer.fill(attr(all(bank.byID("rows"), "a")[0], "href"), "set-bank-row-aside", map[string]string{"why": "dues"})
	require.Equal(t, http.StatusSeeOther, aside.status, aside.text)
	c.Settle()
	assert.Contains(t, treasurer.open("/money/bank").says("aside"), "dues")
	assert.NotContains(t, c.enter("Wren Moss", people.Auditor).open("/money/bank").text, "From the buyer", "an auditor reads no names")
	free := treasurer.fill(attr(all(treasurer.open("/money/bank").byID("aside"), "a")[0], "href"), "free-bank-row", nil)
	require.Equal(t, http.StatusSeeOther, free.status, free.text)

	bad := treasurer.fill(at+"/sell", "sell-boat", map[string]string{"gross": "1,234.50"})
	assert.Equal(t, http.StatusUnprocessableEntity, bad.status)
	assert.Contains(t, bad.says("f-gross-error"), "without grouping")
	assert.Equal(t, "1,234.50", bad.value("gross"))
}

func TestPeopleAndRoles(t *testing.T) {
	c := openClub(t)
	administrator := c.enter("Linus Alder", people.Administrator)
	bad := administrator.fill("/people/new", "register-person", map[string]string{"details.mail": "not an address", "details.name": "Wren Moss", "consent": "yes"})
	require.Equal(t, http.StatusUnprocessableEntity, bad.status)
	assert.NotEmpty(t, bad.says("f-details-mail-error"))
	assert.Equal(t, "Wren Moss", bad.value("details.name"))
	in := administrator.fillIn(bad, "register-person", map[string]string{"details.mail": "wren@example.org", "details.name": "Wren Moss", "consent": "yes", "sort": "member", "roles": "steward|repairer"})
	require.Equal(t, http.StatusSeeOther, in.status, in.text)
	at, _, _ := strings.Cut(in.to(), "?")
	page := administrator.open(in.to())
	assert.Contains(t, page.says("roles"), "steward No longer steward repairer No longer repairer Make coordinator")
	assert.Contains(t, page.says("details"), "wren@example.org")

	given := administrator.done(at, "give-treasurer", nil)
	assert.Contains(t, given.says("roles"), "No longer treasurer")
	taken := administrator.done(at, "take-steward", nil)
	assert.Contains(t, taken.says("roles"), "Make steward")
	changed := administrator.done(at+"/details", "change-person", map[string]string{"details.phone": "+1 555 0102"})
	assert.Contains(t, changed.says("details"), "+1 555 0102")
	assert.Contains(t, changed.says("details"), "wren@example.org", "what is not touched stays")

	found := administrator.open("/people?q=MOSS")
	assert.Contains(t, found.says("people"), "Wren Moss member repairer, treasurer")
	assert.NotContains(t, found.says("people"), "Linus")
	own := "/people/" + string(administrator.who)
	assert.Equal(t, http.StatusConflict, administrator.fillIn(administrator.open(own), "take-administrator", nil).status, "the last one stays")

	erased := administrator.done(at+"/erase", "erase-person", nil)
	assert.Contains(t, erased.says("erased"), "they asked for it")
	assert.NotContains(t, erased.text, "Wren")
	assert.NotContains(t, administrator.open("/people").text, "Wren")
}

func TestTwoEntriesThatMayBeOnePerson(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.asks()
	c.asks("details.name", "Odalys M. Fenwright")
	coordinator := c.enter("Marigold Finch", people.Coordinator)
	page := coordinator.open("/doubles")
	assert.Contains(t, page.text, "They share: mail.")
	var form string
	for _, f := range all(page.root, "form") {
		if strings.HasPrefix(attr(f, "id"), "two-") {
			form = attr(f, "id")
		}
	}
	after := coordinator.done("/doubles", form, nil)
	assert.Equal(t, "There is nothing to judge.", after.says("none"))
}

func TestSettingsOfTheClub(t *testing.T) {
	c := openClub(t)
	administrator := c.enter("Linus Alder", people.Administrator)
	bad := administrator.fill("/club/offer-days", "change-setting", map[string]string{"value": "soon"})
	assert.Equal(t, http.StatusUnprocessableEntity, bad.status)
	assert.Contains(t, bad.says("f-value-error"), "a whole number from 1 to 90")
	assert.Equal(t, "soon", bad.value("value"))
	list := administrator.done("/club/offer-days", "change-setting", map[string]string{"value": "10"})
	assert.Contains(t, list.says("setting-offer-days"), "10 set by the club")
	assert.Contains(t, administrator.done("/club/country", "change-setting", map[string]string{"value": "CA"}).says("setting-country"), "CA")
	assert.Equal(t, http.StatusNotFound, administrator.get("/club/no-such-thing").status)
	assert.Equal(t, http.StatusNotFound, administrator.send("/club/no-such-thing", url.Values{"key": {freshID()}, "value": {"1"}}).status)
	auditor := c.enter("Wren Moss", people.Auditor)
	assert.Contains(t, auditor.open("/club").says("setting-offer-days"), "10")
	assert.Equal(t, http.StatusForbidden, auditor.get("/club/offer-days").status)
}

func TestTheBookIsReadAndChecked(t *testing.T) {
	c := openClub(t)
	for range 30 {
		c.ready("Heron", openCanoe())
	}
	auditor := c.enter("Wren Moss", people.Auditor)
	book := auditor.open("/book")
	assert.Equal(t, "everything", book.says("behind"))
	checked := auditor.fillIn(book, "verify", nil)
	assert.Equal(t, http.StatusOK, checked.status)
	assert.Contains(t, checked.says("verified"), "The book is whole: "+book.says("events")+" lines")
	earlier := auditor.open(attr(book.byID("earlier"), "href"))
	assert.NotEqual(t, book.says("lines"), earlier.says("lines"))

	c.DB.Exec(`ALTER TABLE ledger.event DISABLE TRIGGER ALL`)
	c.DB.Exec(`UPDATE ledger.event SET actor = 'member/nobody' WHERE position = 7`)
	broken := auditor.fillIn(book, "verify", nil)
	assert.Contains(t, broken.says("verified"), "The book is not whole")
	assert.Contains(t, broken.says("verified"), "At line 7")
}
