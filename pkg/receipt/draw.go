package receipt

import (
	"bytes"
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/skip2/go-qrcode"
	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// Measures of the first layout, in millimetres.
const (
	margin       = 20.0
	labelWidth   = 48.0
	lineFactor   = 0.5  // height of a line per point of its size
	closingSpace = 52.0 // with a code to check the paper
	signingSpace = 26.0 // with a signature alone
	qrSide       = 30.0
	boxSide      = 3.6
)

const (
	family  = "Noto"
	regular = ""
	bold    = "B"
)

// pageCount stands for the number of pages until it is known. Being a private
// character, it cannot stand in a text that passed checkGlyphs.
const pageCount = "\uE000"

type sheetHead struct {
	format                     Format
	language, title, reference string
	issued                     clock.Date
}

// drawing is a PDF on its way, with a pen that moves down the page.
type drawing struct {
	pdf    *fpdf.Fpdf
	width  float64 // between the margins
	bottom float64 // lowest place for text
}

// newDrawing fixes all that would otherwise differ from run to run: dates,
// producer and the order of catalogues.
func newDrawing(h sheetHead) *drawing {
	pdf := fpdf.New("P", "mm", string(h.format), "")
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(h.issued.Time())
	pdf.SetModificationDate(h.issued.Time())
	pdf.SetProducer("refloat", true)
	pdf.SetTitle(norm.NFC.String(h.title), true)
	pdf.SetLang(h.language)
	pdf.AddUTF8FontFromBytes(family, regular, regularFace)
	pdf.AddUTF8FontFromBytes(family, bold, boldFace)
	// After the fonts: set before them, the digits of the count are left out.
	pdf.AliasNbPages(pageCount)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(false, margin)
	pdf.SetCellMargin(0)
	width, height := pdf.GetPageSize()
	d := &drawing{pdf: pdf, width: width - 2*margin, bottom: height - margin}
	pdf.SetFooterFunc(func() { d.footer(h) })
	pdf.AddPage()
	return d
}

func (d *drawing) footer(h sheetHead) {
	d.pdf.SetFont(family, regular, 8)
	d.pdf.SetXY(margin, d.bottom+5)
	words := append(filled(h.reference), fmt.Sprintf("page %d of %s", d.pdf.PageNo(), pageCount))
	for _, line := range d.wrap(strings.Join(words, ", "), d.width) {
		d.pdf.CellFormat(d.width, 4, line, "", 2, "L", false, 0, "")
	}
}

// bytes ends the file.
func (d *drawing) bytes() ([]byte, error) {
	var b bytes.Buffer
	if err := d.pdf.Output(&b); err != nil {
		return nil, fault.Because(fault.Internal, err, "the paper could not be set")
	}
	return b.Bytes(), nil
}

func (d *drawing) gap(height float64) { d.pdf.SetY(d.pdf.GetY() + height) }

// need starts a new page where less than this height is left.
func (d *drawing) need(height float64) {
	if d.pdf.GetY()+height > d.bottom {
		d.pdf.AddPage()
	}
}

// wrap breaks a text into lines that fit the width in the present font, between
// words where it can and within a word that is longer than a line.
func (d *drawing) wrap(text string, width float64) []string {
	var lines []string
	for paragraph := range strings.SplitSeq(norm.NFC.String(text), "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			candidate := strings.TrimPrefix(line+" "+word, " ")
			if d.pdf.GetStringWidth(candidate) <= width {
				line = candidate
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			var full []string
			full, line = d.split(word, width)
			lines = append(lines, full...)
		}
		lines = append(lines, line)
	}
	return lines
}

// split cuts a word into full lines and a rest that fits.
func (d *drawing) split(word string, width float64) (full []string, rest string) {
	for _, r := range word {
		if rest != "" && d.pdf.GetStringWidth(rest+string(r)) > width {
			full = append(full, rest)
			rest = ""
		}
		rest += string(r)
	}
	return full, rest
}

func (d *drawing) paragraph(style string, size float64, text string) {
	d.paragraphIn(style, size, text, d.width)
}

func (d *drawing) paragraphIn(style string, size float64, text string, width float64) {
	d.pdf.SetFont(family, style, size)
	height := size * lineFactor
	for _, line := range d.wrap(text, width) {
		d.need(height)
		d.pdf.SetX(margin)
		d.pdf.CellFormat(width, height, line, "", 2, "L", false, 0, "")
	}
}

func (d *drawing) party(p Party, size float64) {
	d.paragraph(bold, size, p.Name)
	for _, line := range p.Lines {
		d.paragraph(regular, 10, line)
	}
}

// heading keeps two lines of what follows on its page.
func (d *drawing) heading(text string) {
	d.gap(4)
	d.need(20)
	d.paragraph(bold, 11, text)
}

func (d *drawing) section(s Section) {
	if s.Heading != "" {
		d.heading(s.Heading)
	} else {
		d.gap(4)
	}
	for _, l := range s.Lines {
		d.row(l)
	}
}

// row sets a label beside its value; both wrap, and a long row runs on to the
// next page.
func (d *drawing) row(l Line) {
	const size, gutter = 10.0, 3.0
	d.pdf.SetFont(family, bold, size)
	labels := d.wrap(l.Label, labelWidth-gutter)
	d.pdf.SetFont(family, regular, size)
	values := d.wrap(l.Value, d.width-labelWidth)
	for i := range max(len(labels), len(values)) {
		d.need(size * lineFactor)
		d.pdf.SetX(margin)
		d.cell(bold, size, labelWidth, at(labels, i))
		d.cell(regular, size, d.width-labelWidth, at(values, i))
		d.pdf.Ln(size * lineFactor)
	}
}

func (d *drawing) cell(style string, size, width float64, text string) {
	d.pdf.SetFont(family, style, size)
	d.pdf.CellFormat(width, size*lineFactor, text, "", 0, "L", false, 0, "")
}

func at(lines []string, i int) string {
	if i >= len(lines) {
		return ""
	}
	return lines[i]
}

// check draws a box, crossed where the item is done, and its text.
func (d *drawing) check(c Check) {
	const size, indent = 10.0, 7.0
	d.pdf.SetFont(family, regular, size)
	lines := d.wrap(c.Text, d.width-indent)
	d.need(size * lineFactor * float64(min(2, len(lines))))
	x, y := margin, d.pdf.GetY()+0.7
	d.pdf.Rect(x, y, boxSide, boxSide, "D")
	if c.Done {
		d.pdf.Line(x, y, x+boxSide, y+boxSide)
		d.pdf.Line(x, y+boxSide, x+boxSide, y)
	}
	for _, line := range lines {
		d.need(size * lineFactor)
		d.pdf.SetX(margin + indent)
		d.pdf.CellFormat(d.width-indent, size*lineFactor, line, "", 2, "L", false, 0, "")
	}
	d.gap(1)
}

// signingRoom is the height of a line to sign on, with the words below it.
const signingRoom = 26.0

// signature leaves room to sign and sets the words below the line.
func (d *drawing) signature(words string) { d.signatureIn(words, d.width) }

// signatureIn wraps the words to a width.
func (d *drawing) signatureIn(words string, width float64) {
	const room, length = 14.0, 85.0
	d.need(signingRoom)
	y := d.pdf.GetY() + room
	d.pdf.Line(margin, y, margin+length, y)
	d.pdf.SetY(y + 1)
	d.paragraphIn(regular, 9, words, width)
}

// closing sets the line to sign on and, beside it, where to check the paper;
// they stay together on one page.
func (d *drawing) closing(p Paper) {
	space := signingSpace
	if p.CheckURL != "" {
		space = closingSpace
	}
	beside := d.width
	if p.Template == SecondTemplate {
		beside -= qrSide + 5
		space += signingRoom // for a second signature, or for long words under one
	}
	d.need(space)
	top, page := d.pdf.GetY(), d.pdf.PageNo()
	if p.CheckURL != "" {
		d.qr(p.CheckURL, margin+d.width-qrSide, top+2)
	}
	for _, s := range []Signatory{p.Signatory, p.Second} {
		if words := s.words(); words != "" {
			d.signatureIn(words, beside)
		}
	}
	if p.CheckURL == "" {
		return
	}
	if d.pdf.PageNo() == page {
		d.pdf.SetY(max(d.pdf.GetY(), top+qrSide+3))
	}
	d.paragraph(regular, 8, "Check this paper at "+p.CheckURL)
}

// qr draws the code as filled runs, so that it stays sharp and needs no image.
// Its quiet zone of four modules is part of the square.
func (d *drawing) qr(content string, x, y float64) {
	code, err := qrcode.New(content, qrcode.Medium)
	if err != nil {
		d.pdf.SetError(fmt.Errorf("the address to check at: %w", err))
		return
	}
	modules := code.Bitmap()
	side := qrSide / float64(len(modules))
	for row, cells := range modules {
		for from := 0; from < len(cells); from++ {
			to := from
			for to < len(cells) && cells[to] {
				to++
			}
			if to > from {
				d.pdf.Rect(x+float64(from)*side, y+float64(row)*side, float64(to-from)*side, side, "F")
			}
			from = max(from, to)
		}
	}
}
