package bankrows

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/money"
)

// signed takes the sign off an amount, before or behind it. Brackets mean what a minus means.
func signed(text string) (rest string, negative, found bool) {
	if strings.HasPrefix(text, "(") && strings.HasSuffix(text, ")") && len(text) > 1 {
		return strings.TrimSpace(text[1 : len(text)-1]), true, true
	}
	for _, sign := range []string{"-", "−", "+"} {
		rest, before := strings.CutPrefix(text, sign)
		if !before {
			rest, found = strings.CutSuffix(text, sign)
		}
		if before || found {
			return strings.TrimSpace(rest), sign != "+", true
		}
	}
	return text, false, false
}

// uncoded takes the currency off an amount, before or behind it: its sign, or its code of
// three letters (ISO 4217). Any other letters may change the figure, like those of a debit
// or of a power of ten, and stay to be refused.
func uncoded(text string) string {
	runes := []rune(text)
	last := len(runes) - 1
	switch {
	case last < 0:
	case unicode.Is(unicode.Sc, runes[0]):
		text = string(runes[1:])
	case unicode.Is(unicode.Sc, runes[last]):
		text = string(runes[:last])
	case last < 3: // a code and no figure
	case isCode(runes[:3]):
		text = string(runes[3:])
	case isCode(runes[last-2:]):
		text = string(runes[:last-2])
	}
	return strings.TrimSpace(text)
}

func isCode(letters []rune) bool {
	_, err := money.ParseCurrency(strings.ToUpper(string(letters)))
	return err == nil
}

// bare takes from an amount what is no digit and no mark: its sign, its currency, blanks
// and apostrophes between thousands.
func bare(text string) (digits string, negative bool, err error) {
	figure, negative, outer := signed(strings.TrimSpace(text))
	figure, minus, inner := signed(uncoded(figure))
	if outer && inner {
		return "", false, fmt.Errorf("%q has two signs", text)
	}
	var b strings.Builder
	for _, r := range figure {
		switch {
		case r >= '0' && r <= '9' || r == '.' || r == ',':
			b.WriteRune(r)
		case r == '\'' || r == '’' || unicode.IsSpace(r):
		default:
			return "", false, fmt.Errorf("%q is no amount", text)
		}
	}
	if !strings.ContainsAny(b.String(), "0123456789") {
		return "", false, fmt.Errorf("%q is no amount", text)
	}
	return b.String(), negative || minus, nil
}

// tells says which mark an amount shows to be the one before the cents: with both marks
// the last, with one of them once what is not followed by three digits. Nothing else tells.
func tells(digits string) (mark Decimal, doubtful bool) {
	commas, points := strings.Count(digits, ","), strings.Count(digits, ".")
	comma, point := strings.LastIndex(digits, ","), strings.LastIndex(digits, ".")
	switch {
	case commas == 0 && points == 0:
		return Judged, false
	case commas > 0 && points > 0:
		if comma > point {
			return Comma, false
		}
		return Point, false
	case commas > 1:
		return Point, false // they part thousands
	case points > 1:
		return Comma, false
	}
	i, mark := max(comma, point), Point
	if comma > point {
		mark = Comma
	}
	if len(digits)-i-1 != 3 {
		return mark, false
	}
	return Judged, true
}

// decimal gives the mark before the cents of the whole file.
func (t *table) decimal(told Told) (Decimal, error) {
	if told.Decimal != Judged {
		return told.Decimal, nil
	}
	found, doubtful := Judged, false
	for _, l := range t.cells {
		for _, f := range t.figures(l) {
			digits, _, err := bare(f.text)
			if err != nil {
				continue // said where the row is read
			}
			mark, unsure := tells(digits)
			doubtful = doubtful || unsure
			switch {
			case mark == Judged:
			case found == Judged:
				found = mark
			case found != mark:
				return Judged, fault.Field("decimal", "amounts with a comma and with a point before the cents are mixed (line %d); say which it is", l.number)
			}
		}
	}
	if found == Judged && doubtful {
		return Judged, fault.Field("decimal", "say whether a comma or a point stands before the cents; these amounts can be read in both ways")
	}
	if found == Judged {
		return Point, nil // there is no mark at all
	}
	return found, nil
}

// minorOf reads an amount. Thousands are parted in threes or not at all.
func minorOf(text string, decimal Decimal, digits int) (int64, error) {
	figure, negative, err := bare(text)
	if err != nil {
		return 0, err
	}
	mark, group := ".", ","
	if decimal == Comma {
		mark, group = ",", "."
	}
	whole, cents, _ := strings.Cut(figure, mark)
	if strings.ContainsAny(cents, ".,") {
		return 0, fmt.Errorf("%q has a mark behind the cents", text)
	}
	cents = strings.TrimRight(cents, "0")
	if len(cents) > digits {
		return 0, fmt.Errorf("%q has more than %d digits behind the %s", text, digits, map[string]string{".": "point", ",": "comma"}[mark])
	}
	parts := strings.Split(whole, group)
	for i, p := range parts {
		if i > 0 && len(p) != 3 || i == 0 && len(parts) > 1 && (len(p) == 0 || len(p) > 3) {
			return 0, fmt.Errorf("%q does not part its thousands in threes", text)
		}
	}
	number := strings.Join(parts, "") + cents + strings.Repeat("0", digits-len(cents))
	if len(number) > 15 {
		return 0, fmt.Errorf("%q is more than a club can have", text)
	}
	minor, err := strconv.ParseInt("0"+number, 10, 64)
	if err != nil || minor > maxMinor {
		return 0, fmt.Errorf("%q is more than a club can have", text)
	}
	if negative {
		minor = -minor
	}
	return minor, nil
}

// dayParts parts a day into its three numbers. A time behind it is left out.
func dayParts(text string) (parts [3]string, separator byte, err error) {
	text, _, _ = strings.Cut(strings.TrimSpace(text), " ")
	if day, _, timed := strings.Cut(text, "T"); timed {
		text = day
	}
	for _, by := range []byte{'-', '/', '.'} {
		if p := strings.Split(text, string(by)); len(p) == 3 {
			return [3]string(p), by, nil
		}
	}
	return parts, 0, fmt.Errorf("%q is no day", text)
}

// order gives which number of a day comes first, in the whole file. Points are only
// written between day, month and year in that order (common practice, no source).
func (t *table) order(told Order) (Order, error) {
	if told != JudgedOrder {
		return told, nil
	}
	found, doubtful := JudgedOrder, false
	for _, l := range t.cells {
		p, by, err := dayParts(t.cell(l, "date"))
		if err != nil || len(p[0]) == 4 {
			continue
		}
		first, _ := strconv.Atoi(p[0])
		second, _ := strconv.Atoi(p[1])
		seen := JudgedOrder
		switch {
		case by == '.' || first > 12:
			seen = DayFirst
		case second > 12:
			seen = MonthFirst
		case first != second:
			doubtful = true
		}
		if seen == JudgedOrder {
			continue
		}
		if found != JudgedOrder && found != seen {
			return found, fault.Field("order", "days with the day first and with the month first are mixed (line %d); say which it is", l.number)
		}
		found = seen
	}
	if found == JudgedOrder && doubtful {
		return found, fault.Field("order", "say whether the day or the month comes first; these days can be read in both ways")
	}
	return found, nil
}

// dayOf reads a day in an order.
func dayOf(text string, order Order) (clock.Date, error) {
	p, _, err := dayParts(text)
	if err != nil {
		return clock.Date{}, err
	}
	if len(p[0]) != 4 {
		p[0], p[2] = p[2], p[0] // year, month, day
		if order == MonthFirst {
			p[1], p[2] = p[2], p[1]
		}
	}
	var n [3]int
	for i := range p {
		if n[i], err = strconv.Atoi(p[i]); err != nil || len(p[i]) > 4 || p[i][0] == '+' || p[i][0] == '-' {
			return clock.Date{}, fmt.Errorf("%q is no day", text)
		}
	}
	if len(p[0]) != 4 || n[0] < firstYear || n[0] > lastYear {
		return clock.Date{}, fmt.Errorf("%q is of no year from %d to %d, written with four digits", text, firstYear, lastYear)
	}
	if n[1] < 1 || n[1] > 12 || n[2] < 1 || n[2] > 31 {
		return clock.Date{}, fmt.Errorf("%q is no day", text)
	}
	on := clock.NewDate(n[0], time.Month(n[1]), n[2])
	if on.Day() != n[2] {
		return clock.Date{}, errors.New(text + " is no day of that month")
	}
	return on, nil
}
