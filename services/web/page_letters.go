package web

import (
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// linkers are those who send private links, and so letters.
var linkers = only(people.Coordinator, people.Treasurer, people.Administrator)

func lettersRoutes() []route {
	return []route{get("/letters", linkers, (*visit).lettersPage)}
}

// lettersPage lists the letters of which nobody knows whether they left.
type lettersPage struct {
	Frame
	Letters []message.LetterFound
}

// letterWords say what a letter of a sort brings.
var letterWords = map[string]string{
	"request": "The private link to a request", "papers": "The private link to a donor's papers",
	"paper": "Word that a paper is there", "offer": "An offer of a boat", "deadlines": "Word that something about donors' papers falls due",
}

// Words say what a letter brings.
func (lettersPage) Words(sort string) string {
	if words, ok := letterWords[sort]; ok {
		return words
	}
	return "A letter"
}

func (v *visit) lettersPage() error {
	found, err := ask[message.LettersFound](v, message.UnsettledLetters{})
	if err != nil {
		return err
	}
	return v.show("letters", lettersPage{v.frame("Letters that may not have left"), found.Letters})
}

func lettersActs() []act {
	settle := func(name, path, title, button, done, words string, again bool) act {
		return act{
			name: name, path: path, may: linkers, title: title, button: button, done: done, words: words,
			command: func() desk.Commanded { return &message.SettleLetter{} },
			fields:  func(*visit) ([]Section, error) { return nil, nil },
			finish: func(_ *visit, command desk.Commanded) error {
				settle, ok := command.(*message.SettleLetter)
				if !ok {
					return fault.New(fault.Internal, "another order")
				}
				settle.Again = again
				return nil
			},
			to: func(*visit, desk.Commanded) string { return "/letters" },
		}
	}
	return []act{
		settle("send-letter-again", "/letters/{letter}/again", "Send a letter once more", "Send it once more", "The letter is sent once more.",
			"It may have arrived already: then its reader gets the same letter twice. Ask them first where you can.", true),
		settle("leave-letter", "/letters/{letter}/leave", "Leave a letter as it is", "Leave it", "The letter is left as it is.",
			"Choose this when its reader says that it arrived, or when it is of no use any more.", false),
	}
}

// unsettled is a task while letters wait for somebody's word. It is not worth a
// fault on the first page when the room does not answer.
func (v *visit) unsettled() ([]task, error) {
	found, err := ask[message.LettersFound](v, message.UnsettledLetters{})
	if n := len(found.Letters); err == nil && n > 0 {
		return []task{{"unsettled-letters", count(n, "letter may not have left", "letters may not have left"), "/letters"}}, nil
	}
	return nil, nil
}
