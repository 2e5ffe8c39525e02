package taxpaper

import (
	"fmt"
	"slices"
	"strings"

	"refloat.example/pkg/clock"
)

// usBoat decides by IRC 170(f)(12). The order of the cases is the order of the
// law: a small claim leaves it, an exception comes before the sale's price.
func (d *decision) usBoat(claims int64) {
	var deductible int64
	var grossLimited bool
	decided := true
	d.part(func() {
		sold := d.gift.Sold
		switch {
		case claims <= d.number("US-VEH-500"):
			d.giveLetter()
			deductible = d.capAt(claims, none, claims)
		case d.excepted():
			d.certifyException()
			deductible = d.capAt(claims, none, none)
		case sold != nil && sold.Gross > d.number("US-VEH-LE500") && sold.ArmsLength:
			d.certifySale()
			deductible, grossLimited = d.capAt(claims, sold.Gross, none), true
		case sold != nil || d.gift.Final:
			d.limitTo500()
			deductible = d.capAt(claims, d.number("US-VEH-LE500"), none)
		default:
			d.await()
			decided = false
		}
	}, func() { d.refusePapers(); decided = false })
	d.fileCopyA()
	if decided {
		d.donorSide(deductible, grossLimited)
	}
}

func (d *decision) await() {
	until := d.gift.Date.AddDays(int(d.number("US-VEH-30D-GIFT")))
	d.letter.Watch = append(d.letter.Watch, Watch{What: form1098C, Until: until})
	d.refuse(notSoldNorDecided)
}

// excepted says whether the fair value counts instead of the sale's price, and
// warns where an exception was meant but does not hold.
func (d *decision) excepted() bool {
	if i := d.gift.Improvement; i != nil && !d.improved() {
		d.warn(NotMaterialImprovement, "The work (%s, paid by the %s) is not a material improvement: that takes a major repair or addition that raises the value significantly, more than the excluded items, and not at the donor's expense.",
			strings.Join(i.Work, ", "), i.PaidBy)
	}
	if n := d.gift.Needy; n != nil && !n.attested() {
		d.warn(NeedyNotAttested, "Nobody attests that the boat goes to a person in need of a means of transportation, so box 5b cannot be certified; a boat for recreation does not clearly meet that.")
	}
	return d.improved() || d.used() || d.placed()
}

// improved: Notice 2005-44 s. 7.01(2).
func (d *decision) improved() bool {
	i := d.gift.Improvement
	if i == nil || !i.Major || i.PaidBy == "donor" {
		return false
	}
	return slices.ContainsFunc(i.Work, func(item string) bool { return !d.excludes(item) })
}

// Material says whether work can be a material improvement of a boat given on a
// day: a major one, not at the donor's expense, that is more than excluded items
// (Notice 2005-44 s. 7.01(2)).
func Material(i Improvement, given clock.Date) bool {
	d := newDecision(Gift{Date: given, Improvement: &i}, published)
	return d.improved()
}

func (d *decision) excludes(item string) bool {
	item = strings.ToLower(strings.Join(strings.Fields(item), " "))
	return item == "" || slices.ContainsFunc(d.book.all("US-VEH-MI-EXCLUDED", d.gift.Date), func(r Rule) bool {
		if !slices.Contains(r.List(), item) {
			return false
		}
		d.rests(r)
		return true
	})
}

// used: a significant intervening use is regular, attested as significant by a
// named person, and over before a sale (Notice 2005-44 s. 7.01(1)).
func (d *decision) used() bool {
	u := d.gift.Use
	if u == nil || !u.Regular || strings.TrimSpace(u.SignificantAttestedBy) == "" {
		return false
	}
	return d.gift.Sold == nil || d.gift.Sold.Date.After(u.From) && !d.gift.Sold.Date.Before(u.To)
}

func (n Needy) attested() bool { return n.TransportNeed && strings.TrimSpace(n.AttestedBy) != "" }

// placed: with a person in need of transportation, below the fair value and
// never by auction (Notice 2005-44 s. 3.02(3)). No percentage is published for
// "significantly below"; whoever attests judges it. A sale at another price
// than the placement's is not the placement.
func (d *decision) placed() bool {
	n, sold := d.gift.Needy, d.gift.Sold
	switch {
	case n == nil || !n.attested():
		return false
	case sold != nil && (sold.Auction || sold.Gross != n.Price):
		return false
	}
	return n.Price == 0 || d.gift.FairValue == nil || n.Price < *d.gift.FairValue
}

// boxes gives those that every 1098-C has: 1 and 6a; 6b where the donor got
// something, and 6c where that was more than money, which 6b says in full.
func (d *decision) boxes() map[string]any {
	boxes := map[string]any{"1": d.gift.Date, "6a": false}
	if d.gift.Paid == 0 && d.gift.Benefit == nil {
		return boxes
	}
	value := d.gift.Paid
	if d.gift.Benefit != nil {
		value += d.gift.Benefit.Value
	}
	boxes["6a"], boxes["6b"] = true, value
	if d.gift.Benefit != nil {
		boxes["6c"] = d.returned()
	}
	return boxes
}

func (d *decision) certifySale() {
	boxes := d.boxes()
	boxes["4a"], boxes["4b"], boxes["4c"] = true, d.gift.Sold.Date, d.gift.Sold.Gross
	d.give1098C(boxes, d.gift.Sold.Date.AddDays(int(d.number("US-VEH-30D-SALE"))))
}

func (d *decision) certifyException() {
	boxes := d.boxes()
	if d.improved() || d.used() {
		boxes["5a"], boxes["5c"] = true, d.describeException()
	}
	if d.placed() {
		boxes["5b"] = true
	}
	d.give1098C(boxes, d.gift.Date.AddDays(int(d.number("US-VEH-30D-GIFT"))))
}

func (d *decision) describeException() string {
	var parts []string
	if d.improved() {
		parts = append(parts, "Improvement: "+strings.Join(d.gift.Improvement.Work, ", "))
	}
	if d.used() {
		u := d.gift.Use
		parts = append(parts, fmt.Sprintf("Use: %s, from %s to %s", u.Description, orOpen(u.From), orOpen(u.To)))
	}
	return strings.Join(parts, ". ")
}

func orOpen(d clock.Date) string {
	if d.IsZero() {
		return "(open)"
	}
	return d.String()
}

func (d *decision) give1098C(boxes map[string]any, due clock.Date) {
	d.give(Paper{Name: form1098C, Copies: []string{"B", "C"}, Boxes: boxes, Due: &due, Says: append([]string{
		"Copy B goes with the donor's return: without it nothing can be deducted.", d.saysReturn(),
	}, d.boatDisclosure()...)})
	d.copyA = true
}

// limitTo500 gives box 7, which goes to the donor's records only.
func (d *decision) limitTo500() {
	boxes := d.boxes()
	boxes["7"] = true
	d.give(Paper{Name: form1098C, Copies: []string{"C"}, Boxes: boxes, Due: d.returnDue(), Says: append([]string{
		"The donor may not claim more than 500 USD for this boat.", d.saysReturn(),
	}, d.boatDisclosure()...)})
}

// fileCopyA: in the year after the acknowledgment was furnished, on a business day.
func (d *decision) fileCopyA() {
	if !d.copyA {
		return
	}
	d.part(func() {
		year := d.furnished().Year() + 1
		paper := d.book.businessDay(d.yearly("US-1098C-PAPER", year))
		electronic := d.book.businessDay(d.yearly("US-1098C-EFILE", year))
		d.letter.Filings = append(d.letter.Filings, Filing{Name: "1098-C copy A", PaperDue: &paper, ElectronicDue: &electronic})
	}, func() { d.letter.Filings = []Filing{} })
}

// checkCertificate looks at a box certified earlier. A 5a without improvement
// or use, and a 5b without placement, may cost the club the penalty of IRC
// 6720; a sale within six months makes the falsehood presumed.
func (d *decision) checkCertificate() {
	var holds bool
	switch d.gift.Certified {
	case "5a":
		holds = d.improved() || d.used()
	case "5b":
		holds = d.placed()
	default:
		return
	}
	if holds {
		return
	}
	d.warnPresumption()
	d.part(d.warnPenalty, func() {})
}

func (d *decision) warnPresumption() {
	sold := d.gift.Sold
	if sold == nil || d.improved() || d.used() || d.placed() {
		return
	}
	last := d.gift.Date.AddMonths(int(d.number("US-VEH-6MO")))
	if !sold.Date.After(last) {
		d.warn(SoldWithinSixMonths, "Box %s was certified and the boat was sold on %s, not after %s: within six months of the gift the certificate is presumed false.",
			d.gift.Certified, sold.Date, last)
	}
}

// warnPenalty shows both readings of IRC 6720 and computes neither as the
// answer: the texts do not say which holds for a false 5a or 5b.
func (d *decision) warnPenalty() {
	floor, rate := d.number("US-PEN-FLOOR"), d.number("US-TOPRATE")
	first := "the sale's price is not known"
	if s := d.gift.Sold; s != nil {
		first = d.in(max(s.Gross, atRate(s.Gross, rate)))
	}
	second := "the claim is not known"
	if d.gift.Claims != nil {
		second = d.in(max(floor, atRate(*d.gift.Claims, rate)))
	}
	if floor == 0 || rate == 0 {
		first, second = "not in the tables", "not in the tables"
	}
	d.warn(Penalty6720, "Box %s was certified without what it certifies. IRC 6720, if knowing: as a boat limited to its gross proceeds, the greater of these and the top rate of the price (%s); as a box wrongly checked, the greater of 5,000 USD and the top rate of the claim (%s). Which reading holds is open: ask an adviser.",
		d.gift.Certified, first, second)
}

// atRate gives a rate in thousandths of an amount, halves up.
func atRate(minor, thousandths int64) int64 { return (minor*thousandths + 500) / 1000 }
