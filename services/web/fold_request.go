package web

import (
	"slices"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Request is a household's wish for a boat. What is wished for stays sealed:
// ask the matching room (message.ReadWish) to show it.
type Request struct {
	ID        string      `json:"id"`
	Household people.ID   `json:"household"`
	Link      string      `json:"link"`
	Boats     int         `json:"boats"`
	Number    int         `json:"number,omitempty"` // of several requests of an organisation
	Of        int         `json:"of,omitempty"`
	Made      time.Time   `json:"made"`
	Changed   *time.Time  `json:"changed,omitempty"`
	Tier      int         `json:"tier"` // 0 until a coordinator has set it
	TierWhy   string      `json:"tier_why,omitempty"`
	Ended     string      `json:"ended,omitempty"` // withdrawn, declined, placed
	EndedWhy  string      `json:"ended_why,omitempty"`
	EndedOwn  string      `json:"ended_own,omitempty"` // why in the household's words, sealed
	KeepUntil *clock.Date `json:"keep_until,omitempty"`
	Appeals   []Appeal    `json:"appeals,omitempty"`
}

// Appeal is an applicant's wish that a second member looks again.
type Appeal struct {
	ID      string                 `json:"id"`
	At      time.Time              `json:"at"`
	Own     string                 `json:"own"` // in the household's words, sealed
	Decided *message.AppealDecided `json:"decided,omitempty"`
}

// Waits says whether nobody has decided the newest appeal yet.
func (r Request) Waits() bool {
	return len(r.Appeals) > 0 && r.Appeals[len(r.Appeals)-1].Decided == nil
}

// State is open, withdrawn, declined or placed.
func (r Request) State() string {
	if r.Ended != "" {
		return r.Ended
	}
	return "open"
}

// Fold changes what is shown of a request. It is pure.
func (r *Request) Fold(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.RequestMade:
		r.ID, r.Household, r.Link, r.Boats, r.Made = m.Request, m.Household, m.Link, m.Boats, e.HappenedAt
		r.Number, r.Of = m.Number, m.Of
	case message.RequestChanged:
		r.Changed = &e.HappenedAt
	case message.TierSet:
		r.Tier, r.TierWhy = m.Tier, m.Why
	case message.AppealMade:
		r.Appeals = append(r.Appeals, Appeal{ID: m.Appeal, At: e.HappenedAt, Own: m.Sealed})
	case message.AppealDecided:
		if a, ok := in(r.Appeals, func(a *Appeal) bool { return a.ID == m.Appeal }); ok {
			a.Decided = &m
		}
	case message.RequestEnded:
		r.Ended, r.EndedWhy, r.EndedOwn, r.KeepUntil = m.How, m.Why, m.Sealed, &m.KeepUntil
	}
}

// Round is a round of placing boats.
type Round struct {
	ID       string                 `json:"id"`
	Secrets  []roundSecret          `json:"secrets,omitempty"`
	One      boat.ID                `json:"one,omitempty"`     // the boat that the round is for; empty for a round of many
	Rulings  []message.PairRuled    `json:"rulings,omitempty"` // that were not taken back
	Opened   *message.RoundOpened   `json:"opened,omitempty"`
	OpenedAt time.Time              `json:"opened_at"` // until the list is frozen, when the first secret came
	OpenedBy string                 `json:"opened_by"` // actor
	Solved   *message.RoundSolved   `json:"solved,omitempty"`
	Approved *message.RoundApproved `json:"approved,omitempty"`
	Closed   *message.RoundClosed   `json:"closed,omitempty"`
	Offers   []string               `json:"offers,omitempty"` // ids; the offers stand by themselves
	Sent     bool                   `json:"sent,omitempty"`   // the offers of this solution
}

// roundSecret is a secret that a member has put into the lottery, by its hash.
type roundSecret struct {
	Member     people.ID `json:"member"`
	Commitment string    `json:"commitment"`
}

// State is not frozen, opened, solved, approved, offers out or closed. One that is
// solved anew after an answer is solved, and approved, once more.
func (r Round) State() string {
	switch {
	case r.Closed != nil:
		return "closed"
	case r.Sent:
		return "offers out"
	case r.Approved != nil:
		return "approved"
	case r.Solved != nil:
		return "solved"
	case r.Opened != nil:
		return "opened"
	}
	return "not frozen"
}

// Lacks counts the members that still have to put a secret into the lottery.
func (r Round) Lacks() int { return max(0, 2-len(r.Secrets)) }

// HasPutIn says whether a member has put a secret into the lottery.
func (r Round) HasPutIn(member people.ID) bool {
	return slices.ContainsFunc(r.Secrets, func(s roundSecret) bool { return s.Member == member })
}

// Seed is what decides between equal pairings, once it is known.
func (r Round) Seed() string {
	if r.Solved != nil && r.Solved.Seed != "" {
		return r.Solved.Seed
	}
	if r.Opened != nil {
		return r.Opened.Seed
	}
	return ""
}

// Fold changes what is shown of a round. It is pure.
func (r *Round) Fold(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.RoundOpened:
		r.ID, r.Opened, r.OpenedAt, r.OpenedBy = m.Round, &m, e.HappenedAt, e.Actor
	case message.PairRuled:
		r.Rulings = slices.DeleteFunc(r.Rulings, func(p message.PairRuled) bool { return p.Boat == m.Boat && p.Request == m.Request })
		if m.How != message.RuledNot {
			r.Rulings = append(r.Rulings, m)
		}
	case message.SecretCommitted:
		if len(r.Secrets) == 0 {
			r.ID, r.OpenedAt, r.OpenedBy = m.Round, e.HappenedAt, e.Actor
		}
		r.Secrets = append(r.Secrets, roundSecret{m.Member, m.Commitment})
		if m.Boat != "" {
			r.One = m.Boat
		}
	case message.RoundSolved:
		r.Solved, r.Approved, r.Sent = &m, nil, false
	case message.RoundApproved:
		r.Approved = &m
	case message.RoundClosed:
		r.Closed = &m
	case message.OfferMade:
		r.Offers, r.Sent = append(r.Offers, m.Offer), true
	case message.OffersSent: // perhaps none, when some were only taken back
		r.Sent = true
	}
}

// Offer is an offer of one boat to one household.
type Offer struct {
	message.OfferMade
	MadeAt   time.Time `json:"made_at"`
	Answer   string    `json:"answer,omitempty"` // accepted, declined, lapsed, withdrawn
	Why      string    `json:"why,omitempty"`
	Own      string    `json:"own,omitempty"` // why in the household's words, sealed
	Answered time.Time `json:"answered,omitzero"`
	Broken   string    `json:"broken,omitempty"` // why the household that accepted does not get the boat
}

// State is open, the answer, or that an acceptance came to nothing.
func (o Offer) State() string {
	if o.Broken != "" {
		return "not kept"
	}
	if o.Answer != "" {
		return o.Answer
	}
	return "open"
}

// Fold changes what is shown of an offer. It is pure.
func (o *Offer) Fold(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.OfferMade:
		o.OfferMade, o.MadeAt = m, e.HappenedAt
	case message.OfferAnswered:
		o.Answer, o.Why, o.Own, o.Answered = m.Answer, m.Why, m.Sealed, e.HappenedAt
	case message.PromiseEnded:
		o.Broken = m.Why
	}
}
