package calc

import (
	"errors"
	"fmt"
	"strings"

	"refloat.example/pkg/taxpaper"
)

var letterCalculator = Calculator{
	Name:    "letter",
	Summary: "say which paper a donor gets, what it states and what is due when",
	Explain: letterExplained(),
	Example: `{"country":"US","gift_date":"2026-03-28","what":"boat","fair_value":220000,"claims":220000,"sold":{"date":"2026-04-18","gross":185000,"arms_length":true,"auction":false}}`,
	Answer: func(in *Object) (any, error) {
		gift := readGift(in)
		if err := in.Done(); err != nil {
			return nil, err
		}
		letter, err := taxpaper.Decide(gift)
		var misfit *taxpaper.Misfit
		if errors.As(err, &misfit) {
			return nil, &BadInput{Field: misfit.Field, Reason: misfit.Reason}
		}
		return letter, err
	},
}

func letterExplained() string {
	var text strings.Builder
	text.WriteString(`
Formula: a US boat claimed above 500 USD and sold at arm's length for more than that
may be claimed up to the lesser of gross and fair value (1098-C boxes 4a to 4c);
materially improved, significantly used, or placed with a person in need of
transportation, up to the fair value (5a, 5b); else up to 500 USD (box 7). Up to
500 USD, and for other things and money from 250 USD, a 170(f)(8) letter; above 75
USD, part purchase, a quid pro quo statement. In Canada the receipt states the value
(the donor's cost where acquired shortly before), less an advantage unless small.
In the United Kingdom things given get a thank-you letter only.
What the club paid comes off the US cap (our reading, no source).

Input besides the example: amount (cash), paid, cost and acquired (CA) with
"acquired_to_give":true where giving was a main reason to acquire (ten years count
instead of three), appraisal, similar_this_year, improvement, use, needy, benefit,
acknowledged, certified, history, final. Amounts are in the country's currency;
another "currency" is refused. sold.auction may be left out (false). A use counts
only where significant_attested_by names a person, and not before it has ended.

Limits: no tax advice; the donor's adviser and the authority's current text decide.
Whether the club may issue receipts at all, whether a work is major, a use
significant or a price significantly below the value is not judged here.
A date that the tables do not cover is refused, never extrapolated.

Work on a boat that is never by itself a material improvement:
`)
	text.WriteString(wrapped(taxpaper.Excluded(), 84))
	text.WriteString(`
Source: these rows, by the date of the gift, the holidays by that of the filing
(V read in the official text, S in a secondary source, M from memory, D derived here;
what else was not read in a text stands there as "from memory"):
`)
	for _, r := range taxpaper.Rules() {
		fmt.Fprintf(&text, "  %-22s %s..%-10s %s  %s [%s]\n", r.ID, r.From, r.To, r.Value, r.Source, r.Mark)
	}
	return text.String()
}

// wrapped writes words with commas, in indented lines of about width characters.
func wrapped(words []string, width int) string {
	var text strings.Builder
	line := " "
	for i, word := range words {
		if len(line)+len(word)+2 > width {
			text.WriteString(line + "\n")
			line = " "
		}
		line += " " + word
		if i < len(words)-1 {
			line += ","
		}
	}
	return text.String() + line + "\n"
}

func readGift(in *Object) taxpaper.Gift {
	g := taxpaper.Gift{
		Country:         in.Text("country", taxpaper.US, taxpaper.CA, taxpaper.UK),
		Date:            in.Date("gift_date"),
		What:            in.Text("what", taxpaper.Boat, taxpaper.Goods, taxpaper.Cash),
		FairValue:       minorOrNil(in, "fair_value"),
		Paid:            in.IntOr("paid", 0, NotNegative),
		Claims:          minorOrNil(in, "claims"),
		SimilarThisYear: in.IntOr("similar_this_year", 0, NotNegative),
		Cost:            minorOrNil(in, "cost"),
		Acquired:        in.DateOr("acquired"),
		AcquiredToGive:  in.BoolOr("acquired_to_give", false),
		Acknowledged:    in.DateOr("acknowledged"),
		Certified:       in.TextOr("certified", "", "4a", "5a", "5b"),
		Final:           in.BoolOr("final", false),
	}
	if g.What == taxpaper.Cash {
		g.Amount = in.Int("amount", NotNegative)
	} else {
		g.Amount = in.IntOr("amount", 0, NotNegative)
	}
	refuseForeignCurrency(in, g.Country)
	readDeeds(in, &g)
	return g
}

// refuseForeignCurrency: thresholds are stated in the country's own currency,
// and nothing is converted.
func refuseForeignCurrency(in *Object, country string) {
	if !in.Has("currency") {
		return
	}
	if got, want := in.Currency(), taxpaper.Currency(country); got != want {
		in.Fail("currency", "must be %s, in which the thresholds are stated", want)
	}
}

// readDeeds reads what was done with the gift and in return for it.
func readDeeds(in *Object, g *taxpaper.Gift) {
	g.Appraisal = innerOrNil(in, "appraisal", func(o *Object) taxpaper.Appraisal {
		return taxpaper.Appraisal{Value: o.Int("value", NotNegative), By: o.Text("by"), Address: o.Text("address")}
	})
	g.Sold = innerOrNil(in, "sold", func(o *Object) taxpaper.Sale {
		return taxpaper.Sale{Date: o.Date("date"), Gross: o.Int("gross", NotNegative), ArmsLength: o.Bool("arms_length"), Auction: o.BoolOr("auction", false)}
	})
	g.Improvement = innerOrNil(in, "improvement", func(o *Object) taxpaper.Improvement {
		return taxpaper.Improvement{Work: o.Texts("work"), PaidBy: o.Text("paid_by", "club", "donor"), Major: o.Bool("major")}
	})
	g.Use = innerOrNil(in, "use", func(o *Object) taxpaper.Use {
		return taxpaper.Use{Description: o.Text("description"), From: o.DateOr("from"), To: o.DateOr("to"), Regular: o.Bool("regular"),
			SignificantAttestedBy: o.TextOr("significant_attested_by", "")}
	})
	g.Needy = innerOrNil(in, "needy", func(o *Object) taxpaper.Needy {
		return taxpaper.Needy{AttestedBy: o.TextOr("attested_by", ""), TransportNeed: o.Bool("transport_need"), Price: o.Int("price", NotNegative)}
	})
	g.Benefit = innerOrNil(in, "benefit", func(o *Object) taxpaper.Benefit {
		return taxpaper.Benefit{Kind: o.Text("kind", taxpaper.Token, taxpaper.Thing, taxpaper.Service), Value: o.Int("value", NotNegative),
			Cost: minorOrNil(o, "cost"), Logo: o.BoolOr("logo", false)}
	})
	if in.Has("history") {
		for _, o := range in.Objects("history") {
			g.History = append(g.History, taxpaper.Issued{Serial: o.Text("serial"), Issued: o.Date("issued"), Wrong: wrongOn(o)})
		}
	}
}

// wrongOn reads what is wrong on an earlier paper; left out, nothing is.
func wrongOn(o *Object) []string {
	if !o.Has("wrong") {
		return nil
	}
	return o.Texts("wrong")
}

func minorOrNil(in *Object, name string) *int64 {
	if !in.Has(name) {
		return nil
	}
	minor := in.Int(name, NotNegative)
	return &minor
}

func innerOrNil[T any](in *Object, name string, read func(*Object) T) *T {
	if !in.Has(name) {
		return nil
	}
	value := read(in.Object(name))
	return &value
}
