package calc

import "refloat.example/pkg/jackets"

var jacketsCalculator = Calculator{
	Name:    "jackets",
	Summary: "life jackets that must be aboard and be worn",
	Explain: `
Formula: a wearable jacket for each person; a throwable from 16 ft, but not on a
canoe or kayak; racing canoes, kayaks and shells, and sailboards, are exempt from
carriage; those under 13 must wear theirs under way.

Source: 33 CFR 175.15 and 175.17; what counts as racing craft is from memory.

Limits: numbers only. Each jacket must fit, be approved for the use, sound and at
hand; its label decides. State law may ask for more, and its age rule for children
comes first on its waters (33 CFR 175.25). Wear it: cold water leaves no time.`,
	Example: `{"boat":"canoe","length_ft":17,"ages":[41,12.99],"racing":false}`,
	Answer:  answerJackets,
}

const jacketsNote = "exempt from carriage under federal law; state law and the jacket's label decide, and those under 13 must wear one"

type jacketsAnswer struct {
	Wearable  int    `json:"wearable"`
	Throwable int    `json:"throwable"`
	MustWear  int    `json:"must_wear"`
	Note      string `json:"note,omitempty"`
}

func answerJackets(in *Object) (any, error) {
	outing := jackets.Outing{
		Boat:       jackets.Boat(in.Text("boat", "canoe", "kayak", "board", "raft", "rowboat", "sailboard")),
		LengthFeet: in.Float("length_ft"),
		Ages:       in.Floats("ages"),
		Racing:     in.BoolOr("racing", false),
	}
	if err := in.Done(); err != nil {
		return nil, err
	}
	rule, err := jackets.For(outing)
	if err != nil {
		return nil, err
	}
	answer := jacketsAnswer{Wearable: rule.Wearable, Throwable: rule.Throwable, MustWear: rule.MustWear}
	if rule.Exempt {
		answer.Note = jacketsNote
	}
	return answer, nil
}
