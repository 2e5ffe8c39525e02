package matching

import (
	"slices"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// ordinaryTier is a request's tier until a coordinator sets one: between those
// that the club's written rules put first and those that they put last.
const ordinaryTier = 2

// The answers that end an offer.
const (
	accepted  = "accepted"
	declined  = "declined"
	lapsed    = "lapsed"
	withdrawn = "withdrawn"
)

// placed is how a request ends that got its boat.
const placed = "placed"

// household is what a household's own stream adds up to.
type household struct{ requests []string } // of the form it sent last

// Fold adds an event.
func (h *household) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.HouseholdAsked); ok {
		h.requests = append([]string{e.Request}, e.Also...)
	}
}

// request is what a request's stream adds up to.
type request struct {
	household people.ID // empty: not in the book
	sealed    string
	forMinor  bool // it introduced a guardian; a later request of theirs does not say so
	boats     int  // how many are asked for
	got       int  // how many it got
	tier      int
	made      time.Time
	ended     string
	ties      []tie
	deciders  []string // actors who set its tier or ended it
	appeals   []appeal
}

// tie is an offer that a request is tied to, open or accepted. It has two for two
// boats that are offered together.
type tie struct {
	offer string
	boat  boat.ID
}

// tiedTo says whether a request is tied to an offer.
func (r *request) tiedTo(offer string) bool {
	return slices.ContainsFunc(r.ties, func(t tie) bool { return t.offer == offer })
}

// Fold adds an event.
func (r *request) Fold(ev message.Event, body message.Body) {
	switch e := body.(type) {
	case message.RequestMade:
		r.household, r.sealed, r.boats, r.tier, r.made = e.Household, e.Sealed, e.Boats, ordinaryTier, ev.HappenedAt
		r.forMinor = e.NewHousehold != nil && e.NewHousehold.Sort == message.GuardianSort
	case message.RequestChanged:
		r.sealed = e.Sealed
	case message.TierSet:
		r.tier, r.deciders = e.Tier, append(r.deciders, ev.Actor)
	case message.AppealMade:
		r.appeals = append(r.appeals, appeal{id: e.Appeal})
	case message.AppealDecided:
		for i := range r.appeals {
			r.appeals[i].decided = r.appeals[i].decided || r.appeals[i].id == e.Appeal
		}
	case message.RequestTied:
		r.ties = []tie{{e.Offer, e.Boat}}
		if e.With != "" {
			r.ties = append(r.ties, tie{e.WithOffer, e.With})
		}
	case message.RequestFreed:
		r.ties = nil
		if e.Placed {
			r.got++
		}
	case message.RequestEnded:
		r.ended, r.ties, r.deciders = e.How, nil, append(r.deciders, ev.Actor)
	}
}

// offer is an offer with how it ended.
type offer struct {
	message.OfferMade
	answer string
	broken bool // accepted, but the promise ended
}

func (o *offer) stands() bool { return o.answer == "" || o.answer == accepted && !o.broken }

// promises is what a boat's stream in this room adds up to.
type promises struct {
	offers     []*offer
	handedOver bool
	held       string // why; empty when it is not
	after      after
}

// Fold adds an event.
func (p *promises) Fold(_ message.Event, body message.Body) {
	switch e := body.(type) {
	case message.OfferMade:
		p.offers = append(p.offers, &offer{OfferMade: e})
	case message.OfferAnswered:
		if o := p.find(e.Offer); o != nil {
			o.answer = e.Answer
		}
	case message.PromiseEnded:
		if o := p.find(e.Offer); o != nil {
			o.broken = true
		}
	case message.BoatHandedOver:
		p.handedOver, p.after = true, after{request: e.Request, household: e.Household, on: e.On}
	case message.FollowUpNoted:
		p.after.asked = append(p.after.asked, e.Days)
	case message.BoatReturned:
		p.after.back = e.Where
	case message.UseStopped:
		p.after.stopped = e.Why
	case message.IncidentReported:
		p.after.incidents = append(p.after.incidents, e.Incident)
	case message.BoatKeptBack:
		p.held = e.Why
	case message.BoatLetOut:
		p.held = ""
	}
}

// appeal is an applicant's wish that a second member looks again.
type appeal struct {
	id      string
	decided bool
}

// after is what became of a boat with the household that has it.
type after struct {
	request   string
	household people.ID
	on        clock.Date
	asked     []int // days, of message.FollowUps
	back      string
	stopped   string
	incidents []string
}

// find gives an offer of the boat, or nil.
func (p *promises) find(id string) *offer {
	for _, o := range p.offers {
		if o.Offer == id {
			return o
		}
	}
	return nil
}

// madeIn counts the offers of the boat in a round.
func (p *promises) madeIn(round string) int {
	n := 0
	for _, o := range p.offers {
		if o.Round == round {
			n++
		}
	}
	return n
}

// standing gives the offer that is open or accepted, or nil.
func (p *promises) standing() *offer {
	for _, o := range p.offers {
		if o.stands() {
			return o
		}
	}
	return nil
}

// ruled is a ruling with the actor who made it.
type ruled struct {
	message.PairRuled
	by string
}

// round is what a round's stream adds up to.
type round struct {
	secrets  []message.SecretCommitted
	one      boat.ID // the boat that the round is for; empty for a round of many
	rulings  []ruled // that were not taken back
	opened   *message.RoundOpened
	solved   *message.RoundSolved
	approved bool
	deciders []people.ID // who solved or approved it, earlier solutions included
	sent     bool        // the offers of this solution
	everSent bool        // any offers
	closed   bool
}

// Fold adds an event.
func (r *round) Fold(ev message.Event, body message.Body) {
	switch e := body.(type) {
	case message.SecretCommitted:
		r.secrets = append(r.secrets, e)
		if e.Boat != "" {
			r.one = e.Boat
		}
	case message.PairRuled:
		r.rulings = slices.DeleteFunc(r.rulings, func(p ruled) bool { return p.Boat == e.Boat && p.Request == e.Request })
		if e.How != message.RuledNot {
			r.rulings = append(r.rulings, ruled{e, ev.Actor})
		}
	case message.RoundOpened:
		r.opened = &e
	case message.RoundSolved:
		r.solved, r.approved, r.sent = &e, false, false
		r.deciders = append(r.deciders, e.SolvedBy)
	case message.OffersSent:
		r.sent, r.everSent = true, true
	case message.RoundApproved:
		r.approved, r.deciders = true, append(r.deciders, e.By)
	case message.RoundClosed:
		r.closed = true
	}
}
