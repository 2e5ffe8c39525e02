// Package jackets counts the life jackets that federal law wants aboard, and
// holds a used one against the conditions under which it counts.
//
// Source: 33 CFR 175.15 (one wearable for each person, a throwable from 16 feet,
// under 13 must wear), 175.17 (exemptions), 175.21 and 175.23 (serviceable
// condition). From memory: what counts as a racing canoe or kayak.
//
// It does not say whether a jacket fits a person or is approved for the use: its
// label decides that. State law may ask for more, and its own age rule for
// children comes first on its waters (175.25). A jacket that is not worn helps
// nobody.
package jackets

import (
	"fmt"
	"slices"

	"refloat.example/pkg/fault"
)

// Boat is a kind of craft as the rule tells them apart.
type Boat string

// The craft that the rule is asked about here.
const (
	Canoe     Boat = "canoe"
	Kayak     Boat = "kayak"
	Board     Boat = "board" // stand-up paddleboard: by the text neither canoe nor kayak
	Raft      Boat = "raft"
	Rowboat   Boat = "rowboat"
	Sailboard Boat = "sailboard"
)

const (
	throwableFromFeet = 16
	mayChooseFrom     = 13
)

// Outing is a boat and the people in it. Ages are in years, completed or with a
// fraction. Racing is a racing canoe, kayak, shell or scull with nobody aboard
// but its crew.
type Outing struct {
	Boat       Boat
	LengthFeet float64
	Ages       []float64
	Racing     bool
}

// Rule is what 33 CFR 175 subpart B asks of an outing.
type Rule struct {
	Wearable  int  // jackets that must be aboard
	Throwable int  // cushions or rings that must be aboard
	MustWear  int  // people under 13, who wear theirs under way
	Exempt    bool // from carriage, as a racing craft or sailboard
}

// For applies the rule. Faults name boat, length_ft, ages[i] or racing.
func For(o Outing) (Rule, error) {
	if err := o.check(); err != nil {
		return Rule{}, err
	}
	rule := Rule{MustWear: o.under(mayChooseFrom), Exempt: o.Racing || o.Boat == Sailboard}
	if rule.Exempt {
		return rule, nil
	}
	rule.Wearable = len(o.Ages)
	if o.LengthFeet >= throwableFromFeet && o.Boat != Canoe && o.Boat != Kayak {
		rule.Throwable = 1
	}
	return rule, nil
}

func (o Outing) under(age float64) int {
	n := 0
	for _, a := range o.Ages {
		if a < age {
			n++
		}
	}
	return n
}

func (o Outing) check() error {
	if !slices.Contains([]Boat{Canoe, Kayak, Board, Raft, Rowboat, Sailboard}, o.Boat) {
		return fault.Field("boat", "must be canoe, kayak, board, raft, rowboat or sailboard")
	}
	if !(o.LengthFeet > 0) {
		return fault.Field("length_ft", "must be greater than 0")
	}
	for i, age := range o.Ages {
		if !(age >= 0) {
			return fault.Field(fmt.Sprintf("ages[%d]", i), "must not be negative")
		}
	}
	if o.Racing && o.Boat != Canoe && o.Boat != Kayak && o.Boat != Rowboat {
		return fault.Field("racing", "is for canoes, kayaks and rowboats alone")
	}
	return nil
}
