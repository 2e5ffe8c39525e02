package treasury

import (
	"fmt"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/taxpaper"
)

// unitedStates writes an acknowledgment of IRC 170(f)(8), or what a Form 1098-C
// states (IRC 170(f)(12)(B)).
func (w *writing) unitedStates(p taxpaper.Paper) error {
	w.content.Language = "en-US"
	if p.Name == "1098-C" {
		return w.form1098C(p)
	}
	w.content.Title = "Acknowledgment of a gift"
	w.line("Date of the contribution", w.received.String())
	w.line("Place of the contribution", w.club.place)
	w.line("Description", w.describe())
	if words := w.returnWords(); words != "" {
		w.line("Given in return", words)
	}
	w.state(p.Says...)
	w.state(fmt.Sprintf("The donor needs this letter by the day on which the return for %d is filed or due, whichever comes first.", w.received.Year()))
	return nil
}

// form1098C writes the form's data. The form's own copies are made from it: copy
// A for the authority, the others for donor and club.
func (w *writing) form1098C(p taxpaper.Paper) error {
	if err := w.needsAddress(); err != nil {
		return err
	}
	w.content.Title = "Contribution of a boat: data for Form 1098-C"
	w.line("Box 1, date of contribution", w.received.String())
	if w.facts.YearBuilt > 0 {
		w.line("Box 2b, year", fmt.Sprint(w.facts.YearBuilt))
	}
	w.line("Box 2c, make", w.facts.Maker)
	w.line("Box 2d, model", w.facts.Model)
	w.line("Box 3, identification number", w.identification())
	w.boxes(p.Boxes)
	w.line("Description", w.describe())
	switch {
	case p.Boxes["7"] != nil:
	case w.number != "":
		w.line("Donor's taxpayer identification number", truncated(w.number))
	default:
		w.line("Donor's taxpayer identification number", "to be entered by hand on the form; the club keeps none in its book")
	}
	w.certify(p.Boxes)
	w.state(p.Says...)
	w.state("Copies of Form 1098-C for the donor: " + strings.Join(p.Copies, " and ") + ".")
	return nil
}

// boxNames are the captions of the boxes that depend on the case, in the form's
// order (Form 1098-C, Rev. November 2019).
var boxNames = []struct{ box, caption string }{
	{"4a", "sold at arm's length to an unrelated party"},
	{"4b", "date of sale"},
	{"4c", "gross proceeds from the sale"},
	{"5a", "not to be transferred before completion of improvements or use"},
	{"5b", "to be transferred to a needy individual"},
	{"5c", "description of improvements or use, and duration"},
	{"6a", "goods or services provided in exchange"},
	{"6b", "value of goods and services"},
	{"6c", "description of goods and services"},
	{"7", "the donor may not claim more than 500 USD"},
}

func (w *writing) boxes(boxes map[string]any) {
	for _, b := range boxNames {
		if value, stands := boxes[b.box]; stands {
			text := w.boxed(value)
			if words := w.returnWords(); b.box == "6c" && words != "" {
				text += ": " + words
			}
			w.line("Box "+b.box+", "+b.caption, text)
		}
	}
}

// boxed writes what stands in a box.
func (w *writing) boxed(value any) string {
	switch v := value.(type) {
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case int64:
		return w.amount(v)
	case clock.Date:
		return v.String()
	}
	return fmt.Sprint(value)
}

// certify writes out what the boxes certify, in sentences.
func (w *writing) certify(boxes map[string]any) {
	if boxes["4a"] == true {
		w.state("The club certifies that the boat was sold in an arm's length transaction to an unrelated party on "+w.boxed(boxes["4b"])+" for gross proceeds of "+w.boxed(boxes["4c"])+".",
			"The deductible amount may not exceed the gross proceeds from the sale.")
	}
	if boxes["5a"] == true {
		w.state("The club certifies that the boat will not be transferred for money, other property or services before the improvement or use described in box 5c is completed.")
	}
	if boxes["5b"] == true {
		w.state("The club certifies that the boat goes to a needy individual for significantly less than its fair market value, in direct furtherance of its charitable purpose.")
	}
}
