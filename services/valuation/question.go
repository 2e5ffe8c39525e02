package valuation

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// The differences between boats that count, by the names that the calculator
// shows. A material has a name of its own: 1 for a boat that is made of it.
const (
	age         = "age"         // years on the day of the sale or value
	grade       = "grade"       // 1 to 5
	length      = "length_m"    // metres
	seats       = "seats"       // places to sit
	mended      = "mended"      // 1 when the buyer was, or will be, told of a repair to the hull
	accessories = "accessories" // how many go with the boat
	dealer      = "dealer"      // 1 when a dealer sold
)

func materialName(m boat.Material) string { return "material: " + string(m) }

// What every value is worked out with; see appraise.Question.
const (
	ridgeLambda = 3
	coverage    = 0.9
)

// enough is from how many sales on effects are learned, so that also differences
// count about which the club has no opinion.
const enough = 9

// hull is what the room knows of a boat.
type hull struct {
	name      string
	giver     people.ID
	kind      boat.Type
	seats     int
	lengthMM  int
	material  boat.Material
	yearBuilt int
	grade     boat.Grade
	mended    bool
}

// features gives what counts of the boat in a grade. What is not known is left
// out.
func (h hull) features(g boat.Grade, on clock.Date, extras int, isMended bool) map[string]float64 {
	known := map[string]float64{grade: float64(g), accessories: float64(extras), mended: yes(isMended), dealer: 0}
	if h.yearBuilt > 0 {
		known[age] = float64(h.age(on))
	}
	addSize(known, h.lengthMM, h.seats, h.material)
	return known
}

// addSize adds length, seats and material, as far as they are known.
func addSize(known map[string]float64, lengthMM, places int, material boat.Material) {
	if lengthMM > 0 {
		known[length] = metres(lengthMM)
	}
	if places > 0 {
		known[seats] = float64(places)
	}
	if material != "" {
		for _, m := range boat.Materials {
			known[materialName(m)] = yes(m == material)
		}
	}
}

func yes(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// age gives the whole years of a boat on a day; one of next year's models is new.
func (h hull) age(on clock.Date) int { return max(0, on.Year()-h.yearBuilt) }

func metres(mm int) float64 { return float64(mm) / 1000 }

// question is a record with what the calculator has no words for.
type question struct {
	appraise.Record
	// kept are the sales that were left out before the calculator saw them.
	kept []message.LeftOut
}

// dealersPrice is why a sale is left out that the calculator never sees.
const dealersPrice = "dealer_price"

// ask makes the question for a boat.
func ask(h hull, c message.ValueBoat, r rules, sales []message.Comparable) (question, error) {
	q := question{Record: appraise.Record{
		On: c.On, Currency: r.Club, AskingEffect: r.asking(), MaxAgeDays: int64(r.Days), Comparables: []appraise.RecordedSale{},
		Method: appraise.Auto, Lambda: ridgeLambda, Coverage: coverage, Interval: appraise.AutoInterval, RoundTo: 1,
		TimeEffect: logOf(r.Time),
	}}
	for _, s := range sales {
		if s.Market == message.DealerSale && r.Dealer == nil {
			q.kept = append(q.kept, message.LeftOut{Comparable: s.Comparable, Reason: dealersPrice})
			continue
		}
		q.Comparables = append(q.Comparables, recordedSale(s))
	}
	asItLies := h.features(c.AsItLies, c.On, c.Accessories, h.mended)
	repaired := h.features(c.Repaired, c.On, c.Accessories, h.mended || c.Repaired > c.AsItLies)
	parts := h.features(worst, c.On, 0, h.mended)
	q.choose(r.effects(h.material), asItLies, repaired, parts)
	q.Subject, q.AfterRepair = q.only(asItLies), q.only(repaired)
	forParts := q.only(parts)
	q.ForParts = &forParts
	for _, s := range q.Comparables {
		maps.DeleteFunc(s.Features, func(name string, _ float64) bool { _, counts := q.Effects[name]; return !counts })
	}
	return q, r.check()
}

// recordedSale gives a sale as the calculator reads it. Of what is not known of it
// nothing is said.
func recordedSale(s message.Comparable) appraise.RecordedSale {
	known := map[string]float64{
		grade: float64(s.Grade), accessories: float64(len(s.Accessories)), mended: yes(s.Mended), dealer: yes(s.Market == message.DealerSale),
	}
	if !s.AgeUnknown {
		known[age] = float64(s.AgeYears)
	}
	addSize(known, s.LengthMM, s.Seats, boat.Material(s.Material))
	return appraise.RecordedSale{
		ID: s.Comparable, PriceMinor: s.Price.Minor, SoldOn: s.On, PriceKind: string(s.PriceKind),
		ArmsLength: s.ArmsLength && s.Market != message.ForcedSale, Features: known,
	}
}

// choose settles which differences count: grade and age; then those about which
// the club has an opinion, where sales or the boat's own states differ in them; and
// of the others those that enough sales are known to differ in to learn from. A
// difference about which nothing is said and nothing can be learned would only
// leave sales out.
func (q *question) choose(opinions map[string]float64, asItLies map[string]float64, states ...map[string]float64) {
	q.Effects, q.Signs = map[string]float64{}, map[string]int{}
	var open []string
	for _, name := range slices.Sorted(maps.Keys(asItLies)) {
		switch {
		case name == grade, name == age:
			q.Effects[name] = opinions[name]
		case !q.differs(name, asItLies, states):
		case opinions[name] != 0:
			q.Effects[name] = opinions[name]
		default:
			open = append(open, name)
		}
	}
	for _, name := range open {
		before := q.usable()
		q.Effects[name] = 0
		if after := q.usable(); after < enough || 10*after < 9*before {
			delete(q.Effects, name)
		}
	}
	for name, sign := range signs {
		if _, counts := q.Effects[name]; counts {
			q.Signs[name] = sign
		}
	}
}

// differs says whether a sale, or another state of the boat, differs from the boat
// as it lies.
func (q *question) differs(name string, asItLies map[string]float64, states []map[string]float64) bool {
	own := asItLies[name]
	return slices.ContainsFunc(states, func(s map[string]float64) bool { return s[name] != own }) ||
		slices.ContainsFunc(q.Comparables, func(s appraise.RecordedSale) bool {
			x, known := s.Features[name]
			return known && x != own
		})
}

// usable counts the sales that the calculator would use with these differences.
func (q *question) usable() int {
	asked := q.Record
	asked.Subject = appraise.Features{Features: q.Effects}
	return asked.Question().Usable()
}

// with is the same question for another method, without a range.
func (q *question) with(m appraise.Method) *appraise.Record {
	r := q.Record
	r.Method, r.Interval, r.ForParts = m, appraise.NoInterval, nil
	return &r
}

// only gives of a boat's features those that count.
func (q *question) only(known map[string]float64) appraise.Features {
	counting := map[string]float64{}
	for name := range q.Effects {
		counting[name] = known[name]
	}
	return appraise.Features{Features: counting}
}

// value answers the question and gives what is said of it.
func (q question) value(c message.ValueBoat, h hull) (message.BoatValued, error) {
	opinion := appraise.Value(q.Question())
	said := message.BoatValued{
		Boat: c.Boat, Value: c.Value, On: c.On, Purpose: c.Purpose, Conflict: c.Conflict, Used: []string{}, LeftOut: q.kept,
		AsItLies: q.worth(opinion.Status, opinion.ValueMinor, opinion.LowMinor, opinion.HighMinor),
		Repaired: q.state(opinion.AfterRepair), ForParts: q.state(opinion.ForParts),
	}
	reason := q.reason(opinion, h)
	said.AsItLies.Reason, said.Repaired.Reason, said.ForParts.Reason = reason, reason, reason
	said.Second = q.second(opinion)
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
	if said.Input, err = text(q.Record); err == nil {
		said.Output, err = text(opinion)
	}
	return said, err
}

func (q question) state(s *appraise.AfterRepair) message.Worth {
	if s == nil {
		return q.worth(appraise.Refused, nil, nil, nil)
	}
	return q.worth(s.Status, s.ValueMinor, s.LowMinor, s.HighMinor)
}

// second asks a model that keeps wild prices out for the boat as it lies. It needs
// more sales than differences.
func (q question) second(first appraise.Opinion) message.Worth {
	nothing := q.worth(appraise.Refused, nil, nil, nil)
	if first.Status != appraise.OK || first.Used < enough {
		nothing.Reason = fmt.Sprintf("a second model needs %d sales or more", enough)
		return nothing
	}
	o := appraise.Value(q.with(appraise.HuberLog).Question())
	if o.Status == appraise.Refused {
		nothing.Reason = "the sales do not tell the differences apart well enough for a second model"
		return nothing
	}
	return q.worth(o.Status, o.ValueMinor, o.LowMinor, o.HighMinor)
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
		return fmt.Sprintf("no usable sale of a %s in the %d days up to %s%s; record at least one, three for a range", h.kind, q.MaxAgeDays, q.On, q.counted(o.Excluded))
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
func (q question) counted(excluded []appraise.Exclusion) string {
	count := map[string]int{}
	for _, e := range excluded {
		count[e.Reason]++
	}
	if len(q.kept) > 0 {
		count[dealersPrice] = len(q.kept)
	}
	if len(count) == 0 {
		return ""
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
