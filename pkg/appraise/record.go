package appraise

import (
	"encoding/json"
	"maps"
	"slices"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// A Record is a question in the JSON that `refloat calc value` reads. It is what
// stands in the book: whatever the calculator would choose by itself is said, so
// that it can be answered again to the cent.
type Record struct {
	On           clock.Date         `json:"valuation_date"`
	Currency     money.Currency     `json:"currency"`
	Subject      Features           `json:"subject"`
	AfterRepair  Features           `json:"subject_after_repair"`
	ForParts     *Features          `json:"subject_for_parts,omitempty"`
	Comparables  []RecordedSale     `json:"comparables"`
	Effects      map[string]float64 `json:"effects"`
	Signs        map[string]int     `json:"effect_signs,omitempty"`
	TimeEffect   float64            `json:"time_effect_per_year,omitempty"`
	AskingEffect *float64           `json:"asking_effect,omitempty"`
	MaxAgeDays   int64              `json:"max_age_days"`
	Method       Method             `json:"method"`
	Lambda       float64            `json:"ridge_lambda"`
	Coverage     float64            `json:"coverage"`
	Interval     Interval           `json:"interval"`
	RoundTo      int64              `json:"round_to_minor"`
}

// Features is what counts of a boat, by name.
type Features struct {
	Features map[string]float64 `json:"features"`
}

// RecordedSale is a Sale in a Record.
type RecordedSale struct {
	ID         string             `json:"id"`
	PriceMinor int64              `json:"price_minor"`
	SoldOn     clock.Date         `json:"sold_on"`
	PriceKind  string             `json:"price_kind"` // sold, asking
	ArmsLength bool               `json:"arms_length"`
	Features   map[string]float64 `json:"features"`
}

// asked is the kind of price that nobody has paid.
const asked = "asking"

// ReadRecord reads what stands in the book.
func ReadRecord(text string) (Record, error) {
	var r Record
	err := json.Unmarshal([]byte(text), &r)
	return r, err
}

// Columns names the features that count, in the order in which JSON writes them.
func (r Record) Columns() []string { return slices.Sorted(maps.Keys(r.Subject.Features)) }

// Question gives the same to the arithmetic.
func (r Record) Question() Question {
	columns := r.Columns()
	row := func(values map[string]float64) []float64 {
		row := make([]float64, len(columns))
		for i, name := range columns {
			row[i] = values[name]
		}
		return row
	}
	q := Question{
		On: r.On, Columns: columns, Subject: row(r.Subject.Features), AfterRepair: row(r.AfterRepair.Features), Effects: row(r.Effects),
		TimeEffect: r.TimeEffect, AskingEffect: r.AskingEffect, MaxAgeDays: &r.MaxAgeDays, Method: r.Method, Lambda: r.Lambda, Coverage: r.Coverage, Interval: r.Interval,
		Retransform: NoRetransform, RoundTo: r.RoundTo,
	}
	if r.ForParts != nil {
		q.ForParts = row(r.ForParts.Features)
	}
	if r.Signs != nil {
		q.Signs = make([]int, len(columns))
		for i, name := range columns {
			q.Signs[i] = r.Signs[name]
		}
	}
	for _, s := range r.Comparables {
		q.Sales = append(q.Sales, Sale{
			ID: s.ID, PriceMinor: s.PriceMinor, SoldOn: s.SoldOn, Asking: s.PriceKind == asked, Related: !s.ArmsLength, Features: s.Features,
		})
	}
	return q
}
