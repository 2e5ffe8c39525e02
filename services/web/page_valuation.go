package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

func valuationRoutes() []route {
	return []route{
		get("/boats/{boat}/values", pricesTo, (*visit).valuesPage),
		get("/boats/{boat}/values/{value}", pricesTo, (*visit).valuePage),
		get("/boats/{boat}/values/{value}/sheet.pdf", valuers, (*visit).valueSheet),
		get("/boats/{boat}/values/{value}/worksheet.pdf", valuers, (*visit).donorWorksheet),
	}
}

// valuePage explains one valuation.
type valuePage struct {
	Frame
	Boat    *Boat
	Value   Valued
	Now     *Valued // a later one for the same day, when there is one
	Before  *Valued // the one that this took the place of
	Saying  string
	How     []string
	Columns []string
	Lines   []valueLine
	More    int
	Chart   chart
	LeftOut []leftOut
	Effects []effectLine
	Warned  int // lines with large adjustments
}

// valueLine is a sale as one reads it aloud.
type valueLine struct {
	Boat     string
	Sold     string
	Price    money.Amount
	Steps    []string
	Net      string
	Gross    string
	Adjusted money.Amount
	Far      bool // its adjusted price lies far from the others'
	Large    bool // its adjustments are large
}

// leftOut is a reason for which sales were not used.
type leftOut struct {
	Words string
	Count int
}

// effectLine is what a difference does to a price.
type effectLine struct{ Name, Club, Used, Words string }

// mostSimilar is how many sales a page shows before it is asked for all.
const mostSimilar = 12

// Adjustments beyond which a sale says little by itself: old rules of lenders for
// houses, warned of and never dropped (common practice, no source).
const (
	largeNet   = 25.0
	largeGross = 40.0
)

func (v *visit) valuePage() error {
	value, err := v.findValue(v.param("value"))
	if err != nil {
		return err
	}
	p := valuePage{Frame: v.frame("What " + v.boat.Name + " was worth"), Boat: v.boat, Value: value}
	all, err := v.valuesOf(v.boat)
	if err != nil {
		return err
	}
	own := slices.IndexFunc(all, func(o Valued) bool { return o.Value == value.Value })
	for i, other := range all {
		if other.Value == value.Supersedes {
			p.Before = &all[i]
		}
		if other.On == value.On && i > own {
			p.Now = &all[i]
		}
	}
	if err := v.explainValue(&p); err != nil {
		return err
	}
	return v.show("value", p)
}

func (v *visit) findValue(id string) (Valued, error) {
	return find[Valued](v.ctx, v.Site, "value", valueID(v.boat.ID, id), "valuation")
}

// valuesOf gives all valuations of a boat, in the order in which they were made.
func (v *visit) valuesOf(b *Boat) ([]Valued, error) {
	return findAll[Valued](v.ctx, v.Site, `SELECT doc FROM web.value WHERE boat = $1 ORDER BY position`, b.ID)
}

// explainValue fills the page from the computation that stands in the book.
func (v *visit) explainValue(p *valuePage) error {
	record, err := appraise.ReadRecord(p.Value.Input)
	var opinion appraise.Opinion
	if err == nil {
		err = json.Unmarshal([]byte(p.Value.Output), &opinion)
	}
	if err != nil || record.Subject.Features == nil {
		p.Saying = "This valuation was written down before computations were kept; it cannot be explained."
		return nil
	}
	facts, err := v.pricesByID(p.Value.Used)
	if err != nil {
		return err
	}
	all := v.r.URL.Query().Get("all") == "yes"
	p.tell(record, opinion, facts, all)
	return nil
}

func (v *visit) pricesByID(ids []string) (map[string]Price, error) {
	prices, err := findAll[Price](v.ctx, v.Site, `SELECT doc FROM web.comparable WHERE id = ANY($1)`, ids)
	byID := map[string]Price{}
	for _, p := range prices {
		byID[p.Comparable.Comparable] = p
	}
	return byID, err
}

// tell puts a computation into words. It is pure.
func (p *valuePage) tell(r appraise.Record, o appraise.Opinion, facts map[string]Price, all bool) {
	q := r.Question()
	lines := q.Explain(o)
	p.Saying, p.How = sayingOf(p.Value.BoatValued, o), howWords(r, o)
	p.Columns = columnsOf(lines)
	for _, l := range lines {
		line := lineOf(l, r.Currency, p.Columns, facts[l.Sale.ID])
		if line.Large {
			p.Warned++
		}
		p.Lines = append(p.Lines, line)
	}
	p.Chart = salesChart(p.Value, r, lines, facts)
	if !all && len(p.Lines) > mostSimilar {
		p.More = len(p.Lines) - mostSimilar
		p.Lines = p.Lines[:mostSimilar]
	}
	p.LeftOut = leftOutOf(p.Value.LeftOut)
	if o.Status != appraise.Refused {
		p.Effects = effectsOf(r, o)
	}
}

// sayingOf says honestly how much is known.
func sayingOf(v message.BoatValued, o appraise.Opinion) string {
	sales := count(o.Used, "sale", "sales")
	switch appraise.Status(v.AsItLies.Status) {
	case appraise.Refused:
		return "Nothing can be said of what it was worth: " + v.AsItLies.Reason + "."
	case appraise.Indication:
		return "A bare indication from " + sales + ". It may be far off, and no honest range can be given. Three sales give a range, five a value."
	case appraise.Weak:
		return "A weak value from " + sales + ". One more sale may move it a good deal, and the range is wide because so little is known. Record five or more."
	}
	switch {
	case o.Used < 9:
		return "A value from " + sales + ". What a year or a step of condition is worth is the club's opinion: there are too few sales to learn it from."
	case o.Used < 20:
		return "A value from " + sales + ". What differences are worth was learned from them and pulled toward the club's opinion, which still counts."
	}
	return "A value from " + sales + ". What differences are worth was learned from them; with so many, the club's opinion counts little."
}

// howWords says how the value was reached, sentence by sentence.
func howWords(r appraise.Record, o appraise.Opinion) []string {
	if o.Method == nil {
		return nil
	}
	middle := map[appraise.Method]string{
		appraise.GridMedian: "Each price was moved to this boat by the steps in the table. The value is the middle one of the moved prices (the median, in logarithms).",
		appraise.GridHuber:  "Each price was moved to this boat by the steps in the table. The value is their robust middle: prices far from the others pull no harder than near ones (Huber's location, k = 1.345).",
		appraise.RidgeLog:   "The steps were learned from the sales by least squares in logarithms of prices, pulled toward the club's opinion (ridge, λ = 3). The value is the geometric mean of the moved prices.",
	}[*o.Method]
	how := []string{middle}
	switch o.IntervalMethod {
	case appraise.TInterval:
		how = append(how, fmt.Sprintf("The range is meant to hold the price of one more such boat in %.0f cases of 100, if prices scatter as they did (Student's t; the new sale's own scatter is in it).", 100*r.Coverage))
	case appraise.JackknifePlus:
		how = append(how, fmt.Sprintf("The range held in about %.0f cases of 100 when each sale was left out in turn (jackknife+, Barber and others 2021). It is guaranteed for 80, as far as the sales were not picked to please.", 100*r.Coverage))
	case appraise.NoInterval:
		how = append(how, "There is no range: "+rangeWords(o.IntervalReason)+".")
	}
	if o.LeaveOneOutError != nil {
		how = append(how, fmt.Sprintf("Valued by all the others, half of these sales would have been missed by less than %.1f %%.", *o.LeaveOneOutError))
	}
	return how
}

func rangeWords(reason *string) string {
	words := map[string]string{
		appraise.FewerThanThree: "fewer than three sales scatter in no way that can be measured", appraise.TooFewForRange: "there are too few sales for one of this certainty",
	}
	if reason == nil {
		return "none was asked for"
	}
	return cmp.Or(words[*reason], *reason)
}

// stepNames puts the arithmetic's names into words; all materials are one step.
func stepName(name string) string {
	if strings.HasPrefix(name, "material: ") {
		return "material"
	}
	words := map[string]string{"grade": "condition", "length_m": "length", "mended": "told repair", appraise.AskingStep: "asked, not paid", "dealer": "from a dealer"}
	return cmp.Or(words[name], name)
}

// columnsOf names the steps that differ from nothing in some line.
func columnsOf(lines []appraise.Line) []string {
	var columns []string
	for _, l := range lines {
		for _, step := range l.Steps {
			if name := stepName(step.Name); !isNothing(step.Log) && !slices.Contains(columns, name) {
				columns = append(columns, name)
			}
		}
	}
	order := []string{"time", "asked, not paid", "from a dealer", "age", "length", "seats", "condition", "material", "accessories", "told repair"}
	slices.SortStableFunc(columns, func(a, b string) int { return slices.Index(order, a) - slices.Index(order, b) })
	return columns
}

// isNothing says whether a step rounds to no per cent.
func isNothing(log float64) bool { return math.Abs(appraise.Percent(log)) < 0.05 }

func signed(log float64) string {
	if isNothing(log) {
		return "0 %"
	}
	return strings.Replace(fmt.Sprintf("%+.1f %%", appraise.Percent(log)), "-", "−", 1)
}

func lineOf(l appraise.Line, currency money.Currency, columns []string, facts Price) valueLine {
	line := valueLine{
		Boat: soldWords(facts), Sold: soldHow(l.Sale, facts), Price: money.Of(l.Sale.PriceMinor, currency), Adjusted: money.Of(l.AdjustedMinor, currency),
		Net: signed(l.NetLog), Gross: fmt.Sprintf("%.1f %%", appraise.Percent(l.GrossLog)), Far: l.Outlier,
	}
	line.Large = math.Abs(appraise.Percent(l.NetLog)) > largeNet || appraise.Percent(l.GrossLog) > largeGross
	for _, column := range columns {
		sum := 0.0
		for _, step := range l.Steps {
			if stepName(step.Name) == column {
				sum += step.Log
			}
		}
		line.Steps = append(line.Steps, signed(sum))
	}
	return line
}

// soldWords says what boat was sold.
func soldWords(p Price) string {
	if p.Type == "" {
		return "a boat whose record is gone"
	}
	parts := []string{string(p.Type)}
	if p.Seats > 0 {
		parts = append(parts, count(p.Seats, "seat", "seats"))
	}
	if p.Material != "" {
		parts = append(parts, p.Material)
	}
	if p.LengthMM > 0 {
		parts = append(parts, withUnit(int64(p.LengthMM), metres))
	}
	age := "age not known"
	if !p.AgeUnknown {
		age = count(p.AgeYears, "year", "years")
	}
	parts = append(parts, age, fmt.Sprintf("condition %d", p.Grade))
	if p.Mended {
		parts = append(parts, "told repair")
	}
	if len(p.Accessories) > 0 {
		parts = append(parts, "with "+strings.Join(p.Accessories, ", "))
	}
	return strings.Join(parts, ", ")
}

// soldHow says when and by whom, and where that was read.
func soldHow(s appraise.Sale, p Price) string {
	how := "sold " + s.SoldOn.String()
	if s.Asking {
		how = "asked " + s.SoldOn.String()
	}
	return how + ", " + marketWords(p) + "; " + p.Source
}

func marketWords(p Price) string {
	switch p.Market {
	case message.DealerSale:
		return "by a dealer"
	case message.OwnSale:
		return "by the club itself"
	case message.ForcedSale:
		return "forced"
	}
	return "from private hand"
}

// leftOutOf counts the reasons in words.
func leftOutOf(list []message.LeftOut) []leftOut {
	var all []leftOut
	for _, l := range list {
		words := reasonWords(l.Reason)
		if at, ok := in(all, func(x *leftOut) bool { return x.Words == words }); ok {
			at.Count++
			continue
		}
		all = append(all, leftOut{words, 1})
	}
	return all
}

func reasonWords(reason string) string {
	if name, missing := strings.CutPrefix(reason, "missing_feature:"); missing {
		return stepName(name) + " is not known"
	}
	return cmp.Or(map[string]string{
		"after_valuation_date": "sold after the day valued for", "too_old": "sold too long ago", "not_arms_length": "forced, or not between strangers",
		"asking_price": "only asked, not paid", "dealer_price": "by a dealer, whose prices are others",
	}[reason], reason)
}

// effectsOf lists what differences do to a price: by the club's opinion, and as
// used.
func effectsOf(r appraise.Record, o appraise.Opinion) []effectLine {
	units := map[string]string{"age": "a year more", "grade": "a step better", "length_m": "a metre more", "seats": "a seat more", "mended": "told of a repair", "accessories": "one more", "dealer": "sold by a dealer"}
	var list []effectLine
	for _, name := range r.Columns() {
		line := effectLine{Name: stepName(name), Club: signed(r.Effects[name]), Used: signed(o.Coefficients[name]), Words: units[name]}
		if material, is := strings.CutPrefix(name, "material: "); is {
			line.Words = material
		}
		if r.Effects[name] == 0 {
			line.Club = "no opinion"
		}
		if slices.Contains(o.RefusedEffects, name) {
			line.Used += "; what the sales taught was refused: its sign cannot be"
		}
		list = append(list, line)
	}
	return list
}

// salesChart draws each sale, brought to this boat, and this boat among them.
func salesChart(v Valued, r appraise.Record, lines []appraise.Line, facts map[string]Price) chart {
	if len(lines) == 0 {
		return chart{}
	}
	days, amounts := []clock.Date{v.On}, []int64{v.AsItLies.Value.Minor, v.AsItLies.High.Minor}
	for _, l := range lines {
		days, amounts = append(days, l.Sale.SoldOn), append(amounts, l.AdjustedMinor)
	}
	s := scaleOf(r.Currency, days, amounts)
	c := newChart("sales-chart", fmt.Sprintf("%s by day, each brought to this boat, and this boat at %s; the table has the same", capital(count(len(lines), "sale", "sales")), v.AsItLies.Value), s)
	seen := map[string]bool{}
	for _, l := range lines {
		class := "sale"
		switch {
		case l.Outlier:
			class = "far"
		case facts[l.Sale.ID].Market == message.OwnSale:
			class = "club"
		}
		seen[class] = true
		c.Dots = append(c.Dots, chartDot{s.x(l.Sale.SoldOn), s.y(l.AdjustedMinor), class, l.Sale.SoldOn.String() + ": " + money.Of(l.AdjustedMinor, r.Currency).String()})
	}
	if v.AsItLies.Ranged() {
		c.Ranges = append(c.Ranges, chartRange{s.x(v.On), s.y(v.AsItLies.Low.Minor), s.y(v.AsItLies.High.Minor)})
	}
	c.Dots = append(c.Dots, chartDot{s.x(v.On), s.y(v.AsItLies.Value.Minor), "own", "this boat: " + v.AsItLies.Value.String()})
	for _, k := range []chartKey{{"sale", "a sale, brought to this boat"}, {"club", "the club's own sale"}, {"far", "far from the others: ask why"}} {
		if seen[k.Class] {
			c.Key = append(c.Key, k)
		}
	}
	c.Key = append(c.Key, chartKey{"own", "this boat, with its range"})
	return c
}

// valueSheet asks the room for the sheet of a valuation.
func (v *visit) valueSheet() error { return v.valueAsSheet(false) }

// donorWorksheet asks for the sales alone, for the donor's own use.
func (v *visit) donorWorksheet() error { return v.valueAsSheet(true) }

func (v *visit) valueAsSheet(worksheet bool) error {
	value, err := v.findValue(v.param("value"))
	if err != nil {
		return err
	}
	sheet, err := ask[message.Sheet](v, message.PrintValue{Boat: v.boat.ID, Value: value.Value, Valuer: v.directory().Name(value.Valuer), Worksheet: worksheet})
	if err != nil {
		return err
	}
	return v.download(sheet.Name, "application/pdf", sheet.PDF)
}

// valuesPage shows what a boat was worth over time, and what went into it.
type valuesPage struct {
	Frame
	Boat   *Boat
	Values []datedValue
	Worth  chart
	Cost   chart
	Spent  []runningCost
}

// datedValue is a valuation in a list: as it was known then, or as it is known now.
type datedValue struct {
	Valued
	Superseded bool
	Gift       bool // for the day of the gift
}

// runningCost is money that went in, with the sum so far.
type runningCost struct {
	Spending
	Sum money.Amount
}

func (v *visit) valuesPage() error {
	all, err := v.valuesOf(v.boat)
	if err != nil {
		return err
	}
	p := valuesPage{Frame: v.frame("The value of " + v.boat.Name + " over time"), Boat: v.boat}
	for i, value := range all {
		dated := datedValue{Valued: value, Gift: v.boat.Received != nil && v.boat.Received.On == value.On}
		dated.Superseded = slices.ContainsFunc(all[i+1:], func(o Valued) bool { return o.On == value.On })
		p.Values = append(p.Values, dated)
	}
	p.Worth = worthChart(p.Values)
	p.Spent = runningCosts(v.boat.Spent)
	p.Cost = costChart(p.Spent, all, v.today())
	return v.show("values", p)
}

// worthChart draws values by the day that they are for.
func worthChart(values []datedValue) chart {
	var days []clock.Date
	var amounts []int64
	var shown []datedValue
	for _, v := range values {
		if v.AsItLies.Status != message.RefusedWorth && (len(shown) == 0 || shown[0].AsItLies.Value.Currency == v.AsItLies.Value.Currency) {
			shown, days, amounts = append(shown, v), append(days, v.On), append(amounts, v.AsItLies.Value.Minor, v.AsItLies.High.Minor)
		}
	}
	if len(shown) == 0 {
		return chart{}
	}
	s := scaleOf(shown[0].AsItLies.Value.Currency, days, amounts)
	c := newChart("worth-chart", "The value as it lies, by the day valued for; the table has the same", s)
	c.Key = []chartKey{{"own", "as known now, with its range"}}
	for _, v := range shown {
		class := "own"
		if v.Superseded {
			class = "then"
			c.Key = append(c.Key[:1], chartKey{"then", "as known before"})
		} else if v.AsItLies.Ranged() {
			c.Ranges = append(c.Ranges, chartRange{s.x(v.On), s.y(v.AsItLies.Low.Minor), s.y(v.AsItLies.High.Minor)})
		}
		c.Dots = append(c.Dots, chartDot{s.x(v.On), s.y(v.AsItLies.Value.Minor), class, v.On.String() + ": " + v.AsItLies.Value.String()})
	}
	return c
}

// runningCosts adds up what went into a boat, by day; another currency than the
// first is left out of the sum.
func runningCosts(list []Spending) []runningCost {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b Spending) int { return a.On.Compare(b.On) })
	var all []runningCost
	for _, s := range sorted {
		sum := s.Cost
		if len(all) > 0 {
			var err error
			if sum, err = all[len(all)-1].Sum.Add(s.Cost); err != nil {
				continue
			}
		}
		all = append(all, runningCost{s, sum})
	}
	return all
}

// costChart draws what has gone in against the newest value.
func costChart(spent []runningCost, values []Valued, today clock.Date) chart {
	if len(spent) == 0 {
		return chart{}
	}
	currency := spent[0].Sum.Currency
	var newest *Valued
	for i := range values {
		if values[i].AsItLies.Status != message.RefusedWorth && values[i].AsItLies.Value.Currency == currency {
			newest = &values[i]
		}
	}
	var on []clock.Date
	var sums []int64
	for _, c := range spent {
		on, sums = append(on, c.On), append(sums, c.Sum.Minor)
	}
	days, amounts := append([]clock.Date{today}, on...), slices.Clone(sums)
	if newest != nil {
		amounts = append(amounts, newest.Repaired.Value.Minor, newest.AsItLies.Value.Minor)
	}
	s := scaleOf(currency, days, amounts)
	c := newChart("cost-chart", "What has gone into the boat so far against its value; the tables have the same", s)
	c.Lines = append(c.Lines, chartLine{s.steps(on, sums, today), "cost"})
	c.Key = append(c.Key, chartKey{"cost", "spent so far"})
	if newest != nil {
		level := func(minor int64, class string) {
			c.Lines = append(c.Lines, chartLine{fmt.Sprintf("%d,%d %d,%d", chartLeft, s.y(minor), chartRight, s.y(minor)), class})
		}
		level(newest.Repaired.Value.Minor, "mended")
		level(newest.AsItLies.Value.Minor, "lies")
		c.Key = append(c.Key, chartKey{"mended", "newest value, repaired"}, chartKey{"lies", "as it lies"})
	}
	return c
}
