package web

import (
	"strconv"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

var (
	treasurers = only(people.Treasurer)
	booksTo    = only(people.Treasurer, people.Auditor)
)

func moneyRoutes() []route {
	return []route{
		get("/money", booksTo, (*visit).moneyPage),
		get("/money/statement", booksTo, (*visit).statement),
		get("/money/{year}/{format}", booksTo, (*visit).exportYear),
		get("/boats/{boat}/money", booksTo, (*visit).costBook),
	}
}

func moneyActs() []act {
	return []act{
		closing,
		settle("/boats/{boat}/debts/{entry}/settle", func(v *visit, _ desk.Commanded) string { return "/boats/" + v.param("boat") + "/money" }),
		settle("/stock/{bin}/debts/{entry}/settle", toBin),
		{
			name: "sell-boat", path: "/boats/{boat}/sell", may: treasurers, title: "Sell the boat", button: "Write the sale down", done: "The sale is in the books.",
			part: partPlacing, label: "Sell it", weighty: true,
			fits:    func(b *Boat) bool { return b.Received != nil && !b.Ended() },
			words:   "For a boat that the club sells instead of placing it. What it fetched and how it was sold decide what its donor's paper may say.",
			command: func() desk.Commanded { return &message.SellBoat{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					day("on", "Day of the sale").Needed().Starts(clock.DateOf(v.Clock.Now()).String()),
					text("gross", "What the buyer paid").Needed().With("Before anything is taken off."),
					tick("arms_length", "The buyer is a stranger to the club: no member, no relative, nobody who got a favour"),
					tick("auction", "It was sold at an auction"),
				}}}, nil
			},
		}}
}

// debt is an entry for which a member is still out of money.
type debt struct {
	Words   string
	Amount  money.Amount
	Address string
}

// debts gives the debts of a book whose settling has its address under a page.
func debts(entries []message.EntryPosted, page string) []debt {
	settled := map[string]bool{}
	for _, e := range entries {
		settled[e.Reverses] = true
		settled[strings.TrimPrefix(e.Entry, "settled-")] = strings.HasPrefix(e.Entry, "settled-") || settled[e.Entry]
	}
	var list []debt
	for _, e := range entries {
		for _, l := range e.Lines {
			if l.Account == "owed to volunteers" && l.Amount.Minor < 0 && !settled[e.Entry] && e.Reverses == "" {
				list = append(list, debt{e.Words, l.Amount.Neg(), page + "/debts/" + e.Entry + "/settle"})
			}
		}
	}
	return list
}

// settle is the form by which a debt to a member ends, of a boat's book or a bin's.
func settle(path string, to func(*visit, desk.Commanded) string) act {
	name := "settle-boat"
	if strings.HasPrefix(path, "/stock") {
		name = "settle-bin"
	}
	return act{
		name: name, path: path, may: treasurers, title: "Settle what is owed to a member", button: "Write it down", done: "The debt is settled in the books.",
		words:   "A member paid out of their own pocket. Either the club pays it back, or they say that they give it.",
		command: func() desk.Commanded { return &message.SettlePocket{} },
		fields: func(v *visit) ([]Section, error) {
			return []Section{{Fields: []Field{one("how", "How it ends", words(message.Settlings)).Needed(), day("on", "Day").Needed().Starts(v.today().String())}}}, nil
		},
		to: to,
	}
}

// moneyPage is what each boat of a year cost and fetched.
type moneyPage struct {
	Frame
	Year   int
	Years  []int
	Totals message.Totals
	// Lacking names lines of the book that the totals were made without.
	Lacking string
}

func (v *visit) moneyPage() error {
	today := clock.DateOf(v.Clock.Now())
	year, err := strconv.Atoi(v.r.URL.Query().Get("year"))
	if err != nil {
		year = today.Year()
	}
	p := moneyPage{Frame: v.frame("Money of " + strconv.Itoa(year)), Year: year}
	if p.Years, err = v.years(today.Year()); err != nil {
		return err
	}
	if p.Totals, err = ask[message.Totals](v, message.YearTotals{Year: year}); err != nil {
		return err
	}
	p.Lacking = v.lacking("treasury")
	return v.show("money", p)
}

// years gives those of which the book speaks, the newest first.
func (v *visit) years(last int) ([]int, error) {
	var first int
	err := v.Pool.QueryRow(v.ctx, `SELECT coalesce(extract(year FROM min(happened_at) AT TIME ZONE 'UTC')::int, $1) FROM web.history`, last).Scan(&first)
	var list []int
	for y := last; y >= max(first, last-50); y-- {
		list = append(list, y)
	}
	return list, err
}

// exportTypes are the sorts of file that the treasury room writes.
var exportTypes = map[string]string{
	"csv":     "text/csv; charset=utf-8",
	"xlsx":    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
	"journal": "text/plain; charset=utf-8",
}

func (v *visit) exportYear() error {
	year, err := strconv.Atoi(v.param("year"))
	contentType, known := exportTypes[v.param("format")]
	if err != nil || !known {
		return fault.New(fault.Unknown, "There is no such table.")
	}
	file, err := ask[message.Export](v, message.ExportYear{Year: year, Format: v.param("format")})
	if err != nil {
		return err
	}
	return v.download(file.Name, contentType, file.File)
}

// costBookPage is a boat's cost book.
type costBookPage struct {
	Frame
	Boat Boat
	Book message.BoatBook
}

func (v *visit) costBook() error {
	book, err := ask[message.BoatBook](v, message.CostBook{Boat: v.boat.ID})
	if err != nil {
		return err
	}
	return v.show("cost_book", costBookPage{v.frame("Cost book of " + v.boat.Name), *v.boat, book})
}
