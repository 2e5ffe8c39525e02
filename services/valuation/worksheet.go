package valuation

import (
	"encoding/json"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/receipt"
)

// fairMarketValue is what the figure is to be, where a country's rule says so. In the
// United Kingdom a gift of goods has no receipt for which one would be wanted.
var fairMarketValue = map[string]string{
	"US": "Fair market value is the price at which the boat would change hands between a willing buyer and a willing seller, neither being under any compulsion to buy or to sell, and both having reasonable knowledge of relevant facts (26 CFR 1.170A-1(c)(2)), on the day of the gift.",
	"CA": "Fair market value is the highest price in an open and unrestricted market between parties who are willing, knowledgeable and independent of each other (Canada Revenue Agency), on the day of the gift.",
}

// worksheetOf sets the sales behind a value down for a donor who weighs them by
// themselves: without the club's figure, its valuer or a signature, and with room for
// the donor's own. The questions follow the headings of IRS Publication 561. It is pure.
func worksheetOf(h hull, v valued, facts map[string]message.Comparable, country string) (receipt.Sheet, error) {
	r, err := appraise.ReadRecord(v.said.Input)
	var o appraise.Opinion
	if err != nil || json.Unmarshal([]byte(v.said.Output), &o) != nil || r.Subject.Features == nil || v.said.AsItLies.Status == message.RefusedWorth {
		return receipt.Sheet{}, desk.Conflict("value", "no sales stand behind this value that a donor could weigh; add sales under Prices and value the boat again")
	}
	const room = "________________________________________"
	sheet := receipt.Sheet{
		Language: "en", Title: "Worksheet: what boats like " + h.name + " sold for", Reference: "for the donor's own use; of " + v.said.On.String(), Issued: v.at,
		Sections: []receipt.Section{
			{Heading: "The boat", Lines: hullLines(h)},
			{Heading: "Sales of comparable boats, the most similar first", Lines: saleLines(r, o, facts)},
			{Heading: "To weigh, and to write down", Lines: []receipt.Line{
				{Label: "What it cost, and when", Value: room},
				{Label: "Sales that are most like it, and why", Value: room},
				{Label: "What differs: age, condition, what goes with it", Value: room},
				{Label: "What a new one costs, less wear", Value: room},
				{Label: "What somebody who knows boats says", Value: room},
				{Label: "My own figure", Value: room},
				{Label: "Name and day", Value: room},
			}},
		},
		Cautions: []string{"This worksheet is not an appraisal, and no part of any receipt or acknowledgment. The club does not say what a donor may claim."},
		Notes: []string{
			"The steps beside each price move it to this boat by what the sales taught and the club's own opinions; they are no formula that an authority accepts. A price that a dealer asks is no price between private people.",
			"This is no tax advice: the donor's adviser and the authority's current text decide.",
		},
	}
	if words := fairMarketValue[country]; words != "" {
		sheet.Notes = append([]string{words}, sheet.Notes...)
	}
	return sheet, nil
}
