package treasury

import (
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// book is what a boat's stream adds up to.
type book struct {
	entries   []message.EntryPosted
	reversed  map[string]bool   // entries that were taken back
	sold      *message.BoatSold // the sale that stands, less what the buyer got back
	back      clock.Date        // on which a buyer brought the boat back last
	claim     *message.ClaimStated
	excepted  map[message.Exception]message.ExceptionStated
	benefit   *message.BenefitStated
	appraisal *message.AppraisalStated
	similar   *message.SimilarStated
	number    *message.DonorNumberStated
	prepared  *message.PaperPrepared // waits for its second signature
	paper     *message.PaperNoted    // the newest; it may be cancelled
	counted   map[string]bool
	programme string            // "" for none
	noted     map[string]string // entries to the members' costs that they are
}

// Fold adds an event.
func (b *book) Fold(_ message.Event, body message.Body) {
	switch e := body.(type) {
	case message.EntryPosted:
		b.entries = append(b.entries, e)
		if e.Reverses != "" {
			if b.reversed == nil {
				b.reversed = map[string]bool{}
			}
			b.reversed[e.Reverses] = true
		}
	case message.BoatSold:
		b.sold = &e
	case message.SaleTakenBack:
		b.sold, b.back = nil, e.On
	case message.BuyerRefunded:
		b.keepLess(e.Refund)
	case message.ClaimStated:
		b.claim = &e
	case message.ExceptionStated:
		if b.excepted == nil {
			b.excepted = map[message.Exception]message.ExceptionStated{}
		}
		b.excepted[e.Sort] = e
	case message.ExceptionWithdrawn:
		delete(b.excepted, e.Sort)
	case message.BenefitStated:
		b.benefit = &e
	case message.AppraisalStated:
		b.appraisal = &e
	case message.SimilarStated:
		b.similar = &e
	case message.DonorNumberStated:
		b.number = &e
	case message.PaperPrepared:
		b.prepared = &e
	case message.PreparationWithdrawn:
		b.prepared = nil
	case message.PaperNoted:
		b.paper, b.prepared = &e, nil
	case message.BoatCounted:
		if b.counted == nil {
			b.counted = map[string]bool{}
		}
		b.counted[e.Count] = true
	case message.ProgrammeChosen:
		b.programme = e.Programme
	case message.VolunteerCostNoted:
		if b.noted == nil {
			b.noted = map[string]string{}
		}
		b.noted[e.Entry] = e.Cost
	}
}

// keepLess takes what the buyer got back off the sale that stands.
func (b *book) keepLess(refund money.Amount) {
	if b.sold == nil {
		return
	}
	if left, err := b.sold.Gross.Add(refund.Neg()); err == nil {
		less := *b.sold
		less.Gross = left
		b.sold = &less
	}
}

// entry gives an entry of the book, or nil.
func (b *book) entry(id string) *message.EntryPosted {
	for i := range b.entries {
		if b.entries[i].Entry == id {
			return &b.entries[i]
		}
	}
	return nil
}

// standing gives the entry that carries the gift now, or nil.
func (b *book) standing() *message.EntryPosted {
	for i, e := range b.entries {
		if e.Reverses == "" && !b.reversed[e.Entry] && e.Lines[0].Account == giftAccount {
			return &b.entries[i]
		}
	}
	return nil
}

// paper is what a paper's own stream adds up to.
type paper struct {
	noted     *message.PaperNoted
	cancelled bool
}

// Fold adds an event.
func (p *paper) Fold(_ message.Event, body message.Body) {
	switch e := body.(type) {
	case message.PaperNoted:
		p.noted = &e
	case message.PaperCancelled:
		p.cancelled = true
	}
}
