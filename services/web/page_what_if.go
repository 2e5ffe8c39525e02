package web

import (
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// whatIfPage compares a round with what it would be if boats were held back and
// the club did something for every household. What is asked stands in the address,
// so that it can be passed on.
type whatIfPage struct {
	Frame
	Round    string
	Boats    []roundBoat
	Measures []message.MeasureEffect
	Asked    message.WhatIf
	Tiers    []whatIfTier
}

// whatIfTier counts who would be served of one tier.
type whatIfTier struct{ Tier, Of, Now, Then int }

// Held and Taken say what is asked.
func (p whatIfPage) Held(id boat.ID) bool      { return slices.Contains(p.Asked.HoldBack, id) }
func (p whatIfPage) Taken(measure string) bool { return slices.Contains(p.Asked.Measures, measure) }

// Now, Then and More add up tiers.
func (p whatIfPage) Now() int  { return p.sum(func(t whatIfTier) int { return t.Now }) }
func (p whatIfPage) Then() int { return p.sum(func(t whatIfTier) int { return t.Then }) }
func (p whatIfPage) More(m message.MeasureEffect) int {
	n := -p.Now()
	for _, served := range m.Served {
		n += served
	}
	return n
}

func (p whatIfPage) sum(of func(whatIfTier) int) (n int) {
	for _, t := range p.Tiers {
		n += of(t)
	}
	return n
}

func (v *visit) whatIf() error {
	r, err := find[Round](v.ctx, v.Site, "round", v.param("round"), "round")
	if err != nil {
		return err
	}
	p := whatIfPage{Frame: v.frame("What if"), Round: r.ID, Asked: message.WhatIf{Round: r.ID}}
	q := v.r.URL.Query()
	p.Asked.Measures = q["do"]
	for _, id := range q["without"] {
		p.Asked.HoldBack = append(p.Asked.HoldBack, boat.ID(id))
	}
	answer, err := ask[message.WhatIfAnswer](v, p.Asked)
	if err != nil {
		return err
	}
	p.Measures = answer.Measures
	boats, err := v.boatsNamed(r.Opened.Boats)
	if err != nil {
		return err
	}
	for _, id := range r.Opened.Boats {
		p.Boats = append(p.Boats, roundBoat{id, boats[id].Name})
	}
	for i := range answer.Now {
		p.Tiers = append(p.Tiers, whatIfTier{Tier: i + 1, Now: answer.Now[i], Then: answer.Then[i]})
	}
	for _, request := range r.Opened.Requests {
		if i := request.Tier - 1; i < len(p.Tiers) {
			p.Tiers[i].Of++
		}
	}
	p.Tiers = slices.DeleteFunc(p.Tiers, func(t whatIfTier) bool { return t.Of == 0 })
	return v.show("what_if", p)
}
