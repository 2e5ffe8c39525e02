package taxpaper

import (
	"regexp"

	"refloat.example/pkg/clock"
)

// Expenses is what a member laid out in a year while serving the club, and gave: none of
// it was paid back. It holds no time, and no value of any.
type Expenses struct {
	Country string
	// Year is that in which the member laid it out.
	Year int
	// Amount is all of it, in minor units of the country's currency. It decides whether a
	// paper is needed, and stands on none.
	Amount int64
	// Benefit is what the member got in return.
	Benefit *Benefit
}

// expenses is what was given where it is a member's costs. It is no choice of whoever asks
// about a gift.
const expenses = "expenses"

// volunteerLetter is the statement of 26 CFR 1.170A-13(f)(10)(ii).
const volunteerLetter = "letter on a volunteer's expenses"

// Why there is no paper for what a volunteer laid out.
const (
	underExpenses = "below 250 USD of unreimbursed expenses no acknowledgment is required: the member's own records do"
	caExpenses    = "a receipt is for money or property, and neither a member's time nor costs that were not paid back are that. Pay the costs back, and let the member then give money of their own will: two transactions, and a receipt for the money"
	ukExpenses    = "Gift Aid needs a payment of a sum of money, which neither a member's time nor costs that were not paid back are. Pay the costs back; if the member then gives money of their own will, that is a payment on which they can make a declaration"
)

// DecideExpenses answers for what a member laid out. The error is always a *Misfit.
func DecideExpenses(e Expenses) (Letter, error) { return published.decideExpenses(e) }

func (b book) decideExpenses(e Expenses) (Letter, error) {
	g := Gift{Country: e.Country, Date: clock.NewDate(max(e.Year, 1), 12, 31), What: Cash, Amount: e.Amount, Benefit: e.Benefit}
	if err := g.check(); err != nil {
		return Letter{}, err
	}
	g.What = expenses
	d := newDecision(g, b)
	switch g.Country {
	case US:
		d.part(d.usExpenses, d.refusePapers)
	case CA:
		d.part(func() { d.refuseBy("CA-EXPENSES", caExpenses) }, d.refusePapers)
	case UK:
		d.part(func() { d.refuseBy("UK-EXPENSES", ukExpenses) }, d.refusePapers)
	}
	return d.finish(), nil
}

// refuseBy ends with no receipt by a row of the tables, and names its source.
func (d *decision) refuseBy(id, why string) {
	if r, ok := d.rule(id); ok {
		d.refuse(why + " (" + r.Source + ")")
	}
}

// usExpenses: time has no value here, and the member keeps the records of what it cost; the
// club describes the services, and says what it gave in return.
func (d *decision) usExpenses() {
	least := d.number("US-EXPENSES-250")
	_, known := d.rule("US-SERVICES")
	due := d.returnDue()
	switch {
	case !known:
	case d.gift.Amount < least:
		d.refuse(underExpenses)
	default:
		d.give(Paper{Name: volunteerLetter, Due: due, Says: []string{
			d.saysReturnFor("these unreimbursed expenses"),
			"This letter describes services and does not state what was laid out: the member's own records show that.",
			"It states no time and no value of time: the value of services is not deductible (26 CFR 1.170A-1(g)).",
		}})
	}
}

// countsTime finds words that count time: a length of it, work by the hour, or pay for it.
var countsTime = regexp.MustCompile(`(?i)\b(hours?|hourly|minutes?|hrs?|mins?|man-?days?|overtime|wages?|salary)\b` +
	`|\b(\d+([.,]\d+)?|a|half a|one|two|three|four|five|six|seven|eight|nine|ten)[ -]?(full |whole |working )?(days?|weeks?|months?|mornings?|afternoons?|evenings?|weekends?)\b` +
	`|\b\d+([.,]\d+)?\s?h(\s?\d+)?\b|\b\d+\s?min\b|\b\d{1,2}:\d{2}\b`)

// saysMoney finds an amount of money.
var saysMoney = regexp.MustCompile(`(?i)[$€£¥]|\b\d+([.,]\d+)?\s?(USD|CAD|GBP|EUR|dollars?|cents?|euros?)\b|\b(USD|CAD|GBP|EUR)\s?\d`)

// SaysMoney gives what in a description is an amount of money; "" where nothing is. Which words
// are an amount is ours, no source.
func SaysMoney(description string) string { return saysMoney.FindString(description) }

// SaysTime gives the words in a description that count time, or speak of pay for it; ""
// where there are none. A paper states no time, as that has no value for a gift (26 CFR
// 1.170A-1(g)). Which words speak of time is ours, no source.
func SaysTime(description string) string { return countsTime.FindString(description) }
