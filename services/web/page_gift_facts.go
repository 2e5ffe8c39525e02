package web

import (
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// giftFactActs are the forms for what a paper states besides the boat: what the donor
// got in return, an appraisal, and similar items given elsewhere.
func giftFactActs() []act {
	const done = "It is written down; the donor’s paper goes by it."
	return []act{
		{
			name: "state-benefit", path: "/boats/{boat}/benefit", may: treasurers, title: "What the donor got in return", button: "Write it down", done: done,
			part: partPlacing, label: "Note what the donor got", fits: wantsPaper, shared: true,
			words:   "Goods, services or a token that the club gave for this boat; not money that it paid, which is known. The paper describes it with its value. In the United States a gift of more than 75 USD then carries the disclosure of IRC 6115; in Canada the advantage is taken off (ITA 248(31)). This is no tax advice: the donor’s adviser decides.",
			command: func() desk.Commanded { return &message.StateBenefit{} },
			start: func(v *visit) (any, error) {
				if v.boat.Benefit == nil {
					return nil, nil
				}
				return v.boat.Benefit, nil
			},
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					one("what", "What it was", words(message.Returns)).Needed(),
					text("words", "Describe it").With("As it should stand on the paper, without names."),
					text("value", "What it is worth").With("Estimated in good faith."),
					text("cost", "What it cost the club").With("For a token; leave it empty when it is not known."),
					tick("logo", "The club’s name or emblem is on it"),
					day("on", "Day").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "state-appraisal", path: "/boats/{boat}/appraisal", may: treasurers, title: "An independent appraisal", button: "Write it down", done: done,
			part: partPlacing, label: "Note an appraisal", fits: wantsPaper,
			words:   "What somebody independent of the donor and the club found. A Canadian receipt names the appraiser; above 1,000 CAD an appraisal is strongly recommended there (Canada Revenue Agency). A paper of the United States states no value. Leave all but the day empty to take an appraisal back. This is no tax advice: the donor’s adviser decides.",
			command: func() desk.Commanded { return &message.StateAppraisal{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					text("value", "The value that was found"), text("by", "The appraiser’s name").Fills("off"), text("address", "The appraiser’s address").Fills("off"),
					day("on", "Day of the appraisal").Needed(),
				}}}, nil
			},
		},
		{
			name: "state-similar", path: "/boats/{boat}/similar", may: treasurers, title: "Similar items of the year", button: "Write it down", done: done,
			part: partPlacing, label: "Note similar items", fits: wantsPaper,
			words:   "For forms of the United States: what the donor claims this year for similar items given to anybody (IRC 170(f)(11)(F)). Together with this boat they decide which section of Form 8283 the donor needs. This is no tax advice: the donor’s adviser decides.",
			command: func() desk.Commanded { return &message.StateSimilar{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					text("amount", "What the donor claims for them in all").Needed().With("0 if there are none."),
					day("on", "Day of the answer").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
	}
}
