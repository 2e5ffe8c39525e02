package matching

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
)

// Bounds on what can be written, in characters.
const (
	maxName    = 120
	maxPhone   = 40
	maxAddress = 300
	maxConsent = 80
)

// text wants at most so many characters; it may be empty.
func text(field, words string, most int) error {
	odd := strings.ContainsFunc(words, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' })
	if odd || !utf8.ValidString(words) {
		return fault.Field(field, "leave out what cannot be printed")
	}
	if utf8.RuneCountInString(words) > most {
		return fault.Field(field, "write at most %d characters", most)
	}
	return nil
}

// line is text without line breaks.
func line(field, words string, most int) error {
	if strings.ContainsFunc(words, unicode.IsControl) {
		return fault.Field(field, "write it on one line, without what cannot be printed")
	}
	return text(field, words, most)
}

// needed wants a text that says something.
func needed(field, words, what string) error {
	if strings.TrimSpace(words) == "" {
		return fault.Field(field, "%s", what)
	}
	return text(field, words, desk.MaxWords)
}

// each checks every element of a list, naming it field[i].
func each[T any](field string, list []T, check func(field string, item T) error) error {
	for i, item := range list {
		if err := check(fmt.Sprintf("%s[%d]", field, i), item); err != nil {
			return err
		}
	}
	return nil
}

// once refuses an element that stands twice.
func once[T comparable](field string, list []T) error {
	seen := map[T]bool{}
	return each(field, list, func(field string, item T) error {
		if seen[item] {
			return fault.Field(field, "%v stands twice", item)
		}
		seen[item] = true
		return nil
	})
}
