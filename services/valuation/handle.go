package valuation

import (
	"context"
	"fmt"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/settings"
)

func (s *service) recordComparable(ctx context.Context, o desk.Order[message.RecordComparable]) (desk.Decision, error) {
	c := tidied(o.Command.Comparable)
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
	open, err := s.worstOpen(ctx, c.Boat)
	if err == nil {
		err = bounded(c.AsItLies, open)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	q, r, err := s.question(ctx, h, c)
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := q.value(c, h)
	if err != nil {
		return desk.Decision{}, err
	}
	body.Valuer, body.Supersedes = o.Actor.Person, all.before(c)
	d := desk.Decision{Expect: []ledger.Expected{at}}
	if body.Model, err = s.useModel(ctx, &d, r); err != nil {
		return d, err
	}
	return d, d.Say(at.Stream, c.Boat, body)
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
func (s *service) question(ctx context.Context, h hull, c message.ValueBoat) (question, rules, error) {
	r, err := s.rules(ctx)
	if err != nil {
		return question{}, r, err
	}
	sales, err := s.sales(ctx, h.kind, c.On)
	if err != nil {
		return question{}, r, err
	}
	q, err := ask(h, c, r, inMoney(sales, r.Club))
	return q, r, err
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

func (s *service) setCeiling(ctx context.Context, o desk.Order[message.SetCeiling]) (desk.Decision, error) {
	c := o.Command
	club, err := s.Currency(ctx)
	if err == nil {
		err = desk.First(desk.GoodID("boat", c.Boat), goodWork(c.Repairs, club))
	}
	if err != nil {
		return desk.Decision{}, err
	}
	h, err := s.judged(ctx, o.Caller, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	l, err := s.looked(ctx, c.Boat)
	if err == nil {
		err = l.safe()
	}
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
	d, err := s.deal(ctx, club, h)
	if err != nil {
		return desk.Decision{}, err
	}
	p, from := offerFor(basis, c.Repairs, l, d)
	body, err := p.ceiling(c)
	if err != nil {
		return desk.Decision{}, err
	}
	body.Value, body.By, body.CostsFrom = all.newest().Value, o.Actor.Person, from
	return desk.SayAt(at, c.Boat, body)
}

func (s *service) deal(ctx context.Context, club money.Currency, h hull) (d deal, err error) {
	if d.marginPercent, err = s.SettingWhole(ctx, "margin-percent"); err != nil {
		return d, err
	}
	if d.missedPercent, err = s.SettingWhole(ctx, "missed-percent"); err != nil {
		return d, err
	}
	if d.provisionalPercent, err = s.SettingWhole(ctx, "provisional-percent"); err != nil {
		return d, err
	}
	if d.costs, d.costsFrom, err = s.missedCosts(ctx, club, h.material); err != nil {
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

// fewestMended is from how many mended boats of a material the club's own book says
// what a defect costs (common practice, no source).
const fewestMended = 5

// missedCosts gives what one missed defect costs: by the club's own statement; else
// by what mending boats of the material cost it, a boat's money parted evenly among
// its findings. Neither: nothing.
func (s *service) missedCosts(ctx context.Context, club money.Currency, m boat.Material) ([]severity, string, error) {
	text, err := s.Setting(ctx, "missed-costs")
	if err != nil {
		return nil, "", err
	}
	shares, err := settings.CostShares(text, club)
	if err != nil {
		return nil, "", desk.Conflict("", "the setting missed-costs cannot be read: %s; an administrator has to change it", err)
	}
	var costs []severity
	for _, share := range shares {
		costs = append(costs, severity{float64(share.Percent) / 100, share.CostMinor})
	}
	if costs != nil {
		return costs, "the club's statement of what defects cost that only the workshop finds", nil
	}
	history, err := s.mendingCosts(ctx, club, m)
	if err != nil || len(history) < fewestMended {
		return nil, "", err
	}
	for _, minor := range history {
		costs = append(costs, severity{CostMinor: minor})
	}
	return evenly(costs), fmt.Sprintf("what mending %d boats of %s cost the club, a finding; those that only the workshop finds are often dearer", len(history), m), nil
}
