package matching

import (
	"context"
	"slices"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// A coordinator may want a pair to stand, or not to, for a reason that no rule knows.
// They write it down before the list is frozen, when nobody knows the lottery, and
// whoever approves the round reads it.

// maxRulings bounds the rulings of a round.
const maxRulings = 100

func (s *service) rulePair(ctx context.Context, o desk.Order[message.RulePair]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(
		desk.GoodID("round", c.Round), desk.GoodID("boat", c.Boat), desk.GoodID("request", c.Request),
		boat.Known("how", c.How, []string{message.RuledIn, message.RuledOut, message.RuledNot}),
		needed("why", c.Why, "say why; whoever approves the round reads it"),
	)
	if err != nil {
		return desk.Decision{}, err
	}
	r, at, err := desk.Load[round](ctx, s.Log, message.MatchingRound(c.Round))
	if err == nil {
		err = r.mayRule(c)
	}
	if err == nil {
		_, err = s.boat(ctx, c.Boat)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	if _, _, err := s.standing(ctx, o.Caller, c.Request); err != nil {
		return desk.Decision{}, err
	}
	if err := s.notTheirOwn(ctx, o.Actor.Person, c.Request); err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", message.PairRuled{Round: c.Round, Boat: c.Boat, Request: c.Request, How: c.How, Why: c.Why})
}

func (r *round) mayRule(c message.RulePair) error {
	same := func(p ruled) bool { return p.Boat == c.Boat && p.Request == c.Request }
	others := slices.DeleteFunc(slices.Clone(r.rulings), func(p ruled) bool { return p.How != message.RuledIn || same(p) })
	switch {
	case len(r.secrets) == 0:
		return desk.Unknown("round", "no round was started under this id")
	case r.opened != nil:
		return desk.Conflict("round", "the list of this round is frozen; rule on pairs before that, in the next round")
	case r.one != "":
		return desk.Conflict("round", "a round for one boat takes every request as it is; rule on pairs in a round of many")
	case len(r.rulings) >= maxRulings && !slices.ContainsFunc(r.rulings, same) && c.How != message.RuledNot:
		return desk.Conflict("round", "a round takes at most %d rulings", maxRulings)
	case c.How == message.RuledIn && slices.ContainsFunc(others, func(p ruled) bool { return p.Boat == c.Boat }):
		return fault.Field("boat", "this boat is to stay with another request already; take that back first")
	case c.How == message.RuledIn && slices.ContainsFunc(others, func(p ruled) bool { return p.Request == c.Request }):
		return fault.Field("request", "this request is to get another boat already; take that back first")
	}
	return nil
}

// ruledBy says whether somebody made a ruling that stands: it is read by a second
// member, who may not be the same.
func (r *round) ruledBy(by people.Actor) bool {
	return slices.ContainsFunc(r.rulings, func(p ruled) bool { return p.by == by.String() })
}

// ruled gives the pairs of a round that are ruled in or out.
func (d draw) ruled(how string) []assign.Couple {
	var list []assign.Couple
	for _, p := range d.rulings {
		if p.How == how {
			list = append(list, couple(p.Boat, p.Request))
		}
	}
	return list
}

// pins gives what stays: what was accepted, and the pairs that are ruled in, fit, and
// did not come to nothing.
func (d draw) pins(rows []assign.Pair) []assign.Couple {
	pins := slices.Clone(d.fates.accepted)
	for _, p := range d.ruled(message.RuledIn) {
		fit := slices.ContainsFunc(rows, func(r assign.Pair) bool { return r.Boat == p.Boat && r.Applicant == p.Applicant })
		if fit && !d.fates.hasBoat(p.Boat) && !d.fates.hasRequest(p.Applicant) && !slices.Contains(d.fates.ended, p) {
			pins = append(pins, p)
		}
	}
	return pins
}

// forbids gives what may not stand: what came to nothing, and what is ruled out.
func (d draw) forbids() []assign.Couple {
	list := slices.Clone(d.fates.ended)
	for _, p := range d.ruled(message.RuledOut) {
		if !slices.Contains(list, p) && !slices.Contains(d.fates.accepted, p) {
			list = append(list, p)
		}
	}
	return list
}

// isOut says whether a pair is ruled out.
func (d draw) isOut(id boat.ID, request string) bool {
	return slices.Contains(d.ruled(message.RuledOut), couple(id, request))
}

// ruledOut says so to a request from which boats that fit are kept.
func (d draw) ruledOut(request string, cells []cell) []string {
	if !slices.ContainsFunc(cells, func(c cell) bool { return c.fits() && d.isOut(c.craft.id, request) }) {
		return nil
	}
	return []string{"The club keeps a boat that would fit from this request. The reason is written down, and a second member read it."}
}
