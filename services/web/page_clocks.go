package web

import (
	"cmp"
	"strings"
	"time"
	"unicode/utf8"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// outlookPage is what the rules say of a boat's gift today, and which rows of their
// tables say so.
type outlookPage struct {
	Frame
	Boat    *Boat
	Outlook message.Outlook
}

func (v *visit) outlook() error {
	o, err := ask[message.Outlook](v, message.PaperOutlook{Boat: v.boat.ID})
	if err != nil {
		return err
	}
	return v.show("outlook", outlookPage{v.frame("What the rules say of the gift of " + v.boat.Name), v.boat, o})
}

// clocksPage lists what falls due, with the viewer's own calendar links.
type clocksPage struct {
	Frame
	Clocks []message.Clock
	Feeds  []feedShown
	Give   *Form // the treasurer's
}

// feedShown is the address at which a calendar program asks.
type feedShown struct {
	Address string
	Until   time.Time
	End     Form
}

func (v *visit) clocks() error {
	list, err := ask[message.ClockList](v, message.Clocks{})
	if err != nil {
		return err
	}
	if v.wantsTable() {
		return writeTable(v, "falls-due", []string{"on", "what", "boat", "paper", "reckoned"}, list.Clocks, func(c message.Clock) []string {
			return []string{c.Due.String(), c.What, c.BoatName, c.Serial, c.Reckoned}
		})
	}
	p := clocksPage{Frame: v.frame("What falls due"), Clocks: list.Clocks}
	if treasurers.admits(v.Who) {
		give := v.button("give-calendar-link", "/papers/clocks/feed", "Make an address for my calendar", fresh("link"))
		p.Give = &give
		links, err := v.linksOf(v.Who.Person, people.Deadlines, string(v.Who.Person))
		if err != nil {
			return err
		}
		for _, l := range links {
			p.Feeds = append(p.Feeds, feedShown{feedAddress(l.Address), l.Until, v.button("end-"+l.Link, "/papers/clocks/feeds/"+l.Link+"/end", "End this address")})
		}
	}
	return v.show("clocks", p)
}

// feedAddress is where a calendar program asks, by the private link that it stands for.
func feedAddress(link string) string {
	club, token, _ := strings.Cut(link, message.LinkPath)
	return club + feedPath + token + "/papers.ics"
}

const feedPath = "/calendar/"

// feed gives the calendar to a program that has the address alone: no session, no names.
func (v *visit) feed() error {
	opened, err := askAs[message.OpenedLink](v, desk.Asking{By: people.Service(Name)}, message.OpenLink{Token: v.param("token")})
	if fault.Is(err, fault.SignIn) || err == nil && opened.Purpose != people.Deadlines {
		err = fault.New(fault.Unknown, "There is no such calendar, or its address has ended. A treasurer makes a new one on the page “What falls due”.")
	}
	if err != nil {
		return err
	}
	list, err := askAs[message.ClockList](v, desk.Asking{By: people.Actor{Link: opened.Link}}, message.Clocks{})
	if err != nil {
		return err
	}
	return v.write(calendarKind, calendar(list.Clocks, v.Clock.Now()))
}

const calendarKind = "text/calendar; charset=utf-8"

func clocksActs() []act {
	toClocks := func(*visit, desk.Commanded) string { return "/papers/clocks" }
	return []act{
		{
			name: "give-calendar-link", path: "/papers/clocks/feed", may: treasurers, title: "Make an address for my calendar", button: "Make it", done: "The address is made. Give it to your calendar program.",
			words:   "A calendar program that has the address shows what falls due, without the names of donors or boats. Whoever has it sees the same: do not pass it on.",
			command: func() desk.Commanded { return &message.GiveLink{} },
			fields:  func(*visit) ([]Section, error) { return []Section{{Fields: []Field{fresh("link")}}}, nil },
			finish: func(v *visit, c desk.Commanded) error {
				link := c.(*message.GiveLink)
				link.Person, link.Purpose, link.Subject = v.Who.Person, people.Deadlines, string(v.Who.Person)
				return nil
			},
			to: toClocks,
		},
		{
			name: "end-calendar-link", path: "/papers/clocks/feeds/{link}/end", may: treasurers, title: "End an address for a calendar", button: "End it", done: "The address works no more.",
			command: func() desk.Commanded { return &message.EndLink{} },
			fields:  func(*visit) ([]Section, error) { return nil, nil },
			to:      toClocks,
		},
	}
}

func (v *visit) clocksCalendar() error {
	list, err := ask[message.ClockList](v, message.Clocks{})
	if err != nil {
		return err
	}
	return v.download("papers.ics", calendarKind, calendar(list.Clocks, v.Clock.Now()))
}

// calendar writes clocks as whole-day events in iCalendar (RFC 5545). An event is
// the same event whenever it is read. No donor is named.
func calendar(clocks []message.Clock, now time.Time) []byte {
	var b strings.Builder
	line := func(name, value string) { b.WriteString(foldedLine(name + ":" + value)) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//Refloat//donors' papers//EN")
	for _, c := range clocks {
		line("BEGIN", "VEVENT")
		line("UID", c.Key())
		line("DTSTAMP", now.UTC().Format("20060102T150405Z"))
		line("DTSTART;VALUE=DATE", strings.ReplaceAll(c.Due.String(), "-", ""))
		line("SUMMARY", escaped(c.What+": "+cmp.Or(c.BoatName, c.Serial, "a gift without a paper")))
		line("DESCRIPTION", escaped(strings.TrimSpace(c.Serial+" "+c.Reckoned+". No tax advice.")))
		line("TRANSP", "TRANSPARENT")
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	return []byte(b.String())
}

// escaped writes a text as RFC 5545, section 3.3.11, wants it.
func escaped(text string) string {
	return strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\r", "", "\n", `\n`).Replace(text)
}

// foldedLine breaks a line into pieces of at most 75 bytes (section 3.1), never within
// a character.
func foldedLine(line string) string {
	var b strings.Builder
	room := 75
	for _, r := range line {
		if n := utf8.RuneLen(r); n > room {
			b.WriteString("\r\n ")
			room = 74
		}
		room -= utf8.RuneLen(r)
		b.WriteRune(r)
	}
	return b.String() + "\r\n"
}
