package treasury

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

func TestATaxpayerNumberIsNineDigits(t *testing.T) {
	for text, want := range map[string]string{
		"123-45-6789": "123-45-6789", " 123456789 ": "123-45-6789", "123 45 6789": "123-45-6789", "12-3456789": "12-3456789",
		"": "", "123-45-678": "", "1234567890": "", "123-456-789": "", "12345678x": "", "１２３456789": "",
	} {
		got, err := goodNumber(text)
		assert.Equal(t, want, got, text)
		if want == "" {
			faulttest.Want(t, err, fault.Invalid, "number", text)
			assert.NotContains(t, err.Error(), "6789", "what was typed is not repeated")
		}
	}
}

// 26 CFR 301.6109-4(a)(1): the first five digits are replaced by Xs or asterisks.
func TestTheDonorsCopyBearsTheLastFourDigits(t *testing.T) {
	assert.Equal(t, "XXX-XX-6789", truncated("123-45-6789"))
	assert.Equal(t, "XX-XXX6789", truncated("12-3456789"))
}

func soldGift() gift {
	return gift{record: record{boat: "b1", name: "Heron", taking: message.Gift, giver: "donor", received: clock.MustDate("2026-03-28"), state: received,
		facts: message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, Maker: "Oxlip", Model: "=Wren", YearBuilt: 2019, HullNumber: "XYZ12345L495"}},
		worth: &worth{value: "v1", amount: money.Of(220_000, "USD"), valuer: "steward"},
		sold:  &message.BoatSold{On: clock.MustDate("2026-04-18"), Gross: money.Of(185_000, "USD"), ArmsLength: true}}
}

// Copy A holds, box by box, what Form 1098-C (Rev. November 2019) asks for, and the whole
// number; the donor's copies show its last four digits.
func TestCopyAHoldsTheFormsBoxes(t *testing.T) {
	c := club{name: "Quillwater Paddlers", number: "00-0000000", address: []string{"4 Mill Lane", "Amberjay"}, country: taxpaper.US, format: "letter", qualified: true}
	on := clock.MustDate("2026-04-20")
	w := writing{club: c, gift: soldGift(), donor: message.PersonDetails{Name: "Odalys Fenwright", Address: "12 Quay Street\nAmberjay"}, on: on, number: "123-45-6789"}
	var err error
	w.letter, err = w.decide(c, on)
	require.NoError(t, err)
	w.content, err = write(w)
	require.NoError(t, err)
	assert.Contains(t, w.content.Lines, message.PaperLine{Label: "Donor's taxpayer identification number", Value: "XXX-XX-6789"})
	for _, l := range w.content.Lines {
		assert.NotContains(t, l.Value, "123-45", l.Label)
	}

	file, err := copyATable([]message.CopyASheet{{Serial: "US-2026-0001", Boxes: copyABoxes(w.content, w.number)}})
	require.NoError(t, err)
	records, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(file), byteOrderMark))).ReadAll()
	require.NoError(t, err)
	require.Len(t, records, 2)
	row := map[string]string{}
	for i, head := range records[0] {
		row[head] = records[1][i]
	}
	for head, want := range map[string]string{
		"Serial": "US-2026-0001", "Donee's name": "Quillwater Paddlers", "Donee's address": "4 Mill Lane, Amberjay", "Donee's TIN": "00-0000000",
		"Donor's TIN": "123-45-6789", "Donor's name": "Odalys Fenwright", "Donor's address": "12 Quay Street, Amberjay",
		"1 Date of contribution": "2026-03-28", "2a Odometer mileage": "", "2b Year": "2019", "2c Make": "Oxlip", "2d Model": "'=Wren",
		"3 Vehicle or other identification number": "hull number XYZ12345L495", "4a Sold in arm's length transaction to unrelated party": "yes",
		"4b Date of sale": "2026-04-18", "4c Gross proceeds from sale": "1850.00", "6a Goods or services provided in exchange": "no", "6b Value of goods and services": "",
		"7 Donor may not claim a deduction of more than $500": "",
	} {
		assert.Contains(t, row, head)
		assert.Equal(t, want, row[head], head)
	}
}

// IRC 170(f)(12)(B)(i): the number stands on an acknowledgment above 500 USD; a letter of
// 170(f)(8), and box 7, need none.
func TestTheNumberIsAskedOnlyWhereAPaperNeedsIt(t *testing.T) {
	on := clock.MustDate("2026-04-20")
	with := func(change func(*gift)) gift { g := soldGift(); change(&g); return g }
	for name, row := range map[string]struct {
		gift    gift
		country string
		want    bool
	}{
		"sold above 500":         {soldGift(), taxpaper.US, true},
		"claimed at 500":         {with(func(g *gift) { g.claim = &message.ClaimStated{Claim: money.Of(50_000, "USD")} }), taxpaper.US, false},
		"sold at 500, box 7":     {with(func(g *gift) { g.sold.Gross = money.Of(50_000, "USD") }), taxpaper.US, false},
		"not sold":               {with(func(g *gift) { g.sold = nil }), taxpaper.US, false},
		"not sold, paper stands": {with(func(g *gift) { g.sold, g.certified = nil, "4a" }), taxpaper.US, true},
		"bought":                 {with(func(g *gift) { g.taking = message.Purchase }), taxpaper.US, false},
		"not received":           {with(func(g *gift) { g.received = clock.Date{} }), taxpaper.US, false},
		"of Canada":              {soldGift(), taxpaper.CA, false},
	} {
		assert.Equal(t, row.want, row.gift.needsNumber(row.country, on), name)
	}
}
