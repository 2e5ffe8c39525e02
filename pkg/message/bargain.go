package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/money"
)

// Answers of a seller to a price, as AnswerNoted.Answer.
const (
	Countered = "asks for another price"
	Refuses   = "refuses"
	Agrees    = "agrees"
	Withdraws = "withdraws the boat"
)

// SellersAnswers lists what a seller may say.
var SellersAnswers = []string{Countered, Agrees, Refuses, Withdraws}

// AnswerNoted is said when the seller answered: the other half of a negotiation,
// beside PriceOffered. It decides nothing.
type AnswerNoted struct {
	v1
	Boat   boat.ID `json:"boat"`
	Answer string  `json:"answer"`
	// Price is what the seller asks for now, or agrees to; zero otherwise.
	Price money.Amount `json:"price"`
	// Ceiling is the offer ceiling in force, when one is.
	Ceiling money.Amount `json:"ceiling"`
	Words   string       `json:"words,omitempty"`
}

// Kind is constant.
func (AnswerNoted) Kind() Kind { return "intake.answer-noted" }

var _ = declare[AnswerNoted]()

// NoteAnswer writes down what the seller answered. A steward or an administrator.
type NoteAnswer struct {
	Boat   boat.ID      `json:"boat"`
	Answer string       `json:"answer"`
	Price  money.Amount `json:"price"`
	Words  string       `json:"words,omitempty"`
}

// Verb is constant.
func (NoteAnswer) Verb() string { return "intake.note-answer" }
