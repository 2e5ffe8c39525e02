package treasury

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// react posts what other rooms' events mean in money.
func (s *service) react(ctx context.Context, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PartBooked:
		return s.post(ctx, e, "part", b.Boat, func(k *book) []message.EntryPosted { return k.booked(b) })
	case message.PartReversed:
		return s.post(ctx, e, "part-back", b.Boat, func(k *book) []message.EntryPosted { return k.takenBack(partEntry(b.Entry), b.On, b.Why) })
	case message.MoneyRecovered:
		return s.post(ctx, e, "recovered", b.Boat, func(k *book) []message.EntryPosted { return k.cameIn(b) })
	case message.RecoveryReversed:
		return s.post(ctx, e, "recovered-back", b.Boat, func(k *book) []message.EntryPosted { return k.takenBack("recovered-"+b.Entry, b.On, b.Why) })
	case message.BoatReceived:
		return s.take(ctx, e, b.Boat)
	case message.BoatValued:
		return s.take(ctx, e, b.Boat)
	case message.PapersAsked:
		return s.issueAsked(ctx, e, b)
	}
	return s.reactStock(ctx, e, body)
}

// reactStock posts what moved in and out of the bins: with a boat in its own
// book, else in the bin's.
func (s *service) reactStock(ctx context.Context, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.StockBought:
		return s.postIn(ctx, e, "stock", message.TreasuryBin(b.Bin), func(k *book) []message.EntryPosted { return k.stocked(b) })
	case message.StockTaken:
		return s.post(ctx, e, "stock", b.Boat, func(k *book) []message.EntryPosted { return k.fromStock(b) })
	case message.StockReturned:
		return s.post(ctx, e, "stock", b.Boat, func(k *book) []message.EntryPosted { return k.toStock(b) })
	case message.StockWrittenOff:
		return s.postIn(ctx, e, "stock", message.TreasuryBin(b.Bin), func(k *book) []message.EntryPosted { return k.lost(b) })
	case message.StockSalvaged:
		return s.post(ctx, e, "stock", b.Boat, func(k *book) []message.EntryPosted { return k.kept(b) })
	}
	return nil
}

// take posts what a received boat cost and what it was worth as a gift, as far
// as both are known.
func (s *service) take(ctx context.Context, e message.Event, id boat.ID) error {
	r, err := s.record(ctx, id)
	if fault.Is(err, fault.Unknown) || err == nil && r.received.IsZero() {
		return nil
	}
	if err != nil {
		return err
	}
	w, valued, err := s.worth(ctx, id, r.received)
	if err != nil {
		return err
	}
	return s.post(ctx, e, "taken", id, func(k *book) []message.EntryPosted {
		entries := k.paid(r)
		if valued {
			entries = append(entries, k.recognised(r, w)...)
		}
		return entries
	})
}

// post says the entries that a boat's book comes to.
func (s *service) post(ctx context.Context, cause message.Event, name string, id boat.ID, entries func(*book) []message.EntryPosted) error {
	return s.postIn(ctx, cause, name, message.TreasuryBoat(id), entries)
}

// postIn says the entries that a book comes to, a boat's or a bin's.
func (s *service) postIn(ctx context.Context, cause message.Event, name, stream string, entries func(*book) []message.EntryPosted) error {
	return s.SayAnew(ctx, cause, name, func() (desk.Decision, error) {
		k, at, err := desk.Load[book](ctx, s.Log, stream)
		if err != nil {
			return desk.Decision{}, err
		}
		d := desk.Decision{Expect: []ledger.Expected{at}}
		err = s.sayEntries(ctx, &d, stream, entries(&k))
		return d, err
	})
}

// letGo destroys the keys of papers that need not be kept any more.
func (s *service) letGo(ctx context.Context) error {
	past, err := s.pastKeeping(ctx, clock.DateOf(s.Clock.Now()))
	if err != nil {
		return err
	}
	for _, id := range past {
		if err := s.Vault.Destroy(ctx, paperKey(id)); err != nil {
			return err
		}
	}
	return nil
}
