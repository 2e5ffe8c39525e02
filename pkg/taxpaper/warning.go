package taxpaper

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"refloat.example/pkg/money"
)

// Codes of warnings, in the order in which an answer lists them.
const (
	NotMaterialImprovement = "not-material-improvement"
	SoldWithinSixMonths    = "sold-within-six-months"
	Penalty6720            = "penalty-6720"
	ValueUnknown           = "value-unknown"
	ClaimNotAsked          = "claim-not-asked"
	AppraisalAdvised       = "appraisal-advised"
	TableYearMissing       = "table-year-missing"
	NeedyNotAttested       = "needy-not-attested"
	GiftAidGoods           = "gift-aid-goods"
	AdvantageOver80        = "advantage-over-80"
	BargainSale            = "bargain-sale"
	ReturnWithinThreeYears = "return-within-three-years"
)

// Why there is no receipt.
const (
	notSoldNorDecided       = "awaiting sale or decision"
	noRuleForTheDate        = "the tables have no rule for this date"
	neitherValueNorClaim    = "neither the value nor the claim is known"
	paidInFull              = "the club paid the whole value: nothing was given"
	valueNotKnown           = "the value at the date of the gift is not known"
	nothingOfValue          = "nothing of value was given"
	advantageTooLarge       = "the advantage is above 80 % of the value"
	underCWA                = "below 250 USD no acknowledgment is required"
	benefitTakesAll         = "the benefit is worth the whole payment: nothing was given"
	giftAidTakesMoney       = "Gift Aid needs a payment of a sum of money"
	giftAidTakesDeclaration = "Gift Aid on money rests on the donor's declaration, not on a receipt"
)

var codes = []string{
	NotMaterialImprovement, SoldWithinSixMonths, Penalty6720, ValueUnknown, ClaimNotAsked, AppraisalAdvised,
	TableYearMissing, NeedyNotAttested, GiftAidGoods, AdvantageOver80, BargainSale, ReturnWithinThreeYears,
}

// Warning is something that a person should look at before signing.
type Warning struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

func (d *decision) warn(code, format string, args ...any) {
	d.letter.Warnings = append(d.letter.Warnings, Warning{code, fmt.Sprintf(format, args...)})
}

func sortWarnings(warnings []Warning) {
	slices.SortStableFunc(warnings, func(a, b Warning) int {
		return cmp.Compare(slices.Index(codes, a.Code), slices.Index(codes, b.Code))
	})
}

// warnMissing says once which rows were looked for in vain.
func (d *decision) warnMissing() {
	if len(d.missing) == 0 {
		return
	}
	slices.Sort(d.missing)
	d.warn(TableYearMissing, "The tables have no row for this date: %s. What rests on it is left open.",
		strings.Join(slices.Compact(d.missing), ", "))
}

// in writes an amount in the gift's currency.
func (d *decision) in(minor int64) string {
	return money.Of(minor, Currency(d.gift.Country)).String()
}

// Currency gives the currency in which a country's thresholds are stated.
func Currency(country string) money.Currency {
	return map[string]money.Currency{US: "USD", CA: "CAD", UK: "GBP"}[country]
}
