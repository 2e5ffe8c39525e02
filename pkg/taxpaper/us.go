package taxpaper

import (
	"math"

	"refloat.example/pkg/clock"
)

const (
	cwaLetter   = "170(f)(8) letter"
	quidProQuo  = "quid pro quo statement"
	form1098C   = "1098-C"
	sectionA    = "8283 section A"
	sectionB    = "8283 section B"
	appraisal   = "qualified appraisal"
	form8282    = "8282"
	noValueHere = "This letter describes what was given and states no value: the value is for the donor to find."
)

func (d *decision) unitedStates() {
	if d.gift.What == Cash {
		d.usCash()
		return
	}
	d.warnBargain()
	if d.gift.What == Boat {
		d.checkCertificate()
	}
	claims, known := d.usClaims()
	switch {
	case !known:
		d.refuse(neitherValueNorClaim)
	case d.gift.FairValue != nil && *d.gift.FairValue > 0 && d.gift.Paid >= *d.gift.FairValue:
		d.letter.Cap = ptr(int64(0))
		d.refuse(paidInFull)
	case d.gift.What == Boat:
		d.usBoat(claims)
	default:
		d.usGoods(claims)
	}
}

// usClaims gives what the donor claims, or is taken to claim, and whether that
// can be said at all.
func (d *decision) usClaims() (int64, bool) {
	g := d.gift
	if g.FairValue == nil {
		d.warn(ValueUnknown, "The fair value at the date of the gift is not known, so the most that the donor may claim is not known either.")
	}
	if g.Claims != nil {
		return *g.Claims, true
	}
	d.warn(ClaimNotAsked, "Ask the donor what they will claim and write the answer down with its date; here it is taken to be the fair value less what the club paid.")
	if g.FairValue == nil {
		return 0, false
	}
	return max(0, *g.FairValue-g.Paid), true
}

// capAt bounds the donor's claim: by the lesser of price and fair value, less
// what the club paid (our reading of a bargain sale, no source), and by a limit
// on the claim itself. Where box 7 stands, 500 USD takes the place of the price. It gives the most that can be claimed; the cap is stated
// only where the fair value is known.
func (d *decision) capAt(claims, price, limit int64) int64 {
	if d.gift.FairValue != nil {
		price = min(price, *d.gift.FairValue)
	}
	most := min(max(0, price-d.gift.Paid), limit)
	if d.gift.FairValue != nil {
		d.letter.Cap = &most
	}
	return min(claims, most)
}

// none stands for a price or a limit that does not bound the claim.
const none = math.MaxInt64

// usGoods: paddles, jackets and the like are ordinary property.
func (d *decision) usGoods(claims int64) {
	deductible := d.capAt(claims, none, none)
	var value int64
	if d.gift.FairValue != nil {
		value = *d.gift.FairValue
	}
	counts, _ := d.benefitThatCounts(value)
	d.part(func() {
		if claims >= d.number("US-CWA-250") {
			d.giveLetter()
		}
		if counts < value {
			d.quidProQuo(value, counts)
		}
		d.refuseUnlessGiven(underCWA)
	}, d.refusePapers)
	d.donorSide(deductible, false)
}

func (d *decision) refuseUnlessGiven(why string) {
	if len(d.letter.Papers) == 0 {
		d.refuse(why)
	}
}

// giveLetter gives the acknowledgment of IRC 170(f)(8), which states no value.
func (d *decision) giveLetter() {
	says := []string{d.saysReturn()}
	if d.gift.What != Cash {
		says = append(says, noValueHere)
	}
	says = append(says, d.boatDisclosure()...)
	d.give(Paper{Name: cwaLetter, Due: d.returnDue(), Says: says})
}

// saysReturn is the statement of IRC 170(f)(8)(B)(ii) and (iii).
func (d *decision) saysReturn() string { return d.saysReturnFor("this gift") }

func (d *decision) saysReturnFor(given string) string {
	value := d.gift.Paid
	if d.gift.Benefit != nil {
		value += d.gift.Benefit.Value
	}
	if value == 0 && d.gift.Benefit == nil {
		return "The club gave no goods or services in return for " + given + "."
	}
	return "In return the club gave " + d.returned() + "; in good faith it estimates the value at " + d.in(value) + "."
}

// returned describes what the donor got, in words for a form's box.
func (d *decision) returned() string {
	words := map[string]string{Token: "a token", Thing: "goods", Service: "services"}
	switch {
	case d.gift.Benefit == nil:
		return "money"
	case d.gift.Paid == 0:
		return words[d.gift.Benefit.Kind]
	}
	return "money and " + words[d.gift.Benefit.Kind]
}

// returnDue is the day by which the donor needs a 170(f)(8) letter: the due
// date of the return for the year of the gift, not moved off a weekend.
func (d *decision) returnDue() *clock.Date {
	due := d.yearly("US-CWA-DUE", d.gift.Date.Year()+1)
	return &due
}

// usCash: the deductible part is the payment less a benefit that counts. The
// test of 250 looks at that part (Pub. 526, from memory), the test of 75 at the
// payment (IRC 6115). Where the table cannot say whether the benefit counts,
// the donor gets every paper that may be needed.
func (d *decision) usCash() {
	payment := d.gift.Amount
	counts, known := d.benefitThatCounts(payment)
	gift := max(0, payment-counts)
	if known {
		d.letter.Eligible = &gift
	} else {
		gift = payment
	}
	if payment > 0 && gift == 0 {
		d.refuse(benefitTakesAll)
		return
	}
	d.part(func() {
		if gift >= d.number("US-CWA-250") {
			d.giveLetter()
		}
		d.quidProQuo(payment, counts)
		d.refuseUnlessGiven(underCWA)
	}, d.refusePapers)
}

// quidProQuo gives the disclosure of IRC 6115 with the receipt of a payment,
// in money or in things, that is part purchase. counts is the value of the
// benefit unless it is small enough to ignore.
func (d *decision) quidProQuo(payment, counts int64) {
	if counts == 0 || payment <= d.number("US-QPQ-75") {
		return
	}
	d.give(Paper{Name: quidProQuo, Due: ptr(d.gift.Date), Says: d.disclosure()})
}

// disclosure is the statement of IRC 6115(a)(1) and (2).
func (d *decision) disclosure() []string {
	return []string{
		"The amount that can be deducted is limited to what was given, in money and in the value of property, above the value of the goods or services that the club gave in return.",
		"In good faith the club estimates the value of these goods or services at " + d.in(d.gift.Benefit.Value) + ".",
	}
}

// boatDisclosure gives the same for a boat, whose one paper carries it: IRC 6115 takes
// a disclosure with the receipt, in no form of its own. It is asked beside the decision,
// so that a missing row takes no paper back; where the tables cannot say that the
// benefit is small enough to ignore, or the boat's value is not known, it stands.
func (d *decision) boatDisclosure() []string {
	switch {
	case d.gift.What != Boat || d.gift.Benefit == nil || d.gift.Benefit.Value == 0:
		return nil
	case d.gift.FairValue == nil:
		return d.disclosure()
	}
	payment := *d.gift.FairValue
	aside := newDecision(d.gift, d.book)
	counts, _ := aside.benefitThatCounts(payment)
	threshold, ok := aside.rule("US-QPQ-75")
	if counts == 0 || ok && payment <= threshold.numbers()[0] {
		return nil
	}
	for _, r := range aside.letter.Rests {
		d.rests(r)
	}
	return d.disclosure()
}

// benefitThatCounts gives the value of a benefit, or 0 where it is
// insubstantial. Where only a missing year of the table could say, it is given
// in full and not known.
func (d *decision) benefitThatCounts(payment int64) (value int64, known bool) {
	b := d.gift.Benefit
	if b == nil || b.Value == 0 { // 2 percent of any payment is more
		return 0, true
	}
	ignored, known := d.insubstantial(*b, payment)
	if ignored {
		return 0, true
	}
	return b.Value, known
}

// insubstantial applies Rev. Proc. 90-12: at most 2 % of the payment and at
// most the year's largest benefit, or a token with the club's emblem that cost
// no more than a low-cost article, for the year's smallest payment or more. The
// year's row is asked for only where the answer hangs on it.
func (d *decision) insubstantial(b Benefit, payment int64) (ignored, known bool) {
	percent, ok := d.rule("US-INSUB-PERCENT")
	if !ok {
		return false, false
	}
	small := b.Value*100 <= payment*percent.numbers()[0]
	token := b.Kind == Token && b.Logo && b.Cost != nil
	if !small && !token {
		return false, true
	}
	year, ok := d.rule("US-INSUB")
	if !ok {
		return false, false
	}
	n := year.numbers()
	lowCost, leastPayment, mostBenefit := n[0], n[1], n[2]
	return small && b.Value <= mostBenefit || token && payment >= leastPayment && *b.Cost <= lowCost, true
}
