// Package receipt sets papers as PDF and as plain text: receipts and letters
// for donors, and simpler sheets (check lists, disclosure and valuation sheets).
//
// It promises that the same paper gives the same bytes on every machine, that
// text can be selected and searched, that long text wraps instead of being cut
// off, and that a character which the built-in font lacks is refused by name
// instead of being printed as an empty box. It sets Latin, Greek and Cyrillic
// letters only, left to right.
//
// It does not decide what a paper says (that is package taxpaper's and the
// rooms' work) and does not sign. The PDF is not tagged for screen readers;
// Text and SheetText give the same content for mail and for a page.
package receipt

import (
	"fmt"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// Format is a size of paper.
type Format string

// The sizes that clubs in the covered countries print on.
const (
	Letter Format = "Letter" // 216 by 279 mm
	A4     Format = "A4"     // 210 by 297 mm
)

// The layouts: the first, and one in which signatures stand beside the code,
// whatever their length, and there may be two. A layout is never changed once papers
// were issued in it; a new one gets a new number.
const (
	FirstTemplate  = 1
	SecondTemplate = 2
)

// Caution stands on every paper for a donor.
const Caution = "This paper is not tax advice. The donor's adviser and the tax authority's current text decide what may be claimed."

// maxURL keeps the modules of the QR code above half a millimetre, so that a
// printed one can be read, in bytes.
const maxURL = 150

// Party is somebody named on a paper.
type Party struct {
	Name string
	// Lines are the address and numbers below the name.
	Lines []string
}

// Line is one row: what it is, and what it says. Either may wrap.
type Line struct{ Label, Value string }

// Section is a group of rows under a heading, which may be empty.
type Section struct {
	Heading string
	Lines   []Line
}

// Signatory is who signs by hand.
type Signatory struct{ Name, Office string }

func (s Signatory) words() string { return strings.Join(filled(s.Name, s.Office), ", ") }

// Paper is one paper for a donor.
type Paper struct {
	Format Format
	// Language is a BCP 47 tag, "en" or "en-…": the fixed words are English.
	Language string
	Title    string
	Serial   string
	Issuer   Party
	Donor    Party
	// Place and Issued: where and when the paper is issued. Issued is also the
	// file's own date.
	Place    string
	Issued   clock.Date
	Sections []Section
	// Statements are full sentences, one paragraph each.
	Statements []string
	Signatory  Signatory
	// Second signs below the first; the first layout has no room for it.
	Second Signatory
	// CheckURL is where the paper can be checked; it stands on the paper as text
	// and as a QR code. Empty: neither.
	CheckURL string
	// Template is the layout.
	Template int
}

// Render sets a paper as PDF. Faults are Invalid and name the field.
func Render(p Paper) ([]byte, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	d := newDrawing(sheetHead{p.Format, p.Language, p.Title, p.Serial, p.Issued})
	d.party(p.Issuer, 12)
	d.gap(6)
	d.paragraph(bold, 16, p.Title)
	d.row(Line{"Serial number", p.Serial})
	d.row(Line{"Issued", strings.Join(filled(p.Issued.String(), p.Place), ", ")})
	d.heading("Donor")
	d.party(p.Donor, 10)
	for _, s := range p.Sections {
		d.section(s)
	}
	d.gap(4)
	for _, s := range slices.Concat(p.Statements, []string{Caution}) {
		d.paragraph(regular, 10, s)
		d.gap(1.5)
	}
	d.closing(p)
	return d.bytes()
}

func (p Paper) check() error {
	switch {
	case p.Template != FirstTemplate && p.Template != SecondTemplate:
		return fault.Field("template", "there is no layout %d", p.Template)
	case p.Template == FirstTemplate && p.Second != (Signatory{}):
		return fault.Field("second", "the first layout has room for one signature")
	case p.Serial == "":
		return fault.Field("serial", "a paper needs a serial number")
	case p.Issuer.Name == "":
		return fault.Field("issuer.name", "a paper needs its issuer's name")
	case p.Donor.Name == "":
		return fault.Field("donor.name", "a paper needs its donor's name")
	case len(p.CheckURL) > maxURL:
		return fault.Field("check_url", "the address is longer than %d bytes, too long for a code of this size", maxURL)
	}
	if err := checkHead(p.Format, p.Language, p.Title, p.Issued); err != nil {
		return err
	}
	return checkGlyphs(p.texts())
}

func checkHead(f Format, language, title string, issued clock.Date) error {
	switch {
	case f != Letter && f != A4:
		return fault.Field("format", "the format is Letter or A4")
	case language != "en" && !isEnglishVariant(language):
		return fault.Field("language", "the fixed words are English: the language is en, or en with a region such as en-CA")
	case strings.TrimSpace(title) == "":
		return fault.Field("title", "a paper needs a title")
	case issued.IsZero():
		return fault.Field("issued", "a paper needs its date")
	}
	return nil
}

func isEnglishVariant(tag string) bool {
	region, ok := strings.CutPrefix(tag, "en-")
	return ok && region != "" && strings.Trim(region, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

// texts names every text that will be set.
func (p Paper) texts() []namedText {
	texts := []namedText{
		{"title", p.Title}, {"serial", p.Serial}, {"place", p.Place}, {"check_url", p.CheckURL},
		{"signatory.name", p.Signatory.Name}, {"signatory.office", p.Signatory.Office},
		{"second.name", p.Second.Name}, {"second.office", p.Second.Office},
	}
	texts = append(texts, p.Issuer.texts("issuer")...)
	texts = append(texts, p.Donor.texts("donor")...)
	texts = append(texts, sectionTexts(p.Sections)...)
	return append(texts, listTexts("statements", p.Statements)...)
}

func (p Party) texts(field string) []namedText {
	return append([]namedText{{field + ".name", p.Name}}, listTexts(field+".lines", p.Lines)...)
}

func sectionTexts(sections []Section) []namedText {
	var texts []namedText
	for i, s := range sections {
		texts = append(texts, namedText{fmt.Sprintf("sections[%d].heading", i), s.Heading})
		for j, l := range s.Lines {
			field := fmt.Sprintf("sections[%d].lines[%d]", i, j)
			texts = append(texts, namedText{field + ".label", l.Label}, namedText{field + ".value", l.Value})
		}
	}
	return texts
}

func listTexts(field string, items []string) []namedText {
	var texts []namedText
	for i, item := range items {
		texts = append(texts, namedText{fmt.Sprintf("%s[%d]", field, i), item})
	}
	return texts
}

// Text writes a paper as plain text for a mail, with the same content as the PDF.
func Text(p Paper) string {
	var w strings.Builder
	writeParty(&w, p.Issuer)
	fmt.Fprintf(&w, "\n%s\n\n", p.Title)
	writeLine(&w, Line{"Serial number", p.Serial})
	writeLine(&w, Line{"Issued", strings.Join(filled(p.Issued.String(), p.Place), ", ")})
	w.WriteString("\nDonor\n")
	writeParty(&w, p.Donor)
	writeSections(&w, p.Sections)
	for _, s := range slices.Concat(p.Statements, []string{Caution}) {
		fmt.Fprintf(&w, "\n%s\n", s)
	}
	for _, s := range []Signatory{p.Signatory, p.Second} {
		if words := s.words(); words != "" {
			fmt.Fprintf(&w, "\nSigned: %s\n", words)
		}
	}
	if p.CheckURL != "" {
		fmt.Fprintf(&w, "\nCheck this paper at %s\n", p.CheckURL)
	}
	return norm.NFC.String(w.String())
}

// filled gives the texts that are not empty.
func filled(texts ...string) []string {
	var some []string
	for _, t := range texts {
		if t != "" {
			some = append(some, t)
		}
	}
	return some
}

func writeParty(w *strings.Builder, p Party) {
	for _, line := range append([]string{p.Name}, p.Lines...) {
		w.WriteString(line + "\n")
	}
}

func writeSections(w *strings.Builder, sections []Section) {
	for _, s := range sections {
		w.WriteString("\n")
		if s.Heading != "" {
			w.WriteString(s.Heading + "\n")
		}
		for _, l := range s.Lines {
			writeLine(w, l)
		}
	}
}

func writeLine(w *strings.Builder, l Line) { fmt.Fprintf(w, "%s: %s\n", l.Label, l.Value) }
