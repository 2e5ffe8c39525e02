package valuation

import (
	"context"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// react takes the club's own sales into the collection.
func (s *service) react(ctx context.Context, e message.Event, body message.Body) error {
	sold, ok := body.(message.BoatSold)
	if !ok {
		return nil
	}
	h, err := s.hull(ctx, sold.Boat)
	if fault.Is(err, fault.Unknown) {
		return nil
	}
	if err != nil {
		return err
	}
	c, usable := ownSale(sold, h, e.ID)
	if !usable {
		return nil
	}
	d := desk.Decision{}
	if err := d.Say(message.ValuationComparable(c.Comparable), sold.Boat, message.ComparableRecorded{Comparable: c}); err != nil {
		return err
	}
	return s.Say(ctx, e, "own-sale", d)
}

// ownSale makes a comparable of the club's own sale. A boat given away, and one
// of which nobody said in what condition it was, tells nothing of prices.
func ownSale(sold message.BoatSold, h hull, event string) (c message.Comparable, usable bool) {
	if sold.Gross.Minor <= 0 || h.grade < worst || h.grade > best {
		return c, false
	}
	c = message.Comparable{
		Comparable: "sale-" + event, Price: sold.Gross, On: sold.On, PriceKind: message.Sold, ArmsLength: sold.ArmsLength,
		Type: h.kind, LengthMM: h.lengthMM, Seats: h.seats, Material: string(h.material), AgeUnknown: h.yearBuilt == 0, Grade: h.grade,
		Source: "the club's own sale", OwnBoat: sold.Boat,
		Market: message.OwnSale, Mended: h.mended,
	}
	if h.yearBuilt > 0 {
		c.AgeYears = h.age(sold.On)
	}
	return c, true
}
