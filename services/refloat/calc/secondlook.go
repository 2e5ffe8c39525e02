package calc

import (
	"refloat.example/pkg/defects"
)

var secondLookCalculator = Calculator{
	Name:    "second-look",
	Summary: "how many defects two independent inspectors both missed",
	Explain: `
Formula: n1, n2 defects found by each, m by both
  distinct = n1 + n2 - m
  estimate = (n1 + 1)(n2 + 1) / (m + 1) - 1
  variance = (n1 + 1)(n2 + 1)(n1 - m)(n2 - m) / ((m + 1)^2 (m + 2)), se its root
  missed   = estimate - distinct
  low, high = distinct + missed / C, distinct + missed x C
              with C = exp(1.96 sqrt(ln(1 + variance / missed^2)))

Source: Chapman 1951 (estimate) and Seber (variance); Chao (log-normal interval
on the unseen; 1987, from memory); Briand and others, IEEE Transactions on Software Engineering 26(6),
2000, for inspections.

Limits: one closed list, two people who did not talk, defects equally easy to see,
no false alarms. Hidden defects and talking make the estimate too low. A prompt to
look again, not a count; shown only when both found at least 3 in common. A zero
spread proves nothing.`,
	Example: `{"first":17,"second":13,"both":9}`,
	Answer:  answerSecondLook,
}

type secondLookAnswer struct {
	Distinct int64   `json:"distinct"`
	Estimate float64 `json:"estimate"`
	Variance float64 `json:"variance"`
	SE       float64 `json:"se"`
	Missed   float64 `json:"missed"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Shown    bool    `json:"shown"`
	Reason   *string `json:"reason"`
}

func answerSecondLook(in *Object) (any, error) {
	first, second, both := in.Int("first"), in.Int("second"), in.Int("both")
	if err := in.Done(); err != nil {
		return nil, err
	}
	e, err := defects.SecondLook(first, second, both)
	if err != nil {
		return nil, err
	}
	return secondLookAnswer{
		Distinct: e.Distinct,
		Estimate: e.Total,
		Variance: e.Variance,
		SE:       e.SE(),
		Missed:   e.Missed,
		Low:      e.Low,
		High:     e.High,
		Shown:    e.Shown(),
		Reason:   nullIfZero(e.Reason()),
	}, nil
}
