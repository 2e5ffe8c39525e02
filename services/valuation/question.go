package valuation

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// The differences between boats that count, by the names that the calculator
// shows.
const (
	age    = "age"      // years on the day of the sale or value
	grade  = "grade"    // 1 to 5
	length = "length_m" // metres
)

// question is a question in the JSON that `refloat calc value` reads. What the
// calculator would choose by itself stands there too, so that a record says all.
type question struct {
	On          clock.Date         `json:"valuation_date"`
	Currency    money.Currency     `json:"currency"`
	Subject     features           `json:"subject"`
	AfterRepair features           `json:"subject_after_repair"`
	Comparables []comparable       `json:"comparables"`
	Effects     map[string]float64 `json:"effects"`
	MaxAgeDays  int64              `json:"max_age_days"`
	Method      appraise.Method    `json:"method"`
	Lambda      float64            `json:"ridge_lambda"`
	Coverage    float64            `json:"coverage"`
	Interval    appraise.Interval  `json:"interval"`
	RoundTo     int64              `json:"round_to_minor"`
}

type features struct {
	Features map[string]float64 `json:"features"`
}

type comparable struct {
	ID         string             `json:"id"`
	PriceMinor int64              `json:"price_minor"`
	SoldOn     clock.Date         `json:"sold_on"`
	PriceKind  message.PriceKind  `json:"price_kind"`
	ArmsLength bool               `json:"arms_length"`
	Features   map[string]float64 `json:"features"`
}

// rules are the club's settings that a value rests on.
type rules struct {
	club         money.Currency
	gradePercent int
	yearPercent  int
	days         int
}

// effects gives the club's opinion in log points: a step of 15 per cent is
// ln 1.15.
func (r rules) effects(known map[string]float64) (map[string]float64, error) {
	if r.yearPercent >= 100 {
		return nil, desk.Conflict("", "by the setting year-effect-percent a year takes the whole price; an administrator has to set it below 100")
	}
	all := map[string]float64{grade: math.Log1p(float64(r.gradePercent) / 100), age: math.Log1p(-float64(r.yearPercent) / 100)}
	maps.DeleteFunc(all, func(name string, _ float64) bool { _, is := known[name]; return !is })
	return all, nil
}

// hull is what the room knows of a boat.
type hull struct {
	giver     people.ID
	kind      boat.Type
	seats     int
	lengthMM  int
	material  string
	yearBuilt int
	grade     boat.Grade
}

// features gives what counts of the boat in a grade. What is not known is left
// out.
func (h hull) features(g boat.Grade, on clock.Date) features {
	known := map[string]float64{grade: float64(g)}
	if h.yearBuilt > 0 {
		known[age] = float64(h.age(on))
	}
	if h.lengthMM > 0 {
		known[length] = metres(h.lengthMM)
	}
	return features{known}
}

// age gives the whole years of a boat on a day; one of next year's models is new.
func (h hull) age(on clock.Date) int { return max(0, on.Year()-h.yearBuilt) }

func metres(mm int) float64 { return float64(mm) / 1000 }

// ask makes the question for a boat.
func ask(h hull, c message.ValueBoat, r rules, sales []message.Comparable) (question, error) {
	q := question{
		On: c.On, Currency: r.club, Subject: h.features(c.AsItLies, c.On), AfterRepair: h.features(c.Repaired, c.On),
		Comparables: []comparable{}, MaxAgeDays: int64(r.days),
		Method: appraise.Auto, Lambda: 3, Coverage: 0.9, Interval: appraise.AutoInterval, RoundTo: 1,
	}
	for _, s := range sales {
		q.Comparables = append(q.Comparables, comparableOf(s))
	}
	effects, err := r.effects(q.Subject.Features)
	q.Effects = effects
	return q, err
}

func comparableOf(s message.Comparable) comparable {
	known := map[string]float64{grade: float64(s.Grade)}
	if !s.AgeUnknown {
		known[age] = float64(s.AgeYears)
	}
	if s.LengthMM > 0 {
		known[length] = metres(s.LengthMM)
	}
	return comparable{s.Comparable, s.Price.Minor, s.On, s.PriceKind, s.ArmsLength, known}
}

// question gives the same to the arithmetic. Columns are in the order in which
// JSON writes them.
func (q question) question() appraise.Question {
	columns := slices.Sorted(maps.Keys(q.Subject.Features))
	row := func(values map[string]float64) []float64 {
		row := make([]float64, len(columns))
		for i, name := range columns {
			row[i] = values[name]
		}
		return row
	}
	asked := appraise.Question{
		On: q.On, Columns: columns, Subject: row(q.Subject.Features), AfterRepair: row(q.AfterRepair.Features), Effects: row(q.Effects),
		MaxAgeDays: &q.MaxAgeDays, Method: q.Method, Lambda: q.Lambda, Coverage: q.Coverage, Interval: q.Interval,
		Retransform: appraise.NoRetransform, RoundTo: q.RoundTo,
	}
	for _, c := range q.Comparables {
		asked.Sales = append(asked.Sales, appraise.Sale{
			ID: c.ID, PriceMinor: c.PriceMinor, SoldOn: c.SoldOn, Asking: c.PriceKind == message.Asking, Related: !c.ArmsLength, Features: c.Features,
		})
	}
	return asked
}

// value answers the question and gives what is said of it.
func (q question) value(c message.ValueBoat, h hull) (message.BoatValued, error) {
	opinion := appraise.Value(q.question())
	said := message.BoatValued{
		Boat: c.Boat, Value: c.Value, On: c.On, Purpose: c.Purpose, Conflict: c.Conflict,
		AsItLies: q.worth(opinion.Status, opinion.ValueMinor, opinion.LowMinor, opinion.HighMinor),
		Used:     []string{},
	}
	if r := opinion.AfterRepair; r != nil {
		said.Repaired = q.worth(r.Status, r.ValueMinor, r.LowMinor, r.HighMinor)
	}
	said.AsItLies.Reason = q.reason(opinion, h)
	said.Repaired.Reason = said.AsItLies.Reason
	if opinion.Method != nil {
		said.Method = string(*opinion.Method)
	}
	out := map[string]bool{}
	for _, e := range opinion.Excluded {
		out[e.ID] = true
		said.LeftOut = append(said.LeftOut, message.LeftOut{Comparable: e.ID, Reason: e.Reason})
	}
	for _, c := range q.Comparables {
		if !out[c.ID] {
			said.Used = append(said.Used, c.ID)
		}
	}
	var err error
	if said.Input, err = text(q); err == nil {
		said.Output, err = text(opinion)
	}
	return said, err
}

func (q question) worth(status appraise.Status, value, low, high *int64) message.Worth {
	amount := func(minor *int64) money.Amount {
		if minor == nil {
			return money.Of(0, q.Currency)
		}
		return money.Of(*minor, q.Currency)
	}
	return message.Worth{Status: string(status), Value: amount(value), Low: amount(low), High: amount(high)}
}

// reason says in a sentence what a value lacks, and what to do about it.
func (q question) reason(o appraise.Opinion, h hull) string {
	switch {
	case o.Reason != nil && *o.Reason == appraise.NoComparables:
		return fmt.Sprintf("no usable sale of a %s in the %d days up to %s%s; record at least one, three for a range", h.kind, q.MaxAgeDays, q.On, counted(o.Excluded))
	case o.Reason != nil:
		return "the sales cannot be brought together (" + *o.Reason + "); look for a mistake among their prices"
	case o.Status == appraise.Indication:
		return "one or two sales give an indication without a range; record three or more"
	case o.Status == appraise.Weak:
		return "three or four sales give a weak value with a wide range; record five or more"
	case o.IntervalReason != nil:
		return "no range: " + *o.IntervalReason
	}
	return ""
}

// counted says how many sales were left out, and for what.
func counted(excluded []appraise.Exclusion) string {
	if len(excluded) == 0 {
		return ""
	}
	count := map[string]int{}
	for _, e := range excluded {
		count[e.Reason]++
	}
	var parts []string
	for _, reason := range slices.Sorted(maps.Keys(count)) {
		parts = append(parts, fmt.Sprintf("%s %d", reason, count[reason]))
	}
	return " (left out: " + strings.Join(parts, ", ") + ")"
}

// text writes a calculator's input or output as the calculator does.
func text(v any) (string, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return strings.TrimSpace(b.String()), err
}
