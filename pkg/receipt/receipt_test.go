package receipt

import (
	"bytes"
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/skip2/go-qrcode"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

func paper() Paper {
	return Paper{
		Format: Letter, Language: "en-CA", Title: "Official receipt for income tax purposes", Serial: "2026-0041",
		Issuer: Party{"Quillwater Paddlers", []string{"4 Mill Lane, Amberjay ON", "Registration 00000 0000 RR0001"}},
		Donor:  Party{"Rowan Alder", []string{"12 Quay Street, Amberjay ON"}},
		Place:  "Amberjay", Issued: clock.MustDate("2026-07-06"),
		Sections: []Section{{"The gift", []Line{
			{"Received", "2026-03-28"},
			{"Description", "Oxlip touring kayak, 4.6 m, green deck, hull number OXL12345L495"},
			{"Fair market value", "900.00 CAD"},
		}}},
		Statements: []string{"Canada Revenue Agency: canada.ca/charities-giving"},
		Signatory:  Signatory{"T. Reed", "treasurer"},
		CheckURL:   "https://papers.example/check/2026-0041",
		Template:   FirstTemplate,
	}
}

func render(t *testing.T, p Paper) []byte {
	t.Helper()
	pdf, err := Render(p)
	require.NoError(t, err)
	return pdf
}

// poppler runs one of poppler's programs on a file, for reading a paper with a
// program that did not write it.
func poppler(t *testing.T, program string, pdf []byte, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skip("needs poppler-utils: " + err.Error())
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	args = append(args, file)
	if program == "pdftotext" {
		args = append(args, "-")
	}
	var problems bytes.Buffer
	command := exec.Command(program, args...)
	command.Stderr = &problems
	command.Env = append(os.Environ(), "TZ=UTC")
	out, err := command.Output()
	require.NoError(t, err, problems.String())
	return out
}

// flat is the text on a PDF with all white space as one blank.
func flat(t *testing.T, pdf []byte) string {
	return strings.Join(strings.Fields(string(poppler(t, "pdftotext", pdf, "-layout"))), " ")
}

func TestSameBytesOverRuns(t *testing.T) {
	first := render(t, paper())
	for range 10 {
		require.True(t, bytes.Equal(first, render(t, paper())))
	}
	other := paper()
	other.Donor.Name = "Rowan Elder"
	assert.False(t, bytes.Equal(first, render(t, other)))
	assert.Less(t, len(first), 60_000, "the faces are subset")
}

func TestPapersMayBeSetAtTheSameTime(t *testing.T) {
	want := render(t, paper())
	got := make(chan []byte)
	for range 4 {
		go func() { pdf, _ := Render(paper()); got <- pdf }()
	}
	for range 4 {
		assert.True(t, bytes.Equal(want, <-got))
	}
}

// pdfcpu's strict mode checks against ISO 32000.
func TestThePDFIsValid(t *testing.T) {
	api.DisableConfigDir()
	strict := model.NewDefaultConfiguration()
	strict.ValidationMode = model.ValidationStrict
	sheetPDF, err := RenderSheet(sheet())
	require.NoError(t, err)
	for _, pdf := range [][]byte{render(t, paper()), sheetPDF} {
		assert.NoError(t, api.Validate(bytes.NewReader(pdf), strict))
	}
	assert.Error(t, api.Validate(bytes.NewReader(render(t, paper())[:3000]), strict))
}

func TestTextCanBeSelected(t *testing.T) {
	text := flat(t, render(t, paper()))
	for _, part := range []string{"Rowan Alder", "2026-0041", "2026-07-06, Amberjay", "Official receipt for income tax purposes",
		"OXL12345L495", "900.00 CAD", "T. Reed, treasurer", "https://papers.example/check/2026-0041", Caution, "page 1 of 1"} {
		assert.Contains(t, text, part)
	}
}

func TestTitleLanguageDateAndSize(t *testing.T) {
	pdf := render(t, paper())
	info := string(poppler(t, "pdfinfo", pdf))
	assert.Regexp(t, `Title: +Official receipt for income tax purposes\n`, info)
	assert.Regexp(t, `Page size: +612 x 792 pts \(letter\)`, info) // ANSI A
	assert.Regexp(t, `CreationDate: +Mon Jul  6 00:00:00 2026`, info)
	assert.Regexp(t, `ModDate: +Mon Jul  6 00:00:00 2026`, info)
	assert.Contains(t, string(pdf), "/Lang (en-CA)")
	p := paper()
	p.Format = A4
	assert.Regexp(t, `Page size: +595\.2\d x 841\.89 pts \(A4\)`, string(poppler(t, "pdfinfo", render(t, p)))) // ISO 216
}

// 60 characters each, in Vietnamese (composed and decomposed), Polish, Greek,
// Ukrainian, and one word without a blank.
var longNames = []string{
	"Nguyễn Phước Bảo Thiên Hương Đặng Trần Quỳnh Như Ngọc Ánh Vũ",
	"Nguye\u0302\u0303n Phu\u031bo\u031b\u0301c",
	"Świętosława Brzęczyszczykiewicz-Gżegżółka z Chrząszczyrzewosz",
	"Αλεξάνδρα-Ευφροσύνη Παπακωνσταντινοπούλου του Ξενοφώντος Θεού",
	"Ївга Щербаківська-Їжакевич, донька Григорія з Борщагівської л",
	strings.Repeat("Wołoszczyński", 5),
}

func TestLongNamesWrapAndAreWhole(t *testing.T) {
	for _, name := range longNames {
		p := paper()
		p.Donor.Name, p.Issuer.Name, p.Title = name, name+" "+name, name+" "+name
		p.Sections[0].Lines[1] = Line{name, name + " " + name + " " + name}
		pdf := render(t, p)
		want := norm.NFC.String(strings.ReplaceAll(name, " ", ""))
		got := strings.ReplaceAll(flat(t, pdf), " ", "")
		assert.GreaterOrEqual(t, strings.Count(got, want), 5, name)
		insideMargins(t, pdf)
	}
}

// insideMargins asks pdftotext for the box of every word: 20 mm are 56.7 points.
func insideMargins(t *testing.T, pdf []byte) {
	t.Helper()
	boxes := string(poppler(t, "pdftotext", pdf, "-bbox"))
	words := regexp.MustCompile(`<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">`).FindAllStringSubmatch(boxes, -1)
	require.NotEmpty(t, words)
	for _, w := range words {
		assert.GreaterOrEqual(t, points(t, w[1]), 56.5, w[0])
		assert.LessOrEqual(t, points(t, w[3]), 612-56.5, w[0])
		assert.LessOrEqual(t, points(t, w[4]), 792-20.0, w[0])
	}
}

func points(t *testing.T, text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}

func TestALongPaperRunsOnOverPages(t *testing.T) {
	p := paper()
	for range 60 {
		p.Sections[0].Lines = append(p.Sections[0].Lines, Line{"Part", "coaming and thwart"})
	}
	p.Sections[0].Lines = append(p.Sections[0].Lines, Line{"Story", strings.Repeat("paddle ", 500)})
	pdf := render(t, p)
	text := flat(t, pdf)
	assert.Equal(t, 60, strings.Count(text, "coaming and thwart"))
	assert.Equal(t, 500, strings.Count(text, "paddle "))
	pages := regexp.MustCompile(`2026-0041, page \d of \d`).FindAllString(text, -1)
	assert.Equal(t, []string{"2026-0041, page 1 of 3", "2026-0041, page 2 of 3", "2026-0041, page 3 of 3"}, pages)
	insideMargins(t, pdf)
}

// Fifteen lines leave enough room to sign in and not enough for the code.
func TestALineToSignOnKeepsToThePageWhereItFits(t *testing.T) {
	p := paper()
	p.Statements = slices.Repeat(p.Statements, 15)
	assert.Contains(t, flat(t, render(t, p)), "page 2 of 2", "the code wants its room")
	p.CheckURL = ""
	pdf := render(t, p)
	assert.Contains(t, flat(t, pdf), "page 1 of 1")
	insideMargins(t, pdf)
}

func TestWhatCannotBePrintedIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		field, sign string
		change      func(*Paper)
	}{
		"Han":          {"donor.name", "漢", func(p *Paper) { p.Donor.Name = "Rowan 漢" }},
		"Arabic":       {"donor.lines[0]", "ع", func(p *Paper) { p.Donor.Lines = []string{"ع"} }},
		"Devanagari":   {"issuer.name", "क", func(p *Paper) { p.Issuer.Name = "क" }},
		"picture":      {"statements[0]", "U+1F6F6", func(p *Paper) { p.Statements = []string{"🛶"} }},
		"turning mark": {"title", "U+202E", func(p *Paper) { p.Title = "abc\u202Edef" }},
		"tabulator":    {"sections[0].lines[0].value", "U+0009", func(p *Paper) { p.Sections[0].Lines[0].Value = "a\tb" }},
		"private sign": {"place", "U+E000", func(p *Paper) { p.Place = pageCount }},
		"broken UTF-8": {"serial", "U+FFFD", func(p *Paper) { p.Serial = "a\xff" }},
		"label":        {"sections[0].lines[0].label", "漢", func(p *Paper) { p.Sections[0].Lines[0].Label = "漢" }},
		"heading":      {"sections[0].heading", "漢", func(p *Paper) { p.Sections[0].Heading = "漢" }},
		"signatory":    {"signatory.name", "漢", func(p *Paper) { p.Signatory.Name = "漢" }},
		"address":      {"check_url", "漢", func(p *Paper) { p.CheckURL = "漢" }},
	} {
		p := paper()
		c.change(&p)
		_, err := Render(p)
		require.Error(t, err, name)
		assert.Equal(t, c.field, fault.Of(err).Field, name)
		assert.True(t, fault.Is(err, fault.Invalid))
		assert.Contains(t, err.Error(), c.sign, name)
	}
}

// The PDF writer reaches the first 65,536 characters only.
func TestTheFacesHoldNothingThatTheWriterCannotReach(t *testing.T) {
	var buffer sfnt.Buffer
	for r := rune(0x10000); r < 0x20000; r++ {
		require.False(t, printable(&buffer, r), "%U", r)
	}
}

func TestWhatAPaperNeeds(t *testing.T) {
	for field, change := range map[string]func(*Paper){
		"template":    func(p *Paper) { p.Template = 0 },
		"serial":      func(p *Paper) { p.Serial = "" },
		"issuer.name": func(p *Paper) { p.Issuer.Name = "" },
		"donor.name":  func(p *Paper) { p.Donor.Name = "" },
		"check_url":   func(p *Paper) { p.CheckURL = "https://" + strings.Repeat("a", maxURL) },
		"format":      func(p *Paper) { p.Format = "Legal" },
		"language":    func(p *Paper) { p.Language = "en-) /Foo (" },
		"title":       func(p *Paper) { p.Title = " " },
		"issued":      func(p *Paper) { p.Issued = clock.Date{} },
	} {
		p := paper()
		change(&p)
		_, err := Render(p)
		assert.Equal(t, field, fault.Of(err).Field)
	}
}

func TestTextHasThePapersContent(t *testing.T) {
	text := Text(paper())
	for _, part := range []string{"Quillwater Paddlers\n", "Serial number: 2026-0041\n", "Issued: 2026-07-06, Amberjay\n", "Rowan Alder\n",
		"Fair market value: 900.00 CAD\n", "Signed: T. Reed, treasurer\n", Caution, "https://papers.example/check/2026-0041"} {
		assert.Contains(t, text, part)
	}
	for _, word := range strings.Fields(strings.ReplaceAll(text, ":", "")) {
		assert.Contains(t, strings.ReplaceAll(flat(t, render(t, paper())), ":", ""), strings.TrimPrefix(word, "Signed"))
	}
}

// The last page is drawn by poppler, and every module of the code is looked up
// at its place: whole on its page wherever the text before it ends, and with
// nothing printed over it.
func TestTheCodeIsDrawnModuleForModule(t *testing.T) {
	for name, rows := range map[string]int{"near the top": 0, "just room": 18, "no room left": 20, "hardly room to sign": 24} {
		t.Run(name, func(t *testing.T) {
			p := paper()
			p.CheckURL = "https://papers.example/check/" + strings.Repeat("long-", 24)
			p.Signatory = Signatory{}
			for range rows {
				p.Sections[0].Lines = append(p.Sections[0].Lines, Line{"Part", "coaming and thwart"})
			}
			requireCode(t, p)
		})
	}
}

func requireCode(t *testing.T, p Paper) {
	t.Helper()
	const resolution = 300
	const dotsPerMM = resolution / 25.4
	pdf := render(t, p)
	last := regexp.MustCompile(`Pages: +(\d+)`).FindStringSubmatch(string(poppler(t, "pdfinfo", pdf)))[1]
	picture, _, err := image.Decode(bytes.NewReader(poppler(t, "pdftoppm", pdf, "-r", strconv.Itoa(resolution), "-f", last, "-gray", "-png")))
	require.NoError(t, err)
	code, err := qrcode.New(p.CheckURL, qrcode.Medium)
	require.NoError(t, err)
	modules := code.Bitmap()
	side := qrSide / float64(len(modules)) * dotsPerMM
	left := float64(picture.Bounds().Dx()) - (margin+qrSide)*dotsPerMM
	top := topOfCode(picture, int(left), int(left+qrSide*dotsPerMM), 6.5*side) - 4*side // four quiet modules above
	for row, cells := range modules {
		for column, dark := range cells {
			r, _, _, _ := picture.At(int(left+(float64(column)+0.5)*side), int(top+(float64(row)+0.5)*side)).RGBA()
			require.Equal(t, dark, r < 0x8000, "row %d column %d", row, column)
		}
	}
}

// topOfCode finds the first row with an unbroken dark run as long as a corner
// square of the code; no letter is that wide.
func topOfCode(picture image.Image, left, right int, long float64) float64 {
	for y := range picture.Bounds().Dy() {
		run := 0
		for x := left; x < right; x++ {
			if r, _, _, _ := picture.At(x, y).RGBA(); r >= 0x8000 {
				run = 0
				continue
			}
			if run++; float64(run) > long {
				return float64(y)
			}
		}
	}
	return 0
}
