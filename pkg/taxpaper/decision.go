package taxpaper

import (
	"slices"
	"time"

	"refloat.example/pkg/clock"
)

// keepYears is the house's rule for keeping papers: the longest of the
// countries' periods, counted from the end of the year.
const keepYears = 7

// decision is one gift on its way to an answer.
type decision struct {
	gift   Gift
	book   book
	letter Letter
	// missing names the rules looked for in vain.
	missing []string
	// copyA: the paper is also filed with the authority.
	copyA bool
}

func newDecision(g Gift, b book) *decision {
	return &decision{gift: g, book: b, letter: Letter{
		Receipt: "yes", Papers: []Paper{}, Filings: []Filing{}, DonorForms: []string{}, Watch: []Watch{}, Warnings: []Warning{},
	}}
}

// rule looks a row up by the gift's date and remembers where there is none.
func (d *decision) rule(id string) (Rule, bool) {
	r, ok := d.book.find(id, d.gift.Date)
	if !ok {
		d.missing = append(d.missing, id)
		return r, ok
	}
	d.rests(r)
	return r, ok
}

// rests remembers a row that decided something, once.
func (d *decision) rests(r Rule) {
	if !slices.Contains(d.letter.Rests, r) {
		d.letter.Rests = append(d.letter.Rests, r)
	}
}

// number gives a rule's only number, 0 where the row is missing.
func (d *decision) number(id string) int64 {
	r, ok := d.rule(id)
	if !ok {
		return 0
	}
	return r.numbers()[0]
}

// yearly gives a rule's day in a year, the zero date where the row is missing.
func (d *decision) yearly(id string, year int) clock.Date {
	r, ok := d.rule(id)
	if !ok {
		return clock.Date{}
	}
	return dayOf(year, r.Value)
}

// part makes one part of the answer, and empties it again when a row that it
// needed is missing. The other parts stand.
func (d *decision) part(decide, empty func()) {
	before := len(d.missing)
	decide()
	if len(d.missing) > before {
		empty()
	}
}

// refuse ends with no receipt.
func (d *decision) refuse(why string) {
	d.letter.Receipt, d.letter.WhyNot = "no", &why
}

// refusePapers takes back every paper and amount: the core rules are missing.
func (d *decision) refusePapers() {
	l := &d.letter
	l.Papers, l.Watch, l.Cap, l.Eligible, l.StatedValue = []Paper{}, []Watch{}, nil, nil, nil
	d.copyA = false
	d.refuse(noRuleForTheDate)
}

func (d *decision) give(p Paper) {
	if p.Copies == nil {
		p.Copies = []string{}
	}
	if p.Boxes == nil {
		p.Boxes = map[string]any{}
	}
	d.letter.Papers = append(d.letter.Papers, p)
}

// furnished is when the acknowledgment is taken to have been given: as stated,
// else the latest due date of the papers, else zero.
func (d *decision) furnished() clock.Date {
	if !d.gift.Acknowledged.IsZero() {
		return d.gift.Acknowledged
	}
	var last clock.Date
	for _, p := range d.letter.Papers {
		if p.Due != nil && p.Due.After(last) {
			last = *p.Due
		}
	}
	return last
}

// keepUntil is 31 December of the seventh year after the latest of gift, sale
// and acknowledgment.
func (d *decision) keepUntil() clock.Date {
	year := max(d.gift.Date.Year(), d.furnished().Year())
	if d.gift.Sold != nil {
		year = max(year, d.gift.Sold.Date.Year())
	}
	return clock.NewDate(year+keepYears, time.December, 31)
}

func (d *decision) finish() Letter {
	d.letter.KeepUntil = d.keepUntil().String()
	d.warnMissing()
	sortWarnings(d.letter.Warnings)
	slices.SortFunc(d.letter.Rests, func(a, b Rule) int { return slices.Index(d.book, a) - slices.Index(d.book, b) })
	return d.letter
}

// warnBargain says that the club bought part of what was given.
func (d *decision) warnBargain() {
	if d.gift.Paid > 0 {
		d.warn(BargainSale, "The club paid %s: part sale, part gift. The donor's basis is apportioned between the two; an adviser should look at it.", d.in(d.gift.Paid))
	}
}

func ptr[T any](v T) *T { return &v }
