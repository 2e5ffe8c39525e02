package calc

import (
	"refloat.example/pkg/clock"
	"refloat.example/pkg/quarantine"
)

var dryCalculator = Calculator{
	Name:    "dry",
	Summary: "until when a boat stays dry before another lake",
	Explain: `
Formula: rule "utah": 7 days for a first day out in June to August, 18 in March to May
and September to November, 30 in December to February; 72 consecutive hours below
freezing will do instead (frozen_enough, which changes neither days nor until).
Rule "days": the club's own number of days. until = out_of_water + days.

Source: drying times published by the State of Utah (the text seen bears no date). That
the season is that of the first day out is our proposal; the text does not say.

Limits: for a boat that has been cleaned and drained. Ballast tanks and inboard
engines take 30 days always. The law of the water that it goes to decides; ask its
agency. Drying alone does not kill everything.`,
	Example: `{"rule":"utah","out_of_water":"2026-08-20"}`,
	Answer:  answerDry,
}

type dryAnswer struct {
	Days         int64      `json:"days"`
	Until        clock.Date `json:"until"`
	FrozenEnough *bool      `json:"frozen_enough,omitempty"`
}

func answerDry(in *Object) (any, error) {
	rule, out := in.Text("rule", "utah", "days"), in.Date("out_of_water")
	var answer dryAnswer
	if rule == "days" {
		answer.Days = in.Int("days")
		refuseUnder(in, rule, "frozen_hours")
	} else {
		answer.Days = int64(quarantine.UtahDays(out))
		answer.FrozenEnough = frozenEnough(in)
		refuseUnder(in, rule, "days")
	}
	if err := in.Done(); err != nil {
		return nil, err
	}
	until, err := quarantine.Until(out, answer.Days)
	answer.Until = until
	return answer, err
}

func frozenEnough(in *Object) *bool {
	if !in.Has("frozen_hours") {
		return nil
	}
	enough := quarantine.FrozenEnough(in.Float("frozen_hours", NotNegative))
	return &enough
}

// refuseUnder refuses a field that belongs to the other rule.
func refuseUnder(in *Object, rule, name string) {
	if in.Has(name) {
		in.Fail(name, "does not go with the rule %s", rule)
	}
}
