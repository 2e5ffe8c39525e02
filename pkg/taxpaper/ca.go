package taxpaper

import "slices"

const (
	caReceipt = "CA official receipt"
	thanks    = "thank-you letter"
)

// canada: the receipt states the value, the advantage and the eligible amount
// (Income Tax Regulations s. 3501(1)).
func (d *decision) canada() {
	if d.gift.What != Cash {
		d.warnBargain()
	}
	d.part(d.caReceipt, d.refusePapers)
	d.replace()
}

func (d *decision) caReceipt() {
	value, known := d.caValue()
	if !known {
		d.warn(ValueUnknown, "The value that the receipt must state is not known (the fair market value at the date of the gift, and the donor's cost where the thing was acquired shortly before); without it no receipt may be issued.")
		d.refuse(valueNotKnown)
		return
	}
	advantage := d.advantage()
	switch {
	case value == 0:
		d.refuse(nothingOfValue)
	case advantage*100 > value*d.number("CA-80"):
		d.warn(AdvantageOver80, "The advantage of %s is above 80 %% of %s: no receipt, unless the donor satisfies the authority that a gift was meant.", d.in(advantage), d.in(value))
		d.refuse(advantageTooLarge)
	default:
		d.giveOfficial(value, advantage)
	}
}

func (d *decision) giveOfficial(value, advantage int64) {
	if d.ignoresAdvantage(value, advantage) {
		advantage = 0
	}
	eligible := value - advantage
	d.letter.StatedValue, d.letter.Eligible = &value, &eligible
	boxes := map[string]any{"e.1.i": d.gift.Date, "h.ii": value, "h.2": eligible}
	if d.gift.What == Cash {
		boxes = map[string]any{"e": d.gift.Date, "h.i": value, "h.2": eligible}
	}
	if advantage > 0 {
		boxes["h.1"] = advantage
	}
	if a := d.gift.Appraisal; a != nil && d.gift.What != Cash {
		boxes["e.1.iii"] = a.By + ", " + a.Address
	}
	d.give(Paper{Name: caReceipt, Boxes: boxes, Says: []string{
		"Official receipt for income tax purposes.",
		"Canada Revenue Agency: canada.ca/charities-giving",
	}})
}

// caValue gives the value that the receipt may state, and whether it is known.
func (d *decision) caValue() (int64, bool) {
	g := d.gift
	if g.What == Cash {
		return g.Amount, true
	}
	if g.FairValue == nil {
		return 0, false
	}
	value := *g.FairValue
	if value > d.number("CA-APPRAISAL") && g.Appraisal == nil {
		d.warn(AppraisalAdvised, "Above 1,000 CAD an appraisal by an independent third party is strongly recommended.")
	}
	if !d.costCounts() {
		return value, true
	}
	if g.Cost == nil {
		return 0, false
	}
	return min(value, *g.Cost), true
}

// costCounts: the deemed fair market value of ITA 248(35) for what was acquired
// less than three years before the gift, or less than ten with a main reason to
// give it.
func (d *decision) costCounts() bool {
	g := d.gift
	if g.Acquired.IsZero() {
		return false
	}
	id := "CA-DEEM-YEARS"
	if g.AcquiredToGive {
		id = "CA-DEEM-YEARS-TO-GIVE"
	}
	return g.Date.Before(g.Acquired.AddMonths(12 * int(d.number(id))))
}

// advantage is the total of what the donor got, in money and otherwise.
func (d *decision) advantage() int64 {
	total := int64(0)
	if d.gift.What != Cash {
		total = d.gift.Paid
	}
	if d.gift.Benefit != nil {
		total += d.gift.Benefit.Value
	}
	return total
}

// ignoresAdvantage: up to the lesser of 75 CAD and 10 %, and none of it money.
func (d *decision) ignoresAdvantage(value, advantage int64) bool {
	most, percent := d.number("CA-DEMIN-AMOUNT"), d.number("CA-DEMIN-PERCENT")
	money := d.gift.What != Cash && d.gift.Paid > 0
	return !money && advantage <= most && advantage*100 <= value*percent
}

// replace looks at the latest receipt: wrong, it is cancelled, and its number
// stands on the new one (Regulations s. 3501(4) to (6)). Where no receipt may
// be issued any more, nothing replaces it.
func (d *decision) replace() {
	if len(d.gift.History) == 0 {
		return
	}
	history := slices.Clone(d.gift.History)
	slices.SortStableFunc(history, func(a, b Issued) int { return a.Issued.Compare(b.Issued) })
	last := history[len(history)-1]
	if len(last.Wrong) == 0 {
		return
	}
	d.letter.Replace = &Replace{Cancel: last.Serial}
	if d.letter.Receipt == "yes" {
		d.letter.Replace.NewSerialStates = &last.Serial
	}
}
