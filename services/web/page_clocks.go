package web

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"time"
	"unicode/utf8"

	"refloat.example/pkg/message"
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

// clocksPage lists what falls due.
type clocksPage struct {
	Frame
	Clocks []message.Clock
}

func (v *visit) clocks() error {
	list, err := ask[message.ClockList](v, message.Clocks{})
	if err != nil {
		return err
	}
	return v.show("clocks", clocksPage{v.frame("What falls due"), list.Clocks})
}

func (v *visit) clocksCalendar() error {
	list, err := ask[message.ClockList](v, message.Clocks{})
	if err != nil {
		return err
	}
	return v.download("papers.ics", "text/calendar; charset=utf-8", calendar(list.Clocks, v.Clock.Now()))
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
		id := sha256.Sum256([]byte(string(c.Boat) + "\n" + c.Serial + "\n" + c.What + "\n" + c.Due.String()))
		line("BEGIN", "VEVENT")
		line("UID", hex.EncodeToString(id[:16]))
		line("DTSTAMP", now.UTC().Format("20060102T150405Z"))
		line("DTSTART;VALUE=DATE", strings.ReplaceAll(c.Due.String(), "-", ""))
		line("SUMMARY", escaped(c.What+": "+c.BoatName))
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
