package web

import (
	"fmt"
	"slices"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
)

const partJackets = "jackets"

// Jacket is a life jacket that came with a boat.
type Jacket struct {
	message.JacketChecked
	On   time.Time           `json:"on"` // of the last check
	By   string              `json:"by"` // actor
	Gone *message.JacketGone `json:"gone,omitempty"`
}

// Troubles says what stands against passing the jacket on, each with its source.
func (j Jacket) Troubles() []string {
	var list []string
	for _, id := range j.Failing {
		if c, ok := jackets.FindCheck(id); ok {
			list = append(list, c.Fails+" ("+c.Source+")")
		}
	}
	for _, id := range j.Unchecked {
		if c, ok := jackets.FindCheck(id); ok {
			list = append(list, "Could not be checked: “"+c.Fails+"” ("+c.Source+")")
		}
	}
	return list
}

// foldJackets follows the life jackets that came with a boat.
func (b *Boat) foldJackets(e message.Event, body message.Body) {
	find := func(id string) (*Jacket, bool) {
		return in(b.Jackets, func(j *Jacket) bool { return j.Jacket == id })
	}
	switch m := body.(type) {
	case message.JacketChecked:
		checked := Jacket{JacketChecked: m, On: e.HappenedAt, By: e.Actor}
		if j, ok := find(m.Jacket); ok {
			*j = checked
			return
		}
		b.Jackets = append(b.Jackets, checked)
	case message.JacketGone:
		if j, ok := find(m.Jacket); ok {
			j.Gone = &m
		}
	}
}

// badJackets says whether a jacket lies with the boat that may not go on.
func (b *Boat) badJackets() bool {
	return slices.ContainsFunc(b.Jackets, func(j Jacket) bool { return j.Gone == nil && !j.Serviceable() })
}

func jacketActs() []act {
	const how = "Take the jacket in your hands and test each point. One that fails, or of which something could not be checked, is never passed on. That it passes is true of today; whom it fits, its label says."
	var list []act
	for _, sort := range jackets.Sorts {
		list = append(list, act{
			name: string(sort) + "-jacket", path: "/boats/{boat}/jackets/" + string(sort), may: movers, keep: true,
			title: fmt.Sprintf("A life jacket came with it: %s", sort), button: "Write it down", done: "The life jacket is written down.",
			part: partJackets, label: "A life jacket came with it: " + string(sort), fits: func(b *Boat) bool { return !b.Ended() || b.State == Declined },
			words: how, command: func() desk.Commanded { return &message.CheckJacket{Sort: sort} },
			fields: func(*visit) ([]Section, error) { return checkSections(sort, fresh("jacket")), nil },
		})
	}
	return append(list,
		act{
			name: "check-jacket", path: "/boats/{boat}/jackets/{jacket}/check", may: movers, keep: true,
			title: "Check the life jacket anew", button: "Write it down", done: "The life jacket is checked.",
			words: how, command: func() desk.Commanded { return &message.CheckJacket{} },
			fields: func(v *visit) ([]Section, error) {
				j, err := v.jacket()
				return checkSections(j.Sort), err
			},
			finish: func(v *visit, command desk.Commanded) error {
				j, err := v.jacket()
				command.(*message.CheckJacket).Sort = j.Sort
				return err
			},
			start: func(v *visit) (any, error) {
				j, err := v.jacket()
				return message.CheckJacket{Marked: j.Marked}, err
			},
		},
		act{
			name: "end-jacket", path: "/boats/{boat}/jackets/{jacket}/end", may: movers, weighty: true,
			title: "What became of the life jacket?", button: "Write it down", done: "It is written down what became of the life jacket.",
			words:   "Cut a jacket that fails right through, straps too, so that nobody takes it out of the bin. A cartridge goes where the place takes gas cartridges.",
			command: func() desk.Commanded { return &message.EndJacket{} },
			fields: func(v *visit) ([]Section, error) {
				j, err := v.jacket()
				return []Section{{Fields: []Field{one("way", "What became of it", words(j.ways(v.boat))).Needed(), area("words", "In words").With("No names.")}}}, err
			},
		},
	)
}

// ways gives what may become of a jacket.
func (j Jacket) ways(b *Boat) []message.JacketWay {
	return slices.DeleteFunc(slices.Clone(message.JacketWays), func(w message.JacketWay) bool {
		stays := w == message.JacketKept || w == message.JacketPassedOn
		return stays && !j.Serviceable() || w == message.JacketReturned && b.Received != nil
	})
}

// jacket gives the jacket that the address names.
func (v *visit) jacket() (Jacket, error) {
	j, ok := in(v.boat.Jackets, func(j *Jacket) bool { return j.Jacket == v.param("jacket") })
	if !ok {
		return Jacket{}, fault.New(fault.Unknown, "No such life jacket came with this boat.")
	}
	return *j, nil
}

// checkOptions are answers to "this is so".
var checkOptions = []Option{
	{string(jackets.Holds), "No, it is in order"}, {string(jackets.Fails), "Yes, it fails"}, {string(jackets.CouldNotBeSeen), "Could not be checked"},
}

// checkSections asks for every condition of a sort of jacket.
func checkSections(sort jackets.Sort, hidden ...Field) []Section {
	sections := []Section{{Fields: append(hidden, text("marked", "Size and use, as its label says").With("Like: adult medium, for paddling."))}}
	for i, c := range jackets.Checks(sort) {
		at := fmt.Sprintf("answers[%d].", i)
		sections = append(sections, Section{Fields: []Field{preset(at+"check", c.ID), one(at+"answer", c.Fails, checkOptions).Needed().Starts(string(jackets.CouldNotBeSeen)).With(c.How + " (" + c.Source + ")")}})
	}
	return append(sections, Section{Fields: []Field{area("words", "In words").With("No names.")}})
}

// sumJackets says what happened to life jackets.
func sumJackets(body message.Body) string {
	switch m := body.(type) {
	case message.JacketChecked:
		switch {
		case len(m.Failing) > 0:
			return fmt.Sprintf("A life jacket that came with it (%s) was checked: it fails", m.Sort)
		case len(m.Unchecked) > 0:
			return fmt.Sprintf("A life jacket that came with it (%s) was checked in part", m.Sort)
		}
		return fmt.Sprintf("A life jacket that came with it (%s) was checked: serviceable on that day", m.Sort)
	case message.JacketGone:
		return "What became of a life jacket: " + string(m.Way)
	}
	return ""
}
