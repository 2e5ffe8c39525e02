package message

import (
	"time"

	"refloat.example/pkg/people"
)

// LetterSettled is said when somebody decided about a letter of which nobody
// knows whether it left: the program died, or the mail server fell silent, after
// the letter was handed over and before its answer was there.
type LetterSettled struct {
	v1
	Letter string `json:"letter"` // its key
	Again  bool   `json:"again"`  // to be sent once more
}

// Kind is constant.
func (LetterSettled) Kind() Kind { return "people.letter-settled" }

var _ = declare[LetterSettled]()

// Letter is the stream of what was decided about a letter.
func Letter(key string) string { return "people.letter/" + key }

// SettleLetter decides about a letter of which nobody knows whether it left.
// Coordinators, treasurers and administrators.
type SettleLetter struct {
	Letter string `json:"letter"`
	Again  bool   `json:"again"`
}

// Verb is constant.
func (SettleLetter) Verb() string { return "people.settle-letter" }

// UnsettledLetters asks for the letters of which nobody knows whether they left,
// at most 200, the oldest first. Coordinators, treasurers and administrators. It
// answers with LettersFound.
type UnsettledLetters struct{}

// Verb is constant.
func (UnsettledLetters) Verb() string { return "people.unsettled-letters" }

// LettersFound holds letters.
type LettersFound struct {
	Letters []LetterFound `json:"letters"`
}

// LetterFound is a letter, without what it says.
type LetterFound struct {
	Letter  string    `json:"letter"`
	Sort    string    `json:"sort"` // request, papers, paper, offer
	Person  people.ID `json:"person"`
	TriedAt time.Time `json:"tried_at"`
}

// LetterOutcomes asks what became of letters, by their keys, at most 500. Coordinators,
// treasurers and administrators. It answers with OutcomesOfLetters.
type LetterOutcomes struct {
	Letters []string `json:"letters"`
}

// Verb is constant.
func (LetterOutcomes) Verb() string { return "people.letter-outcomes" }

// OutcomesOfLetters holds what became of the letters that there are.
type OutcomesOfLetters struct {
	Letters []LetterOutcome `json:"letters"`
}

// LetterOutcome is what became of a letter: "sent", or why it was not. A letter
// without one waits.
type LetterOutcome struct {
	Letter  string     `json:"letter"`
	Outcome string     `json:"outcome,omitempty"`
	At      *time.Time `json:"at,omitempty"`
}

// PaperLetter is the key of the letter that tells a donor of a paper.
func PaperLetter(paper string) string { return "paper-" + paper }

// LetterSent is the outcome of a letter that left.
const LetterSent = "sent"
