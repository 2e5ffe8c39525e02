package desk

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/money"
)

// Bounds on what stands on an order: characters, and minor units of money.
const (
	MaxID    = 64
	MaxLine  = 120
	MaxWords = 2000
	MaxMinor = 1_000_000_000
)

// firstDay is earlier than any day that a club's book speaks of; an earlier one
// is a slip of the hand.
var firstDay = clock.NewDate(1950, time.January, 1)

// First gives the first fault of several checks.
func First(checks ...error) error {
	for _, err := range checks {
		if err != nil {
			return err
		}
	}
	return nil
}

// Conflict is a fault about the state of things, with the field that met it.
func Conflict(field, format string, args ...any) error {
	f := fault.New(fault.Conflict, format, args...)
	f.Field = field
	return f
}

// Unknown is a fault about something that does not stand in the book.
func Unknown(field, format string, args ...any) error {
	f := fault.New(fault.Unknown, format, args...)
	f.Field = field
	return f
}

// GoodID wants an id as programs make them: it goes into a stream's name.
func GoodID[ID ~string](field string, id ID) error {
	odd := strings.ContainsFunc(string(id), func(r rune) bool {
		return r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' && r != '_'
	})
	if id == "" || len(id) > MaxID || odd {
		return fault.Field(field, "an id of 1 to %d letters, digits and dashes is needed", MaxID)
	}
	return nil
}

// OneLine wants a text without line breaks, at most so many characters long. It
// may be empty.
func OneLine(field, text string, most int) error {
	if strings.ContainsFunc(text, unicode.IsControl) {
		return fault.Field(field, "write it on one line")
	}
	return NotLonger(field, text, most)
}

// NotLonger wants a text of at most so many characters, on any number of lines.
func NotLonger(field, text string, most int) error {
	if strings.ContainsRune(text, 0) {
		return fault.Field(field, "holds a character that cannot be kept")
	}
	if utf8.RuneCountInString(text) > most {
		return fault.Field(field, "write at most %d characters", most)
	}
	return nil
}

// Needed wants a text that says something; ask is the sentence for an empty one.
func Needed(field, text, ask string) error {
	if strings.TrimSpace(text) == "" {
		return fault.Field(field, "%s", ask)
	}
	return NotLonger(field, text, MaxWords)
}

// Within wants a number from low to high.
func Within(field string, n, low, high int) error {
	if n < low || n > high {
		return fault.Field(field, "must be %s", Range(field, low, high))
	}
	return nil
}

// WithinOrUnknown is Within, where 0 means that it is not known.
func WithinOrUnknown(field string, n, low, high int) error {
	if n != 0 && (n < low || n > high) {
		return fault.Field(field, "must be %s; leave it empty when it is not known", Range(field, low, high))
	}
	return nil
}

// thousandths are the endings of fields that are kept in thousandths of the unit
// in which people say them.
var thousandths = map[string]string{"_mm": "m", "_g": "kg", "_ml": "l"}

// Range says from where to where a number may go, in the unit that people use:
// metres for a field that ends in _mm, kilograms for _g, litres for _ml.
func Range(field string, low, high int) string {
	bare := strings.TrimRight(field, "[]0123456789")
	for ending, unit := range thousandths {
		if strings.HasSuffix(bare, ending) {
			return fmt.Sprintf("from %s to %s %s", inThousands(low), inThousands(high), unit)
		}
	}
	return fmt.Sprintf("from %d to %d", low, high)
}

func inThousands(n int) string { return strconv.FormatFloat(float64(n)/1000, 'f', -1, 64) }

// Past wants a day that has come and is not absurdly old.
func Past(field string, day, today clock.Date) error {
	switch {
	case day.IsZero():
		return fault.Field(field, "state the day")
	case day.After(today):
		return fault.Field(field, "lies in the future")
	case day.Before(firstDay):
		return fault.Field(field, "lies before %s; check the year", firstDay)
	}
	return nil
}

// ClubMoney wants an amount that is not negative, in the club's currency.
// Nothing is nothing in any currency.
func ClubMoney(field string, a money.Amount, club money.Currency) error {
	switch {
	case a.Minor < 0:
		return fault.Field(field, "must not be negative")
	case a.Minor > MaxMinor:
		return fault.Field(field, "is more than the book takes for one boat")
	case a.Minor > 0 && a.Currency != club:
		return fault.Field(field, "must be in the club's currency, %s", club)
	}
	return nil
}
