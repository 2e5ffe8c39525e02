package web

import (
	"strconv"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
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
		closing, counting,
		settle("/boats/{boat}/debts/{entry}/settle", func(v *visit, _ desk.Commanded) string { return "/boats/" + v.param("boat") + "/money" }),
		settle("/stock/{bin}/debts/{entry}/settle", toBin),
		{
			name: "sell-boat", path: "/boats/{boat}/sell", may: treasurers, title: "Sell the boat", button: "Write the sale down", done: "The sale is in the books.",
			part: partPlacing, label: "Sell it", weighty: true,
			fits:    func(b *Boat) bool { return b.Received != nil && !b.Ended() },
			words:   "For a boat that the club sells instead of placing it. What it fetched and how it was sold decide what its donor's paper may say.",
			command: func() desk.Commanded { return &message.SellBoat{} },
			fields: func(v *visit) ([]Section, error) {
				sections := []Section{{Fields: []Field{
					day("on", "Day of the sale").Needed().Starts(clock.DateOf(v.Clock.Now()).String()),
					text("gross", "What the buyer paid").Needed().With("Before anything is taken off."),
					tick("arms_length", "The buyer is a stranger to the club: no member, no relative, nobody who got a favour"),
					tick("auction", "It was sold at an auction"),
				}}}
				if p := v.boat.certificate(); p != nil {
					sections = append(sections, Section{Legend: "The donor’s paper", Words: certificateWarning(p), Fields: []Field{tick("certified_known", "I know this, and the sale is to be written down all the same")}})
				}
				return sections, nil
			},
		},
		unsell("take-sale-back", "/boats/{boat}/sale/back", act{
			title: "The buyer brings the boat back", button: "Take it back", done: "The boat is the club’s again, and kept back until somebody has looked it over.", label: "The buyer brings it back",
			words:   "The sale then counts no more. The boat comes back to the club, and is kept back: nobody knows yet what happened to it meanwhile, nor in which water it was.",
			command: func() desk.Commanded { return &message.TakeSaleBack{} },
		}, text("refund", "What the buyer gets back").Needed().With("0 if nothing.")),
		unsell("refund-buyer", "/boats/{boat}/sale/refund", act{
			title: "Give money back to the buyer", button: "Write it down", done: "What the buyer got back is in the books.", label: "Give money back to the buyer",
			words:   "For a buyer who keeps the boat and gets a part of the price back. What a sale cost the club does not belong here.",
			command: func() desk.Commanded { return &message.RefundBuyer{} },
		}, text("refund", "What the buyer gets back").Needed())}
}

// unsell completes a form about a sale that does not stay as it was.
func unsell(name, path string, a act, refund Field) act {
	a.name, a.path, a.may, a.part, a.weighty = name, path, treasurers, partPlacing, true
	a.fits = func(b *Boat) bool { return b.State == Sold && b.Sale != nil }
	a.fields = func(v *visit) ([]Section, error) {
		s := Section{Fields: []Field{day("on", "Day").Needed().Starts(v.today().String()), refund, area("words", "Why").Needed()}}
		if v.boat.Sale != nil {
			s.Words = "Sold on " + v.boat.Sale.On.String() + "; the club keeps " + v.boat.Kept().String() + " of the price."
		}
		for _, p := range v.boat.Papers {
			if p.Cancelled == "" && p.SoldOn != "" {
				s.Words += " The paper " + p.Serial + " states what the boat fetched. It will be wrong then: cancel it, tell the donor why, and give a new one where one is due (IRC 170(f)(12)(B)(iii))."
			}
		}
		return []Section{s}, nil
	}
	return a
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

// leaf is a page of a cost book. Its own address is Here, that of what the book is
// of is At.
type leaf struct {
	message.BoatBook
	At, Here string
}

// Turn gives the address of the page that lies so many further; "" where there is none.
func (l leaf) Turn(by int) string {
	to := l.Page + by
	if to < 1 || to > l.Pages {
		return ""
	}
	return l.Here + "?page=" + strconv.Itoa(to)
}

// Settle gives the address at which a debt is settled.
func (l leaf) Settle(entry string) string { return l.At + "/debts/" + entry + "/settle" }

// Whose gives the address at which it is said to which member a debt is owed.
func (l leaf) Whose(entry string) string { return l.At + "/debts/" + entry + "/member" }

// accountTable is what accounts come to.
type accountTable struct {
	ID, Caption string
	Lines       []message.EntryLine
}

// Forward is what the pages before this one come to.
func (l leaf) Forward() accountTable {
	return accountTable{"brought", "Brought forward from the pages before", l.Brought}
}

// InAll is what the whole book comes to.
func (l leaf) InAll() accountTable {
	return accountTable{"balances", "Of the whole book; amounts above nothing are debits", l.Balances}
}

// costBookPage is a boat's cost book.
type costBookPage struct {
	Frame
	Boat Boat
	Book leaf
}

func (v *visit) costBook() error {
	book, err := ask[message.BoatBook](v, message.CostBook{Boat: v.boat.ID, Page: v.pageAsked()})
	if err != nil {
		return err
	}
	return v.show("cost_book", costBookPage{v.frame("Cost book of " + v.boat.Name), *v.boat, leaf{book, "/boats/" + string(v.boat.ID), "/boats/" + string(v.boat.ID) + "/money"}})
}

// pageAsked reads which page of a book is asked for; 0 is the newest.
func (v *visit) pageAsked() int {
	if page, err := strconv.Atoi(v.r.URL.Query().Get("page")); err == nil && page > 0 && page < maxPages {
		return page
	}
	return 0
}

// certificate gives the standing paper that certifies what a sale may make untrue; nil
// where there is none.
func (b *Boat) certificate() *BoatPaper {
	p, ok := in(b.Papers, func(p *BoatPaper) bool { return p.Cancelled == "" && p.Certified != "" })
	if !ok {
		return nil
	}
	return p
}

// certificateWarning is what to know before selling under such a paper. With the price
// the room says what it may cost (IRC 170(f)(12)(B)(iv), 6720; instructions of Form 1098-C).
func certificateWarning(p *BoatPaper) string {
	promise := "the boat is not sold before the improvement or use that it describes is completed"
	if p.Certified == "5b" {
		promise = "the boat goes to a person in need, for significantly less than it is worth"
	}
	return "The paper " + p.Serial + " certifies in box " + p.Certified + " that " + promise + ". A sale within six months of the gift, without that, makes the certificate presumed false, and a false certificate may cost the club a penalty (IRC 6720). Do not sell yet if it does not hold. If the boat is sold already: cancel the paper, give one with box 4a within 30 days of the sale, and ask an adviser."
}
