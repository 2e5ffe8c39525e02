package web

import (
	"archive/zip"
	"bytes"
	"strconv"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func papersYearRoutes() []route {
	return []route{
		get("/papers/years/{year}", booksTo, (*visit).yearPapers),
		get("/papers/years/{year}/zip", treasurers, (*visit).yearPapersZip),
		get("/papers/series", booksTo, (*visit).paperSeries),
	}
}

// yearPapersPage is a year's gifts with their papers, and the papers that are being
// issued in one go.
type yearPapersPage struct {
	Frame
	Year    int
	Years   []int
	Ready   []message.GiftPaper
	Not     []message.GiftPaper
	Issued  []paperSent
	Batches []message.PaperBatch
	More    int
}

// paperSent is a gift that has its paper, with what became of the mail about it.
type paperSent struct {
	message.GiftPaper
	Mail string
}

// Going is how many papers are still to come.
func (p yearPapersPage) Going() int {
	left := 0
	for _, b := range p.Batches {
		left += b.Left()
	}
	return left
}

// papersOfYear asks for the gifts of the year that the address names.
func (v *visit) papersOfYear() (message.PapersOfYear, error) {
	year, err := strconv.Atoi(v.param("year"))
	if err != nil {
		return message.PapersOfYear{}, fault.New(fault.Unknown, "There is no such year. Choose one at the head of the page.")
	}
	return ask[message.PapersOfYear](v, message.YearPapers{Year: year})
}

func (v *visit) yearPapers() error {
	list, err := v.papersOfYear()
	if err != nil {
		return err
	}
	p := yearPapersPage{Frame: v.frame("Papers for the gifts of " + strconv.Itoa(list.Year)), Year: list.Year, Batches: list.Batches, More: list.More}
	if p.Years, err = v.years(v.today().Year()); err != nil {
		return err
	}
	mail := v.mailOf(list.Gifts)
	for _, g := range list.Gifts {
		switch {
		case g.Paper != "":
			p.Issued = append(p.Issued, paperSent{g, mail[message.PaperLetter(g.Paper)]})
		case g.Ready():
			p.Ready = append(p.Ready, g)
		default:
			p.Not = append(p.Not, g)
		}
	}
	return v.show("papers_year", p)
}

// mailOf says what became of the letters about papers. It is left out where the viewer
// may not know it, or nobody answers: the papers are what the page is for.
func (v *visit) mailOf(gifts []message.GiftPaper) map[string]string {
	said := map[string]string{}
	var q message.LetterOutcomes
	for _, g := range gifts {
		if g.Paper != "" {
			q.Letters = append(q.Letters, message.PaperLetter(g.Paper))
		}
	}
	if !v.Who.Has(people.Treasurer) || len(q.Letters) == 0 {
		return said
	}
	answer, err := ask[message.OutcomesOfLetters](v, q)
	if err != nil {
		return said
	}
	for _, l := range answer.Letters {
		said[l.Letter] = mailWords(l)
	}
	return said
}

func mailWords(l message.LetterOutcome) string {
	switch {
	case l.Outcome == "":
		return "The mail about it waits to be sent."
	case l.Outcome == message.LetterSent && l.At != nil:
		return "The mail about it was sent on " + l.At.UTC().Format("2 January 2006") + "."
	}
	return "No mail was sent: " + l.Outcome + ". Print it and hand it over."
}

// yearPapersZip gives the standing papers of a year's gifts as one archive.
func (v *visit) yearPapersZip() error {
	list, err := v.papersOfYear()
	if err != nil {
		return err
	}
	var file bytes.Buffer
	w := zip.NewWriter(&file)
	for _, g := range list.Gifts {
		if g.Paper == "" {
			continue
		}
		sheet, err := ask[message.Sheet](v, message.PrintPaper{Paper: g.Paper})
		if fault.Is(err, fault.Unknown) {
			continue // it need not be kept any more
		}
		if err != nil {
			return err
		}
		if err := addFile(w, sheet.Name, sheet.PDF, v.Clock.Now()); err != nil {
			return err
		}
	}
	if err := w.Close(); err != nil {
		return err
	}
	return v.download("papers-"+strconv.Itoa(list.Year)+".zip", "application/zip", file.Bytes())
}

// addFile puts a file into an archive without compressing it: a PDF is compressed
// already.
func addFile(w *zip.Writer, name string, file []byte, at time.Time) error {
	into, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store, Modified: at})
	if err == nil {
		_, err = into.Write(file)
	}
	return err
}

// seriesPage lists the series of papers' numbers.
type seriesPage struct {
	Frame
	Report message.SeriesReport
}

func (v *visit) paperSeries() error {
	report, err := ask[message.SeriesReport](v, message.PaperSeries{})
	if err != nil {
		return err
	}
	return v.show("paper_series", seriesPage{v.frame("Numbers of papers"), report})
}

// issueYearAct is the form that lets a year's papers be issued in one go.
var issueYearAct = act{
	name: "issue-year", path: "/papers/years/{year}/issue", may: treasurers, title: "Issue the papers that are ready", button: "Issue them", done: "The papers are being issued, one after the other.", weighty: true,
	words:   "Each gift that is ready gets its paper, with the next number, as if you had issued it by itself. Donors with a mail address are told. A gift that turns out not to be ready is passed over, and you read why.",
	command: func() desk.Commanded { return &message.IssueYear{} },
	fields: func(v *visit) ([]Section, error) {
		return []Section{{Fields: []Field{fresh("batch"), day("on", "Date of the papers").Needed().Starts(v.today().String())}}}, nil
	},
	finish: func(v *visit, c desk.Commanded) error {
		year := c.(*message.IssueYear)
		list, err := ask[message.PapersOfYear](v, message.YearPapers{Year: year.Year})
		for _, g := range list.Gifts {
			if g.Ready() {
				year.Boats = append(year.Boats, g.Boat)
			}
		}
		if err == nil && len(year.Boats) == 0 {
			err = fault.New(fault.Conflict, "No gift of %d is ready for a paper. The list says what each lacks.", year.Year)
		}
		return err
	},
	to: func(v *visit, _ desk.Commanded) string { return "/papers/years/" + v.param("year") },
}
