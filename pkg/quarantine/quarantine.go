// Package quarantine says until when a boat that came out of infested water must
// stay dry, so that mussels and plants in its corners are dead before it goes
// into another lake.
//
// Source of Utah: the published drying times of the State of Utah (7 days in
// June to August, 18 in March to May and September to November, 30 in December
// to February, or 72 consecutive hours below freezing). The text seen does not
// say what holds when drying runs into another season; the season of the first
// day out is our proposal.
//
// The days begin when the boat has been cleaned and drained. Boats with ballast
// tanks or inboard engines are not covered (30 days always). The law of the
// water that the boat goes to decides; ask its agency.
package quarantine

import (
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// FrozenHours is how long, in consecutive hours below freezing, stands in the
// place of the days under the Utah rule.
const FrozenHours = 72

// lastDay bounds the answer to what a date of four digits can write.
var lastDay = clock.MustDate("9999-12-31")

// maxDays is more than any answer up to lastDay can need.
const maxDays = 4_000_000

// UtahDays gives the days for a boat whose first day out of the water is out.
func UtahDays(out clock.Date) int {
	switch out.Month() {
	case time.June, time.July, time.August:
		return 7
	case time.December, time.January, time.February:
		return 30
	}
	return 18
}

// Until gives the day on which a boat is dry that came out on a day and dries
// for days (whole, not negative). Faults name days or out_of_water.
func Until(out clock.Date, days int64) (clock.Date, error) {
	if days < 0 || days > maxDays {
		return clock.Date{}, fault.Field("days", "must be from 0 to %d", maxDays)
	}
	until := out.AddDays(int(days))
	if until.After(lastDay) {
		return clock.Date{}, fault.Field("out_of_water", "the boat would be dry after the year 9999")
	}
	return until, nil
}

// FrozenEnough says whether so many consecutive hours below freezing will do in
// the place of the days.
func FrozenEnough(hours float64) bool { return hours >= FrozenHours }
