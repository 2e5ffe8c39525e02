package main

import (
	"encoding/base64"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/photo/phototest"
	"refloat.example/pkg/receipt/receipttest"
)

// TestAWholeLife walks a boat through the pages, from "would the club take this?"
// to the donor's paper and the treasurer's total, in an installation that started
// empty, each signed in as themselves: volunteers on a phone, the applicant on a
// phone whose scripts are switched off, coordinator and administrator at a desk,
// and the treasurer at a desk, with the paper by keyboard alone.
func TestAWholeLife(t *testing.T) {
	t.Parallel()
	s := serveSite(t)
	for _, list := range []string{"people", "sales"} {
		_, problems, code := s.run("import", list, filepath.Join(demoFolder, list+".csv"))
		require.Equal(t, exitOK, code, problems)
	}
	v := s.visit(t, 1280, 900)
	v.setUpTheClub()
	v.Resize(360, 740)
	boat := v.logTheBoat()
	v.lookItOver("mara@quillwater.example", boat, true)
	v.signOut()
	v.lookItOver("ruben@quillwater.example", boat, false)
	v.open(boat)
	v.See("cannot be estimated: only 2 found by both")
	v.signOut()
	v.decideAndReceive(boat)
	v.value(boat)
	v.mend(boat)
	v.placeIt(boat)
	v.paperAndTotals(boat)
	v.theBookTellsIt(boat)
}

// do opens a form of the pages, fills it in and sends it.
func (v *visitor) do(address, form, button string, fields ...string) {
	v.t.Helper()
	v.open(address)
	v.Fill("#"+form, fields...)
	v.Press("#"+form, button)
}

func (v *visitor) setUpTheClub() {
	v.signIn("mara@quillwater.example")
	for _, s := range [][2]string{
		{"legal-name", "Quillwater Paddlers of Lake Amberjay"}, {"address", "Old Boathouse, 2 Jetty Lane; Amberjay 00417"},
		{"registration-number", "00-0000417"}, {"place", "Amberjay"}, {"qualified", "yes"}, {"signatory", "Corin Wexcombe, treasurer"},
	} {
		v.do("/club/"+s[0], "change-setting", "Change it", "value", s[1])
	}
	v.signOut()
}

// logTheBoat gives the address of the boat's page.
func (v *visitor) logTheBoat() string { return v.logABoat("Moorhen") }

// logABoat logs a small kayak of this name, changed by more fields.
func (v *visitor) logABoat(name string, more ...string) string {
	v.signIn("ines@quillwater.example")
	fields := append(kayakFields(name), more...)
	v.do("/boats/new", "log-boat", "Write it down", append(append([]string{}, fields...), "facts.seats", "none")...)
	v.See("seats")
	assert.Equal(v.t, name, browsertest.Eval[string](v.Tab, `document.querySelector("#log-boat [name=name]").value`), "what was typed stays")
	v.Fill("#log-boat", "facts.seats", "1")
	v.Press("#log-boat", "Write it down")
	v.See("The boat is in the book")
	v.See("model year 2017")
	boat := boatPattern.FindString(v.Address())
	v.signOut()
	return boat
}

// kayakFields fills in the form of a small kayak that is given.
func kayakFields(name string) []string {
	return []string{
		"name", name, "taking", "gift", "right", "owner's declaration",
		"new_giver.name", "Philippa Underhay", "new_giver.mail", "philippa@underhay.example", "new_giver.address", "4 Lock Street, Amberjay 00417", "consent", "yes",
		"facts.type", "sit-inside kayak", "facts.material", "rotomoulded polyethylene", "facts.seats", "1",
		"facts.length_mm", "3.2", "facts.mass_g", "19", "facts.rated_load_g", "130", "facts.rated_source", "plate",
		"facts.maker", "Oxlip", "facts.model", "Pond 11", "facts.year_built", "2017", "facts.hull_number", "OXL1L234C717", "facts.last_afloat", "2025-09-20",
		"shown.paper", "signed declaration", "shown.on", "2026-06-18",
	}
}

var boatPattern = regexp.MustCompile(`/boats/[^/?#]+`)

var binPattern = regexp.MustCompile(`/stock/[^/?#]+`)

var lookPattern = regexp.MustCompile(`/boats/[^/?#]+/looks/[^/?#]+`)

// lookItOver looks the boat over. Both inspectors find the crack and the strap; only
// the first finds the bulkhead.
func (v *visitor) lookItOver(who, boat string, first bool) {
	v.signIn(who)
	v.do(boat+"/look", "begin-look", "Begin")
	look := lookPattern.FindString(v.Address())
	require.NotEmpty(v.t, look)
	findings := [][]string{
		{"place.part", "coaming", "place.zone", "amid", "place.side", "starboard", "place.face", "outside", "defect", "crack", "length_mm", "6", "severity", "mend before use"},
		{"place.part", "carry toggle", "place.zone", "bow", "place.side", "centreline", "place.face", "outside", "defect", "worn", "severity", "watch"},
		{"place.part", "bulkhead", "place.zone", "aft", "place.side", "centreline", "place.face", "inside", "defect", "loose", "severity", "mend before use"},
	}
	if !first {
		findings = findings[:2]
	}
	for _, f := range findings {
		v.do(look+"/finding", "note-finding", "Note it", f...)
		v.See("The finding is noted")
	}
	v.do(look+"/finish", "finish-look", "Finish", "grade", "3", "water_ml", "0.4")
	v.See("The look-over is finished")
}

func (v *visitor) decideAndReceive(boat string) {
	v.signIn("mara@quillwater.example")
	v.do(boat+"/quarantine", "quarantine", "Set the day", "last_water", "Lake Amberjay", "out_of_water", "2026-06-01")
	v.do(boat+"/accept", "accept", "Accept", "words", "fits beginners", "stake", "none")
	v.do(boat+"/receive", "receive", "Receive", "possession", "2026-06-20", "signed", "2026-06-21")
	v.See("The boat is the club's now")
	v.signOut()
}

func (v *visitor) value(boat string) {
	v.signIn("mara@quillwater.example")
	v.do(boat+"/value", "value-boat", "Value it", "on", "2026-06-21", "purpose", "book", "as_it_lies", "3", "repaired", "4", "conflict", "none")
	v.See("The boat is valued")
	v.See("USD")
	v.signOut()
}

// mend goes from the findings by the work sheet to a weld that fails its leak test,
// is mended again, and gets the boat ready.
func (v *visitor) mend(boat string) {
	v.signIn("mara@quillwater.example")
	v.open("/skills/new")
	v.pick("sign-skill", "person", "Ines")
	v.Fill("#sign-skill", "skill", "hot work", "words", "three welds, cut open and sound", "of_age", "yes")
	v.Press("#sign-skill", "Sign them off")
	v.See("They are signed off")
	v.signOut()

	v.signIn("ines@quillwater.example")
	v.open(boat + "/methods")
	v.See("melt the parent")
	v.See("What does not do here, and why")
	browsertest.Eval[int](v.Tab, `document.querySelectorAll("details").forEach(d => d.open = true), 1`)
	v.See("resin alone does not hold on polyethylene")
	v.planFor(boat, "coaming", "weld")
	v.open(boat + "/sheet")
	v.See("Never heat PVC")
	v.See("only by who is signed off for hot work")
	for _, step := range []string{"drain", "clean", "look-again"} {
		v.Press("#done-"+step, "Done")
		v.See("The step is done")
	}
	v.waits(boat)
	v.stockUp(boat)
	v.open(boat + "/parts")
	v.Fill("#book-part", "words", "welding rod", "cost", "9.80", "paid_by", "club", "on", "2026-07-01")
	v.Upload("#f-file", phototest.JettyFile(v.t))
	v.Press("#book-part", "Book it")
	v.See("The part is booked")
	v.do(boat+"/parts", "book-part", "Book it", "words", "hatch cover of the wrong size", "cost", "42.00", "paid_by", "club", "on", "2026-07-01")
	v.open(browsertest.Eval[string](v.Tab, `Array.from(document.querySelectorAll("a[href$='/reverse']")).filter(a => a.innerText.includes("wrong size") || a.textContent.includes("wrong size"))[0].getAttribute("href")`))
	v.Fill("#reverse-part", "why", "sent back", "on", "2026-07-02")
	v.Press("#reverse-part", "Take it back")
	v.do(boat+"/hours", "book-hours", "Book them", "minutes", "90", "what", "hot work", "doing", "welding the coaming", "on", "2026-07-01")
	v.finishAll(boat, "welded from outside with rod of the same plastic")
	v.planFor(boat, "bulkhead", "re-bed fitting")
	v.finishAll(boat, "the bulkhead is bedded anew")
	v.signOut()

	v.signIn("ruben@quillwater.example")
	v.open(boat + "/tests")
	v.tick("record-test", "findings", "coaming")
	v.Fill("#record-test", "what", "leak", "reading", "drops at the coaming after 10 min", "passed", "no", "on", "2026-07-03")
	v.Press("#record-test", "Record it")
	v.See("The test is recorded")
	v.open(boat + "/ready")
	v.Fill("#declare-ready", "grade", "4")
	v.Press("#declare-ready", "It is ready")
	v.See("leak")
	v.DoNotSee("The boat is ready.")
	v.planFor(boat, "coaming", "weld")
	v.do(v.workToFinish(boat)[0], "finish-work", "It is done", "words", "welded again")
	v.See("you are not signed off for it")
	v.signOut()

	v.signIn("ines@quillwater.example")
	v.finishAll(boat, "welded again, through to the inside, and looked at from both sides")
	for _, test := range [][3]string{{"leak", "dry afloat with ballast", "30"}, {"flotation", "both ends hold", ""}} {
		v.do(boat+"/tests", "record-test", "Record it", "what", test[0], "reading", test[1], "minutes", test[2], "passed", "yes", "on", "2026-07-05")
	}
	v.do(boat+"/ready", "declare-ready", "It is ready", "grade", "4")
	v.See("fittings")
	v.DoNotSee("The boat is ready.")
	v.signOut()
	v.waive(boat)
	v.signIn("ines@quillwater.example")
	v.do(boat+"/ready", "declare-ready", "It is ready", "grade", "4")
	v.See("The boat is ready")
	v.disclosed(boat)
	v.signOut()
	v.balanced(boat)
}

// waits sets a timer that outlives the page, longer than the label says because the
// shop is cold, and ends it.
func (v *visitor) waits(boat string) {
	v.t.Helper()
	v.do(boat+"/timers", "set-timer", "Set it", "what", "the adhesive of the bulkhead cures", "minutes", "1440", "cures", "yes", "at_celsius", "25", "celsius", "15")
	v.See("The timer is set")
	until := browsertest.Eval[string](v.Tab, `document.querySelector("#timers time").getAttribute("datetime")`)
	end, err := time.Parse(time.RFC3339, until)
	require.NoError(v.t, err)
	// Ten degrees colder takes twice as long: the rule of thumb of resin makers that
	// pkg/cure names.
	assert.InDelta(v.t, 48, time.Until(end).Hours(), 0.5)
	v.looked("work-sheet-timer")
	v.signOut()
	v.signIn("ruben@quillwater.example")
	v.open(boat + "/sheet")
	v.See("the adhesive of the bulkhead cures")
	v.signOut()
	v.signIn("ines@quillwater.example")
	v.open(boat + "/sheet")
	v.Press("#timers", "Seen to")
	v.See("Nobody waits for it any more")
}

const waiverWords = "the luggage scale is lent out; toggles and braces held when pulled by hand"

// waive lets the boat go out without a test that can be waived; leak and flotation
// are not offered.
func (v *visitor) waive(boat string) {
	v.t.Helper()
	v.signIn("mara@quillwater.example")
	v.open(boat + "/waive")
	v.DoNotSee("flotation test")
	v.looked("waive")
	v.Fill("#waive-test", "what", "fittings", "why", waiverWords)
	v.Press("#waive-test", "Waive it")
	v.See("The test is waived")
	v.signOut()
}

// stockUp buys cord by the drum and takes some of it by the metre.
func (v *visitor) stockUp(boat string) {
	v.t.Helper()
	v.do("/stock/new", "open-bin", "Open it", "name", "deck line", "unit", "metres", "low", "45")
	v.See("The bin is open")
	bin := binPattern.FindString(v.Address())
	v.do(bin+"/buy", "buy-stock", "Book it", "quantity", "50", "cost", "42.00", "paid_by", "own pocket", "on", "2026-07-01")
	v.open(bin + "/take")
	v.pick("take-stock", "boat", "Moorhen")
	v.Fill("#take-stock", "quantity", "6.5", "on", "2026-07-01")
	v.Press("#take-stock", "Take it")
	v.See("43.5 metres")
	v.open("/stock")
	v.See("To buy")
	v.open(boat)
	v.See("6.5 metres of deck line")
	v.See("5.46 USD")
}

// disclosed reads the honest page: every finding and its end, the weld that did not
// hold included.
func (v *visitor) disclosed(boat string) {
	v.t.Helper()
	text := v.pdfText(boat + "/disclosure.pdf")
	for _, want := range []string{
		"Disclosure of Moorhen", "crack on the coaming", "welded from outside with rod of the same plastic (a", "showed that this did not hold). welded again, through to the inside",
		"worn on the carry toggle", "Left as it was found", "loose on the bulkhead", "the bulkhead is bedded anew", "Two people saw it",
		"failed: drops at the coaming", "passed: dry afloat with ballast; for 30 minutes", "No number is given",
		"Tests that were left out, and why", waiverWords,
	} {
		assert.Contains(v.t, text, want)
	}
}

// pdfText fetches a PDF as the viewer and gives its text on one line.
func (v *visitor) pdfText(address string) string {
	v.t.Helper()
	pdf := v.fetched(address)
	// Labels stand beside values, so that both are broken into lines: what is looked
	// for is found in the columns one by one.
	return receipttest.Text(v.t, pdf) + " | " + receipttest.Columns(v.t, pdf)
}

// fetched fetches a file as the viewer.
func (v *visitor) fetched(address string) []byte {
	v.t.Helper()
	raw := browsertest.Eval[string](v.Tab, `fetch("`+address+`").then(r => r.arrayBuffer()).then(b => btoa(Array.from(new Uint8Array(b), c => String.fromCharCode(c)).join("")))`)
	file, err := base64.StdEncoding.DecodeString(raw)
	require.NoError(v.t, err)
	return file
}

// balanced reads the boat's cost book: parts, the reversal, and a balance of zero.
func (v *visitor) balanced(boat string) {
	v.signIn("corin@quillwater.example")
	v.open(boat)
	receipt := browsertest.Eval[string](v.Tab, `Promise.all(Array.from(document.querySelectorAll("a[href*='/receipts/']")).map(a => fetch(a.href).then(r => r.headers.get("Content-Type")))).then(all => all.join())`)
	assert.Equal(v.t, "image/jpeg", receipt, "the photo of one receipt")
	v.open(boat + "/money")
	v.See("welding rod")
	v.See("takes an entry back")
	v.See("deck line from the stock")
	sum := browsertest.Eval[float64](v.Tab, `Math.round(Array.from(document.querySelectorAll("#balances tbody .sum")).reduce((n, td) => n + parseFloat(td.innerText), 0) * 100) || 0`) // never minus nothing, which JSON cannot say
	assert.Zero(v.t, sum, "all accounts together come to nothing")
	v.signOut()
}

// pick chooses the option of a form's list whose words hold a text.
func (v *visitor) pick(form, field, text string) {
	v.t.Helper()
	chosen := browsertest.Eval[string](v.Tab, fmt.Sprintf(`(function() {
		const list = document.querySelector("#%s [name=%s]"), option = Array.from(list.options).find(o => o.innerText.includes(%q));
		if (option) list.value = option.value;
		return list.value;
	})()`, form, field, text))
	require.NotEmpty(v.t, chosen, v.Text())
}

// planFor plans work for every open finding whose words hold a text.
func (v *visitor) planFor(boat, text, method string) {
	v.t.Helper()
	v.open(boat + "/work")
	v.tick("plan-work", "findings", text)
	v.Fill("#plan-work", "method", method, "minutes", "60")
	v.Press("#plan-work", "Plan it")
	v.See("The work is planned")
}

// tick ticks every choice of a form's field whose words hold a text.
func (v *visitor) tick(form, field, text string) {
	v.t.Helper()
	ticked := browsertest.Eval[int](v.Tab, fmt.Sprintf(`(function() {
		const all = Array.from(document.querySelectorAll("#%s [name=%s]")).filter(f => f.parentElement.innerText.includes(%q));
		all.forEach(f => f.checked = true);
		return all.length;
	})()`, form, field, text))
	require.Positive(v.t, ticked, v.Text())
}

// finishAll finishes every work that is planned.
func (v *visitor) finishAll(boat, words string) {
	v.t.Helper()
	for _, link := range v.workToFinish(boat) {
		v.do(link, "finish-work", "It is done", "words", words)
		v.See("The work is finished")
	}
}

// workToFinish gives the addresses at which planned work is finished.
func (v *visitor) workToFinish(boat string) []string {
	v.t.Helper()
	v.open(boat)
	links := browsertest.Eval[[]string](v.Tab, `Array.from(document.querySelectorAll("a[href$='/finish']")).map(a => a.getAttribute("href")).filter(h => h.includes("/work/"))`)
	require.NotEmpty(v.t, links, v.Text())
	return links
}

// askForABoat asks without an account, for somebody of this mass who wants a kayak
// unless more fields say otherwise, and gives the private link from the letter.
func (v *visitor) askForABoat(name, mail, kg string, more ...string) string {
	before := time.Now()
	v.do("/ask", "ask", "Send the request", append([]string{
		"adults", "1", "wish.adults[0].mass_g", kg, "wish.gear_g", "6", "best", "sit-inside kayak",
		"wish.water", "pond or small lake", "wish.experience", "some", "wish.carriers", "2", "wish.each_lifts_g", "16",
		"wish.transport", "roof", "wish.roof_load_g", "75", "wish.rack_g", "11", "wish.vehicle_mm", "4.3", "wish.storage_mm", "4",
		"details.name", name, "details.mail", mail, "consent", "yes"}, more...)...)
	v.See("Your request is with the club")
	return v.site.linkMailedTo(mail, "/link/", before)
}

// placeIt has three households ask for the one boat. The first in the club's order
// leaves it, so the round is paired anew, the second takes it, and the third is
// told by how much it carries too little.
func (v *visitor) placeIt(boat string) {
	first := v.askForABoat("Tobin Marchbank", "tobin@marchbank.example", "70")
	v.Scripts(false)
	second := v.askForABoat("Wanda Fairbrother", "wanda@fairbrother.example", "68")
	v.Scripts(true)
	third := v.askForABoat("Ysolde Penhallow", "ysolde@penhallow.example", "97")
	v.Resize(1280, 900)
	round := v.runARound("Tobin Marchbank", "Moorhen", false)
	v.Resize(360, 740)

	v.atOwnPage(third)
	v.See("By the rule on load, 1 boat: over by 12 kg.") // 97 + 6 kg against 70 % of 130
	v.looked("my-request-nothing-fits")
	v.atOwnPage(second)
	v.See("So few took part that it is not told how many went where.")
	v.DoNotSee("Marchbank")
	v.looked("my-request-went-elsewhere")
	v.atOwnPage(first)
	v.See("Offered to you: Moorhen")
	v.looked("my-request-offered")
	v.Press("main", "No, we leave it")
	v.Fill("#decline-offer", "why", "too short for the lake here")
	v.Press("#decline-offer", "No, we leave it")
	v.See("You have left the boat to others")
	v.looked("my-request-left")

	v.Resize(1280, 900)
	v.signIn("odile@quillwater.example")
	v.open(round)
	v.Press("main", "Pair them anew")
	v.See("Offers that came to nothing")
	v.looked("round-paired-anew")
	v.signOut()
	v.approveAndSend(round)
	v.Resize(360, 740)
	v.Scripts(false)
	v.atOwnPage(second)
	v.See("Offered to you: Moorhen")
	v.Press("main", "Yes, we take it")
	v.See("You have taken the boat")
	v.Scripts(true)
	v.atOwnPage(second)
	v.looked("my-request-taken")
	v.Resize(1280, 900)
	v.handItOver(boat)
	v.atOwnPage(third)
	v.DoNotSee("Fairbrother")
	v.DoNotSee("You have got your boat")
}

// atOwnPage goes to somebody's own page by their private link.
func (v *visitor) atOwnPage(private string) {
	v.t.Helper()
	v.Go(private)
	if strings.Contains(v.Text(), "Open my page") {
		v.Press("main form", "Open my page")
	}
	v.See("This page is yours")
}

// runARound takes a round as far as its offers and gives its address. The household is
// put into the first tier, and the boat is the one that is paired; alone leaves all
// others out.
func (v *visitor) runARound(household, craft string, alone bool) string {
	v.t.Helper()
	v.signIn("odile@quillwater.example")
	v.open("/requests")
	v.open(v.linkTo(household) + "/tier")
	v.Fill("#set-tier", "tier", "1", "why", "nobody of the household has a boat")
	v.Press("#set-tier", "Set the tier")
	v.do("/rounds/new", "start-round", "Start the round")
	round := strings.Split(strings.TrimPrefix(v.Address(), v.site.base), "?")[0]
	v.signOut()
	v.signIn("pell@quillwater.example")
	v.do(round+"/secret", "commit-secret", "Put it in")
	v.signOut()
	v.signIn("odile@quillwater.example")
	v.open(round + "/list")
	if alone {
		v.tick("open-round", "boats", craft)
		v.tick("open-round", "requests", household)
	}
	v.Press("#open-round", "Freeze the list")
	v.See("The round is open")
	v.do(round+"/solve", "solve-round", "Pair them")
	v.See(craft)
	v.open(round + "/what-if")
	v.tick("ask", "without", craft)
	v.Press("#ask", "Pair it so")
	v.See("0 households would get a boat; as things are, 1.")
	v.signOut()
	v.approveAndSend(round)
	return round
}

// approveAndSend has a second member look at the pairs, and sends the offers.
func (v *visitor) approveAndSend(round string) {
	v.signIn("pell@quillwater.example")
	v.do(round+"/approve", "approve-round", "Approve")
	v.signOut()
	v.signIn("odile@quillwater.example")
	v.do(round+"/offers", "send-offers", "Send the offers", "days", "10")
	v.See("The offers are sent")
	v.signOut()
}

func (v *visitor) handItOver(boat string) {
	v.signIn("odile@quillwater.example")
	v.open(boat + "/hand-over")
	v.looked("hand-over")
	paper := v.pdfText(boat + "/hand-over.pdf")
	assert.Contains(v.t, paper, "Before the boat goes", "nobody has counted the club's jackets")
	assert.Contains(v.t, paper, "no promise for anybody")
	assert.Contains(v.t, paper, waiverWords, "the reason stands on every later paper")
	v.tick("hand-over", "checks", "")
	v.Fill("#hand-over", "signed", "yes")
	v.Press("#hand-over", "Write the hand-over down")
	v.See("The boat is handed over")
	v.signOut()
}

func (v *visitor) paperAndTotals(boat string) {
	v.paperByKeyboard()
	printed := browsertest.Eval[string](v.Tab, `fetch(document.querySelector("a[href$='/print']").href).then(r => r.arrayBuffer()).then(b => String.fromCharCode(...new Uint8Array(b).slice(0, 5)))`)
	assert.Equal(v.t, "%PDF-", printed)
	v.open("/money?year=2026")
	v.See("Moorhen")
	v.See("15.26") // rod and cord; the wrong hatch cover is reversed
	for format, begins := range map[string]string{"csv": "\ufeff", "xlsx": "PK"} {
		got := browsertest.Eval[string](v.Tab, `fetch("/money/2026/`+format+`").then(r => r.arrayBuffer()).then(b => new TextDecoder("utf-8", {ignoreBOM: true}).decode(b).slice(0, 2))`)
		assert.True(v.t, strings.HasPrefix(got, begins), "%s begins with %q", format, got)
	}
	v.signOut()
}

// paperByKeyboard goes from the sign-in page to the donor's paper without a pointer:
// every stop on the way has a name, shows that it has the focus, and comes in the
// order of the page.
func (v *visitor) paperByKeyboard() {
	v.t.Helper()
	const treasurer = "corin@quillwater.example"
	before := time.Now()
	v.open("/sign-in")
	v.Type("Mail address", treasurer)
	v.Enter()
	v.See("a message with a link is on its way")
	v.Go(v.site.linkMailedTo(treasurer, "/sign-in/", before))
	v.TabTo("Sign in now")
	v.Enter()
	v.See("1 gift has no paper yet")
	v.TabTo("1 gift has no paper yet")
	v.Enter()
	v.See("The donor’s claim is not noted")
	v.TabTo("Note the claim")
	v.Enter()
	v.Type("What the donor means to claim", "300")
	v.Enter()
	v.See("The donor's answer is written down")
	v.TabTo("Papers")
	v.Enter()
	v.TabTo("Issue the paper")
	v.Enter()
	v.TabTo("Issue it")
	v.Enter()
	v.See("US-2026-0001")
}

// theBookTellsIt reads the boat's history on the page and at the machine.
func (v *visitor) theBookTellsIt(boat string) {
	v.signIn("linnea@quillwater.example")
	v.open(boat + "/history")
	v.DoNotSee("Underhay")
	v.See("leak")
	v.signOut()
	out, problems, code := v.site.run("boat", "history", "Moorhen")
	require.Equal(v.t, exitOK, code, problems)
	for _, kind := range []string{"intake.boat-logged", "intake.defect-found", "intake.boat-received", "valuation.boat-valued", "repair.finding-reopened",
		"repair.boat-ready", "matching.offer-answered", "matching.boat-handed-over", "treasury.entry-posted", "treasury.paper-issued"} {
		assert.Contains(v.t, out, kind)
	}
	_, problems, code = v.site.run("verify")
	assert.Equal(v.t, exitOK, code, problems)
}
