package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
)

// isBoughtMendedAndValued follows a purchase on a phone: the boat is looked over,
// valued, given a ceiling, bargained for and bought below it; repairs are proposed
// and chosen; it is valued for the day it came and for today, and what was a wrong
// value for the first day is put right, with both to be read.
func (v *visitor) isBoughtMendedAndValued() {
	v.t.Helper()
	_, problems, code := v.site.run("import", "sales", filepath.Join(demoFolder, "sales.csv"))
	require.Equal(v.t, exitOK, code, problems)
	boat := v.logABoat("Plover", "taking", "bargain purchase", "asked", "520", "facts.hull_number", "OXL2L234C717")

	v.signIn("mara@quillwater.example")
	look := v.beginLook(boat)
	v.answerAll("not seen")
	v.answer("coaming", "seen")
	v.Press("#answer-points", "Keep these answers")
	v.note(look, "coaming", "amid", "starboard", "outside", "crack", "mend before use")
	v.do(look+"/finish", "finish-look", "Finish", "grade", "3", "lay", "dry under a roof", "water_ml", "0")
	v.See("The look-over is finished")
	v.signOut()

	v.signIn("corin@quillwater.example")
	v.valueFor(boat, "2026-06-18", "purchase")
	v.do(boat+"/ceiling", "set-ceiling", "Compute and set", "repairs[0].what", "weld the coaming", "repairs[0].cost", "20", "repairs[0].percent_likely", "100", "repairs[0].minutes", "90")
	v.See("Offer at most")
	v.See("Kept for what was not found")
	v.See("The club's margin")
	v.looked("ceiling")
	ceiling := browsertest.Eval[float64](v.Tab, `parseFloat(Array.from(document.querySelectorAll("#ceiling-lines tr")).find(r => r.innerText.includes("At most")).querySelector(".sum").innerText.replace(",", ""))`)
	require.Greater(v.t, ceiling, 100.0)
	v.signOut()

	v.signIn("tobin@quillwater.example")
	v.do(boat+"/price", "offer-price", "Name this price", "price", "100", "stake", "none")
	v.See("The price is written down")
	v.do(boat+"/answer", "note-answer", "Write it down", "answer", "asks for another price", "price", "500", "words", "it was my father's")
	v.See("The answer is written down")
	v.do(boat+"/price", "offer-price", "Name this price", "price", fmt.Sprintf("%.2f", ceiling+0.01), "words", "it is a fine boat", "stake", "none")
	v.See("above the ceiling")
	v.do(boat+"/answer", "note-answer", "Write it down", "answer", "agrees", "price", "130")
	v.do(boat+"/accept", "accept", "Accept", "price", "130", "stake", "none")
	v.See("The boat is accepted")
	v.do(boat+"/receive", "receive", "Receive", "possession", "2026-06-20", "signed", "2026-06-21")
	v.See("The boat is the club's now")
	v.looked("boat-bought")
	v.signOut()

	v.signIn("ines@quillwater.example")
	for _, p := range [][]string{
		{"what", "weld the coaming", "minutes", "90", "cash", "20", "steps", "1", "must", "yes"},
		{"what", "new seat", "minutes", "60", "cash", "10", "steps", "1"},
		{"what", "gold leaf", "minutes", "600", "cash", "900", "steps", "1"},
	} {
		v.do(boat+"/proposals", "propose-repair", "Propose it", p...)
		v.See("The repair is proposed")
	}
	v.open("/shop")
	v.Fill("#budget", "minutes", "100", "cash", "100")
	v.Press("#budget", "Choose")
	v.See("One more hour would add")
	v.See("Not worth mending")
	assert.Contains(v.t, v.textOf("#chosen"), "weld the coaming")
	assert.Contains(v.t, v.textOf("#others"), "new seat")
	assert.Contains(v.t, v.textOf("#not-worth"), "gold leaf")
	v.looked("shop-plan")
	v.Press("main", "Write this plan down")
	v.Press("#make-plan", "Write it down")
	v.See("Plans that were written down")
	v.signOut()

	v.signIn("corin@quillwater.example")
	v.valueFor(boat, "2026-06-21", "book")
	wrong := v.newestValue(boat)
	before := v.pdfText(wrong + "/sheet.pdf")
	v.takeOut("900.00 USD")
	v.valueFor(boat, "2026-06-21", "book")
	right := v.newestValue(boat)
	v.valueFor(boat, "2026-11-02", "book")
	v.open(boat + "/values")
	v.See("as known then; a later one took its place")
	v.See("the day of the bargain purchase")
	v.looked("values-then-and-now")

	v.open(wrong)
	v.See("A later valuation for the same day took its place: as known now")
	v.See("This page shows what was known before")
	then := v.textOf("#saying")
	v.looked("value-as-known-then")
	v.open(right)
	v.See("Took the place of")
	assert.NotEqual(v.t, then, v.textOf("#saying"), "both figures can be read, and they differ")
	v.valuationSheet(before, v.pdfText(wrong+"/sheet.pdf"))
	v.signOut()
}

// valuationSheet reads the printed sheet: before and after a later one took its
// place, which changes a sentence and no figure.
func (v *visitor) valuationSheet(before, after string) {
	v.t.Helper()
	for _, want := range []string{
		"What Plover was worth", "2026-06-21, for the club's own books", "Corin Wexcombe",
		"Do you or your household give, buy or receive this boat? Answer: none",
		"from private hand to private hand, willing buyer and willing seller", // Treas. Reg. 1.170A-1(c)(2)
		"effects learned from the sales and pulled toward the club's opinions", "jackknife+",
		"net ", "gross ", "comes to ", "notice board", // each sale with its steps
		"It is not a qualified appraisal in the sense of any tax law",
		"26 CFR 1.170A-17", "$5,000", // the rule that asks for one
		"asking price", // what was left out, and why
		"Valued by Corin Wexcombe", "Read by a second member",
	} {
		assert.Contains(v.t, before, want)
	}
	assert.NotContains(v.t, before, "took this one's place")
	assert.Contains(v.t, after, "A later valuation for the same day took this one's place. This sheet shows what was known before.")
	value := func(text string) string {
		_, rest, _ := strings.Cut(text, "As it lies ")
		figure, _, _ := strings.Cut(rest, " Repaired")
		return figure
	}
	require.Contains(v.t, value(before), "USD")
	assert.Equal(v.t, value(before), value(after))
}

// valueFor values a boat for a day.
func (v *visitor) valueFor(boat, day, purpose string) {
	v.t.Helper()
	v.do(boat+"/value", "value-boat", "Value it", "on", day, "purpose", purpose, "as_it_lies", "3", "repaired", "4", "conflict", "none")
	v.See("The boat is valued")
}

// newestValue gives the address of the valuation that was written down last.
func (v *visitor) newestValue(boat string) string {
	v.t.Helper()
	v.open(boat + "/values")
	return browsertest.Eval[string](v.Tab, `Array.from(document.querySelectorAll("#values tbody a")).pop().getAttribute("href")`)
}

// takeOut takes a kayak's price out of use.
func (v *visitor) takeOut(price string) {
	v.t.Helper()
	v.open("/comparables?type=sit-inside+kayak")
	v.open(browsertest.Eval[string](v.Tab, fmt.Sprintf(`Array.from(document.querySelectorAll("#prices tr")).find(r => r.innerText.includes(%q)).querySelector("a[href$='/refuse']").getAttribute("href")`, price)))
	v.Fill("#refuse-comparable", "why", "a trailer went with it")
	v.Press("#refuse-comparable", "Take out")
	v.See("The price is out of use")
}

// textOf gives the words of a part of the page.
func (v *visitor) textOf(selector string) string {
	v.t.Helper()
	return browsertest.Eval[string](v.Tab, fmt.Sprintf(`(document.querySelector(%q) || {innerText: ""}).innerText`, selector))
}

// isRetiredForParts ends a boat as parts: a sound one goes into a bin at a value.
func (v *visitor) isRetiredForParts(boat string) {
	v.t.Helper()
	v.signIn("ines@quillwater.example")
	v.do("/stock/new", "open-bin", "Open it", "name", "hatch covers", "unit", "pieces", "low", "1")
	v.See("The bin is open")
	bin := binPattern.FindString(v.Address())
	v.do(boat+"/retire", "retire", "Retire it", "reason", "the hull is brittle all over", "disposal", "the recycling yard of the county takes it; hatch cover and seat are kept")
	v.See("The boat is retired")
	v.open(boat + "/salvage")
	v.pick("salvage", "bin", "hatch covers")
	v.looked("salvage")
	v.Fill("#salvage", "quantity", "1", "value", "12.50", "words", "sound, seal renewed")
	v.Press("#salvage", "Keep it")
	v.See("The part lies in its bin")
	v.open(bin)
	v.See("1 piece")
	v.See("12.50 USD")
	v.looked("bin-salvaged")
	v.signOut()
}
