package web

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// Valued is a valuation whole: what was said, and when it was written down.
type Valued struct {
	message.BoatValued
	Recorded time.Time `json:"recorded"`
}

// Fold takes in a valuation, which never changes. It is pure.
func (v *Valued) Fold(e message.Event, body message.Body) {
	if m, ok := body.(message.BoatValued); ok {
		v.BoatValued, v.Recorded = m, e.RecordedAt
	}
}

// ShopChoice is a plan that was written down.
type ShopChoice struct {
	message.PlanMade
	At time.Time `json:"at"`
	By string    `json:"by"` // actor
}

// Fold takes in a plan. It is pure.
func (p *ShopChoice) Fold(e message.Event, body message.Body) {
	if m, ok := body.(message.PlanMade); ok {
		p.PlanMade, p.At, p.By = m, e.HappenedAt, e.Actor
	}
}

// BargainStep is one step of a negotiation, with the ceiling that was in force.
type BargainStep struct {
	At      time.Time    `json:"at"`
	By      string       `json:"by"` // actor
	What    string       `json:"what"`
	Price   money.Amount `json:"price"`
	Ceiling money.Amount `json:"ceiling"`
	Words   string       `json:"words,omitempty"`
}

// Above says whether the price passes the ceiling.
func (s BargainStep) Above() bool {
	return !s.Ceiling.IsZero() && s.Price.Currency == s.Ceiling.Currency && s.Price.Minor > s.Ceiling.Minor
}

// Spending is money that went into a boat on a day.
type Spending struct {
	On   clock.Date   `json:"on"`
	What string       `json:"what"`
	Cost money.Amount `json:"cost"`
}

// foldValue follows values, the negotiation and what could be mended.
func (b *Boat) foldValue(e message.Event, body message.Body) {
	step := func(what string, price, ceiling money.Amount, words string) {
		b.Bargain = append(b.Bargain, BargainStep{e.HappenedAt, e.Actor, what, price, ceiling, words})
	}
	switch m := body.(type) {
	case message.BoatLogged:
		if !m.Asked.IsZero() {
			step("the seller asks", m.Asked, money.Of(0, m.Asked.Currency), "")
		}
	case message.PriceOffered:
		step("the club offers", m.Price, m.Ceiling, m.Words)
	case message.AnswerNoted:
		step("the seller "+m.Answer, m.Price, m.Ceiling, m.Words)
	case message.BoatAccepted:
		if !m.Price.IsZero() {
			step("agreed", m.Price, b.ceilingIn(m.Price.Currency), m.Words)
			b.Spent = append(b.Spent, Spending{clock.DateOf(e.HappenedAt), "the boat itself", m.Price})
		}
	case message.PartBooked:
		b.Spent = append(b.Spent, Spending{m.On, m.Words, m.Cost})
	case message.PartReversed:
		b.Spent = append(b.Spent, Spending{m.On, "taken back: " + m.Why, m.Cost.Neg()})
	case message.RepairProposed:
		b.Proposed = append(b.Proposed, m)
	case message.RepairDropped:
		kept := b.Proposed[:0]
		for _, p := range b.Proposed {
			if p.Repair != m.Repair {
				kept = append(kept, p)
			}
		}
		b.Proposed = kept
	}
}

// ceilingIn gives the ceiling in force, or nothing.
func (b *Boat) ceilingIn(c money.Currency) money.Amount {
	if b.Ceiling == nil || b.Ceiling.Ceiling.Currency != c {
		return money.Of(0, c)
	}
	return b.Ceiling.Ceiling
}

// valueID is a valuation's id among all boats'.
func valueID(b boat.ID, value string) string { return string(b) + "/" + value }

// projectValues keeps valuations and plans whole.
func projectValues(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	switch m := body.(type) {
	case message.BoatValued:
		id := valueID(m.Boat, m.Value)
		v, err := refold[Valued](ctx, tx, "value", id, e, body)
		if err != nil {
			return err
		}
		return desk.Keep(ctx, tx, "value/"+id, v, `INSERT INTO web.value (id, boat, position, doc) VALUES ($1, $2, $3, $4)
			ON CONFLICT (id) DO UPDATE SET position = excluded.position, doc = excluded.doc`, id, m.Boat, e.Position, v)
	case message.PlanMade:
		p, err := refold[ShopChoice](ctx, tx, "plan", m.Plan, e, body)
		if err != nil {
			return err
		}
		return desk.Keep(ctx, tx, "plan/"+m.Plan, p, `INSERT INTO web.plan (id, position, doc) VALUES ($1, $2, $3)
			ON CONFLICT (id) DO UPDATE SET position = excluded.position, doc = excluded.doc`, m.Plan, e.Position, p)
	}
	return nil
}
