package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/photo/phototest"
)

// cast is who and what one run of the five stories is about: each run wants things
// of its own, because both are told in one club.
type cast struct {
	name          string
	width, height int64
	member        string // whom the administrator lets in, and who then logs the boat
	mail          string
	boat, hull    string // the boat that is logged, and its number
	part          string
	household     string // who asks for a board
	asks          string
	takes         bool   // whether they take it
	donor         string // the boat whose donor says what they claim
	erased        string // who wants to be forgotten
	contact       string
}

// TestFivePeople tells what each of five people comes for, from their first link to
// done, on a phone and then at a desk, in one club that has been at work for a while:
// an administrator, a volunteer, an applicant with the coordinator between request and
// answer, and the treasurer.
func TestFivePeople(t *testing.T) {
	t.Parallel()
	s := newPlayedInstallation(t).serveSite()
	for _, c := range []cast{
		{name: "phone", width: 360, height: 740, member: "Hazel Winterbourne", mail: "hazel@quillwater.example", boat: "Coot", hull: "OXL3L234C717", part: "sandpaper",
			household: "Aurel Thistledown", asks: "aurel@thistledown.example", donor: "bittern", erased: "Amina Qureshivale", contact: "555-0117"},
		{name: "desk", width: 1280, height: 800, member: "Jory Pennyfeather", mail: "jory@quillwater.example", boat: "Gadwall", hull: "OXL4L234C717", part: "masking tape",
			household: "Sunniva Brackwater", asks: "sunniva@brackwater.example", takes: true, donor: "merganser", erased: "Jonah Kaplanski", contact: "555-0118"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tab := browsertest.Open(t, c.width, c.height)
			tell := func(person string, story func(*visitor)) {
				require.True(t, t.Run(person, func(t *testing.T) { story(&visitor{tab.For(t), t, s}) }))
			}
			tell("administrator", func(v *visitor) { v.administers(c) })
			tell("volunteer", func(v *visitor) { v.volunteers(c) })
			var private, round string
			tell("applicant asks", func(v *visitor) {
				private = v.askForABoat(c.household, c.asks, "58", "best", "board", "wish.transport", "none")
				v.atOwnPage(private)
				v.comesToAnEnd("asked", "How the search stands")
			})
			tell("coordinator", func(v *visitor) {
				v.closesTheLastRound()
				round = v.runARound(c.household, "Loon", true)
			})
			tell("applicant answers", func(v *visitor) { v.answers(c, private) })
			tell("coordinator reads the answer", func(v *visitor) { v.hearsTheAnswer(c, round) })
			tell("treasurer", func(v *visitor) { v.keepsTheBooks(c) })
		})
	}
}

// comesToAnEnd sees the words with which a story is done, on a page that is no wider
// than its window, and leaves a picture where one is wanted.
func (v *visitor) comesToAnEnd(name, words string) {
	v.t.Helper()
	v.See(words)
	assert.LessOrEqual(v.t, v.SidewaysScroll(), 0, v.Address())
	if name != "" {
		v.picture("five-" + name)
	}
}

// administers lets in a member, gives a role, changes a setting, looks whether all is
// well, erases somebody who asked for it, and has the book checked.
func (v *visitor) administers(c cast) {
	v.signIn("mara@quillwater.example")
	v.do("/people/new", "register-person", "Add", "details.name", c.member, "details.mail", c.mail, "roles", "steward", "consent", "yes")
	v.See("They are in the book")
	v.Press("#roles", "Make repairer")
	v.See("The role is given")
	v.comesToAnEnd("member", "No longer repairer")

	v.do("/club/contact", "change-setting", "Change it", "value", c.contact)
	v.See("The setting is changed")
	v.See(c.contact)

	v.open("/people")
	v.Press("#people", c.erased)
	v.Press("main", "Erase this person")
	v.See("The person: " + c.erased)
	v.Press("#erase-person", "Erase for good")
	v.See("The person's data is erased")
	v.DoNotSee(c.erased)
	v.open("/people")
	v.See(c.member)
	v.DoNotSee(c.erased)

	v.open("/letters")
	v.See("There is none")
	v.open("/book")
	v.DoNotSee("has stopped")
	assert.Equal(v.t, 7, browsertest.Eval[int](v.Tab, `document.querySelectorAll("#rooms tbody tr").length`), "each room says how far it is")
	v.Press("#verify", "Read the whole book and check it")
	v.comesToAnEnd("book", "The book is whole")
	v.signOut()
}

// volunteers is a new member's first day: they log a boat, photograph it, look it
// over, and book a part and their time on one that is in the workshop.
func (v *visitor) volunteers(c cast) {
	v.signIn(c.mail)
	v.open("/")
	v.Press("main", "Log a boat")
	v.Fill("#log-boat", append(kayakFields(c.boat), "facts.hull_number", c.hull)...)
	v.Press("#log-boat", "Write it down")
	v.See("The boat is in the book")
	boat := boatPattern.FindString(v.Address())
	v.Press("#photos", "Photographs")
	v.Upload("#f-file", phototest.JettyFile(v.t))
	v.Press("#add-photos", "Keep these photos")
	v.See("The photos are kept")

	look := v.beginLook(boat)
	v.answerAll("not seen")
	v.answer("coaming", "seen")
	v.Press("#answer-points", "Keep these answers")
	v.note(look, "coaming", "amid", "starboard", "outside", "crack", "mend before use")
	v.do(look+"/finish", "finish-look", "Finish", "grade", "3", "lay", "dry under a roof", "water_ml", "0")
	v.comesToAnEnd("looked-over", "The look-over is finished")

	v.open("/")
	dipper := v.linkTo("Dipper")
	v.open(dipper)
	v.do(dipper+"/parts", "book-part", "Book it", "words", c.part, "cost", "4.20", "paid_by", "own pocket", "on", "2026-07-01")
	v.See("The part is booked")
	v.do(dipper+"/hours", "book-hours", "Book them", "minutes", "30", "what", "cleaning", "doing", "sanding with "+c.part, "on", "2026-07-01")
	v.See("The hours are booked")
	v.comesToAnEnd("booked", c.part)
	v.signOut()
}

// closesTheLastRound writes down the answers that came by telephone, which frees
// boats and households for the next round.
func (v *visitor) closesTheLastRound() {
	v.signIn("odile@quillwater.example")
	v.open("/rounds?state=offers+out")
	round := browsertest.Eval[string](v.Tab, `document.querySelector("main td a, main th a").getAttribute("href")`)
	v.open(round)
	for _, offer := range browsertest.Eval[[]string](v.Tab, `Array.from(document.querySelectorAll("a[href$='/answer']")).map(a => a.getAttribute("href"))`) {
		v.do(offer, "answer-offer", "Write the answer down", "answer", "declined")
		v.See("The answer is written down")
	}
	v.do(round+"/close", "close-round", "Close the round", "why", "everybody has answered")
	v.See("The round is closed")
	v.signOut()
}

// answers opens the private link once more and says yes or no to what is offered.
func (v *visitor) answers(c cast, private string) {
	v.atOwnPage(private)
	v.See("Offered to you: Loon")
	v.comesToAnEnd("offered", "Why this boat")
	if c.takes {
		v.Press("main", "Yes, we take it")
		v.comesToAnEnd("taken", "You have taken the boat")
		return
	}
	v.Press("main", "No, we leave it")
	v.Fill("#decline-offer", "why", "we found one nearer to the lake")
	v.Press("#decline-offer", "No, we leave it")
	v.comesToAnEnd("left", "You have left the boat to others")
}

// hearsTheAnswer reads on the round's page what the household said.
func (v *visitor) hearsTheAnswer(c cast, round string) {
	v.signIn("odile@quillwater.example")
	v.open(round)
	answer := "declined"
	if c.takes {
		answer = "accepted"
	}
	v.See(c.household)
	v.comesToAnEnd("round", answer)
	v.signOut()
}

// keepsTheBooks reads what falls due, notes a donor's claim, has all papers of the
// year issued that are ready, takes them as one file, reads the statement and takes
// the year's table.
func (v *visitor) keepsTheBooks(c cast) {
	v.signIn("corin@quillwater.example")
	v.open("/papers/clocks")
	v.comesToAnEnd("due", "The donor has the paper")

	v.do(addressOf("@boat/"+c.donor+"/claim"), "state-claim", "Write it down", "claim", "300")
	v.See("The donor's answer is written down")
	const year = "/papers/years/2026"
	v.open(year)
	ready := browsertest.Eval[int](v.Tab, `document.querySelectorAll("#ready li").length`)
	stood := browsertest.Eval[int](v.Tab, `document.querySelectorAll("#issued li").length`)
	require.Positive(v.t, ready)
	v.Go(browsertest.Eval[string](v.Tab, `document.getElementById("issue-all").href`))
	v.Press("#issue-year", "Issue them")
	v.See("The papers are being issued")
	require.Eventually(v.t, func() bool {
		v.open(year)
		return v.Holds(fmt.Sprintf(`document.querySelectorAll("#issued li").length === %d`, stood+ready))
	}, 30*time.Second, 100*time.Millisecond, "%d papers and %d more", stood, ready)
	v.See("No gift of 2026 waits with all that its paper needs")
	v.comesToAnEnd("papers", fmt.Sprintf("%d of %d issued", ready, ready))
	file := v.fetched(year + "/zip")
	papers, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	require.NoError(v.t, err)
	assert.Len(v.t, papers.File, stood+ready)
	for _, paper := range papers.File {
		begins := make([]byte, 5)
		f, err := paper.Open()
		require.NoError(v.t, err)
		_, err = io.ReadFull(f, begins)
		require.NoError(v.t, err)
		assert.Equal(v.t, "%PDF-", string(begins), paper.Name)
	}

	v.open("/money")
	v.Press("main", "What the accounts come to on a day, and closing the books")
	v.Fill("#span", "from", "2026-01-01", "to", "2026-12-31")
	v.Press("#span", "Show")
	v.comesToAnEnd("statement", "all of them together come to nothing")
	// Debits and credits are equal: what double entry has been from its first printed
	// book on (Pacioli, Summa de arithmetica, 1494).
	accounts := browsertest.Eval[map[string]float64](v.Tab, `Object.fromEntries(Array.from(document.querySelectorAll("#accounts tbody tr")).map(tr => [tr.cells[0].innerText, parseFloat(tr.cells[2].innerText.replaceAll(",", ""))]))`)
	sum := 0.0
	for _, account := range accounts {
		sum += account
	}
	assert.InDelta(v.t, 0, sum, 0.001)

	// The table for other programs says the same of the gifts.
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(v.fetched("/money/2026/csv")), "\ufeff"))).ReadAll()
	require.NoError(v.t, err)
	gifts, parts := 0.0, ""
	for _, row := range rows[1:] {
		if row[9] == "" {
			continue // all boats together
		}
		value, err := strconv.ParseFloat(row[7], 64)
		require.NoError(v.t, err, row)
		gifts += value
		if row[0] == "Dipper" {
			parts = row[4]
		}
	}
	assert.InDelta(v.t, math.Abs(accounts["contributions in kind"]), gifts, 0.001)
	assert.Contains(v.t, []string{"13.96", "18.16"}, parts, "9.76 and 4.20 for each volunteer")
	v.signOut()
}
