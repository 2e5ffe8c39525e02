package repair

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// react weighs a boat at each booked cent and hour, and frees what was kept for a
// boat that has left.
func (s *service) react(ctx context.Context, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PartBooked, message.PartReversed, message.HoursBooked, message.HoursReversed, message.StockTaken, message.StockReturned, message.WorkPlanned, message.BoatValued:
		return s.weigh(ctx, e)
	case message.BoatRetired:
		return s.free(ctx, e, b.Boat)
	case message.BoatDeclined:
		return s.free(ctx, e, b.Boat)
	case message.BoatSold:
		return s.free(ctx, e, b.Boat)
	case message.BoatHandedOver:
		return s.free(ctx, e, b.Boat)
	}
	return nil
}

// weigh says, once, when mending costs more than it gains.
func (s *service) weigh(ctx context.Context, e message.Event) error {
	rate, err := s.hourValue(ctx)
	if err != nil {
		return err
	}
	return s.SayAnew(ctx, e, "weigh", func() (desk.Decision, error) {
		a, err := s.about(ctx, e.Boat)
		if fault.Is(err, fault.Unknown) {
			return desk.Decision{}, nil // nobody logged it: there is nothing to weigh
		}
		if err != nil {
			return desk.Decision{}, err
		}
		material, err := s.materialOf(ctx, e.Boat, a.hull.worth.currency)
		if err != nil {
			return desk.Decision{}, err
		}
		said := a.bench.weighed(a.hull, e.Boat, material, rate)
		if said == nil {
			return desk.Decision{}, nil
		}
		return desk.SayAt(a.at, e.Boat, said)
	})
}

// hourValue is what an hour counts for in decisions, in minor units of the club's
// currency. It stands on no paper.
func (s *service) hourValue(ctx context.Context) (int64, error) {
	text, err := s.Setting(ctx, "hour-value")
	if err != nil {
		return 0, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return 0, err
	}
	rate, err := money.Parse(text, club)
	return rate.Minor, err
}

// weighed gives the advice to say about a boat, if there is any that was not given
// about its present value. material is what bins gave to it, rate the value of an
// hour.
//
// What is spent is gone, whether the boat is finished or not: only what finishing
// still costs decides about going on. That mending costs more in all than it gains
// is said all the same, because it is worth knowing before the next boat.
func (b *bench) weighed(h *hull, id boat.ID, material, rate int64) message.Body {
	w := h.worth
	if w.value == "" || h.isHere(b) != nil || b.ready != nil {
		return nil
	}
	gain := max(0, w.repaired-w.asItLies)
	spent, toFinish := material+b.spent(w.currency)+worthOf(b.minutes(), rate), b.toFinish(h, w.currency, rate)
	verdict := message.MendingOver
	switch {
	case spent+toFinish <= gain:
		return nil
	case toFinish > gain:
		verdict = message.MendingStop
	}
	if b.advised[advice{verdict, w.value}] || b.advised[advice{message.MendingStop, w.value}] {
		return nil
	}
	of := func(minor int64) money.Amount { return money.Of(minor, w.currency) }
	return message.StopAdvised{Boat: id, Verdict: verdict, Spent: of(spent), ToFinish: of(toFinish), Gain: of(gain), Value: w.value}
}

// worthOf gives the value of minutes at a rate an hour, rounded down.
func worthOf(minutes int, rate int64) int64 { return int64(minutes) * rate / 60 }

// spent adds up what was booked on the boat and stands, in one currency. Others
// are left out: nothing is converted.
func (b *bench) spent(c money.Currency) int64 {
	sum := int64(0)
	for _, p := range b.parts {
		switch {
		case p.reversed || p.cost.Currency != c:
		case p.recovered:
			sum -= p.cost.Minor
		default:
			sum += p.cost.Minor
		}
	}
	return sum
}

// minutes adds up the time that was worked.
func (b *bench) minutes() int {
	sum := 0
	for _, h := range b.hours {
		if !h.reversed {
			sum += h.minutes
		}
	}
	return sum
}

// toFinish adds up what the work that is planned is expected to cost.
func (b *bench) toFinish(h *hull, c money.Currency, rate int64) int64 {
	sum, minutes := int64(0), 0
	for _, w := range b.works {
		if w.done || len(b.left(w, h)) == 0 {
			continue
		}
		minutes += w.minutes
		if w.cost.Currency == c {
			sum += w.cost.Minor
		}
	}
	return sum + worthOf(minutes, rate)
}

// free gives back to the bins what was kept for a boat.
func (s *service) free(ctx context.Context, e message.Event, id boat.ID) error {
	bins, err := s.reservedFor(ctx, id)
	if err != nil {
		return err
	}
	for _, name := range bins {
		err := s.SayAnew(ctx, e, "free-"+name, func() (desk.Decision, error) {
			b, at, err := desk.Load[bin](ctx, s.Log, message.RepairBin(name))
			if err != nil || b.kept[id] == 0 {
				return desk.Decision{Expect: []ledger.Expected{at}}, err
			}
			return desk.SayAt(at, id, message.StockReserved{Bin: name, Boat: id})
		})
		if err != nil {
			return err
		}
	}
	return nil
}
