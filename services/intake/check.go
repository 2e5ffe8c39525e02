package intake

import (
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// Bounds on what can be written, in characters and minor units.
const (
	maxID    = 64
	maxName  = 60
	maxLine  = 120
	maxWords = 2000
	maxMinor = 1_000_000_000
)

// firstDay is earlier than any day on which this club can have got a boat; an
// earlier one is a slip of the hand.
var firstDay = clock.NewDate(1950, time.January, 1)

// all gives the first fault.
func all(checks ...error) error {
	for _, err := range checks {
		if err != nil {
			return err
		}
	}
	return nil
}

// goodID wants an id as programs make them: it goes into a stream's name.
func goodID[ID ~string](field string, id ID) error {
	odd := strings.ContainsFunc(string(id), func(r rune) bool {
		return r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' && r != '_'
	})
	if id == "" || len(id) > maxID || odd {
		return fault.Field(field, "an id of 1 to %d letters, digits and dashes is needed", maxID)
	}
	return nil
}

// oneLine wants a text without line breaks, at most so many characters long. It
// may be empty.
func oneLine(field, text string, most int) error {
	if strings.ContainsFunc(text, unicode.IsControl) {
		return fault.Field(field, "write it on one line")
	}
	return notLonger(field, text, most)
}

func notLonger(field, text string, most int) error {
	if strings.ContainsRune(text, 0) {
		return fault.Field(field, "holds a character that cannot be kept")
	}
	if utf8.RuneCountInString(text) > most {
		return fault.Field(field, "write at most %d characters", most)
	}
	return nil
}

// needed wants a text that says something.
func needed(field, text, what string) error {
	if strings.TrimSpace(text) == "" {
		return fault.Field(field, "%s", what)
	}
	return notLonger(field, text, maxWords)
}

// within wants a number from low to high.
func within(field string, n, low, high int) error {
	if n < low || n > high {
		return fault.Field(field, "must be from %d to %d", low, high)
	}
	return nil
}

// withinOrUnknown is within, where 0 means not known.
func withinOrUnknown(field string, n, low, high int) error {
	if n != 0 && (n < low || n > high) {
		return fault.Field(field, "must be from %d to %d, or 0 when it is not known", low, high)
	}
	return nil
}

// past wants a day that has come and is not absurdly old.
func past(field string, day, today clock.Date) error {
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

// inClubMoney wants an amount that is not negative, in the club's currency.
// Nothing is nothing in any currency.
func inClubMoney(field string, a money.Amount, club money.Currency) error {
	switch {
	case a.Minor < 0:
		return fault.Field(field, "must not be negative")
	case a.Minor > maxMinor:
		return fault.Field(field, "is more than the book takes for one boat")
	case a.Minor > 0 && a.Currency != club:
		return fault.Field(field, "must be in the club's currency, %s", club)
	}
	return nil
}

// goodDetails checks what is told of a new giver.
func goodDetails(d message.PersonDetails) error {
	if d.Mail != "" && !strings.Contains(d.Mail, "@") {
		return fault.Field("new_giver.mail", "is not an e-mail address")
	}
	if d.Language != "" && !slices.Contains([]string{"en", "es", "fr"}, d.Language) {
		return fault.Field("new_giver.language", "choose one of: en, es, fr")
	}
	return all(
		needed("new_giver.name", d.Name, "say what the person is called"),
		oneLine("new_giver.name", d.Name, maxLine),
		oneLine("new_giver.mail", d.Mail, maxLine),
		oneLine("new_giver.phone", d.Phone, maxLine),
		notLonger("new_giver.address", d.Address, maxWords),
	)
}
