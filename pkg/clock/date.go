package clock

import (
	"encoding/json"
	"fmt"
	"time"
)

// Date is a day of the calendar, without a time of day or a zone. The zero
// Date is "not stated" and reads and writes as the empty string.
type Date struct {
	year  int
	month time.Month
	day   int
}

// NewDate makes a date; days and months outside their range carry over as in
// time.Date.
func NewDate(year int, month time.Month, day int) Date {
	return DateOf(time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
}

// DateOf gives the day of an instant in that instant's own zone.
func DateOf(t time.Time) Date {
	year, month, day := t.Date()
	return Date{year, month, day}
}

// ParseDate reads YYYY-MM-DD and refuses days that the calendar does not have.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return Date{}, fmt.Errorf("%q is not a day written as YYYY-MM-DD", text)
	}
	return DateOf(t), nil
}

// MustDate is ParseDate for constants; it panics on a mistake of the programmer.
func MustDate(text string) Date {
	d, err := ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// IsZero says whether the date was not stated.
func (d Date) IsZero() bool { return d == Date{} }

// End gives the last microsecond of the day, UTC: what was so by then was so on
// that day.
func (d Date) End() time.Time { return d.Time().AddDate(0, 0, 1).Add(-time.Microsecond) }

// Year gives the year.
func (d Date) Year() int { return d.year }

// Month gives the month.
func (d Date) Month() time.Month { return d.month }

// Day gives the day of the month.
func (d Date) Day() int { return d.day }

// Weekday gives the day of the week.
func (d Date) Weekday() time.Weekday { return d.Time().Weekday() }

// Time gives the date's first instant in UTC.
func (d Date) Time() time.Time { return time.Date(d.year, d.month, d.day, 0, 0, 0, 0, time.UTC) }

// AddDays gives the date n calendar days later (earlier when n is negative).
func (d Date) AddDays(n int) Date { return NewDate(d.year, d.month, d.day+n) }

// AddMonths gives the same day n months later, or that month's last day where
// it is shorter. Years are twelve months, so 29 February falls back to the 28th.
func (d Date) AddMonths(n int) Date {
	first := NewDate(d.year, d.month+time.Month(n), 1)
	last := NewDate(first.year, first.month+1, 0)
	return Date{first.year, first.month, min(d.day, last.day)}
}

// Before says whether d is an earlier day than e.
func (d Date) Before(e Date) bool { return d.Compare(e) < 0 }

// After says whether d is a later day than e.
func (d Date) After(e Date) bool { return d.Compare(e) > 0 }

// Compare is -1, 0 or 1 as d is before, on or after e.
func (d Date) Compare(e Date) int { return d.Time().Compare(e.Time()) }

// DaysSince gives the number of days from e to d.
func (d Date) DaysSince(e Date) int { return int(d.Time().Sub(e.Time()) / (24 * time.Hour)) }

// String writes YYYY-MM-DD, or nothing for the zero date.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.year, int(d.month), d.day)
}

// MarshalJSON writes the date as a string.
func (d Date) MarshalJSON() ([]byte, error) { return json.Marshal(d.String()) }

// UnmarshalJSON reads a date string; the empty string is the zero date.
func (d *Date) UnmarshalJSON(raw []byte) error {
	var text string
	if err := json.Unmarshal(raw, &text); err != nil {
		return err
	}
	if text == "" {
		*d = Date{}
		return nil
	}
	parsed, err := ParseDate(text)
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}
