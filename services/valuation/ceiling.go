package valuation

import (
	"refloat.example/pkg/appraise"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// purchase is a question in the JSON that `refloat calc offer` reads.
type purchase struct {
	Currency     money.Currency `json:"currency"`
	Basis        int64          `json:"value_after_repair_minor"`
	Repairs      []repair       `json:"repairs"`
	Undiscovered undiscovered   `json:"undiscovered"`
	Margin       margin         `json:"margin"`
}

type repair struct {
	What        string  `json:"id"`
	CostMinor   int64   `json:"cost_minor"`
	Probability float64 `json:"probability"`
	Minutes     float64 `json:"minutes"`
}

// undiscovered is either what two inspectors found, with the cost of a defect,
// or an allowance by rule.
type undiscovered struct {
	First    *int64     `json:"found_by_first,omitempty"`
	Second   *int64     `json:"found_by_second,omitempty"`
	Both     *int64     `json:"found_by_both,omitempty"`
	Severity []severity `json:"severity,omitempty"`
	Level    float64    `json:"upper_level,omitempty"`
	Rule     *int64     `json:"allowance_minor,omitempty"`
}

type severity struct {
	Share     float64 `json:"share"`
	CostMinor int64   `json:"cost_minor"`
}

type margin struct {
	Rate         float64 `json:"rate"`
	MinimumMinor int64   `json:"minimum_minor"`
}

// upperLevel is that of the upper allowance, which is shown beside the expected
// one.
const upperLevel = 0.9

// looked is what look-overs of a boat came to: an estimate, when two people
// found enough in common.
type looked struct {
	estimate            bool
	first, second, both int64
}

// deal is what the club's settings say about a ceiling.
type deal struct {
	marginPercent int
	marginMinimum int64
	missedPercent int
}

// offerFor makes the question for a boat.
func offerFor(basis money.Amount, repairs []message.ExpectedWork, l looked, d deal) purchase {
	p := purchase{
		Currency: basis.Currency, Basis: basis.Minor, Repairs: []repair{},
		Margin: margin{float64(d.marginPercent) / 100, d.marginMinimum},
	}
	for _, r := range repairs {
		p.Repairs = append(p.Repairs, repair{r.What, r.Cost.Minor, float64(r.PercentLikely) / 100, float64(r.MinutesOfHands)})
	}
	p.Undiscovered = l.undiscovered(p.Repairs, basis, d)
	return p
}

// undiscovered takes the estimate where there is one and something to say what a
// defect costs; else the club's rule.
func (l looked) undiscovered(repairs []repair, basis money.Amount, d deal) undiscovered {
	costs := costsOf(repairs)
	if !l.estimate || len(costs) == 0 {
		rule := (basis.Minor*int64(d.missedPercent) + 99) / 100
		return undiscovered{Rule: &rule}
	}
	return undiscovered{First: &l.first, Second: &l.second, Both: &l.both, Severity: costs, Level: upperLevel}
}

// costsOf takes each repair that costs something as one in so many defects.
func costsOf(repairs []repair) []severity {
	var costs []severity
	for _, r := range repairs {
		if r.CostMinor > 0 {
			costs = append(costs, severity{CostMinor: r.CostMinor})
		}
	}
	for i := range costs {
		costs[i].Share = 1 / float64(len(costs))
	}
	return costs
}

// purchase gives the same to the arithmetic.
func (p purchase) purchase() (appraise.Purchase, error) {
	asked := appraise.Purchase{
		BasisMinor: p.Basis, RuleMinor: p.Undiscovered.Rule,
		MarginRate: p.Margin.Rate, MarginMinimumMinor: p.Margin.MinimumMinor, RoundTo: 1,
	}
	for _, r := range p.Repairs {
		asked.Repairs = append(asked.Repairs, appraise.LikelyRepair{CostMinor: r.CostMinor, Probability: r.Probability, Minutes: r.Minutes})
	}
	u := p.Undiscovered
	if u.Rule != nil {
		return asked, nil
	}
	look, err := defects.SecondLook(*u.First, *u.Second, *u.Both)
	if err != nil {
		return asked, err
	}
	asked.Undiscovered = &appraise.Undiscovered{Total: look.Total, Missed: look.Missed, Variance: look.Variance, Weak: !look.Shown(), Level: u.Level}
	for _, s := range u.Severity {
		asked.Undiscovered.Severity = append(asked.Undiscovered.Severity, appraise.Severity{Share: s.Share, CostMinor: s.CostMinor})
	}
	return asked, nil
}

// ceiling answers the question and gives what is said of it.
func (p purchase) ceiling(c message.SetCeiling) (message.CeilingSet, error) {
	said := message.CeilingSet{Boat: c.Boat}
	asked, err := p.purchase()
	if err != nil {
		return said, err
	}
	offer, err := appraise.Ceiling(asked)
	if err != nil {
		return said, err
	}
	said.Status, said.Ceiling = offer.Status, money.Of(offer.CeilingMinor, p.Currency)
	if said.Input, err = text(p); err == nil {
		said.Output, err = text(offer)
	}
	return said, err
}
