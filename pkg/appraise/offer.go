package appraise

import (
	"math"

	"refloat.example/pkg/fault"
)

// A LikelyRepair is work that a boat may need.
type LikelyRepair struct {
	CostMinor   int64
	Probability float64 // from 0 to 1
	Minutes     float64 // of volunteers' work
}

// A Severity is a class of defects: how large a share of them, at what cost.
type Severity struct {
	Share     float64
	CostMinor int64
}

// Undiscovered is what two inspectors who looked alone both missed, as package
// defects estimates it, and what one defect costs. Take the costs from the
// club's history of defects found only in the workshop: those are the hidden and
// dear ones.
type Undiscovered struct {
	Total    float64 // defects in all
	Missed   float64 // by both
	Variance float64 // of the total
	Weak     bool    // too little was found by both to carry weight
	Severity []Severity
	Level    float64 // of the upper allowance, between 0 and 1
}

// A Purchase is everything that a ceiling depends on, in minor units.
type Purchase struct {
	BasisMinor         int64 // value after repair, or the low end of its range
	Repairs            []LikelyRepair
	HourMinor          int64         // for decisions only
	Undiscovered       *Undiscovered // or
	RuleMinor          *int64        // an allowance by rule
	Upper              bool          // take the upper allowance
	MarginRate         float64
	MarginMinimumMinor int64
	OtherCostsMinor    int64
	RoundTo            int64
	PriceMinor         *int64 // to be checked
	FairValueMinor     *int64 // as it is, for the gift part
}

// An Offer is the ceiling and how it came about; every deduction is rounded up.
// Its field names are those of `refloat calc offer`.
type Offer struct {
	Status             string `json:"status"` // ok, or do_not_buy when nothing is left
	BasisMinor         int64  `json:"value_basis_minor"`
	RepairMinor        int64  `json:"expected_repair_minor"`
	UndiscoveredMinor  int64  `json:"undiscovered_expected_minor"`
	UpperMinor         int64  `json:"undiscovered_upper_minor"`
	AllowanceMinor     int64  `json:"allowance_minor"`
	MarginMinor        int64  `json:"margin_minor"`
	OtherCostsMinor    int64  `json:"other_costs_minor"`
	BeforeFloorMinor   int64  `json:"before_floor_minor"`
	CeilingMinor       int64  `json:"ceiling_minor"`
	UndiscoveredSource string `json:"undiscovered_source"` // two_inspectors, rule or none
	*Missed                   // only from two inspectors
	PriceAllowed       *bool  `json:"price_allowed"`
	GiftPartMinor      *int64 `json:"gift_part_minor"`
}

// Missed is the estimate of what two inspectors both missed.
type Missed struct {
	Total         float64 `json:"total_estimated"`
	Expected      float64 `json:"missed_expected"`
	Variance      float64 `json:"missed_variance"`
	PerDefect     float64 `json:"cost_per_defect_minor"`
	SDMinor       float64 `json:"cost_sd_minor"`
	Weak          bool    `json:"weak"`
	expectedMinor float64
	upperMinor    float64
}

// Ceiling says what a club may at most pay. Amounts whose sum passes 2^53 minor
// units are refused.
func Ceiling(p Purchase) (Offer, error) {
	offer := Offer{BasisMinor: p.BasisMinor, UndiscoveredSource: "none", OtherCostsMinor: p.OtherCostsMinor}
	expected, upper := 0.0, 0.0
	switch {
	case p.Undiscovered != nil:
		offer.UndiscoveredSource, offer.Missed = "two_inspectors", p.Undiscovered.missed()
		expected, upper = offer.Missed.expectedMinor, offer.Missed.upperMinor
	case p.RuleMinor != nil:
		offer.UndiscoveredSource = "rule"
		expected, upper = float64(*p.RuleMinor), float64(*p.RuleMinor)
	}
	repair := p.expectedRepair()
	margin := max(float64(p.MarginMinimumMinor), p.MarginRate*float64(p.BasisMinor))
	if !(float64(p.BasisMinor)+repair+max(expected, upper)+margin+float64(p.OtherCostsMinor) <= largestPrice) {
		return Offer{}, fault.Field("value_after_repair_minor", "the amounts are too large to add")
	}
	offer.RepairMinor, offer.MarginMinor = wholeUp(repair), wholeUp(margin)
	offer.UndiscoveredMinor, offer.UpperMinor = wholeUp(expected), wholeUp(upper)
	offer.AllowanceMinor = offer.UndiscoveredMinor
	if p.Upper {
		offer.AllowanceMinor = offer.UpperMinor
	}
	offer.close(p)
	return offer, nil
}

// close draws the line under the deductions and checks the price.
func (o *Offer) close(p Purchase) {
	o.BeforeFloorMinor = o.BasisMinor - o.RepairMinor - o.AllowanceMinor - o.MarginMinor - o.OtherCostsMinor
	o.CeilingMinor = max(0, o.BeforeFloorMinor) / p.RoundTo * p.RoundTo
	o.Status = "ok"
	if o.BeforeFloorMinor <= 0 {
		o.Status = "do_not_buy"
	}
	if p.PriceMinor == nil {
		return
	}
	o.PriceAllowed = ref(*p.PriceMinor <= o.CeilingMinor)
	if p.FairValueMinor != nil {
		o.GiftPartMinor = ref(max(0, *p.FairValueMinor-*p.PriceMinor))
	}
}

func (p Purchase) expectedRepair() float64 {
	sum := 0.0
	for _, r := range p.Repairs {
		sum += r.Probability * (float64(r.CostMinor) + r.Minutes*float64(p.HourMinor)/60)
	}
	return sum
}

// missed is what the undiscovered defects would cost. The variance of the sum
// treats their number as a Poisson count of uncertain mean: an approximation.
func (u Undiscovered) missed() *Missed {
	mean, variance := u.costOfOne()
	missed := &Missed{Total: u.Total, Expected: u.Missed, Variance: u.Variance, PerDefect: mean, Weak: u.Weak}
	missed.SDMinor = math.Sqrt(u.Missed*variance + mean*mean*u.Variance)
	missed.expectedMinor = u.Missed * mean
	missed.upperMinor = max(0, missed.expectedMinor+normal(u.Level)*missed.SDMinor)
	return missed
}

// costOfOne gives the mean and the variance of the cost of one defect.
func (u Undiscovered) costOfOne() (mean, variance float64) {
	for _, class := range u.Severity {
		mean += class.Share * float64(class.CostMinor)
	}
	for _, class := range u.Severity {
		off := float64(class.CostMinor) - mean
		variance += class.Share * off * off
	}
	return mean, variance
}

// normal is the quantile of the standard normal distribution.
func normal(level float64) float64 { return math.Sqrt2 * math.Erfinv(2*level-1) }

// wholeUp rounds up to a whole minor unit; the small number forgives what
// decimal fractions lose in binary.
func wholeUp(minor float64) int64 { return int64(math.Ceil(minor - 1e-9)) }
