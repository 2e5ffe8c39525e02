package message

import (
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/people"
)

// PapersAsked is said when a treasurer lets the papers of several gifts of a year
// be issued in one go. It is not said of a single paper, and says nothing of what
// came of it: each paper is issued, or withheld, by itself afterwards.
type PapersAsked struct {
	v1
	Batch string     `json:"batch"`
	Year  int        `json:"year"` // of the gifts
	On    clock.Date `json:"on"`   // the date of the papers
	Boats []boat.ID  `json:"boats"`
	By    people.ID  `json:"by,omitempty"` // who asked; none: at the machine
}

// Kind is constant.
func (PapersAsked) Kind() Kind { return "treasury.papers-asked" }

// PaperWithheld is said when a gift of a batch got no paper after all: the reason
// is the same as an order for this paper alone would have been refused with.
type PaperWithheld struct {
	v1
	Batch string  `json:"batch"`
	Boat  boat.ID `json:"boat"`
	Why   string  `json:"why"`
}

// Kind is constant.
func (PaperWithheld) Kind() Kind { return "treasury.paper-withheld" }

var (
	_ = declare[PapersAsked]()
	_ = declare[PaperWithheld]()
)

// TreasuryBatch is the stream of papers that were asked for in one go.
func TreasuryBatch(id string) string { return "treasury.batch/" + id }

// IssueYear lets the papers of gifts of one year be issued one after the other, as
// IssuePaper would, none of them as final. The treasurer. Boats are those of
// YearPapers that are ready.
type IssueYear struct {
	Batch string     `json:"batch"`
	Year  int        `json:"year"`
	On    clock.Date `json:"on"`
	Boats []boat.ID  `json:"boats"`
}

// Verb is constant.
func (IssueYear) Verb() string { return "treasury.issue-year" }

// YearPapers asks which gifts of a year have a paper, which can get one as things are,
// and why others cannot. The treasurer or the auditor. It answers with PapersOfYear.
type YearPapers struct {
	Year int `json:"year"`
}

// Verb is constant.
func (YearPapers) Verb() string { return "treasury.year-papers" }

// PapersOfYear is a year's gifts, the oldest first, with the batches of that year, the
// newest first.
type PapersOfYear struct {
	Year    int          `json:"year"`
	Gifts   []GiftPaper  `json:"gifts"`
	Batches []PaperBatch `json:"batches"`
	// More is how many gifts there are beyond those listed.
	More int `json:"more,omitempty"`
}

// GiftPaper is a gift with its paper, or with what stands in the way of one.
type GiftPaper struct {
	Boat     boat.ID    `json:"boat"`
	BoatName string     `json:"boat_name"`
	Received clock.Date `json:"received"`
	Paper    string     `json:"paper,omitempty"` // that stands
	Serial   string     `json:"serial,omitempty"`
	WhyNot   string     `json:"why_not,omitempty"` // without a paper: why none can be issued; empty: one can
}

// Ready says whether a paper can be issued as things are.
func (g GiftPaper) Ready() bool { return g.Paper == "" && g.WhyNot == "" }

// PaperBatch is how far a batch has come.
type PaperBatch struct {
	Batch    string     `json:"batch"`
	On       clock.Date `json:"on"`
	Asked    time.Time  `json:"asked"`
	Of       int        `json:"of"`
	Issued   int        `json:"issued"`
	Withheld []Withheld `json:"withheld"`
}

// Left is how many are still to come.
func (b PaperBatch) Left() int { return b.Of - b.Issued - len(b.Withheld) }

// Withheld is a gift of a batch that got no paper.
type Withheld struct {
	Boat     boat.ID `json:"boat"`
	BoatName string  `json:"boat_name"`
	Why      string  `json:"why"`
}

// PaperSeries asks for the series of papers' numbers, as they are found by reading the
// book again from its first event. The treasurer or the auditor. It answers with
// SeriesReport.
type PaperSeries struct{}

// Verb is constant.
func (PaperSeries) Verb() string { return "treasury.paper-series" }

// SeriesReport lists the series of an issuer.
type SeriesReport struct {
	Issuer string        `json:"issuer"`
	Series []SeriesCount `json:"series"`
}

// Whole says whether no number is missing, repeated or out of its series.
func (r SeriesReport) Whole() bool {
	for _, s := range r.Series {
		if !s.Whole() {
			return false
		}
	}
	return true
}

// SeriesCount is one series: a country's papers of a year.
type SeriesCount struct {
	Series    string `json:"series"`
	Country   string `json:"country"`
	Year      int    `json:"year"`
	First     string `json:"first"`
	Last      string `json:"last"`
	Count     int    `json:"count"`     // papers issued, cancelled ones among them
	Cancelled int    `json:"cancelled"` // whose numbers stay used
	Replacing int    `json:"replacing"` // that were issued in place of a cancelled one
	// Gaps are numbers below the last that no paper bears, Doubles those that several
	// bear, Odd serials that are not of the series in which they stand. At most a hundred of each are named.
	Gaps    []string `json:"gaps"`
	Doubles []string `json:"doubles"`
	Odd     []string `json:"odd"`
}

// Whole says whether nothing is missing, repeated or out of place.
func (s SeriesCount) Whole() bool { return len(s.Gaps)+len(s.Doubles)+len(s.Odd) == 0 }
