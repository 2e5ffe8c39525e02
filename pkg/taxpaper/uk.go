package taxpaper

import "slices"

// unitedKingdom: Gift Aid rests on a payment of money and the donor's
// declaration, which are not this package's; a thank-you letter is all that is
// given, whatever was given.
func (d *decision) unitedKingdom() {
	takes, ok := d.rule("UK-GIFT-AID")
	switch {
	case !ok:
		d.refusePapers()
	case slices.Contains(takes.List(), d.gift.What):
		d.give(Paper{Name: thanks, Says: []string{"Thank you."}})
		d.refuse(giftAidTakesDeclaration)
	default:
		d.give(Paper{Name: thanks, Says: []string{"Thank you. Donated goods do not qualify for Gift Aid."}})
		d.warn(GiftAidGoods, "Donated goods do not qualify for Gift Aid: do not ask for a declaration.")
		d.refuse(giftAidTakesMoney)
	}
}
