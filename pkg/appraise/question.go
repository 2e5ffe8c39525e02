// Package appraise says what a used boat would fetch, from the sales of boats
// like it, and what a club may at most pay for one that needs work.
//
// It works in natural logarithms of prices. The number of usable sales decides
// how much is claimed: one or two give a bare indication, three or four a weak
// value with a wide range, five and more a value, nine and more one whose
// effects are learned from the sales and pulled toward the club's opinion.
//
// It estimates the price in the middle of what a willing buyer would pay. It
// is no appraisal in the sense of any tax law, chooses no comparables, sees no
// boat, and its range holds only as far as the comparables were not picked to
// please.
package appraise

import "refloat.example/pkg/clock"

// A Sale is one comparable: a boat that was sold, or is being asked for.
type Sale struct {
	ID         string
	PriceMinor int64 // greater than 0
	SoldOn     clock.Date
	Asking     bool // a price asked, not one paid
	Related    bool // not at arm's length: family, a forced sale, a favour
	Features   map[string]float64
}

// Method names a way to reach the middle.
type Method string

// The methods. Auto chooses by the number of usable sales: up to 4 GridMedian,
// up to 8 GridHuber, from 9 on RidgeLog.
const (
	Auto        Method = "auto"
	GridMedian  Method = "grid_median"
	GridHuber   Method = "grid_huber"
	RidgeLog    Method = "ridge_log"
	OLSLog      Method = "ols_log"
	TheilSenLog Method = "theil_sen_log"
	// HuberLog is a plane from which wild prices are kept (Huber's M-estimate). It
	// is never chosen by itself: it is the second opinion beside RidgeLog.
	HuberLog Method = "huber_log"
)

// Interval names a way to reach the range.
type Interval string

// The intervals. AutoInterval chooses by method and number of sales.
const (
	AutoInterval  Interval = "auto"
	NoInterval    Interval = "none"
	TInterval     Interval = "t"
	JackknifePlus Interval = "jackknife_plus"
)

// Retransform names the factor that turns a median price into a mean price.
type Retransform string

// The factors: none, Duan's smearing (1983), or that of the log-normal.
const (
	NoRetransform Retransform = "none"
	Smearing      Retransform = "smearing"
	Lognormal     Retransform = "lognormal"
)

// A Question is everything that a value depends on. Prices are in minor units
// of one currency; effects are in log points a unit of their feature.
type Question struct {
	On clock.Date
	// Columns names the features that count, in the order of Subject,
	// AfterRepair and Effects.
	Columns     []string
	Subject     []float64
	AfterRepair []float64 // nil when nothing is asked about repair
	ForParts    []float64 // nil when nothing is asked about parts
	Effects     []float64 // the club's opinion, 0 for a feature without one
	// Signs says of which sign an effect can only be: 1 for what never lowers a
	// price, -1 for what never raises one, 0 where either may be. An effect that
	// sales teach with the other sign is refused: the club's stays. nil asks
	// nothing.
	Signs []int
	Sales []Sale

	TimeEffect   float64  // log points a year of 365.25 days
	AskingEffect *float64 // log points from asked to paid; nil leaves asking prices out
	MaxAgeDays   *int64   // nil for no limit

	Method      Method
	Feature     int     // the column that TheilSenLog fits
	Lambda      float64 // how strongly RidgeLog pulls toward the club's effects
	Coverage    float64 // of the range, from 0.5 to below 1
	Interval    Interval
	Retransform Retransform
	RoundTo     int64 // minor units
}

// Status says how much a value claims.
type Status string

// The statuses.
const (
	OK         Status = "ok"
	Weak       Status = "weak"       // 3 or 4 sales
	Indication Status = "indication" // 1 or 2 sales: no range
	Refused    Status = "refused"
)

// The reasons of a refusal.
const (
	NoComparables  = "no_comparables"
	TooFewForModel = "too_few_for_model"
	NoVariation    = "no_variation"
	OutOfRange     = "out_of_range" // a figure is no longer a price: above 2^53 minor units
)

// The reasons why there is no range.
const (
	FewerThanThree  = "fewer_than_3_comparables"
	TooFewForRange  = "too_few_for_coverage"
	NotAsked        = "not_asked"
	TNotDefined     = "t_not_defined_for_method"
	NoValue         = "no_value"
	fewestForRange  = 3
	fewestForHonest = 3 // leaving one out must leave a middle of two
)

// An Opinion is the answer. Its field names are those of `refloat calc value`;
// null stands for what was not or could not be worked out.
type Opinion struct {
	Status            Status             `json:"status"`
	Reason            *string            `json:"reason"`
	Method            *Method            `json:"method"`
	Entered           int                `json:"n_entered"`
	Used              int                `json:"n_used"`
	Excluded          []Exclusion        `json:"excluded"`
	CentreLog         *float64           `json:"centre_log"`
	ValueMinor        *int64             `json:"value_minor"`
	LowMinor          *int64             `json:"low_minor"`
	HighMinor         *int64             `json:"high_minor"`
	Coverage          float64            `json:"coverage"`
	IntervalMethod    Interval           `json:"interval_method"`
	IntervalReason    *string            `json:"interval_reason"`
	Coefficients      map[string]float64 `json:"coefficients"`
	InterceptLog      *float64           `json:"intercept_log"`
	ResidualSDLog     *float64           `json:"residual_sd_log"`
	RetransformFactor *float64           `json:"retransform_factor"`
	LeaveOneOutError  *float64           `json:"loo_mdape_percent"`
	Adjusted          []Adjustment       `json:"adjusted"`
	AfterRepair       *AfterRepair       `json:"after_repair"`
	ForParts          *AfterRepair       `json:"for_parts,omitempty"`
	GainMinor         *int64             `json:"gain_from_repair_minor"`
	// RefusedEffects names the features whose effect the sales taught with a sign
	// that it cannot have; the club's effect stands in its place.
	RefusedEffects []string `json:"refused_effects,omitempty"`
}

// An Exclusion is a sale that was left out, and the first reason that held.
type Exclusion struct {
	ID     string `json:"id"`
	Reason string `json:"reason"`
}

// An Adjustment is one line of the treasurer's table: what a sale says that the
// subject is worth.
type Adjustment struct {
	ID            string  `json:"id"`
	AdjustedMinor int64   `json:"adjusted_minor"`
	NetLog        float64 `json:"net_log"`
	GrossLog      float64 `json:"gross_log"`
	Outlier       bool    `json:"outlier"` // ask for a reason; nothing is dropped by itself
}

// AfterRepair is the value that the same sales and method give to the subject in
// another state: once it is repaired, or for its parts.
type AfterRepair struct {
	Status     Status   `json:"status"`
	CentreLog  *float64 `json:"centre_log"`
	ValueMinor *int64   `json:"value_minor"`
	LowMinor   *int64   `json:"low_minor"`
	HighMinor  *int64   `json:"high_minor"`
}
