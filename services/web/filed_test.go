package web

import (
	"archive/zip"
	"encoding/csv"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// filed sells a gift for 780.00 and issues its paper, which certifies box 4a. It gives the
// paper's address and the browser of its donor.
func (c *club) filed(treasurer *browser) (paper string, donor *browser) {
	c.t.Helper()
	heron := c.ready("Heron", openCanoe())
	c.Set("legal-name", "Quillwater Paddlers")
	c.Set("registration-number", "00-0000000")
	c.Set("address", "4 Mill Lane; Amberjay")
	c.Set("qualified", "yes")
	c.Settle()
	giver := c.giverOf(string(heron))
	sealed, err := c.Vault.Seal(c.t.Context(), string(giver), message.SealDetails, message.PersonDetails{Name: "Odo Reed", Mail: "o@example.org", Address: "12 Quay Street"})
	require.NoError(c.t, err)
	c.Say(message.Person(giver), "", message.PersonChanged{Person: giver, Sealed: string(sealed)})
	c.Settle()
	at := "/boats/" + string(heron)
	treasurer.done(at+"/claim", "state-claim", map[string]string{"claim": "900", "on": "2026-03-10"})
	treasurer.done(at+"/sell", "sell-boat", map[string]string{"on": "2026-03-20", "gross": "780", "arms_length": "yes"})
	c.Settle()
	page := treasurer.done(at+"/paper", "issue-paper", map[string]string{"on": "2026-03-21"})
	c.Settle()
	paper = paperAddress(page)
	return paper, c.follow(textOf(all(treasurer.open(paper+"/link").root, "code")[0]))
}

func (c *club) giverOf(id string) (giver people.ID) {
	c.t.Helper()
	require.NoError(c.t, c.DB.Pool.QueryRow(c.t.Context(), `SELECT doc->>'giver' FROM web.boat WHERE id = $1`, id).Scan(&giver))
	return giver
}

// IRC 170(f)(12)(B)(i) wants the donor's number on a filed Form 1098-C; 26 CFR 301.6109-4(a)(1)
// lets the donor's copies bear its last four digits alone.
func TestATreasurerWritesCopyAOut(t *testing.T) {
	c := openClub(t, treasuryRoom)
	treasurer := c.enter("Marigold Finch", people.Treasurer)
	paper, donor := c.filed(treasurer)
	list := treasurer.open("/papers")
	copyA := paper + "/copy-a"
	var offered []string
	for _, a := range all(list.byID("papers"), "a") {
		offered = append(offered, attr(a, "href"))
	}
	assert.Contains(t, offered, copyA)
	serial := "US-2026-0001"

	// Who asks for the number: the page says that it is lacking, and leads to its form.
	lacking := treasurer.open(copyA)
	assert.Contains(t, lacking.says("lacking"), "not known")
	form := attr(all(lacking.byID("lacking"), "a")[0], "href")
	for typed, says := range map[string]string{"": "", "123-45-678": "nine digits", "123-45-67890": "nine digits"} {
		bad := treasurer.fill(form, "state-donor-number", map[string]string{"number": typed})
		assert.Equal(t, http.StatusUnprocessableEntity, bad.status, typed)
		assert.Contains(t, bad.says("f-number-error"), says, typed)
	}
	treasurer.done(form, "state-donor-number", map[string]string{"number": "987 65 4321", "on": "2026-03-22"})
	c.Settle()
	assert.Empty(t, treasurer.open(form).value("number"), "what is kept is not shown in the form again")

	page := treasurer.open(copyA)
	assert.Nil(t, page.byID("lacking"))
	for _, says := range []string{
		"Donor's TIN 987-65-4321", "Donor's name Odo Reed", "Donee's name Quillwater Paddlers", "1 Date of contribution 2026-03-02", "2a Odometer mileage leave empty",
		"4b Date of sale 2026-03-20", "4c Gross proceeds from sale 780.00", "7 Donor may not claim a deduction of more than $500 leave empty",
	} {
		assert.Contains(t, page.says("boxes"), says)
	}
	table := treasurer.get(attr(treasurer.open("/papers/years/2026").byID("copies-a"), "href"))
	assert.Equal(t, "attachment; filename=1098-C-copy-A-2026.csv", table.header.Get("Content-Disposition"))
	assert.Equal(t, "no-store", table.header.Get("Cache-Control"))
	records, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(table.text, "\ufeff"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, records, 2)
	assert.Contains(t, records[1], "987-65-4321")
	assert.Contains(t, records[1], "780.00")
	assert.Equal(t, serial, records[1][0])
	assert.Equal(t, http.StatusNotFound, treasurer.get("/papers/years/none/copy-a").status)

	// The buyer gets money back: the boat's page calls the paper wrong until it is cancelled.
	boat := strings.TrimSuffix(form, "/donor-number")
	assert.Nil(t, treasurer.open(boat).byID("stale-paper"))
	treasurer.done(boat+"/sale/refund", "refund-buyer", map[string]string{"on": "2026-03-25", "refund": "80", "words": "a rudder was missing"})
	c.Settle()
	assert.Contains(t, treasurer.open(boat).says("stale-paper"), serial+" is wrong now")
	assert.Contains(t, treasurer.open(copyA).says("boxes"), "4c Gross proceeds from sale 780.00", "copy A is of the paper as it was issued")

	// The next paper's copies for the donor show its end; the rest of the pages nothing of it.
	treasurer.done(paper+"/cancel", "cancel-paper", map[string]string{"why": "the address was misspelt"})
	c.Settle()
	assert.Equal(t, http.StatusConflict, treasurer.get(copyA).status, "a cancelled paper is not filed")
	assert.NotContains(t, treasurer.open("/papers").text, "Copy A of "+serial)
	assert.Nil(t, treasurer.open(boat).byID("stale-paper"))
	issued := treasurer.done(boat+"/paper", "issue-paper", nil)
	c.Settle()
	next := paperAddress(issued)
	for _, plain := range []answer{treasurer.get(next + "/text"), donor.get("/my" + next + "/text")} {
		assert.Contains(t, plain.text, "XXX-XX-4321")
		assert.NotContains(t, plain.text, "987-65")
	}
	administrator, auditor := c.enter("Linus Alder", people.Administrator), c.enter("Wren Moss", people.Auditor)
	for _, path := range []string{boat, boat + "/history", "/papers", "/papers/years/2026", "/search?q=4321", "/book"} {
		for _, by := range []*browser{treasurer, administrator, auditor} {
			a := by.get(path)
			assert.NotContains(t, a.text, "987-65", path)
			assert.NotContains(t, a.text, "987654321", path)
		}
	}

	// Nobody but a treasurer is shown it, and the book says who was.
	for _, address := range []string{next + "/copy-a", "/papers/years/2026/copy-a", form} {
		for _, role := range people.Roles {
			if role != people.Treasurer {
				assert.Equal(t, http.StatusForbidden, c.enter("Ben Sedge", role).get(address).status, "%s %s", role, address)
			}
		}
		assert.Equal(t, http.StatusForbidden, donor.get(address).status, address)
		assert.Equal(t, http.StatusNotFound, donor.get("/my"+address).status, address)
	}
	for _, rt := range apiRoutes() {
		assert.NotContains(t, rt.path, "copy-a", "a token opens no copy A")
	}
	c.Settle()
	shown := administrator.open(next + "/readings")
	assert.Contains(t, shown.says("readings"), "Marigold Finch", "as plain text")
	assert.Contains(t, shown.says("readings"), "the donor’s private link")
	assert.NotContains(t, shown.says("readings"), "copy A", "it was refused, not shown")
	assert.NotContains(t, auditor.open(next+"/readings").text, "Marigold Finch", "an auditor reads no names")
	assert.Contains(t, treasurer.open(next+"/copy-a").says("boxes"), "4c Gross proceeds from sale 700.00")
	c.Settle()
	assert.Contains(t, administrator.open(next+"/readings").text, "Marigold Finch, copy A with the donor’s number")
	c.RebuildIsTheSame(Name)
}

// Each way to be shown what a paper says writes down who was shown it, by itself.
func TestWhoeverIsShownAPaperStandsInTheBook(t *testing.T) {
	c := openClub(t, treasuryRoom)
	treasurer := c.enter("Marigold Finch", people.Treasurer)
	paper, donor := c.filed(treasurer)
	script := treasurer.program()
	count := func() (readings []string) {
		c.Settle()
		require.NoError(t, c.Log.EachOf(t.Context(), []message.Kind{message.PaperRead{}.Kind(), message.CopyAOpened{}.Kind()}, func(e message.Event) error {
			readings = append(readings, string(e.Kind)+" "+e.Actor)
			return nil
		}))
		return readings
	}
	member := people.Member(treasurer.who).String()
	require.Empty(t, count(), "to issue a paper and to see the list of papers shows nothing of what it says")
	for _, path := range []string{"/papers", "/papers/years/2026", "/papers/series", paper + "/proof", paper + "/link", "/api/papers"} {
		assert.NotContains(t, treasurer.get(path).text, "Donor's TIN")
	}
	assert.NotContains(t, donor.open("/my/papers").text, "12 Quay Street")
	require.Empty(t, count())
	for _, way := range []struct {
		name string
		show func() (status int, shown string)
		has  string
		kind message.Kind
		link bool
	}{
		{"page, PDF", func() (int, string) { a := treasurer.get(paper + "/print"); return a.status, a.text }, "%PDF-", message.PaperRead{}.Kind(), false},
		{"plain text, for a mail", func() (int, string) { a := treasurer.get(paper + "/text"); return a.status, a.text }, "Odo Reed", message.PaperRead{}.Kind(), false},
		{"a year's ZIP", func() (int, string) {
			a := treasurer.get("/papers/years/2026/zip")
			archive, err := zip.NewReader(strings.NewReader(a.text), int64(len(a.text)))
			require.NoError(t, err)
			require.Len(t, archive.File, 1)
			return a.status, archive.File[0].Name
		}, "US-2026-0001.pdf", message.PaperRead{}.Kind(), false},
		{"copy A", func() (int, string) { a := treasurer.get(paper + "/copy-a"); return a.status, a.text }, "Odo Reed", message.CopyAOpened{}.Kind(), false},
		{"a year's table of copies A", func() (int, string) {
			a := treasurer.get("/papers/years/2026/copy-a")
			return a.status, a.text
		}, "Odo Reed", message.CopyAOpened{}.Kind(), false},
		{"a program, PDF", func() (int, string) {
			a := script.ask("GET", "/api"+paper+"/print", "", nil)
			return a.status, string(a.body)
		}, "%PDF-", message.PaperRead{}.Kind(), false},
		{"a program, ZIP", func() (int, string) {
			a := script.ask("GET", "/api/papers/years/2026/zip", "", nil)
			return a.status, string(a.body)
		}, "US-2026-0001.pdf", message.PaperRead{}.Kind(), false},
		{"the donor's page, PDF", func() (int, string) { a := donor.get("/my" + paper + "/print"); return a.status, a.text }, "%PDF-", message.PaperRead{}.Kind(), true},
		{"the donor's page, plain text", func() (int, string) { a := donor.get("/my" + paper + "/text"); return a.status, a.text }, "Odo Reed", message.PaperRead{}.Kind(), true},
	} {
		c.Clock.Advance(24 * time.Hour) // a reader is written down once a day
		before := len(count())
		for range 2 {
			status, shown := way.show()
			require.Equal(t, http.StatusOK, status, "%s: %s", way.name, shown)
			assert.Contains(t, shown, way.has, way.name)
		}
		now := count()
		require.Len(t, now, before+1, way.name)
		if last := now[before]; way.link {
			assert.True(t, strings.HasPrefix(last, string(way.kind)+" link/"), "%s: %s", way.name, last)
		} else {
			assert.Equal(t, string(way.kind)+" "+member, last, way.name)
		}
	}

	// Who was shown it is for administrators and auditors, for programs as on the pages.
	auditor := c.enter("Wren Moss", people.Auditor).program()
	assert.Contains(t, string(auditor.ask("GET", "/api/papers", "", nil).body), `"reads"`)
	assert.NotContains(t, string(script.ask("GET", "/api/papers", "", nil).body), `"reads"`)

	// A paper past keeping holds up no archive, and nobody is shown it.
	require.NoError(t, c.Vault.Destroy(t.Context(), strings.TrimPrefix(strings.Replace(paper, "/papers/", "paper/", 1), "/")))
	before := len(count())
	file := treasurer.get("/papers/years/2026/zip")
	require.Equal(t, http.StatusOK, file.status, file.text)
	archive, err := zip.NewReader(strings.NewReader(file.text), int64(len(file.text)))
	require.NoError(t, err)
	assert.Empty(t, archive.File)
	assert.Len(t, count(), before)
}

// IRC 170(f)(12)(B)(i): the form for the number is offered where a filed Form 1098-C stands, or
// a sale or an attested exception may bring one.
func TestTheNumberIsAskedForWhereAPaperMayWantIt(t *testing.T) {
	received := []message.Body{message.BoatLogged{Boat: "b", Taking: message.Gift}, message.BoatReceived{Boat: "b"}}
	paper := func(boxes string) message.Body {
		return message.PaperIssued{Paper: "p", Serial: "US-2026-0001", Decision: `{"papers":[{"boxes":{` + boxes + `}}]}`}
	}
	cancelled := message.PaperCancelled{Paper: "p", Why: "wrong"}
	for name, row := range map[string]struct {
		after []message.Body
		want  bool
	}{
		"received":                      {nil, false},
		"sold":                          {[]message.Body{message.BoatSold{Boat: "b"}}, true},
		"brought back":                  {[]message.Body{message.BoatSold{Boat: "b"}, message.SaleTakenBack{Boat: "b"}}, false},
		"used":                          {[]message.Body{message.ExceptionStated{Boat: "b", Sort: message.Used}}, true},
		"a letter stands":               {[]message.Body{paper(""), message.BoatSold{Boat: "b"}}, false},
		"box 7 stands":                  {[]message.Body{paper(`"7":true`)}, false},
		"box 4a stands":                 {[]message.Body{paper(`"4a":true,"4b":"2026-04-18","4c":56000`)}, true},
		"box 5a stands":                 {[]message.Body{paper(`"5a":true`)}, true},
		"box 5a is cancelled, not sold": {[]message.Body{paper(`"5a":true`), cancelled}, false},
	} {
		b := folded[Boat](append(received[:2:2], row.after...)...)
		assert.Equal(t, row.want, wantsNumber(&b), name)
	}
}

// A Form 1098-C with box 4a, 5a or 5b is filed, one with box 7 is not (its instructions).
func TestCopyAIsOfferedForWhatIsFiled(t *testing.T) {
	for boxes, want := range map[string]bool{`"4a":true,"4b":"2026-04-18","4c":56000`: true, `"5a":true`: true, `"5b":true`: true, `"7":true`: false, ``: false} {
		p := folded[Paper](message.PaperIssued{Paper: "p", Decision: `{"papers":[{"boxes":{` + boxes + `}}]}`})
		assert.Equal(t, want, p.Filed(), boxes)
	}
}
