package web

import (
	"encoding/json"
	"fmt"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// ceilingShown is an offer ceiling with every line, as one reads it aloud.
type ceilingShown struct {
	message.CeilingSet
	Lines []ceilingLine
}

// ceilingLine is one line; what is taken off has a minus.
type ceilingLine struct {
	What   string
	Words  string
	Amount money.Amount
}

// showCeiling reads the lines off the computation that stands in the book. Where it
// cannot be read, the sentence stands alone.
func showCeiling(c *message.CeilingSet) *ceilingShown {
	if c == nil {
		return nil
	}
	shown := &ceilingShown{CeilingSet: *c}
	if shown.Sentence == "" {
		shown.Sentence = "By the ceiling the club should not buy it."
		if c.Status == "ok" {
			shown.Sentence = "The most that may be offered: " + c.Ceiling.String() + "."
		}
	}
	var o appraise.Offer
	var asked struct {
		Repairs []struct {
			What        string  `json:"id"`
			CostMinor   int64   `json:"cost_minor"`
			Probability float64 `json:"probability"`
			Minutes     float64 `json:"minutes"`
		} `json:"repairs"`
	}
	if json.Unmarshal([]byte(c.Output), &o) != nil || json.Unmarshal([]byte(c.Input), &asked) != nil || o.BasisMinor == 0 {
		return shown
	}
	add := func(what, words string, minor int64) {
		shown.Lines = append(shown.Lines, ceilingLine{what, words, money.Of(minor, c.Ceiling.Currency)})
	}
	add("It would fetch, repaired", "", o.BasisMinor)
	for _, r := range asked.Repairs {
		words := fmt.Sprintf("%s, %.0f in 100 likely, %s of volunteers", money.Of(r.CostMinor, c.Ceiling.Currency), 100*r.Probability, hours(int(r.Minutes)))
		add(r.What, words, -int64(float64(r.CostMinor)*r.Probability+0.999999))
	}
	shown.allowance(o, add)
	add("The club's margin", "", -o.MarginMinor)
	if o.OtherCostsMinor > 0 {
		add("Other costs", "", -o.OtherCostsMinor)
	}
	add("At most", "", o.CeilingMinor)
	return shown
}

// allowance says what is kept for what was not found, and why so much.
func (c *ceilingShown) allowance(o appraise.Offer, add func(what, words string, minor int64)) {
	words := c.CostsFrom
	if o.Missed != nil {
		words = fmt.Sprintf("about %.1f findings that both missed, %s each: %s. Expected %s, and in nine cases of ten no more than %s",
			o.Missed.Expected, money.Of(int64(o.Missed.PerDefect+0.5), c.Ceiling.Currency), c.CostsFrom,
			money.Of(o.UndiscoveredMinor, c.Ceiling.Currency), money.Of(o.UpperMinor, c.Ceiling.Currency))
		if o.Missed.Weak {
			words += " (weak: little was found by both)"
		}
	}
	if c.Provisional {
		words += "; something could not be seen, so it is the larger amount"
	}
	add("Kept for what was not found", words, -o.AllowanceMinor)
}
