package valuation

import (
	"fmt"
	"slices"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// purchase is a question in the JSON that `refloat calc offer` reads.
type purchase struct {
	Currency     money.Currency `json:"currency"`
	Basis        int64          `json:"value_after_repair_minor"`
	Repairs      []repair       `json:"repairs"`
	Undiscovered undiscovered   `json:"undiscovered"`
	Allowance    string         `json:"allowance,omitempty"` // upper, when something could not be seen
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

// upper is the larger allowance; upperLevel is how seldom it is passed.
const (
	upper      = "upper"
	upperLevel = 0.9
)

// looked is what look-overs of a boat came to: an estimate, when two people
// found enough in common; what none of them could see; and whether none was whole.
type looked struct {
	estimate            bool
	first, second, both int64
	unseen              []string
	provisional         bool
}

// afloat are the parts that keep a boat up when it is full of water. What they
// hide is never priced: a boat whose flotation nobody saw is not bought on a sum.
var afloat = []string{"flotation", "foam pillar", "bulkhead"}

// safe refuses a ceiling while a part is unseen on which lives depend.
func (l looked) safe() error {
	for _, part := range l.unseen {
		if slices.Contains(afloat, part) {
			return desk.Conflict("boat", "nobody could see the %s, which keeps the boat up when it is full of water; have it looked at, then set the ceiling: no sum makes up for it", part)
		}
	}
	return nil
}

// deal is what the club's settings say about a ceiling.
type deal struct {
	marginPercent      int
	marginMinimum      int64
	missedPercent      int
	provisionalPercent int
	// costs are what one missed defect costs, with the words that say where they are
	// from; none when the repairs of the ceiling itself have to do.
	costs     []severity
	costsFrom string
}

// ruleWords says that an allowance is a rule.
const ruleWords = "a rule of the club, not an estimate"

// offerFor makes the question for a boat, and says where the cost of a missed
// defect is from.
func offerFor(basis money.Amount, repairs []message.ExpectedWork, l looked, d deal) (purchase, string) {
	p := purchase{
		Currency: basis.Currency, Basis: basis.Minor, Repairs: []repair{},
		Margin: margin{float64(d.marginPercent) / 100, d.marginMinimum},
	}
	for _, r := range repairs {
		p.Repairs = append(p.Repairs, repair{r.What, r.Cost.Minor, float64(r.PercentLikely) / 100, float64(r.MinutesOfHands)})
	}
	var from string
	p.Undiscovered, from = l.undiscovered(p.Repairs, basis, d)
	if l.provisional {
		p.Allowance = upper
	}
	return p, from
}

// undiscovered takes the estimate where there is one and something to say what a
// defect costs; else the club's rule, which is higher when something was unseen.
func (l looked) undiscovered(repairs []repair, basis money.Amount, d deal) (undiscovered, string) {
	costs, from := d.costs, d.costsFrom
	if costs == nil {
		costs, from = costsOf(repairs), "the repairs that are reckoned with, each as one in so many; hidden defects are often dearer"
	}
	if !l.estimate || len(costs) == 0 {
		percent := int64(d.missedPercent)
		if l.provisional {
			percent += int64(d.provisionalPercent)
		}
		rule := (basis.Minor*percent + 99) / 100
		return undiscovered{Rule: &rule}, ruleWords
	}
	return undiscovered{First: &l.first, Second: &l.second, Both: &l.both, Severity: costs, Level: upperLevel}, from
}

// costsOf takes each repair that costs something as one in so many defects.
func costsOf(repairs []repair) []severity {
	var costs []severity
	for _, r := range repairs {
		if r.CostMinor > 0 {
			costs = append(costs, severity{CostMinor: r.CostMinor})
		}
	}
	return evenly(costs)
}

// evenly gives each cost the same share.
func evenly(costs []severity) []severity {
	for i := range costs {
		costs[i].Share = 1 / float64(len(costs))
	}
	return costs
}

// purchase gives the same to the arithmetic.
func (p purchase) purchase() (appraise.Purchase, error) {
	asked := appraise.Purchase{
		BasisMinor: p.Basis, RuleMinor: p.Undiscovered.Rule, Upper: p.Allowance == upper,
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
	said := message.CeilingSet{Boat: c.Boat, Provisional: p.Allowance == upper}
	asked, err := p.purchase()
	if err != nil {
		return said, err
	}
	offer, err := appraise.Ceiling(asked)
	if err != nil {
		return said, err
	}
	said.Status, said.Ceiling = offer.Status, money.Of(offer.CeilingMinor, p.Currency)
	said.Upper = money.Of(max(0, offer.BeforeFloorMinor+offer.AllowanceMinor-offer.UpperMinor), p.Currency)
	said.Sentence = p.sentence(offer)
	if said.Input, err = text(p); err == nil {
		said.Output, err = text(offer)
	}
	return said, err
}

// sentence says a ceiling as one would say it aloud.
func (p purchase) sentence(o appraise.Offer) string {
	a := func(minor int64) money.Amount { return money.Of(minor, p.Currency) }
	if o.Status != "ok" {
		return fmt.Sprintf("Do not buy: repaired it would fetch about %s, and repairs (%s), what was not found (%s) and the club's margin (%s) eat all of it.",
			a(o.BasisMinor), a(o.RepairMinor), a(o.AllowanceMinor), a(o.MarginMinor))
	}
	return fmt.Sprintf("Offer at most %s: repaired it would fetch about %s; mending takes about %s, %s is kept for what was not found, and %s is the club's margin.",
		a(o.CeilingMinor), a(o.BasisMinor), a(o.RepairMinor), a(o.AllowanceMinor), a(o.MarginMinor))
}
