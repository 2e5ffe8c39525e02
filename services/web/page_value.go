package web

import (
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

var (
	valuers  = only(people.Steward, people.Treasurer)
	pricesTo = only(people.Steward, people.Treasurer, people.Administrator, people.Auditor)
)

func valueRoutes() []route {
	return slices.Concat([]route{get("/comparables", pricesTo, (*visit).pricesPage)}, valuationRoutes(), shopRoutes(), trackRoutes())
}

// ceilingRows is how many expected repairs the form for a ceiling has room for.
const ceilingRows = 4

func valueActs() []act {
	list := func(*visit, desk.Commanded) string { return "/comparables" }
	return append(shopActs(), []act{
		{
			name: "value-boat", path: "/boats/{boat}/value", may: valuers, title: "Value the boat", button: "Value it", done: "The boat is valued.",
			part: partValue, label: "Value it", fits: notDeclined,
			words:   "From what boats like it were sold for. Whoever gives, buys or will receive the boat does not value it.",
			command: func() desk.Commanded { return &message.ValueBoat{} }, fields: (*visit).valueFields,
		},
		{
			name: "set-ceiling", path: "/boats/{boat}/ceiling", may: valuers, title: "Set the offer ceiling", button: "Compute and set", done: "The ceiling is set.",
			part: partValue, label: "Set the ceiling", fits: func(b *Boat) bool { return undecided(b) && b.Taking != message.Gift && len(b.Values) > 0 },
			words:   "The most that may be offered, from the newest value less what the repairs will cost and the club's margin.",
			command: func() desk.Commanded { return &message.SetCeiling{} }, fields: (*visit).ceilingFields,
		},
		{
			name: "record-comparable", path: "/comparables/new", may: valuers, title: "Add a price", button: "Add it", done: "The price is added.",
			words:   "What somebody paid, or asked, for a boat like ours. Add every price that you find, not only those that please.",
			command: func() desk.Commanded { return &message.RecordComparable{} }, fields: (*visit).comparableFields, to: list,
			finish: func(v *visit, c desk.Commanded) error {
				price := c.(*message.RecordComparable)
				price.AgeUnknown = strings.TrimSpace(v.typed.Get("age_years")) == ""
				price.Accessories = linesOf(v.typed.Get("accessories"))
				return nil
			},
		},
		{
			name: "refuse-comparable", path: "/comparables/{comparable}/refuse", may: valuers, title: "Take a price out of use", button: "Take out", done: "The price is out of use.", weighty: true,
			words:   "Values that used it stay as they were given.",
			command: func() desk.Commanded { return &message.RefuseComparable{} }, to: list,
			fields: func(v *visit) ([]Section, error) {
				p, err := find[Price](v.ctx, v.Site, "comparable", v.param("comparable"), "price")
				if err != nil {
					return nil, err
				}
				return []Section{{Words: priceWords(p), Fields: []Field{area("why", "Why it is not usable").Needed()}}}, nil
			},
		},
	}...)
}

// linesOf gives the lines of a text that say something.
func linesOf(text string) []string {
	var lines []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

func priceWords(p Price) string {
	return string(p.Type) + ", " + p.Price.String() + " on " + p.On.String() + ", " + p.Source
}

func (v *visit) valueFields() ([]Section, error) {
	return []Section{{Fields: []Field{
		fresh("value"),
		day("on", "Valued for the day").Needed().Starts(v.today().String()),
		one("purpose", "What for", words(message.ValuePurposes)).Needed(),
		one("as_it_lies", "Condition as it lies", grades).Needed(),
		one("repaired", "Condition when repaired", grades).Needed(),
		number("accessories", "How many accessories go with it").With("Paddles, spray deck, trolley …"),
		one("conflict", "Do you or your household give, buy or receive this boat?", []Option{{"none", "no"}, {"yes", "yes"}}).Needed().With("If so, somebody else has to value it."),
	}}}, nil
}

func (v *visit) ceilingFields() ([]Section, error) {
	sections := []Section{{Words: "Repairs that are likely to be needed. Empty rows do not count."}}
	for i := range ceilingRows {
		at := func(name string) string { return "repairs[" + string(rune('0'+i)) + "]." + name }
		sections = append(sections, Section{Legend: "Repair " + string(rune('1'+i)), Fields: []Field{
			text(at("what"), "What"), text(at("cost"), "Cost of parts, consumables and outside work"),
			number(at("percent_likely"), "How likely, in per cent"), number(at("minutes"), "Minutes of volunteers' work"),
		}})
	}
	return sections, nil
}

func (v *visit) comparableFields() ([]Section, error) {
	return []Section{
		{Fields: []Field{
			fresh("comparable"),
			text("price", "Price").Needed(),
			day("on", "Day").Needed(),
			one("price_kind", "The price was", []Option{{string(message.Sold), "paid"}, {string(message.Asking), "only asked"}}).Needed(),
			one("market", "Who sold", []Option{{string(message.PrivateSale), "a private hand"}, {string(message.DealerSale), "a dealer"}, {string(message.ForcedSale), "it was forced: auction, lien, clearance"}}).Needed().Starts(string(message.PrivateSale)),
			tick("arms_length", "Between strangers: no family, no favour, no forced sale"),
			text("source", "Where you have it from").Needed(),
			text("area", "Area"),
		}},
		{Legend: "That boat", Fields: []Field{
			one("type", "Type", words(boat.Types)).Needed(),
			number("seats", "Seats"), number("length_mm", "Length in metres"),
			one("material", "Material", words(boat.Materials)),
			number("age_years", "Age in years").With("Leave it empty when nobody knows."),
			one("grade", "Condition", grades).Needed(),
			area("accessories", "Accessories that went with it").With("One a line."),
			tick("mended", "The buyer was told of a repair to the hull"),
		}},
	}, nil
}

// pricesPage lists the club's collection of prices.
type pricesPage struct {
	Frame
	Prices []Price
	Twins  []twins
	Type   boat.Type
	Types  []boat.Type
}

// priceList reads the prices of the type that the address names.
func (v *visit) priceList() (t boat.Type, prices []Price, err error) {
	t = boat.Type(v.r.URL.Query().Get("type"))
	if t != "" && boat.Known("type", t, boat.Types) != nil {
		return t, nil, fault.New(fault.Unknown, "There is no type %q of boats.", string(t))
	}
	prices, err = findAll[Price](v.ctx, v.Site, `
		SELECT doc FROM web.comparable WHERE $1 = '' OR type = $1 ORDER BY state DESC, sold_on DESC, id`, t)
	return t, prices, err
}

func (v *visit) pricesPage() error {
	t, prices, err := v.priceList()
	if err != nil {
		return err
	}
	if v.wantsTable() {
		return writeTable(v, "prices", priceColumns, prices, priceCells)
	}
	return v.show("prices", pricesPage{v.frame("Prices of other boats"), prices, findTwins(prices), t, boat.Types})
}

// priceColumns name the columns of the list as a table.
var priceColumns = []string{
	"type", "seats", "material", "age_years", "condition", "length_m", "told_repair", "accessories",
	"price", "currency", "price_kind", "market", "arms_length", "on", "source", "out_of_use_because",
}

func priceCells(p Price) []string {
	age := strconv.Itoa(p.AgeYears)
	if p.AgeUnknown {
		age = ""
	}
	return []string{
		string(p.Type), whole(p.Seats), p.Material, age, strconv.Itoa(int(p.Grade)), measureOrNone(p.LengthMM, metres), yesOrNo(p.Mended), joined(plainWords(p.Accessories)...),
		p.Price.Number(), string(p.Price.Currency), string(p.PriceKind), string(p.Market), yesOrNo(p.ArmsLength), p.On.String(), p.Source, p.Refused,
	}
}

// twins are two prices that may be one sale.
type twins struct{ One, Other Price }

// Two prices may be one sale when they are for the same sort of boat, of the same
// length as far as both know, within a fortnight, and the same but for a fiftieth:
// a sale is told on more than one board, and rounded (common practice, no source).
const (
	twinDays    = 14
	twinPart    = 50
	twinLength  = 100 // mm
	mostCompare = 2000
)

// findTwins looks for prices in use that may be one sale, each pair once.
func findTwins(prices []Price) []twins {
	var used []Price
	for _, p := range prices {
		if p.Refused == "" && len(used) < mostCompare {
			used = append(used, p)
		}
	}
	slices.SortStableFunc(used, func(a, b Price) int { return a.On.Compare(b.On) })
	var found []twins
	for i, one := range used {
		for _, other := range used[i+1:] {
			if other.On.DaysSince(one.On) > twinDays {
				break
			}
			if mayBeOne(one, other) {
				found = append(found, twins{one, other})
			}
		}
	}
	return found
}

func mayBeOne(a, b Price) bool {
	differ := a.Price.Minor - b.Price.Minor
	if differ < 0 {
		differ = -differ
	}
	lengths := a.LengthMM == 0 || b.LengthMM == 0 || a.LengthMM-b.LengthMM <= twinLength && b.LengthMM-a.LengthMM <= twinLength
	return a.Type == b.Type && a.PriceKind == b.PriceKind && a.Price.Currency == b.Price.Currency && differ*twinPart <= a.Price.Minor && lengths &&
		a.Grade-b.Grade <= 1 && b.Grade-a.Grade <= 1
}
