package valuation

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/receipt"
)

// onSheet is how many sales a sheet shows; the others are counted.
const onSheet = 12

// valued is a valuation with when it was written down.
type valued struct {
	said message.BoatValued
	at   clock.Date
}

// sheets is what a boat's stream says of its values.
type sheets struct{ list []valued }

// Fold adds an event.
func (s *sheets) Fold(e message.Event, body message.Body) {
	if v, ok := body.(message.BoatValued); ok {
		s.list = append(s.list, valued{v, clock.DateOf(e.RecordedAt)})
	}
}

func (s *service) printValue(ctx context.Context, _ desk.Caller, q message.PrintValue) (message.Sheet, error) {
	if err := desk.First(desk.GoodID("boat", q.Boat), desk.GoodID("value", q.Value), desk.OneLine("valuer", q.Valuer, desk.MaxLine)); err != nil {
		return message.Sheet{}, err
	}
	h, err := s.hull(ctx, q.Boat)
	if err != nil {
		return message.Sheet{}, err
	}
	all, _, err := desk.Load[sheets](ctx, s.Log, message.ValuationBoat(q.Boat))
	if err != nil {
		return message.Sheet{}, err
	}
	i := slices.IndexFunc(all.list, func(v valued) bool { return v.said.Value == q.Value })
	if i < 0 {
		return message.Sheet{}, desk.Unknown("value", "this boat has no such valuation")
	}
	later := slices.ContainsFunc(all.list[i+1:], func(v valued) bool { return v.said.On == all.list[i].said.On })
	facts, err := s.comparables(ctx, shownOf(all.list[i].said))
	if err != nil {
		return message.Sheet{}, err
	}
	country, err := s.Setting(ctx, "country")
	if err != nil {
		return message.Sheet{}, err
	}
	sheet, name := sheetOf(h, all.list[i], facts, q.Valuer, country, later), "value-"
	if q.Worksheet {
		if sheet, err = worksheetOf(h, all.list[i], facts, country); err != nil {
			return message.Sheet{}, err
		}
		name = "worksheet-"
	}
	if sheet.Format, err = s.paper(ctx); err != nil {
		return message.Sheet{}, err
	}
	pdf, err := receipt.RenderSheet(sheet)
	return message.Sheet{Name: name + fileName(h.name) + "-" + all.list[i].said.On.String() + ".pdf", PDF: pdf}, err
}

func (s *service) paper(ctx context.Context) (receipt.Format, error) {
	format, err := s.Setting(ctx, "paper-format")
	if format == "A4" {
		return receipt.A4, err
	}
	return receipt.Letter, err
}

// fileName keeps of a boat's name what every computer takes.
func fileName(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return '-'
	}, name)
}

// sheetOf sets a valuation down on paper. It is pure.
func sheetOf(h hull, v valued, facts map[string]message.Comparable, valuer, country string, later bool) receipt.Sheet {
	said := v.said
	sheet := receipt.Sheet{
		Language: "en", Title: "What " + h.name + " was worth", Reference: "Valuation " + said.Value, Issued: v.at,
		Sections: []receipt.Section{
			{Heading: "The boat", Lines: hullLines(h)},
			{Heading: "The value", Lines: valueLines(said, valuer)},
		},
		Notes:      notes(said, country, later),
		Signatures: []string{"Valued by " + valuer, "Read by a second member"},
	}
	r, err := appraise.ReadRecord(said.Input)
	var o appraise.Opinion
	if err == nil && json.Unmarshal([]byte(said.Output), &o) == nil && r.Subject.Features != nil {
		sheet.Sections = append(sheet.Sections, receipt.Section{Heading: "How it was reached", Lines: methodLines(r, o)}, receipt.Section{Heading: "The sales, the most similar first", Lines: saleLines(r, o, facts)})
	}
	if len(said.LeftOut) > 0 {
		sheet.Sections = append(sheet.Sections, receipt.Section{Heading: "Prices not used", Lines: leftOutLines(said.LeftOut)})
	}
	return sheet
}

func hullLines(h hull) []receipt.Line {
	lines := []receipt.Line{{Label: "Type", Value: string(h.kind)}}
	if h.lengthMM > 0 {
		lines = append(lines, receipt.Line{Label: "Length", Value: fmt.Sprintf("%.2f m", metres(h.lengthMM))})
	}
	if h.material != "" {
		lines = append(lines, receipt.Line{Label: "Material", Value: string(h.material)})
	}
	if h.yearBuilt > 0 {
		lines = append(lines, receipt.Line{Label: "Built", Value: fmt.Sprint(h.yearBuilt)})
	}
	return lines
}

func valueLines(v message.BoatValued, valuer string) []receipt.Line {
	return []receipt.Line{
		{Label: "Valued for", Value: v.On.String() + ", " + purposes[v.Purpose]},
		{Label: "As it lies", Value: worthWords(v.AsItLies)},
		{Label: "Repaired", Value: worthWords(v.Repaired)},
		{Label: "For parts", Value: worthWords(v.ForParts)},
		{Label: "Market assumed", Value: "from private hand to private hand, willing buyer and willing seller, neither compelled, both knowing the boat"},
		{Label: "Valuer", Value: valuer},
		{Label: "Conflicts asked", Value: "Do you or your household give, buy or receive this boat? Answer: " + v.Conflict},
		{Label: "Way of valuing", Value: "version " + v.Model},
	}
}

var purposes = map[string]string{message.ForBook: "for the club's own books", message.ForPurchase: "to know what to offer", message.ForReceipt: "for a donor's paper"}

func worthWords(w message.Worth) string {
	switch {
	case w.Status == message.RefusedWorth:
		return "nothing can be said: " + w.Reason
	case !w.Ranged():
		return fmt.Sprintf("%s (%s), no range", w.Value, w.Status)
	case w.Status == string(appraise.OK):
		return fmt.Sprintf("%s, from %s to %s", w.Value, w.Low, w.High)
	}
	return fmt.Sprintf("%s (%s), from %s to %s", w.Value, w.Status, w.Low, w.High)
}

var methods = map[appraise.Method]string{
	appraise.GridMedian: "sales comparison: the median of the prices, each moved to this boat by the club's opinions",
	appraise.GridHuber:  "sales comparison: the robust middle (Huber) of the prices, each moved to this boat by the club's opinions",
	appraise.RidgeLog:   "sales comparison with effects learned from the sales and pulled toward the club's opinions (ridge in logarithms, lambda 3)",
}

func methodLines(r appraise.Record, o appraise.Opinion) []receipt.Line {
	lines := []receipt.Line{{Label: "Sales used", Value: fmt.Sprintf("%d of %d entered", o.Used, o.Entered)}}
	if o.Method != nil {
		lines = append(lines, receipt.Line{Label: "Method", Value: methods[*o.Method]})
	}
	switch o.IntervalMethod {
	case appraise.TInterval:
		lines = append(lines, receipt.Line{Label: "Range", Value: fmt.Sprintf("for one more sale, %.0f %% (Student's t)", 100*r.Coverage)})
	case appraise.JackknifePlus:
		lines = append(lines, receipt.Line{Label: "Range", Value: fmt.Sprintf("for one more sale, %.0f %% (jackknife+, measured by leaving each sale out)", 100*r.Coverage)})
	}
	if o.LeaveOneOutError != nil {
		lines = append(lines, receipt.Line{Label: "Tried on itself", Value: fmt.Sprintf("valued by all others, half of the sales are missed by less than %.1f %%", *o.LeaveOneOutError)})
	}
	for _, name := range r.Columns() {
		value := percent(o.Coefficients[name])
		if slices.Contains(o.RefusedEffects, name) {
			value += " (the club's; what the sales taught had the wrong sign and was refused)"
		}
		lines = append(lines, receipt.Line{Label: "One more: " + name, Value: value})
	}
	return lines
}

func percent(log float64) string { return fmt.Sprintf("%+.1f %%", appraise.Percent(log)) }

// saleLines reads each sale aloud: price, steps, and what they come to.
func saleLines(r appraise.Record, o appraise.Opinion, facts map[string]message.Comparable) []receipt.Line {
	explained := r.Question().Explain(o)
	var lines []receipt.Line
	for i, l := range explained {
		if i == onSheet {
			lines = append(lines, receipt.Line{Label: fmt.Sprintf("and %d more", len(explained)-onSheet), Value: "used alike; they stand in the club's book"})
			break
		}
		steps := []string{}
		for _, step := range l.Steps {
			if math.Abs(appraise.Percent(step.Log)) >= 0.05 {
				steps = append(steps, step.Name+" "+percent(step.Log))
			}
		}
		words := strings.Join(steps, ", ")
		if words == "" {
			words = "nothing differs"
		}
		f := facts[l.Sale.ID]
		lines = append(lines, receipt.Line{
			Label: fmt.Sprintf("%s, %s", l.Sale.SoldOn, f.Market),
			Value: fmt.Sprintf("%s (%s): %s; net %s, gross %.1f %%; comes to %s", money.Of(l.Sale.PriceMinor, r.Currency), f.Source, words, percent(l.NetLog), appraise.Percent(l.GrossLog), money.Of(l.AdjustedMinor, r.Currency)),
		})
	}
	return lines
}

func leftOutLines(list []message.LeftOut) []receipt.Line {
	count := map[string]int{}
	for _, l := range list {
		count[l.Reason]++
	}
	var lines []receipt.Line
	for _, reason := range slices.Sorted(maps.Keys(count)) {
		lines = append(lines, receipt.Line{Label: fmt.Sprint(count[reason]), Value: strings.ReplaceAll(reason, "_", " ")})
	}
	return lines
}

// notes are the sentences that keep a sheet from being taken for more than it is.
func notes(v message.BoatValued, country string, later bool) []string {
	list := []string{"This sheet is the club's own opinion for its own books. It is not a qualified appraisal in the sense of any tax law, and does not claim to follow any standard of appraisers."}
	switch country {
	case "US":
		list = append(list, "A donor who claims more than $5,000 needs a qualified appraisal by somebody who is neither donor nor donee (26 U.S.C. 170(f)(11)(C); 26 CFR 1.170A-17); the club is the donee. For a boat claimed at more than $500 the deduction generally follows what the club sells it for (26 U.S.C. 170(f)(12)). The club does not set a donor's deduction.")
	case "CA":
		list = append(list, "Above $1,000 the tax agency strongly recommends an appraisal by a third party (CRA, CSP-F07); where no value can be told there is no receipt.")
	}
	list = append(list, "The range holds only as far as the sales were not picked to please. Later knowledge does not change what was known on the day; a new opinion is a new record.")
	if later {
		list = append(list, "A later valuation for the same day took this one's place. This sheet shows what was known before.")
	}
	if v.AsItLies.Reason != "" {
		list = append(list, "Of this value: "+v.AsItLies.Reason+".")
	}
	return list
}

// shownOf names the sales that a sheet shows.
func shownOf(v message.BoatValued) []string {
	r, err := appraise.ReadRecord(v.Input)
	var o appraise.Opinion
	if err != nil || json.Unmarshal([]byte(v.Output), &o) != nil || r.Subject.Features == nil {
		return nil
	}
	var ids []string
	for _, l := range r.Question().Explain(o) {
		if len(ids) < onSheet {
			ids = append(ids, l.Sale.ID)
		}
	}
	return ids
}

// comparables gives the prices that a value used. Those that were refused since are
// read from their own streams.
func (s *service) comparables(ctx context.Context, ids []string) (map[string]message.Comparable, error) {
	facts := map[string]message.Comparable{}
	for _, id := range ids {
		p, _, err := desk.Load[price](ctx, s.Log, message.ValuationComparable(id))
		if err != nil {
			return nil, err
		}
		facts[id] = p.said
	}
	return facts, nil
}
