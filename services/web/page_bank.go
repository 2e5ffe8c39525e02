package web

import (
	"io"
	"mime/multipart"
	"strings"

	"refloat.example/pkg/bankrows"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// maxBankForm bounds the form that brings a file of the bank's, in bytes.
const maxBankForm = bankrows.MaxBytes + 64<<10

func bankRoutes() []route {
	return []route{
		get("/money/bank", booksTo, (*visit).bankPage),
		post("/money/bank", treasurers, (*visit).readBank, (*visit).bankPage).reads(maxBankForm),
	}
}

// bankPage holds the bank's rows against the postings of cash.
type bankPage struct {
	Frame
	From, To clock.Date
	Wrong    string // what is wrong with the days that were asked for
	List     message.BankMatches
	Proposed []bankPair
	Form     *Form // the treasurer's
}

// bankPair is a proposal with the button that confirms it.
type bankPair struct {
	message.BankPair
	Same Form
}

func (v *visit) bankPage() error {
	today := v.today()
	p := bankPage{Frame: v.frame("The bank’s list"), From: clock.NewDate(today.Year(), today.Month(), 1).AddMonths(-3), To: today}
	for name, into := range map[string]*clock.Date{"from": &p.From, "to": &p.To} {
		if text := v.r.URL.Query().Get(name); text != "" {
			day, err := clock.ParseDate(text)
			if err != nil {
				p.Wrong = "One of the days is not written as year-month-day; this is the list without it."
				continue
			}
			*into = day
		}
	}
	if p.To.Before(p.From) {
		p.Wrong, p.From = "The last day lies before the first; this is the list of the last day alone.", p.To
	}
	var err error
	if p.List, err = ask[message.BankMatches](v, message.BankList{From: p.From, To: p.To}); err != nil {
		return err
	}
	for _, pair := range p.List.Proposed {
		p.Proposed = append(p.Proposed, bankPair{pair, v.button("match-"+pair.Row.Row[:min(12, len(pair.Row.Row))], "/money/bank/rows/"+pair.Row.Row+"/match", "They are the same", preset("posting", postingValue(pair.Posting)))})
	}
	if treasurers.admits(v.Who) {
		form := v.form("read-bank", "/money/bank", "Read the file", nil, Section{Fields: []Field{
			{Name: "file", Label: "File of the bank", Kind: kindFile, Required: true, Hint: "Comma-separated values (CSV) with a row of names above: date, amount, and what the bank writes beside them. What was read before changes nothing."},
			one("decimal", "Before the cents stands", []Option{{"", "as the file shows"}, {"point", "a point"}, {"comma", "a comma"}}),
			one("order", "In a day like 03/04/2026 comes first", []Option{{"", "what the file shows"}, {string(bankrows.DayFirst), "the day"}, {string(bankrows.MonthFirst), "the month"}}),
		}})
		form.Files = true
		p.Form = &form
	}
	return v.show("bank", p)
}

// postingValue names a posting in one word of a form; an id has no slash.
func postingValue(p message.CashPosting) string { return string(p.Boat) + "/" + p.Entry }

// readBank reads the form that brings a file.
func (v *visit) readBank() error {
	var order message.ReadBank
	_, err := v.readParts("the file", "The file did not arrive as a whole. Nothing was written; send it again.", func(part *multipart.Part) error {
		most := int64(maxFieldText)
		if part.FormName() == "file" {
			most = bankrows.MaxBytes + 1
		}
		text, err := io.ReadAll(io.LimitReader(part, most))
		if part.FormName() == "file" {
			order.File = string(text)
		} else {
			v.typed.Add(part.FormName(), string(text))
		}
		return err
	})
	if err != nil {
		return err
	}
	order.Decimal, order.Order = v.typed.Get("decimal"), v.typed.Get("order")
	if order.File == "" {
		return fault.Field("file", "choose the file that the bank gave you")
	}
	if _, err := v.order(order); err != nil {
		return err
	}
	return v.goTo("/money/bank", "read-bank")
}

func toBank(*visit, desk.Commanded) string { return "/money/bank" }

func bankActs() []act {
	return []act{
		{
			name: "match-bank-row", path: "/money/bank/rows/{row}/match", may: treasurers, title: "Find a row of the bank in the books", button: "They are the same", done: "The row is found in the books.",
			words:   "Only entries of the same amount can be chosen.",
			command: func() desk.Commanded { return &message.MatchBankRow{} },
			fields: func(v *visit) ([]Section, error) {
				options, err := v.postingsFor(v.param("row"))
				return []Section{{Fields: []Field{one("posting", "The entry", options).Needed()}}}, err
			},
			finish: func(v *visit, c desk.Commanded) error {
				match := c.(*message.MatchBankRow)
				if id, entry, both := strings.Cut(v.typed.Get("posting"), "/"); both {
					match.Boat, match.Entry = boat.ID(id), entry
				}
				return nil
			},
			to: toBank,
		},
		{
			name: "set-bank-row-aside", path: "/money/bank/rows/{row}/aside", may: treasurers, title: "Set a row of the bank aside", button: "Set it aside", done: "The row is set aside.",
			words:   "For what has nothing to do with the boats: dues, rent, fees. It is not asked about any more.",
			command: func() desk.Commanded { return &message.SetBankRowAside{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{text("why", "What it is").Needed().With("Name nobody.")}}}, nil
			},
			to: toBank,
		},
		{
			name: "free-bank-row", path: "/money/bank/rows/{row}/free", may: treasurers, title: "Take back what was said of a row", button: "Take it back", done: "The row is open again.",
			command: func() desk.Commanded { return &message.FreeBankRow{} },
			fields:  func(*visit) ([]Section, error) { return nil, nil },
			to:      toBank,
		},
	}
}

// postingsFor gives the entries with which a row could be matched: those of its amount
// in the year before it and the year after.
func (v *visit) postingsFor(row string) ([]Option, error) {
	list, err := ask[message.BankMatches](v, message.BankList{Row: row})
	if err != nil {
		return nil, err
	}
	open, postings := list.Rows, list.Postings
	for _, p := range list.Proposed {
		open, postings = append(open, p.Row), append(postings, p.Posting)
	}
	if len(open) == 0 {
		return nil, fault.New(fault.Unknown, "This row is not open any more.")
	}
	var options []Option
	for _, p := range postings {
		options = append(options, Option{postingValue(p), p.On.String() + ": " + p.Words})
	}
	if len(options) == 0 {
		return nil, fault.New(fault.Conflict, "The books have no entry of %s near that day that is not matched yet. Write it down where it belongs, or set the row aside.", open[0].Amount)
	}
	return options, nil
}
