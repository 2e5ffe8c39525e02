package intake

import (
	"context"
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
)

// maxJackets bounds the life jackets of one boat.
const maxJackets = 30

// jacket is a life jacket that came with a boat.
type jacket struct {
	message.JacketChecked
	gone bool
}

// foldJackets adds an event.
func (b *Boat) foldJackets(body message.Body) {
	switch e := body.(type) {
	case message.JacketChecked:
		if j := b.jacket(e.Jacket); j != nil {
			j.JacketChecked = e
			return
		}
		b.jackets = append(b.jackets, jacket{JacketChecked: e})
	case message.JacketGone:
		if j := b.jacket(e.Jacket); j != nil {
			j.gone = true
		}
	}
}

// jacket gives a jacket of the boat, or nil.
func (b *Boat) jacket(id string) *jacket {
	i := slices.IndexFunc(b.jackets, func(j jacket) bool { return j.Jacket == id })
	if i < 0 {
		return nil
	}
	return &b.jackets[i]
}

func (s *service) checkJacket(ctx context.Context, o desk.Order[message.CheckJacket]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.checkJacket(o.Command) })
}

func (s *service) endJacket(ctx context.Context, o desk.Order[message.EndJacket]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(b *Boat) (message.Body, error) { return b.endJacket(o.Command) })
}

// checkJacket decides what a check of a jacket comes to.
func (b *Boat) checkJacket(c message.CheckJacket) (message.Body, error) {
	err := desk.First(
		desk.GoodID("jacket", c.Jacket), boat.Known("sort", c.Sort, jackets.Sorts),
		desk.OneLine("marked", c.Marked, desk.MaxLine), desk.NotLonger("words", c.Words, desk.MaxWords), goodChecks(c),
	)
	if err != nil {
		return nil, err
	}
	before := b.jacket(c.Jacket)
	switch {
	case before == nil && len(b.jackets) >= maxJackets:
		return nil, desk.Conflict("jacket", "%d life jackets came with %s already; no more are written down", maxJackets, b.name)
	case before != nil && before.gone:
		return nil, desk.Conflict("jacket", "this life jacket is gone; write down another one as a new one")
	case before != nil && before.Sort != c.Sort:
		return nil, desk.Conflict("sort", "this life jacket was written down as %s; write down another one as a new one", before.Sort)
	}
	answers := map[string]jackets.Answer{}
	for _, a := range c.Answers {
		answers[a.Check] = a.Answer
	}
	v, err := jackets.Judge(c.Sort, answers)
	return message.JacketChecked{
		Boat: c.Boat, Jacket: c.Jacket, Sort: c.Sort, Marked: c.Marked, Failing: v.Failing, Unchecked: v.Unchecked, Words: c.Words,
	}, err
}

// goodChecks wants answers to checks of the jacket's sort, each once.
func goodChecks(c message.CheckJacket) error {
	for i, a := range c.Answers {
		field := fmt.Sprintf("answers[%d]", i)
		if !slices.ContainsFunc(jackets.Checks(c.Sort), func(k jackets.Check) bool { return k.ID == a.Check }) {
			return fault.Field(field+".check", "a %s jacket has no such check", c.Sort)
		}
		if slices.ContainsFunc(c.Answers[:i], func(other message.JacketAnswer) bool { return other.Check == a.Check }) {
			return fault.Field(field+".check", "is answered twice")
		}
		if err := boat.Known(field+".answer", a.Answer, jackets.Answers); err != nil {
			return err
		}
	}
	return nil
}

// endJacket decides what becomes of a jacket. One that is not serviceable is
// never passed on, and not kept either: the next person takes it from the hook.
func (b *Boat) endJacket(c message.EndJacket) (message.Body, error) {
	j := b.jacket(c.Jacket)
	if j == nil {
		return nil, desk.Unknown("jacket", "no such life jacket came with %s; check it first", b.name)
	}
	if err := desk.First(boat.Known("way", c.Way, message.JacketWays), desk.NotLonger("words", c.Words, desk.MaxWords)); err != nil {
		return nil, err
	}
	staysHere := c.Way == message.JacketKept || c.Way == message.JacketPassedOn
	switch {
	case j.gone:
		return nil, desk.Conflict("jacket", "what became of this life jacket is written down already")
	case staysHere && len(j.Failing) > 0:
		return nil, desk.Conflict("way", "this life jacket fails (33 CFR 175.23) and is never passed on; cut it up and throw it away")
	case staysHere && !j.Serviceable():
		return nil, desk.Conflict("way", "not all of this life jacket was checked; check the rest first, or cut it up and throw it away")
	case c.Way == message.JacketReturned && b.stage == received:
		return nil, desk.Conflict("way", "%s is the club's, and so is what came with it; cut the life jacket up, or keep it if it passes", b.name)
	}
	return message.JacketGone{Boat: c.Boat, Jacket: c.Jacket, Way: c.Way, Words: c.Words}, nil
}
