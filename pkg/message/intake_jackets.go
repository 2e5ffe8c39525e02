package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/jackets"
)

// JacketChecked is said when somebody has held a life jacket that came with a
// boat against the conditions of a serviceable one. The first time writes it
// down; each later one takes the place of the one before. Without it nobody may
// pass the jacket on. It says nothing of whom it fits.
type JacketChecked struct {
	v1
	Boat   boat.ID      `json:"boat"`
	Jacket string       `json:"jacket"` // its id
	Sort   jackets.Sort `json:"sort"`
	Marked string       `json:"marked,omitempty"` // size and use as its label says
	// Failing and Unchecked are ids of checks.
	Failing   []string `json:"failing,omitempty"`
	Unchecked []string `json:"unchecked,omitempty"`
	Words     string   `json:"words,omitempty"`
}

// Serviceable says whether every condition was looked at and is in order.
func (j JacketChecked) Serviceable() bool { return len(j.Failing)+len(j.Unchecked) == 0 }

// Kind is constant.
func (JacketChecked) Kind() Kind { return "intake.jacket-checked" }

// JacketWay is what became of a life jacket.
type JacketWay string

// The ways. Only the first two are open to one that is not serviceable, and the
// second only as long as the boat is its giver's.
const (
	JacketDestroyed JacketWay = "cut up and thrown away"
	JacketReturned  JacketWay = "given back to its giver, who was told what fails"
	JacketKept      JacketWay = "kept by the club"
	JacketPassedOn  JacketWay = "goes on with the boat"
)

// JacketWays lists the ways in the order in which pages show them.
var JacketWays = []JacketWay{JacketDestroyed, JacketReturned, JacketKept, JacketPassedOn}

// JacketGone is said when a life jacket that came with a boat has found its end,
// or its place. Nothing is said of it afterwards.
type JacketGone struct {
	v1
	Boat   boat.ID   `json:"boat"`
	Jacket string    `json:"jacket"`
	Way    JacketWay `json:"way"`
	Words  string    `json:"words,omitempty"`
}

// Kind is constant.
func (JacketGone) Kind() Kind { return "intake.jacket-gone" }

var (
	_ = declare[JacketChecked]()
	_ = declare[JacketGone]()
)

// The commands about life jackets that came with a boat. They are a steward's or
// a repairer's.
type (
	// JacketAnswer is an answer to one check.
	JacketAnswer struct {
		Check  string         `json:"check"`
		Answer jackets.Answer `json:"answer"`
	}
	// CheckJacket writes down a jacket, or checks one anew. What is not answered
	// could not be checked.
	CheckJacket struct {
		Boat    boat.ID        `json:"boat"`
		Jacket  string         `json:"jacket"`
		Sort    jackets.Sort   `json:"sort"`
		Marked  string         `json:"marked,omitempty"`
		Answers []JacketAnswer `json:"answers"`
		Words   string         `json:"words,omitempty"`
	}
	// EndJacket says what became of a jacket.
	EndJacket struct {
		Boat   boat.ID   `json:"boat"`
		Jacket string    `json:"jacket"`
		Way    JacketWay `json:"way"`
		Words  string    `json:"words,omitempty"`
	}
)

// Verb is constant.
func (CheckJacket) Verb() string { return "intake.check-jacket" }

// Verb is constant.
func (EndJacket) Verb() string { return "intake.end-jacket" }
