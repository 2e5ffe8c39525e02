package web

import (
	"fmt"
	"html/template"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"refloat.example/pkg/defects"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// funcs are what templates can say beside their data, in a voice.
func (l *look) funcs(in voice) template.FuncMap {
	return template.FuncMap{
		"asset":       l.asset,
		"navigation":  navigation,
		"languages":   func() []Option { return languageOptions },
		"say":         func(text any) string { return in.say(fmt.Sprint(text)) },
		"day":         in.day,
		"moment":      in.moment,
		"instant":     func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
		"metres":      func(mm int) string { return in.say(withUnit(int64(mm), metres)) },
		"centimetres": func(mm int) string { return withUnit(int64(mm), centimetres) },
		"kilograms":   func(g int) string { return in.say(withUnit(int64(g), kilograms)) },
		"litres":      func(ml int) string { return withUnit(int64(ml), litres) },
		"hours":       hours,
		"tenths":      func(milli int) string { return fmt.Sprintf("%.1f", float64(milli)/1000) },
		"profile":     profile,
		"placed":      placeWords,
		"room":        func(mm int) string { return measure(int64(mm), metres) + " m" },
		"photosOf":    photosOf,
		"plus":        func(a, b int) int { return a + b },
		"minus":       func(a, b int) int { return a - b },
		"join":        strings.Join,
		"celsius":     func(tenths int) string { return measure(int64(tenths), unit{"°C", 10}) + " °C" },
		"tooLow":      func() []string { return defects.TooLow },
		"capital":     capital,
		"shopTable":   func(name, title string, lines []message.PlanLine) shopTable { return shopTable{name, title, lines} },
	}
}

// withUnit writes a measure with its unit, or that it is not known.
func withUnit(n int64, u unit) string {
	if n == 0 {
		return "not known"
	}
	return measure(n, u) + " " + u.Word
}

// hours writes minutes as "2 h 30 min".
func hours(minutes int) string {
	switch h, m := minutes/60, minutes%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}

// capital begins a sentence with a capital letter.
func capital(text any) string {
	s := fmt.Sprint(text)
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// place is an entry of the main navigation.
type place struct {
	Address, Label string
	may            audience
}

// Here says whether a page stands in this part of the site.
func (p place) Here(path string) bool {
	return path == p.Address || p.Address != "/" && strings.HasPrefix(path, p.Address+"/")
}

// places is the main navigation.
var places = []place{
	{"/", "Now", anyMember},
	{"/boats", "Boats", anyMember},
	{"/stock", "Stock", stockReaders},
	{"/skills", "Skills", vouchers},
	{"/requests", "Requests", placing},
	{"/rounds", "Rounds", placing},
	{"/shop", "Shop", plansTo},
	{"/comparables", "Prices", only(people.Steward, people.Treasurer, people.Administrator, people.Auditor)},
	{"/money", "Money", booksTo},
	{"/papers", "Papers", booksTo},
	{"/people", "People", administrators},
	{"/club", "Club", overseers},
	{"/book", "Book", overseers},
}

// navigation gives the places that the viewer may open.
func navigation(w Who) []place {
	var open []place
	for _, p := range places {
		if p.may.admits(w) {
			open = append(open, p)
		}
	}
	return open
}
