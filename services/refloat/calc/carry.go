package calc

import "refloat.example/pkg/lift"

var carryCalculator = Calculator{
	Name:    "carry",
	Summary: "how many people a hull asks for, or a cart",
	Explain: `
Formula: total = hull + 1 kg for each litre of water left in it; one, two and three
people may carry 1, 4/3 and 3/2 times what each may lift; team is the smallest that
the total does not exceed, compared without rounding; beyond three, use a cart. One
end, the other resting: half of the total.

Source: guidance of the Health and Safety Executive on the Manual Handling
Operations Regulations 1992 (two: two thirds of the sum, three: half of the sum);
the end lift is the law of the lever with the centre of mass amidships.

Limits: to apply these factors to a limit of the lifting equation is our proposal;
that equation does not cover carrying. Drain the hull first: water in it moves. On
steps and slopes the lower people bear most. People differ; ask before lifting.`,
	Example: `{"mass_kg":24,"water_l":0,"each_kg":12.65}`,
	Answer:  answerCarry,
}

const carryNote = "a proposal: the factors are guidance for teams of equal strength and no part of the lifting equation, which does not cover carrying; drain the hull first"

type carryAnswer struct {
	Total     float64    `json:"total_kg"`
	TeamLimit [3]float64 `json:"team_limit_kg"`
	Team      *int       `json:"team"`
	EndLift   float64    `json:"end_lift_kg"`
	NeedsCart bool       `json:"needs_cart"`
	Note      string     `json:"note"`
}

func answerCarry(in *Object) (any, error) {
	hull, water, each := in.Float("mass_kg"), in.Float("water_l"), in.Float("each_kg")
	if err := in.Done(); err != nil {
		return nil, err
	}
	c, err := lift.Carry(hull, water, each)
	if err != nil {
		return nil, err
	}
	return carryAnswer{
		Total:     c.Total,
		TeamLimit: c.TeamLimit,
		Team:      nullIfZero(c.Team),
		EndLift:   c.EndLift,
		NeedsCart: c.Team == 0,
		Note:      carryNote,
	}, nil
}
