// Package taxpaper decides which paper the giver of a boat, of goods or of
// money gets, what it says, and what is due when, in the United States, Canada
// and the United Kingdom.
//
// It promises that the same gift gives the same answer, that every threshold
// and period comes from a dated row of a table that names its source, and that
// a date which the table does not cover is refused, never extrapolated. It
// does not value anything, does not say whether the club may issue receipts at
// all, and is not tax advice: the donor's adviser and the authority's current
// text decide.
package taxpaper

import "refloat.example/pkg/clock"

// The countries whose rules are in the tables.
const (
	US = "US"
	CA = "CA"
	UK = "UK"
)

// What can be given.
const (
	Boat  = "boat"
	Goods = "goods"
	Cash  = "cash"
)

// Kinds of a benefit.
const (
	Token   = "token"
	Thing   = "goods"
	Service = "service"
)

// Gift is what is known of one gift. Amounts are minor units of the country's
// currency (US cents, Canadian cents, pence); a nil pointer and a zero date are
// "not known" or "does not apply".
type Gift struct {
	Country string
	Date    clock.Date
	What    string
	// Amount is the payment when What is Cash.
	Amount int64
	// FairValue is the value at the date of the gift, before any work by the club.
	FairValue *int64
	// Paid is what the club paid the donor; the gift is the rest.
	Paid int64
	// Claims is what the donor says they will claim (US); nil: not asked.
	Claims *int64
	// SimilarThisYear is what the donor claims for similar items elsewhere (US).
	SimilarThisYear int64
	// Cost and Acquired: what the donor paid, and when (CA).
	Cost     *int64
	Acquired clock.Date
	// AcquiredToGive: giving it away was a main reason to acquire it (CA).
	AcquiredToGive bool
	Appraisal      *Appraisal
	Sold           *Sale
	Improvement    *Improvement
	Use            *Use
	Needy          *Needy
	Benefit        *Benefit
	// Acknowledged is when the acknowledgment was or will be furnished; zero:
	// taken as its due date.
	Acknowledged clock.Date
	// Certified is the box certified on a paper already given: "4a", "5a", "5b" or "".
	Certified string
	History   []Issued
	// Final: the club will neither sell, improve, use nor place the boat in a
	// way that a box could certify (US).
	Final bool
}

// Appraisal is an independent opinion of value.
type Appraisal struct {
	Value       int64
	By, Address string
}

// Sale is the club's sale of the thing given. Gross is before costs of sale.
type Sale struct {
	Date       clock.Date
	Gross      int64
	ArmsLength bool
	Auction    bool
}

// Improvement is work on the boat before it leaves the club.
type Improvement struct {
	Work []string
	// PaidBy is "club" or "donor".
	PaidBy string
	// Major: a major repair or addition that raises the value significantly, as
	// judged by whoever signs.
	Major bool
}

// Use is the club's own use of the boat. Zero dates are open.
type Use struct {
	Description string
	From, To    clock.Date
	// Regular: it furthers an activity that the club conducts regularly.
	Regular bool
	// SignificantAttestedBy names who attests that it is significant; the
	// program does not judge that.
	SignificantAttestedBy string
}

// Needy is a placement with a person in need of means of transportation.
type Needy struct {
	AttestedBy    string
	TransportNeed bool
	Price         int64
}

// Benefit is what the donor got in return, other than money.
type Benefit struct {
	Kind  string
	Value int64
	// Cost is what it cost the club; nil: not stated. It and Logo (the club's
	// name or emblem is on it) matter for tokens.
	Cost *int64
	Logo bool
}

// Issued is a paper given earlier; Wrong lists what is wrong on it.
type Issued struct {
	Serial string
	Issued clock.Date
	Wrong  []string
}

// Letter is the answer. Its JSON is what the calculator prints.
type Letter struct {
	// Receipt is "yes" or "no"; WhyNot says why not.
	Receipt string  `json:"receipt"`
	WhyNot  *string `json:"why_not"`
	// Cap bounds what the donor may claim (US property), nil where unknown.
	Cap *int64 `json:"cap"`
	// Eligible is the eligible amount (CA) or the deductible part (US cash).
	Eligible *int64 `json:"eligible"`
	// StatedValue is the value printed on the paper (CA).
	StatedValue *int64    `json:"stated_value"`
	Papers      []Paper   `json:"papers"`
	Filings     []Filing  `json:"filings"`
	DonorForms  []string  `json:"donor_forms"`
	Watch       []Watch   `json:"watch"`
	Replace     *Replace  `json:"replace"`
	KeepUntil   string    `json:"keep_until"`
	Warnings    []Warning `json:"warnings"`
	// Rests lists the rows of the tables that decided, in their order there. The
	// holidays by which a filing moves are not among them.
	Rests []Rule `json:"-"`
}

// Paper is one paper for the donor.
type Paper struct {
	Name string `json:"name"`
	// Copies are the letters of the form's copies that the donor gets.
	Copies []string `json:"copies"`
	// Boxes hold what the form's boxes (1098-C) or the regulation's items
	// (Canada, s. 3501(1)) state: a date, an amount in minor units, a text or true.
	Boxes map[string]any `json:"boxes"`
	// Due is the last good day, nil where no day is set.
	Due *clock.Date `json:"due"`
	// Says are the sentences that the paper carries besides its boxes.
	Says []string `json:"-"`
}

// Filing is something due to an authority. A form with a day for each way of
// filing has two; one with a single day has it as Due and, since it is filed on
// paper, as PaperDue.
type Filing struct {
	Name          string      `json:"name"`
	Due           *clock.Date `json:"due,omitempty"`
	PaperDue      *clock.Date `json:"paper_due,omitempty"`
	ElectronicDue *clock.Date `json:"electronic_due,omitempty"`
}

// Watch is what may yet fall due, up to and including Until.
type Watch struct {
	What  string     `json:"what"`
	Until clock.Date `json:"until"`
}

// Replace says which receipt is cancelled, and which serial the new one must
// name (nil: none may be issued).
type Replace struct {
	Cancel          string  `json:"cancel"`
	NewSerialStates *string `json:"new_serial_states"`
}

// Decide answers for one gift. The error is always a *Misfit.
func Decide(g Gift) (Letter, error) { return published.decide(g) }

func (b book) decide(g Gift) (Letter, error) {
	if err := g.check(); err != nil {
		return Letter{}, err
	}
	d := newDecision(g, b)
	switch g.Country {
	case US:
		d.unitedStates()
	case CA:
		d.canada()
	case UK:
		d.unitedKingdom()
	}
	return d.finish(), nil
}
