package intake

import (
	"fmt"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/quarantine"
)

// dryingRules are the club's settings.
type dryingRules struct {
	rule     string
	clubDays int
}

// dry decides until when a boat stays away from other waters. An empty rule and
// no days mean the club's own. The days count from the day on which it was clean
// and drained.
func (b *Boat) dry(c message.SetQuarantine, rules dryingRules, today clock.Date) (message.Body, error) {
	if c.Rule == "" {
		c.Rule = rules.rule
	}
	if err := desk.First(b.notDeclined(), goodWater(c, today), goodFrost(c, today)); err != nil {
		return nil, err
	}
	treated, err := treatment(c)
	if err != nil {
		return nil, err
	}
	from := c.OutOfWater
	if !c.CleanedOn.IsZero() {
		from = c.CleanedOn
	}
	days, err := rules.days(c, from)
	if err != nil {
		return nil, err
	}
	until, err := quarantine.Until(from, int64(days))
	if err != nil {
		return nil, err
	}
	if quarantine.FrozenEnough(float64(c.FrozenHours)) && c.FrozenEnd.Before(until) {
		until = c.FrozenEnd
	}
	return message.QuarantineSet{
		Boat: c.Boat, LastWater: c.LastWater, OutOfWater: c.OutOfWater, Rule: c.Rule, Until: until, Days: days, Source: quarantine.Source(c.Rule),
		StandingML: c.StandingML, Found: c.Found, CleanedOn: c.CleanedOn, Treatment: treated, FrozenHours: c.FrozenHours, FrozenEnd: c.FrozenEnd,
	}, nil
}

func goodWater(c message.SetQuarantine, today clock.Date) error {
	return desk.First(
		desk.Needed("last_water", c.LastWater, "name the water in which the boat was last"),
		desk.OneLine("last_water", c.LastWater, desk.MaxLine),
		desk.Past("out_of_water", c.OutOfWater, today),
		boat.Known("rule", c.Rule, message.DryingRules),
		desk.Within("days", c.Days, 0, 365),
		desk.Within("standing_ml", c.StandingML, 0, 1_000_000),
		eachOnce("found", c.Found, message.FoundOnBoats),
		goodCleaning(c, today),
	)
}

// goodCleaning wants the day of cleaning where there was something to clean or
// drain: nothing dries in mud or in standing water.
func goodCleaning(c message.SetQuarantine, today clock.Date) error {
	switch {
	case c.CleanedOn.IsZero() && (c.StandingML > 0 || len(c.Found) > 0):
		return fault.Field("cleaned_on", "state the day on which it was cleaned and drained: the days count only from then")
	case c.CleanedOn.IsZero():
		return nil
	case c.CleanedOn.Before(c.OutOfWater):
		return fault.Field("cleaned_on", "lies before the day on which it came out of the water")
	}
	return desk.Past("cleaned_on", c.CleanedOn, today)
}

// goodFrost: only Utah's rule takes hours below freezing in the place of days.
func goodFrost(c message.SetQuarantine, today clock.Date) error {
	switch {
	case c.FrozenHours == 0 && c.FrozenEnd.IsZero():
		return nil
	case c.Rule != message.DryingUtah:
		return fault.Field("frozen_hours", "only the rule %s takes hours below freezing in the place of days", message.DryingUtah)
	case c.FrozenEnd.Before(c.OutOfWater) || c.FrozenEnd.Before(c.CleanedOn):
		return fault.Field("frozen_end", "state the day on which the frost ended, after it came out and was cleaned")
	}
	return desk.First(desk.Within("frozen_hours", c.FrozenHours, 1, 10_000), desk.Past("frozen_end", c.FrozenEnd, today))
}

// treatment says which published minimums a treatment reaches. It changes no day:
// none of the rules lets it.
func treatment(c message.SetQuarantine) (*message.Treatment, error) {
	if c.Medium == "" {
		if c.Tenths != 0 || c.Seconds != 0 {
			return nil, fault.Field("medium", "say how the hot water was brought on, or leave temperature and time empty")
		}
		return nil, nil
	}
	err := desk.First(boat.Known("medium", c.Medium, quarantine.Media), desk.Within("seconds", c.Seconds, 1, 100_000))
	if err == nil && (c.Tenths < 300 || c.Tenths > 1000) {
		err = fault.Field("celsius_tenths", "must be from 30 to 100 °C, where it touched the boat")
	}
	if err != nil {
		return nil, err
	}
	t := &message.Treatment{Medium: c.Medium, Tenths: c.Tenths, Seconds: c.Seconds}
	for _, m := range quarantine.Met(c.Medium, c.Tenths, c.Seconds) {
		t.Meets = append(t.Meets, fmt.Sprintf("%s (%s)", m.Against, m.Source))
	}
	return t, nil
}

func (r dryingRules) days(c message.SetQuarantine, from clock.Date) (int, error) {
	switch {
	case c.Rule == message.DryingDays && c.Days > 0:
		return c.Days, nil
	case c.Rule == message.DryingDays:
		return r.clubDays, nil
	case c.Days > 0:
		return 0, fault.Field("days", "the rule %s says how many days; leave this empty or choose the rule %s", c.Rule, message.DryingDays)
	case c.Rule == message.DryingThirty:
		return quarantine.ThirtyDays, nil
	}
	return quarantine.UtahDays(from), nil
}
