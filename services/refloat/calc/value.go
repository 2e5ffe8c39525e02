package calc

import (
	"errors"
	"slices"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/money"
)

var valueCalculator = Calculator{
	Name:    "value",
	Summary: "value a used boat from the sales of boats like it",
	Explain: `
Formula: in natural logs of minor units, y = ln price + g·days/365.25 (+ asking
effect), X the features, x0 the subject, e the club's effects.
  grid_median, grid_huber   z = y + e·(x0 − x); their median, or Huber's location
                            (k 1.345, scale 1.4826·MAD held fixed)
  ridge_log (λ 3)           effects learned, pulled toward e: d minimises
                            Σ(z − z̄ − Σd(x − x̄))² + λΣs²d², slope = e + d
  ols_log                   intercept and all features by least squares
  huber_log                 the same plane by Huber's M-estimate (k 1.345, MAD
                            anew in each round): wild prices are kept out
  theil_sen_log             median of pairwise slopes of one feature, the others
                            moved by e; intercept = median(z − slope·x)
  auto: up to 4 sales grid_median, 5-8 grid_huber, from 9 on ridge_log.
Range: t for one new sale, centre ± t·s·√(1 + 1/n) (for ols_log 1 + leverage), or
from 9 sales on jackknife+: order statistics ⌈c(n+1)⌉ of what the fits without
one sale say, plus and minus their misses. Value = exp(centre), halves up; low
rounds down, high up. loo_mdape_percent: the median error when each sale is valued
by all others. effect_signs ({feature: 1 or -1}) refuses a learned effect of the
other sign: the club's stays, and refused_effects names it. subject_for_parts is
valued beside the subject, as subject_after_repair is.

Source: comparison by sales, adjustments in order: US federal land acquisition
appraisal standards §1.5.2.3; smearing: Duan, JASA 78:605 (1983); Theil-Sen: Sen,
JASA 63:1379 (1968); jackknife+: Barber, Candès, Ramdas, Tibshirani, Ann. Statist.
49:486 (2021). Which method from how many sales, λ = 3 and the outlier bound of 3.5
are common practice, tried on two open data sets of sold goods.

Limits: an opinion for the club's own books, no qualified appraisal in the sense
of any tax law; a US club never sets its donor's deduction. The range holds only
if the sales were not picked to please; effects are opinions until sales test
them. One or two sales give an indication without a range. Old boats flatten out:
do not value far beyond the oldest comparable. Above 2^53 minor units the answer
is refused as out_of_range.`,
	Example: `{"valuation_date":"2026-04-01","currency":"USD","subject":{"features":{"age":5,"condition":3}},` +
		`"effects":{"age":-0.08,"condition":0.15},"comparables":[` +
		`{"id":"k1","price_minor":70000,"sold_on":"2026-04-01","features":{"age":5,"condition":3}},` +
		`{"id":"k2","price_minor":80000,"sold_on":"2026-04-01","features":{"age":3,"condition":3}},` +
		`{"id":"k3","price_minor":52000,"sold_on":"2026-04-01","features":{"age":7,"condition":2}},` +
		`{"id":"k4","price_minor":90000,"sold_on":"2026-04-01","features":{"age":4,"condition":4}}]}`,
	Answer: func(in *Object) (any, error) {
		question := readQuestion(in)
		if err := in.Done(); err != nil {
			return nil, err
		}
		return appraise.Value(question), nil
	},
}

func readQuestion(in *Object) appraise.Question {
	q := appraise.Question{On: in.Date("valuation_date")}
	requiredCurrency(in)
	subject := in.Object("subject").Object("features")
	q.Columns = subject.Names()
	q.Subject = inColumns(subject, q.Columns)
	if in.Has("subject_after_repair") {
		q.AfterRepair = inColumns(in.Object("subject_after_repair").Object("features"), q.Columns)
	}
	q.Effects = make([]float64, len(q.Columns))
	if in.Has("effects") {
		q.Effects = readEffects(in.Object("effects"), q.Columns)
	}
	if in.Has("subject_for_parts") {
		q.ForParts = inColumns(in.Object("subject_for_parts").Object("features"), q.Columns)
	}
	if in.Has("effect_signs") {
		q.Signs = readSigns(in.Object("effect_signs"), q)
	}
	q.Sales = readSales(in.Objects("comparables"))
	q.TimeEffect = in.FloatOr("time_effect_per_year", 0)
	if in.Has("asking_effect") {
		effect := in.Float("asking_effect")
		q.AskingEffect = &effect
	}
	if in.Has("max_age_days") {
		days := in.Int("max_age_days", NotNegative)
		q.MaxAgeDays = &days
	}
	readMethod(in, &q)
	return q
}

func readMethod(in *Object, q *appraise.Question) {
	q.Method = appraise.Method(in.TextOr("method", "auto",
		"auto", "grid_median", "grid_huber", "ridge_log", "ols_log", "theil_sen_log", "huber_log"))
	if q.Method == appraise.TheilSenLog || in.Has("feature") {
		name := in.Text("feature")
		q.Feature = slices.Index(q.Columns, name)
		if q.Feature < 0 {
			in.Fail("feature", "must be a feature of the subject")
		}
	}
	q.Lambda = in.FloatOr("ridge_lambda", 3, NotNegative)
	q.Coverage = in.FloatOr("coverage", 0.9, fromHalfToBelowOne)
	q.Interval = appraise.Interval(in.TextOr("interval", "auto", "auto", "none", "t", "jackknife_plus"))
	q.Retransform = appraise.Retransform(in.TextOr("retransform", "none", "none", "smearing", "lognormal"))
	q.RoundTo = in.IntOr("round_to_minor", 1, Positive)
}

func fromHalfToBelowOne(x float64) string {
	if x < 0.5 || x >= 1 {
		return "must be from 0.5 to below 1"
	}
	return ""
}

// requiredCurrency reads the currency where the contract has no default for it.
func requiredCurrency(in *Object) money.Currency {
	if !in.Has("currency") {
		in.failMissing("currency")
	}
	return in.Currency()
}

// inColumns reads exactly the named numbers of an object, in that order.
func inColumns(features *Object, columns []string) []float64 {
	row := make([]float64, len(columns))
	for j, name := range columns {
		row[j] = features.Float(name)
	}
	return row
}

func readEffects(in *Object, columns []string) []float64 {
	effects := make([]float64, len(columns))
	for _, name := range in.Names() {
		j := slices.Index(columns, name)
		if j < 0 {
			in.Fail(name, "must be a feature of the subject")
			break
		}
		effects[j] = in.Float(name)
	}
	return effects
}

// readSigns reads 1 or -1 for each feature whose effect can only be of one sign.
// An opinion of the club's that breaks it is no opinion.
func readSigns(in *Object, q appraise.Question) []int {
	signs := make([]int, len(q.Columns))
	for _, name := range in.Names() {
		j := slices.Index(q.Columns, name)
		sign := in.Int(name)
		switch {
		case j < 0:
			in.Fail(name, "must be a feature of the subject")
			return signs
		case sign != 1 && sign != -1:
			in.Fail(name, "must be 1 or -1")
		case float64(sign)*q.Effects[j] < 0:
			in.Fail(name, "is not the sign of the effect that is given")
		}
		signs[j] = int(sign)
	}
	return signs
}

func readSales(comparables []*Object) []appraise.Sale {
	var sales []appraise.Sale
	seen := map[string]bool{}
	for _, in := range comparables {
		sale := appraise.Sale{
			ID:         in.Text("id"),
			PriceMinor: in.Int("price_minor", Positive),
			SoldOn:     in.Date("sold_on"),
			Asking:     in.TextOr("price_kind", "sold", "sold", "asking") == "asking",
			Related:    !in.BoolOr("arms_length", true),
			Features:   map[string]float64{},
		}
		features := in.Object("features")
		for _, name := range features.Names() {
			sale.Features[name] = features.Float(name)
		}
		if seen[sale.ID] {
			in.Fail("id", "stands twice in the list")
		}
		seen[sale.ID] = true
		sales = append(sales, sale)
	}
	return sales
}

var offerCalculator = Calculator{
	Name:    "offer",
	Summary: "what a club may at most pay for a boat that needs work",
	Explain: `
Formula: ceiling = basis − expected repair − allowance − margin − other costs, not
below 0, rounded down. Expected repair = Σ probability·(cost + minutes·hour value
/60). Margin = the larger of the minimum and rate·basis. Each deduction is rounded
up to a whole minor unit. Allowance for what two inspectors, looking alone, both
missed (a and b findings, m in common): M = (a−m)(b−m)/(m+1), Var N =
(a+1)(b+1)(a−m)(b−m)/((m+1)²(m+2)); with c and v the mean and variance of the cost
of one defect, expected = M·c, upper = M·c + z·√(M·v + c²·Var N).
Gift part = what the fair market value exceeds the price by.

Source: Chapman, Univ. Calif. Publ. Statist. 1:131 (1951), for M and Var N. The
variance of the sum is an approximation of ours (a count of uncertain mean). The
form of the ceiling is common practice, no source.

Limits: a number for the buyer's side of the table only, not shown to the seller.
Fewer than 3 common findings carry little weight ("weak": true); inspectors who
talk, or who both miss what cannot be seen dry, make the estimate a floor. A given
allowance is a rule, not an estimate. Defects that can hurt somebody are never priced away: an
uninspected buoyancy chamber stops the purchase whatever the sum says. A gift part
needs the seller's written intent; ask an adviser.`,
	Example: `{"currency":"USD","value_after_repair_minor":60000,"repairs":[{"id":"r1","cost_minor":5000},` +
		`{"id":"r2","cost_minor":4000,"probability":0.5}],"undiscovered":{"found_by_first":6,"found_by_second":5,` +
		`"found_by_both":4,"severity":[{"share":0.7,"cost_minor":1000},{"share":0.3,"cost_minor":4000}]},` +
		`"margin":{"rate":0.1,"minimum_minor":3000},"price_minor":40000,"fair_market_value_minor":47000}`,
	Answer: func(in *Object) (any, error) {
		purchase := readPurchase(in)
		if err := in.Done(); err != nil {
			return nil, err
		}
		offer, err := appraise.Ceiling(purchase)
		if err != nil {
			return nil, err
		}
		return offer, nil
	},
}

func readPurchase(in *Object) appraise.Purchase {
	requiredCurrency(in)
	p := appraise.Purchase{BasisMinor: in.Int("value_after_repair_minor", NotNegative)}
	if in.TextOr("basis", "point", "point", "low") == "low" {
		p.BasisMinor = in.Int("value_after_repair_low_minor", NotNegative)
	} else {
		optionalMoney(in, "value_after_repair_low_minor")
	}
	p.HourMinor = in.IntOr("hour_value_minor", 0, NotNegative)
	if in.Has("repairs") {
		for _, repair := range in.Objects("repairs") {
			repair.Text("id")
			p.Repairs = append(p.Repairs, appraise.LikelyRepair{
				CostMinor:   repair.Int("cost_minor", NotNegative),
				Probability: repair.FloatOr("probability", 1, Within(0, 1)),
				Minutes:     repair.FloatOr("minutes", 0, NotNegative),
			})
		}
	}
	if in.Has("undiscovered") {
		readUndiscovered(in.Object("undiscovered"), &p)
	}
	p.Upper = in.TextOr("allowance", "expected", "expected", "upper") == "upper"
	if in.Has("margin") {
		margin := in.Object("margin")
		p.MarginRate = margin.FloatOr("rate", 0, NotNegative)
		p.MarginMinimumMinor = margin.IntOr("minimum_minor", 0, NotNegative)
	}
	p.OtherCostsMinor = in.IntOr("other_costs_minor", 0, NotNegative)
	p.RoundTo = in.IntOr("round_to_minor", 1, Positive)
	p.PriceMinor = optionalMoney(in, "price_minor")
	p.FairValueMinor = optionalMoney(in, "fair_market_value_minor")
	return p
}

func optionalMoney(in *Object, name string) *int64 {
	if !in.Has(name) {
		return nil
	}
	minor := in.Int(name, NotNegative)
	return &minor
}

// ofInspectors are the fields of two inspectors' counts, which stand where no
// allowance_minor does.
var ofInspectors = []string{"found_by_first", "found_by_second", "found_by_both", "severity", "upper_level"}

// readUndiscovered reads either a rule or two inspectors' counts.
func readUndiscovered(in *Object, p *appraise.Purchase) {
	refuseBoth(in)
	if in.Has("allowance_minor") {
		p.RuleMinor = optionalMoney(in, "allowance_minor")
		return
	}
	look, err := defects.SecondLook(in.Int("found_by_first", NotNegative), in.Int("found_by_second", NotNegative), in.Int("found_by_both", NotNegative))
	if f, ok := errors.AsType[*fault.Fault](err); ok {
		in.Fail(map[string]string{"first": "found_by_first", "second": "found_by_second", "both": "found_by_both"}[f.Field], "%s", f.Text)
	}
	p.Undiscovered = &appraise.Undiscovered{
		Total: look.Total, Missed: look.Missed, Variance: look.Variance, Weak: !look.Shown(),
		Level: in.FloatOr("upper_level", 0.9, betweenZeroAndOne),
	}
	shares := 0.0
	for _, class := range in.Objects("severity") {
		c := appraise.Severity{Share: class.Float("share", Within(0, 1)), CostMinor: class.Int("cost_minor", NotNegative)}
		p.Undiscovered.Severity = append(p.Undiscovered.Severity, c)
		shares += c.Share
	}
	if shares < 1-1e-9 || shares > 1+1e-9 {
		in.Fail("severity", "the shares must sum to 1, not %v", shares)
	}
}

// refuseBoth blames the first field of the form that comes second.
func refuseBoth(in *Object) {
	first := ""
	for _, name := range in.Names() {
		if name != "allowance_minor" && !slices.Contains(ofInspectors, name) || !in.Has(name) {
			continue
		}
		if first == "" {
			first = name
		}
		if (name == "allowance_minor") != (first == "allowance_minor") {
			in.Fail(name, "does not go with %s", first)
		}
	}
}

func betweenZeroAndOne(x float64) string {
	if x <= 0 || x >= 1 {
		return "must be between 0 and 1"
	}
	return ""
}
