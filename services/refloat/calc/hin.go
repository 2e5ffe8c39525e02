package calc

import "refloat.example/pkg/hin"

var hinCalculator = Calculator{
	Name:    "hin",
	Summary: "read a hull identification number",
	Explain: `
Formula: characters 1-3 maker, 4-8 serial (no I, O or Q), then
  current       month A-L, last digit of the year, two-digit model year
                (84-99 are 19xx, 00-83 are 20xx; the year built is the latest
                up to the model year that ends in the digit)
  straight-year two-digit month, two-digit year
  model-year    M, two-digit model year, month A (August of the year before) to
                L (July)
  In the old formats 72-99 are 19xx, the rest 20xx. A two-letter country may
  stand in front, with or without a hyphen.

Source: 33 CFR 181.23, 181.25, 181.27 (text of September 2024); published decoder
articles for the formats of November 1972 to July 1984; ISO 10087 (2022) for other
countries. The model year's bounds of 33 CFR 181.3 are from memory and give rise
to notices only.

Limits: a well-formed number is not proof of anything; no register is asked.
Numbers of other countries are not dated. A boat built before 1 November 1972
need have none. Never restamp or remove a number (33 CFR 181.35, from memory).`,
	Example: `{"hin":"XYZ12345L495"}`,
	Answer: func(in *Object) (any, error) {
		text := in.Text("hin")
		if err := in.Done(); err != nil {
			return nil, err
		}
		return hinAnswerOf(hin.Decode(text)), nil
	},
}

type hinProblem struct {
	Position int    `json:"position"`
	Reason   string `json:"reason"`
}

type hinAnswer struct {
	Valid       bool         `json:"valid"`
	Format      *hin.Format  `json:"format"`
	Country     *string      `json:"country"`
	Maker       *string      `json:"maker"`
	Serial      *string      `json:"serial"`
	Built       *string      `json:"built"`
	ModelYear   *int         `json:"model_year"`
	StateIssued bool         `json:"state_issued"`
	Normalised  *string      `json:"normalised"`
	Problem     *hinProblem  `json:"problem"`
	Notices     []hin.Notice `json:"notices"`
}

func hinAnswerOf(n hin.Number) hinAnswer {
	answer := hinAnswer{
		Valid:       n.Valid(),
		Format:      nullIfZero(n.Format),
		Country:     nullIfZero(n.Country),
		Maker:       nullIfZero(n.Maker),
		Serial:      nullIfZero(n.Serial),
		Built:       nullIfZero(n.Built.String()),
		ModelYear:   nullIfZero(n.ModelYear),
		StateIssued: n.StateIssued,
		Normalised:  nullIfZero(n.Normalised),
		Notices:     append([]hin.Notice{}, n.Notices...),
	}
	if n.Problem != nil {
		answer.Problem = &hinProblem{n.Problem.Position, n.Problem.Reason}
	}
	return answer
}
