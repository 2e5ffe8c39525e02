package valuation

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

func (s *service) recordComparable(ctx context.Context, o desk.Order[message.RecordComparable]) (desk.Decision, error) {
	c := o.Command.Comparable
	club, err := s.Currency(ctx)
	if err == nil {
		err = recorded(c, club, o.Today())
	}
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[price](ctx, s.Log, message.ValuationComparable(c.Comparable))
	if err == nil && p.recorded {
		err = desk.Conflict("comparable", "another price stands under this id already")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := desk.SayAt(at, "", message.ComparableRecorded{Comparable: c})
	if err == nil {
		err = s.seeSale(ctx, &d, c)
	}
	return d, err
}

// seeSale refuses a sale that stands in the collection under another id, unless
// that was refused since.
func (s *service) seeSale(ctx context.Context, d *desk.Decision, c message.Comparable) error {
	seen, at, err := desk.Load[sale](ctx, s.Log, message.ValuationSale(digest(c)))
	if err != nil {
		return err
	}
	if seen.comparable != "" {
		first, firstAt, err := desk.Load[price](ctx, s.Log, message.ValuationComparable(seen.comparable))
		if err != nil {
			return err
		}
		if !first.refused {
			return desk.Conflict("comparable", "this sale stands in the collection already, as %s; one sale counts once", seen.comparable)
		}
		d.Expect = append(d.Expect, firstAt)
	}
	d.Expect = append(d.Expect, at)
	return d.Say(at.Stream, "", message.SaleSeen{Comparable: c.Comparable})
}

func (s *service) refuseComparable(ctx context.Context, o desk.Order[message.RefuseComparable]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(
		desk.GoodID("comparable", c.Comparable),
		desk.Needed("why", c.Why, "say why the price is not to be used"),
	)
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[price](ctx, s.Log, message.ValuationComparable(c.Comparable))
	switch {
	case err != nil:
		return desk.Decision{}, err
	case !p.recorded:
		return desk.Decision{}, desk.Unknown("comparable", "the collection has no price under this id")
	case p.refused:
		return desk.Decision{}, desk.Conflict("comparable", "this price was taken out of use already")
	}
	return desk.SayAt(at, "", message.ComparableRefused{Comparable: c.Comparable, Why: c.Why})
}

func (s *service) valueBoat(ctx context.Context, o desk.Order[message.ValueBoat]) (desk.Decision, error) {
	c := o.Command
	if err := goodValue(c, o.Today()); err != nil {
		return desk.Decision{}, err
	}
	h, err := s.judged(ctx, o.Caller, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	all, at, err := desk.Load[opinions](ctx, s.Log, message.ValuationBoat(c.Boat))
	if err == nil && all.has(c.Value) {
		err = desk.Conflict("value", "another value of this boat stands under this id already")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	q, err := s.question(ctx, h, c)
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := q.value(c, h)
	if err != nil {
		return desk.Decision{}, err
	}
	body.Valuer, body.Supersedes = o.Actor.Person, all.before(c)
	return desk.SayAt(at, c.Boat, body)
}

// judged gives a boat that the caller may judge.
func (s *service) judged(ctx context.Context, by desk.Caller, id boat.ID) (hull, error) {
	h, err := s.hull(ctx, id)
	if err != nil {
		return h, err
	}
	t, err := s.tie(ctx, by.Actor.Person, h.giver)
	if err != nil {
		return h, err
	}
	return h, stake(by, t)
}

// question gathers what a value rests on.
func (s *service) question(ctx context.Context, h hull, c message.ValueBoat) (question, error) {
	r, err := s.rules(ctx)
	if err != nil {
		return question{}, err
	}
	sales, err := s.sales(ctx, h.kind, c.On)
	if err != nil {
		return question{}, err
	}
	return ask(h, c, r, inMoney(sales, r.club))
}

// inMoney leaves out what was recorded when the club kept its books in another
// currency: nothing is converted.
func inMoney(sales []message.Comparable, club money.Currency) []message.Comparable {
	var kept []message.Comparable
	for _, s := range sales {
		if s.Price.Currency == club {
			kept = append(kept, s)
		}
	}
	return kept
}

func (s *service) rules(ctx context.Context) (r rules, err error) {
	if r.club, err = s.Currency(ctx); err != nil {
		return r, err
	}
	if r.gradePercent, err = s.SettingWhole(ctx, "grade-effect-percent"); err != nil {
		return r, err
	}
	if r.yearPercent, err = s.SettingWhole(ctx, "year-effect-percent"); err != nil {
		return r, err
	}
	r.days, err = s.SettingWhole(ctx, "comparable-days")
	return r, err
}

func (s *service) setCeiling(ctx context.Context, o desk.Order[message.SetCeiling]) (desk.Decision, error) {
	c := o.Command
	club, err := s.Currency(ctx)
	if err == nil {
		err = desk.First(desk.GoodID("boat", c.Boat), goodWork(c.Repairs, club))
	}
	if err != nil {
		return desk.Decision{}, err
	}
	if _, err := s.judged(ctx, o.Caller, c.Boat); err != nil {
		return desk.Decision{}, err
	}
	l, err := s.looked(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	all, at, err := desk.Load[opinions](ctx, s.Log, message.ValuationBoat(c.Boat))
	if err != nil {
		return desk.Decision{}, err
	}
	basis, err := all.basis(club)
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := s.deal(ctx, club)
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := offerFor(basis, c.Repairs, l, d).ceiling(c)
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, body)
}

func (s *service) deal(ctx context.Context, club money.Currency) (d deal, err error) {
	if d.marginPercent, err = s.SettingWhole(ctx, "margin-percent"); err != nil {
		return d, err
	}
	if d.missedPercent, err = s.SettingWhole(ctx, "missed-percent"); err != nil {
		return d, err
	}
	least, err := s.Setting(ctx, "margin-minimum")
	if err != nil {
		return d, err
	}
	minimum, err := money.Parse(least, club)
	if err != nil || minimum.Currency != club {
		return d, desk.Conflict("", "the setting margin-minimum, %q, is no amount in %s; an administrator has to change it", least, club)
	}
	d.marginMinimum = minimum.Minor
	return d, nil
}
