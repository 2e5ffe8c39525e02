package web

import (
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// statementPage is what the accounts came to on a day, as it was known on another.
type statementPage struct {
	Frame
	Asked    message.Statement
	Accounts *message.Accounts
	Wrong    string // what is wrong with the days that were asked for
	Lacking  string // lines of the book that the statement was made without
}

func (v *visit) statement() error {
	p := statementPage{Frame: v.frame("Statement"), Lacking: v.lacking("treasury")}
	today := v.today()
	p.Asked = message.Statement{From: clock.NewDate(today.Year(), 1, 1), To: today}
	for name, into := range map[string]*clock.Date{"from": &p.Asked.From, "to": &p.Asked.To, "known": &p.Asked.Known} {
		text := v.r.URL.Query().Get(name)
		if text == "" {
			continue
		}
		day, err := clock.ParseDate(text)
		if err != nil {
			p.Wrong = "One of the days is not written as year-month-day; this is the statement without it."
			continue
		}
		*into = day
	}
	if p.Asked.To.Before(p.Asked.From) {
		p.Wrong = "The last day lies before the first."
		return v.show("statement", p)
	}
	a, err := ask[message.Accounts](v, p.Asked)
	p.Accounts = &a
	if err != nil {
		return err
	}
	return v.show("statement", p)
}

// closing is the form that closes the books.
var closing = act{
	name: "close-period", path: "/money/close", may: treasurers, title: "Close the books", button: "Close them", done: "The books are closed up to that day.", weighty: true,
	words:   "Nothing is posted any more on that day or before. What is learned later is posted on the first open day, and says of which day it is. A closing is not taken back.",
	command: func() desk.Commanded { return &message.ClosePeriod{} },
	fields: func(v *visit) ([]Section, error) {
		today := v.today()
		last := clock.NewDate(today.Year(), today.Month(), 1).AddDays(-1)
		return []Section{{Fields: []Field{
			day("upto", "Up to and including").Needed().Starts(last.String()).With("The last day of a month."),
			area("words", "What there is to say of it"),
		}}}, nil
	},
	to: func(*visit, desk.Commanded) string { return "/money/statement" },
}
