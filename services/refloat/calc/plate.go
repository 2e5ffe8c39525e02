package calc

import "refloat.example/pkg/float"

var plateCalculator = Calculator{
	Name:    "plate",
	Summary: "persons on the capacity plate of a boat without motor",
	Explain: `
Formula: persons_lb = 0.9 x max_weight_lb; persons_exact = (persons_lb + 32) / 141;
persons = that, halves rounded up.

Source: 33 CFR 183.43.

Limits: boats of less than 20 ft that the rule covers. Canoes, kayaks, inflatables
and sailboats carry no plate under it, so for them it is a sanity check only; the
maker's stated capacity governs.`,
	Example: `{"max_weight_lb":400,"propulsion":"manual"}`,
	Answer:  answerPlate,
}

type plateAnswer struct {
	PersonsPounds float64 `json:"persons_lb"`
	PersonsExact  float64 `json:"persons_exact"`
	Persons       int     `json:"persons"`
	AppliesTo     string  `json:"applies_to"`
}

// heaviestPlate, in lb, keeps the count of persons a whole number.
const heaviestPlate = 1_000_000_000

func notOverHeaviestPlate(x float64) string {
	if x > heaviestPlate {
		return "must be at most " + plain(heaviestPlate)
	}
	return ""
}

func answerPlate(in *Object) (any, error) {
	weight := in.Float("max_weight_lb", Positive, notOverHeaviestPlate)
	in.Text("propulsion", "manual")
	if err := in.Done(); err != nil {
		return nil, err
	}
	p := float.PlateFor(weight)
	return plateAnswer{p.PersonsPounds, p.PersonsExact, p.Persons, "not canoes, kayaks, inflatables or sailboats: a sanity check only"}, nil
}
