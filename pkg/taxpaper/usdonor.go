package taxpaper

// donorSide says which forms the donor needs and what the club then owes.
// deductible is the lesser of claim and cap.
func (d *decision) donorSide(deductible int64, grossLimited bool) {
	d.part(func() { d.donorForms(deductible, grossLimited) }, func() { d.letter.DonorForms = nil })
	if len(d.letter.DonorForms) > 1 {
		d.part(func() { d.watch8282(deductible) }, func() {})
	}
}

// donorForms tests the item with the similar ones given elsewhere this year
// (IRC 170(f)(11)(F)). A boat limited to its gross proceeds stays in section A
// at any amount.
func (d *decision) donorForms(deductible int64, grossLimited bool) {
	group := deductible + d.gift.SimilarThisYear
	sectionFrom, sectionBFrom := d.number("US-8283-500"), d.number("US-8283-B")
	switch {
	case group > sectionBFrom && !grossLimited:
		d.letter.DonorForms = []string{sectionB, appraisal}
	case group > sectionFrom:
		d.letter.DonorForms = []string{sectionA}
	}
}

// watch8282: property of section B that leaves within three years of receipt
// is reported, unless the item is small or went without consideration to the
// club's purpose.
func (d *decision) watch8282(deductible int64) {
	if deductible <= d.number("US-8282-ITEM") || d.placed() && d.gift.Needy.Price == 0 {
		return
	}
	last := d.gift.Date.AddMonths(int(d.number("US-8282-MONTHS")))
	days := int(d.number("US-8282-DAYS"))
	sold := d.gift.Sold
	switch {
	case sold == nil:
		d.letter.Watch = append(d.letter.Watch, Watch{What: form8282, Until: last})
	case sold.Date.After(last):
		return
	default:
		due := d.book.businessDay(sold.Date.AddDays(days))
		d.letter.Filings = append(d.letter.Filings, Filing{Name: form8282, Due: &due, PaperDue: &due})
	}
	d.warn(ReturnWithinThreeYears, "Property claimed above 5,000 USD that leaves the club by %s needs Form 8282 within %d days, with a copy to the donor.", last, days)
}
