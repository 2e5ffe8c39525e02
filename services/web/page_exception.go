package web

import (
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// exceptionActs are the forms by which a treasurer attests what lets the value of a
// US gift count instead of its price.
func exceptionActs() []act {
	const (
		done = "It is written down; the donor's paper will certify it."
		law  = "For papers of the United States (IRC 170(f)(12), Notice 2005-44). The paper then certifies it, and the donor must have it within 30 days of the gift. A false certificate may cost the club a penalty (IRC 6720): ask an adviser where you are not sure."
	)
	return []act{
		{
			name: "state-improvement", path: "/boats/{boat}/improvement", may: treasurers, title: "Attest a material improvement", button: "Attest it", done: done,
			part: partPlacing, label: "Attest an improvement", fits: wantsPaper, words: law,
			command: func() desk.Commanded { return &message.StateImprovement{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					area("work", "What is done before the boat leaves the club").Needed().With("Parted by semicolons. Cleaning, cosmetic work, seats, cords, locks, minor repairs and maintenance do not count by themselves."),
					one("paid_by", "Who pays for it", words(message.Payers)).Needed().With("What the donor pays for does not count."),
					tick("major", "It is a major repair or addition that raises the value significantly"),
					day("on", "Day on which you attest it").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "state-use", path: "/boats/{boat}/use", may: treasurers, title: "Attest a significant use", button: "Attest it", done: done,
			part: partPlacing, label: "Attest the club’s use", fits: wantsPaper, words: law,
			command: func() desk.Commanded { return &message.StateUse{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					text("use", "What the club uses it for, and how often").Needed(),
					day("from", "From").Needed(), day("to", "Up to and including").Needed().With("The boat is not sold or passed on before this day."),
					tick("regular", "It furthers what the club does regularly"),
					tick("significant", "It is significant by its nature, extent, frequency and duration, and was meant so at the gift"),
					day("on", "Day on which you attest it").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "state-placement", path: "/boats/{boat}/placement", may: treasurers, title: "Attest a placement with a person in need", button: "Attest it", done: done,
			part: partPlacing, label: "Attest a placement in need", fits: wantsPaper, words: law + " It counts only for relief of people in need of a means of transportation: a boat for recreation does not clearly meet that, and an auction never does.",
			command: func() desk.Commanded { return &message.StatePlacement{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					text("price", "What the person pays").Needed().With("0 if nothing; otherwise significantly less than the boat is worth."),
					tick("transport_need", "The person is in need of a means of transportation, and the boat serves as one"),
					day("on", "Day on which you attest it").Needed().Starts(v.today().String()),
				}}}, nil
			},
		},
		{
			name: "withdraw-exception", path: "/boats/{boat}/withdraw-exception", may: treasurers, title: "Withdraw what was attested", button: "Withdraw it", done: "It is withdrawn.",
			part: partPlacing, label: "Withdraw what was attested", fits: func(b *Boat) bool { return len(b.Excepted) > 0 },
			words:   "A paper that certifies it stays as it was issued: cancel it, and ask an adviser what the club has to do.",
			command: func() desk.Commanded { return &message.WithdrawException{} },
			fields: func(v *visit) ([]Section, error) {
				var stated []message.Exception
				for _, e := range v.boat.Excepted {
					stated = append(stated, e.Sort)
				}
				return []Section{{Fields: []Field{one("sort", "What does not hold", words(stated)).Needed(), area("why", "Why").Needed()}}}, nil
			},
		},
	}
}
