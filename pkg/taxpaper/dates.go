package taxpaper

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"refloat.example/pkg/clock"
)

// dayOf gives a day of the year written MM-DD in the given year.
func dayOf(year int, monthDay string) clock.Date {
	return clock.MustDate(clock.NewDate(year, time.January, 1).String()[:5] + monthDay)
}

// businessDay moves a filing that falls on a weekend or a federal holiday to
// the next day that is neither (Form 1098-C instructions; IRC 7503, from
// memory). A donor's copy is never moved.
func (b book) businessDay(d clock.Date) clock.Date {
	for isWeekend(d) || b.isHoliday(d) {
		d = d.AddDays(1)
	}
	return d
}

func isWeekend(d clock.Date) bool {
	return d.Weekday() == time.Saturday || d.Weekday() == time.Sunday
}

// isHoliday looks at next year's holidays too: New Year's Day on a Saturday is
// kept on 31 December.
func (b book) isHoliday(d clock.Date) bool {
	for _, r := range b.all("US-HOLIDAY", d) {
		if observed(holiday(d.Year(), r.Value)) == d || observed(holiday(d.Year()+1, r.Value)) == d {
			return true
		}
	}
	return false
}

// holiday gives the day of a rule, either MM-DD or Mon/3/01: the third Monday
// of January. A fifth Monday that a month lacks is its last.
func holiday(year int, rule string) clock.Date {
	parts := strings.Split(rule, "/")
	if len(parts) == 1 {
		return dayOf(year, rule)
	}
	nth, _ := strconv.Atoi(parts[1])
	first := dayOf(year, parts[2]+"-01")
	d := first
	for d.Weekday().String()[:3] != parts[0] {
		d = d.AddDays(1)
	}
	d = d.AddDays(7 * (nth - 1))
	if d.Month() != first.Month() {
		d = d.AddDays(-7)
	}
	return d
}

// observed moves a holiday on a Saturday to Friday and one on a Sunday to
// Monday (5 U.S.C. 6103(b) and E.O. 11582, from memory).
func observed(d clock.Date) clock.Date {
	switch d.Weekday() {
	case time.Saturday:
		return d.AddDays(-1)
	case time.Sunday:
		return d.AddDays(1)
	}
	return d
}

// Holiday is a day off which filings are moved, with the source of its rule.
type Holiday struct {
	On     clock.Date
	Source string
}

// FilingHolidays gives the holidays of a year off which a country's filings are moved, in
// order, on the days on which they are kept. Weekends are not among them. Only filings of
// the United States are moved here.
func FilingHolidays(country string, year int) []Holiday {
	if country != US {
		return nil
	}
	var list []Holiday
	for _, r := range published {
		if r.ID != "US-HOLIDAY" {
			continue
		}
		for _, of := range []int{year, year + 1} { // New Year's Day may be kept the day before
			if on := observed(holiday(of, r.Value)); on.Year() == year && r.governs(r.ID, on) {
				list = append(list, Holiday{on, r.Source})
			}
		}
	}
	slices.SortFunc(list, func(a, b Holiday) int { return a.On.Compare(b.On) })
	return list
}
