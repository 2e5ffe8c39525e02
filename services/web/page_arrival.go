package web

import (
	"fmt"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

func arrivalActs() []act {
	return []act{
		{
			name: "show-right", path: "/boats/{boat}/right", may: stewards, title: "By what right it is given", button: "Record the paper", done: "The right is recorded.",
			part: partDecision, label: "Record the giver's right", fits: undecided,
			words:   "Look at the paper and keep it, or a copy, in the club's folder. The book says which paper it is and of which day. No boat is accepted without.",
			command: func() desk.Commanded { return &message.ShowRight{} },
			start:   func(v *visit) (any, error) { return message.ShowRight{Right: v.boat.Right}, nil },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{one("right", "What entitles the giver", words(message.Rights)).Needed(), paperField("paper").Needed(), paperDay("on").Needed(), area("words", "Words").With("No names.")}}}, nil
			},
		},
		{
			name: "state-intent", path: "/boats/{boat}/intent", may: stewards, title: "What the giver wrote", button: "Write it down", done: "The giver's intent is written down.",
			part: partDecision, label: "The giver's intent", fits: func(b *Boat) bool { return undecided(b) && b.Taking == message.Gift },
			words:   "A gift has the giver's intent in writing. If they bind it to something, the club keeps to that or does not take the boat.",
			command: func() desk.Commanded { return &message.StateIntent{} },
			start: func(v *visit) (any, error) {
				if v.boat.Intent == nil {
					return nil, nil
				}
				return message.StateIntent{GiftIntent: v.boat.Intent.GiftIntent}, nil
			},
			fields: func(*visit) ([]Section, error) { return []Section{{Fields: intentFields("")}}, nil },
		},
		{
			name: "note-registration", path: "/boats/{boat}/registration", may: stewards, title: "State registration or title", button: "Write it down", done: "The registration is written down.",
			part: partFacts, label: "Registration or title", fits: notDeclined,
			words:   "Many states ask for neither for a boat that is only paddled. Where there is one, the transfer goes through that authority, too.",
			command: func() desk.Commanded { return &message.NoteRegistration{} },
			start: func(v *visit) (any, error) {
				if v.boat.Registration == nil {
					return nil, nil
				}
				return message.NoteRegistration{Registration: v.boat.Registration.Registration}, nil
			},
			fields: func(*visit) ([]Section, error) { return []Section{{Fields: registrationFields("")}}, nil },
		},
		{
			name: "raise-doubt", path: "/boats/{boat}/doubt", may: anyMember, title: "Whose boat is it?", button: "Write it down", done: "The doubt is written down. An administrator decides.",
			part: partDecision, label: "Doubt whose it is", fits: notHere,
			words:   "Until an administrator has settled it, the boat is neither accepted nor received. Write what was seen or heard, and name nobody.",
			command: func() desk.Commanded { return &message.RaiseDoubt{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{fresh("doubt"), one("about", "What it is", words(message.TellableDoubts)).Needed(), area("words", "What was seen or heard").Needed()}}}, nil
			},
		},
		{
			name: "settle-doubt", path: "/boats/{boat}/doubts/{doubt}/settle", may: administrators, title: "Settle a doubt", button: "It does not stand against the boat", done: "The doubt is settled.", weighty: true,
			words:   "Settle it only when you have asked: the maker or the state about the number, the police about a report. If the doubt stands, the boat is declined, and the police say what to do with it.",
			command: func() desk.Commanded { return &message.SettleDoubt{} },
			fields: func(v *visit) ([]Section, error) {
				if _, ok := in(v.boat.Doubts, func(d *Doubt) bool { return d.Doubt == v.param("doubt") }); !ok {
					return nil, fault.New(fault.Unknown, "There is no such doubt about this boat.")
				}
				return []Section{{Fields: []Field{area("words", "What was found out, and where it was asked").Needed()}}}, nil
			},
		},
		{
			name: "note-possession", path: "/boats/{boat}/possession", may: stewards, title: "The boat is here", button: "It is here", done: "It is written down since when the boat is here.",
			part: partDecision, label: "The boat is here", fits: func(b *Boat) bool { return notHere(b) && b.Possession.IsZero() },
			words:   "Since when the club has it in its hands. It is the club's when the transfer is signed, too.",
			command: func() desk.Commanded { return &message.NotePossession{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{day("on", "Day on which the club got the boat").Needed()}}}, nil
			},
		},
		{
			name: "sign-transfer", path: "/boats/{boat}/transfer", may: stewards, title: "The transfer is signed", button: "It is signed", done: "It is written down when the transfer was signed.",
			part: partDecision, label: "The transfer is signed", fits: func(b *Boat) bool { return b.State == Accepted && b.Signed.IsZero() },
			words:   "The boat is the club's on the later of two days: that on which it came, and that on which this was signed.",
			command: func() desk.Commanded { return &message.SignTransfer{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{day("on", "Day on which the transfer was signed").Needed()}}}, nil
			},
		},
	}
}

// paperField offers every paper, with the right that it belongs to.
func paperField(name string) Field {
	var options []Option
	for _, right := range message.Rights {
		for _, paper := range message.RightPapers[right] {
			options = append(options, Option{paper, paper + " (" + right + ")"})
		}
	}
	return one(name, "What was shown", options)
}

func paperDay(name string) Field {
	return day(name, "Day of the paper").With("For found property: the day on which it was found.")
}

func intentFields(under string) []Field {
	return []Field{
		day(under+"on", "Day on which the giver wrote it").Needed(),
		area(under+"restriction", "What the gift is bound to").With("In the club's words, without names. Nothing, if it is bound to nothing."),
	}
}

func registrationFields(under string) []Field {
	return []Field{
		text(under+"state", "State or authority").Needed(), text(under+"number", "Registration number").Fills("off"), text(under+"title", "Number of the title").Fills("off"),
	}
}

// paperSections asks, while a boat is logged, what may also be asked later.
func paperSections() []Section {
	return []Section{
		{Legend: "Papers that were shown", Fields: optional(paperField("shown.paper"), paperDay("shown.on"), area("shown.words", "Words on the paper").With("No names."))},
		{Legend: "What the giver of a gift wrote", Fields: optional(intentFields("intent.")...)},
		{Legend: "State registration or title", Fields: optional(registrationFields("registration.")...)},
		{Legend: "Something does not seem right", Words: "Until an administrator has settled it, the boat is not accepted.", Fields: []Field{
			some("doubts", "What it is", words(message.TellableDoubts)),
		}},
	}
}

// optional lets fields be left empty.
func optional(fields ...Field) []Field {
	for i := range fields {
		fields[i].Required = false
	}
	return fields
}

// maxAway bounds the choice of boats that come back to those that left last.
const maxAway = 300

// boatsAway lists the boats that can come back, for a choice, the last first.
func (v *visit) boatsAway() ([]Option, error) {
	rows, err := v.Pool.Query(v.ctx, `
		SELECT id, concat_ws(', ', name || ': ' || type, state, nullif(hull, ''))
		FROM web.boat WHERE state = ANY($1) AND later = '' ORDER BY position DESC LIMIT $2`, []State{Placed, Sold, Declined, Retired}, maxAway)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Option])
}

// sumArrival says what happened while a boat came.
func sumArrival(body message.Body) string {
	switch m := body.(type) {
	case message.RightShown:
		return fmt.Sprintf("Shown by what right it is given: %s (%s), of %s", m.Paper, m.Right, m.On)
	case message.IntentStated:
		if m.Restriction != "" {
			return fmt.Sprintf("The giver's intent of %s, bound to: %s", m.On, m.Restriction)
		}
		return fmt.Sprintf("The giver's intent of %s, bound to nothing", m.On)
	case message.RegistrationNoted:
		return "Registration or title noted: " + m.State
	case message.DoubtRaised:
		return "Doubted whose it is: " + string(m.About)
	case message.DoubtSettled:
		return "A doubt was settled: " + m.Words
	case message.BoatCameBack:
		return fmt.Sprintf("The boat came back: time %d with the club", m.Time)
	case message.PossessionNoted:
		return fmt.Sprintf("In the club's hands since %s", m.On)
	case message.TransferSigned:
		return fmt.Sprintf("Transfer signed on %s", m.On)
	}
	return ""
}
