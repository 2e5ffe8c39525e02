package receipt

import (
	"fmt"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/clock"
)

// Check is one item of a check list.
type Check struct {
	Text string
	Done bool
}

// Sheet is a check list, a disclosure sheet or a valuation sheet. Cautions
// belong on every sheet about work or use that can hurt someone; which, the
// caller knows.
type Sheet struct {
	Format   Format
	Language string
	Title    string
	// Reference names what the sheet is about, such as a boat's number.
	Reference string
	Issued    clock.Date
	Sections  []Section
	Checks    []Check
	// Notes and Cautions are full sentences; cautions are set in bold.
	Notes    []string
	Cautions []string
	// Signatures are the words below the lines to sign on: a name or an office.
	Signatures []string
}

// RenderSheet sets a sheet as PDF. Faults are Invalid and name the field.
func RenderSheet(s Sheet) ([]byte, error) {
	if err := checkHead(s.Format, s.Language, s.Title, s.Issued); err != nil {
		return nil, err
	}
	if err := checkGlyphs(s.texts()); err != nil {
		return nil, err
	}
	d := newDrawing(sheetHead{s.Format, s.Language, s.Title, s.Reference, s.Issued})
	d.paragraph(bold, 16, s.Title)
	d.paragraph(regular, 10, strings.Join(filled(s.Reference, s.Issued.String()), ", "))
	for _, section := range s.Sections {
		d.section(section)
	}
	d.gap(3)
	for _, c := range s.Checks {
		d.check(c)
	}
	d.gap(3)
	for _, c := range s.Cautions {
		d.paragraph(bold, 10, c)
	}
	if len(s.Signatures) > 0 {
		d.need(d.noteHeight(s.Notes) + signingRoom*float64(min(len(s.Signatures), 2)))
	}
	for _, n := range s.Notes {
		d.paragraph(regular, 10, n)
	}
	for _, name := range s.Signatures {
		d.signature(name)
	}
	return d.bytes()
}

// noteHeight is how much room notes take, at most half a page: what somebody signs
// stands on the page on which they sign.
func (d *drawing) noteHeight(notes []string) float64 {
	d.pdf.SetFont(family, regular, 10)
	lines := 0
	for _, n := range notes {
		lines += len(d.wrap(n, d.width))
	}
	return min(float64(lines)*10*lineFactor, (d.bottom-margin)/2)
}

func (s Sheet) texts() []namedText {
	texts := []namedText{{"title", s.Title}, {"reference", s.Reference}}
	texts = append(texts, sectionTexts(s.Sections)...)
	for i, c := range s.Checks {
		texts = append(texts, namedText{fmt.Sprintf("checks[%d].text", i), c.Text})
	}
	texts = append(texts, listTexts("notes", s.Notes)...)
	texts = append(texts, listTexts("cautions", s.Cautions)...)
	return append(texts, listTexts("signatures", s.Signatures)...)
}

// SheetText writes a sheet as plain text, with the same content as the PDF.
func SheetText(s Sheet) string {
	var w strings.Builder
	fmt.Fprintf(&w, "%s\n%s\n", s.Title, strings.Join(filled(s.Reference, s.Issued.String()), ", "))
	writeSections(&w, s.Sections)
	if len(s.Checks) > 0 {
		w.WriteString("\n")
	}
	for _, c := range s.Checks {
		mark := " "
		if c.Done {
			mark = "x"
		}
		fmt.Fprintf(&w, "[%s] %s\n", mark, c.Text)
	}
	for _, note := range slices.Concat(s.Cautions, s.Notes) {
		fmt.Fprintf(&w, "\n%s\n", note)
	}
	for _, name := range s.Signatures {
		fmt.Fprintf(&w, "\n____________________ %s\n", name)
	}
	return norm.NFC.String(w.String())
}
