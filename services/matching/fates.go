package matching

import (
	"context"
	"slices"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// fates is what has become of the offers of a round so far.
type fates struct {
	accepted []assign.Couple // stay, whatever comes
	open     []*offer        // nobody has answered yet
	ended    []assign.Couple // declined, lapsed, taken back, or accepted in vain
	// Of two boats that were offered together: those that are open or accepted, which
	// stay until the household leaves them, and those that came to nothing.
	together      []*offer
	endedTogether []message.RoundEnded
	expect        []ledger.Expected
}

// couple names a pair as the solver does.
func couple(id boat.ID, request string) assign.Couple {
	return assign.Couple{Boat: string(id), Applicant: request}
}

// fates reads what the streams of a round's boats say.
func (s *service) fates(ctx context.Context, r round) (fates, error) {
	var f fates
	for _, id := range r.opened.Boats {
		p, at, err := s.book(ctx, id)
		if err != nil {
			return f, err
		}
		f.expect = append(f.expect, at)
		f.add(r.opened.Round, p)
	}
	return f, nil
}

func (f *fates) add(round string, p promises) {
	for _, o := range p.offers {
		pair := couple(o.Boat, o.Request)
		switch {
		case o.Round != round:
		case o.With != "" && o.stands():
			f.together = append(f.together, o)
		case o.With != "":
			if o.Leads() && !f.leftTogether(o.Boat, o.With, o.Request) {
				f.endedTogether = append(f.endedTogether, message.RoundEnded{Boat: o.Boat, Request: o.Request, With: o.With})
			}
		case o.answer == "":
			f.open = append(f.open, o)
		case o.stands():
			f.accepted = append(f.accepted, pair)
		case !slices.Contains(f.ended, pair):
			f.ended = append(f.ended, pair)
		}
	}
}

// leftTogether says whether two boats were offered to a request together in vain.
func (f fates) leftTogether(one, other boat.ID, request string) bool {
	return slices.ContainsFunc(f.endedTogether, func(e message.RoundEnded) bool {
		return e.Request == request && (e.Boat == one && e.With == other || e.Boat == other && e.With == one)
	})
}

// unanswered counts the offers that wait for an answer; two boats that are offered
// together are one.
func (f fates) unanswered() int {
	n := len(f.open)
	for _, o := range f.together {
		if o.answer == "" && o.Leads() {
			n++
		}
	}
	return n
}

// offered gives the pairs of the open offers.
func (f fates) offered() []assign.Couple {
	pairs := make([]assign.Couple, len(f.open))
	for i, o := range f.open {
		pairs[i] = couple(o.Boat, o.Request)
	}
	return pairs
}

// stands says how a pair of a solution stands already.
func (f fates) stands(pair assign.Couple) string {
	switch {
	case slices.Contains(f.accepted, pair):
		return message.PairAccepted
	case slices.Contains(f.offered(), pair):
		return message.PairOffered
	}
	for _, o := range f.together {
		switch {
		case couple(o.Boat, o.Request) != pair:
		case o.answer == accepted:
			return message.PairAccepted
		default:
			return message.PairOffered
		}
	}
	return ""
}

// hasBoat and hasRequest say whether something stays whatever comes: it was accepted,
// or is offered with another boat.
func (f fates) hasBoat(id string) bool {
	return slices.ContainsFunc(f.accepted, func(c assign.Couple) bool { return c.Boat == id }) ||
		slices.ContainsFunc(f.together, func(o *offer) bool { return string(o.Boat) == id })
}

func (f fates) hasRequest(id string) bool {
	return slices.ContainsFunc(f.accepted, func(c assign.Couple) bool { return c.Applicant == id }) ||
		slices.ContainsFunc(f.together, func(o *offer) bool { return o.Request == id })
}

// mayGoOn wants something to have changed since the offers were sent.
func (f fates) mayGoOn() error {
	if len(f.ended)+len(f.endedTogether) == 0 {
		return desk.Conflict("round", "no offer of this round has been declined, lapsed or taken back, so there is nothing to pair anew")
	}
	return nil
}

// free lets boats that are offered in this round take part in its next solution:
// to whom they are offered is decided anew.
func (f fates) free(crafts []craft) {
	for i := range crafts {
		if slices.ContainsFunc(f.open, func(o *offer) bool { return o.Boat == crafts[i].id }) {
			crafts[i].promisedTo = ""
		}
	}
}

// without gives those asks that still stand, or have accepted.
func (f fates) without(asks []ask, ended map[string]bool) []ask {
	return slices.DeleteFunc(asks, func(a ask) bool { return ended[a.id] && !f.hasRequest(a.id) })
}

// takenBack gives the open offers that a solution does not keep.
func (f fates) takenBack(pairs []message.RoundPair) []*offer {
	kept := func(o *offer) bool {
		return slices.ContainsFunc(pairs, func(p message.RoundPair) bool { return p.Boat == o.Boat && p.Request == o.Request })
	}
	return slices.DeleteFunc(slices.Clone(f.open), kept)
}

// goneRequests says which requests of a round have ended, or, where the round does
// not hold them, have an offer from elsewhere.
func (s *service) goneRequests(ctx context.Context, r round) (map[string]bool, error) {
	rows, err := s.requests(ctx, `WHERE request = ANY ($1) AND (ended <> '' OR $2 AND offer <> '')`, r.requestIDs(), r.one != "")
	ended := map[string]bool{}
	for _, r := range rows {
		ended[r.id] = true
	}
	return ended, err
}

// couples puts pairs into the words of the book.
func couples(list []assign.Couple) []message.RoundEnded {
	var pairs []message.RoundEnded
	for _, c := range list {
		pairs = append(pairs, message.RoundEnded{Boat: boat.ID(c.Boat), Request: c.Applicant})
	}
	return pairs
}
