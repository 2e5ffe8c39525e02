package calc

import "refloat.example/pkg/cure"

var cureCalculator = Calculator{
	Name:    "cure",
	Summary: "pot life and curing time of epoxy at another temperature",
	Explain: `
Formula: factor = 2 ^ ((at_c - now_c) / 10); pot life = pot_life_min x factor: double for
each 10 C colder than the label's temperature, half for each 10 C warmer. With cure_h, the
hours that the label asks for before the work may be loaded, the hours to wait now are
given too: longer in the cold, never shorter than the label.

Source: the rule that epoxy makers publish, given as 18 F (10 C); undated. Makers'
tables of full cure (5 days at 77 F, 10 at 59 F) follow it as well.

Limits: a rule of thumb for a small cup; a larger mass heats itself and goes off sooner,
and may smoke or burn. Below 10 C ordinary epoxy may never cure. Never change the mix
ratio to change the speed. The product's label governs times, mix, gloves and air. How long
wet wood or a crack dries has no published rule: it is dry when it shows no damp.`,
	Example: `{"pot_life_min":25,"at_c":25,"now_c":15}`,
	Answer:  answerCure,
}

const (
	cureNote = "a rule of thumb; the product's label governs, and the mix ratio never changes"
	coldNote = "below 10 °C ordinary epoxy may never cure: warm the work and the shop, or use a hardener whose label allows the cold; the mix ratio never changes"
)

// absoluteZero is the lowest temperature there can be, in °C.
const absoluteZero = -273.15

func notBelowAbsoluteZero(x float64) string {
	if x < absoluteZero {
		return "must not be below " + plain(absoluteZero)
	}
	return ""
}

type cureAnswer struct {
	PotLife float64 `json:"pot_life_min"`
	Factor  float64 `json:"factor"`
	// Wait is the curing time now, when the label's was stated.
	Wait float64 `json:"cure_h,omitempty"`
	Note string  `json:"note"`
	Rule string  `json:"rule"`
}

func answerCure(in *Object) (any, error) {
	pot := in.Float("pot_life_min", Positive)
	at, now := in.Float("at_c", notBelowAbsoluteZero), in.Float("now_c", notBelowAbsoluteZero)
	hours := in.FloatOr("cure_h", 0, Positive)
	if err := in.Done(); err != nil {
		return nil, err
	}
	factor := cure.Factor(at, now)
	answer := cureAnswer{PotLife: pot * factor, Factor: factor, Note: cureNote, Rule: cure.Rule}
	if hours > 0 {
		answer.Wait = hours * max(1, factor)
	}
	if now < cure.TooCold {
		answer.Note = coldNote
	}
	return answer, nil
}
