package matching

import (
	"context"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// measure is something that the club could do for every household of a round.
// Each changes what a wish says, and no rule: what is known not to fit stays out.
type measure struct {
	name, words string
	take        func(*message.Wish)
}

// ownStorage is longer than any boat of the club's.
const ownStorage = 20_000 // mm

var measures = []measure{
	{"cart", "a cart goes along with every boat", func(w *message.Wish) { w.HasCart = true }},
	{"hands", "one more person helps to carry", func(w *message.Wish) { w.Carriers++ }},
	{"delivery", "the club brings the boats home", func(w *message.Wish) { w.Transport = noCar }},
	{"storage", "boats can stay on the club's racks", func(w *message.Wish) { w.StorageMM = ownStorage }},
}

func measureNamed(name string) (measure, bool) {
	i := slices.IndexFunc(measures, func(m measure) bool { return m.name == name })
	if i < 0 {
		return measure{}, false
	}
	return measures[i], true
}

// whatIf pairs a round as if boats were held back and measures taken. It writes
// nothing down.
func (s *service) whatIf(ctx context.Context, _ desk.Caller, q message.WhatIf) (message.WhatIfAnswer, error) {
	var a message.WhatIfAnswer
	taken, err := goodWhatIf(q)
	if err != nil {
		return a, err
	}
	r, _, err := s.round(ctx, q.Round)
	if err != nil {
		return a, err
	}
	d, err := s.draw(ctx, q.Round, r, s.Clock.Now())
	if err != nil {
		return a, err
	}
	return d.compare(q.HoldBack, taken)
}

func goodWhatIf(q message.WhatIf) ([]measure, error) {
	var taken []measure
	err := desk.First(
		each("hold_back", q.HoldBack, desk.GoodID[boat.ID]),
		each("measures", q.Measures, func(field, name string) error {
			m, known := measureNamed(name)
			if !known {
				return desk.Unknown(field, "there is no such measure; choose cart, hands, delivery or storage")
			}
			taken = append(taken, m)
			return nil
		}),
	)
	return taken, err
}

// compare pairs the round as it is, as it would be, and with each measure alone.
func (d draw) compare(held []boat.ID, taken []measure) (a message.WhatIfAnswer, err error) {
	if a.Now, err = d.served(nil, nil); err != nil {
		return a, err
	}
	if a.Then, err = d.served(held, taken); err != nil {
		return a, err
	}
	for _, m := range measures {
		served, err := d.served(nil, []measure{m})
		if err != nil {
			return a, err
		}
		a.Measures = append(a.Measures, message.MeasureEffect{Measure: m.name, Words: m.words, Served: served})
	}
	return a, nil
}

// served counts who gets a boat, by tier, with boats held back and measures taken.
// A boat that a household has accepted cannot be held back.
func (d draw) served(held []boat.ID, taken []measure) ([]int, error) {
	d.crafts = slices.DeleteFunc(slices.Clone(d.crafts), func(c craft) bool {
		return slices.Contains(held, c.id) && !d.fates.hasBoat(string(c.id))
	})
	d.asks = slices.Clone(d.asks)
	for i := range d.asks {
		for _, m := range taken {
			m.take(&d.asks[i].wish)
		}
	}
	s, err := d.solve()
	if err != nil {
		return nil, err
	}
	// No rows of a tier, no count of it: every round tells as many tiers.
	served := make([]int, d.lastTier())
	copy(served, s.ServedByTier)
	return served, nil
}

func (d draw) lastTier() int {
	last := 0
	for _, a := range d.asks {
		last = max(last, a.tier)
	}
	return last
}
