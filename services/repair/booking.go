package repair

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// mostMinutes is a day: hours are booked day by day.
const mostMinutes = 24 * 60

// bookPart decides to book money spent on the boat.
func (b *bench) bookPart(h *hull, c message.BookPart, club money.Currency, today clock.Date) (message.Body, error) {
	if c.Cost.IsZero() {
		return nil, fault.Field("cost", "say what it cost; nothing is booked for what was free")
	}
	err := desk.First(
		h.takesBookings(),
		b.newEntry(c.Entry),
		desk.Needed("words", c.Words, "say what was bought"),
		desk.ClubMoney("cost", c.Cost, club),
		boat.Known("paid_by", c.PaidBy, message.Payers),
		desk.Past("on", c.On, today),
	)
	if err != nil {
		return nil, err
	}
	return message.PartBooked{Boat: c.Boat, Entry: c.Entry, Words: c.Words, Cost: c.Cost, PaidBy: c.PaidBy, On: c.On}, nil
}

// newEntry wants an id under which nothing is booked yet, neither money nor
// hours.
func (b *bench) newEntry(id string) error {
	if err := desk.GoodID("entry", id); err != nil {
		return err
	}
	if b.parts[id] != nil || b.hours[id] {
		return desk.Conflict("entry", "something is booked under this id already")
	}
	return nil
}

// reversePart decides to take a booking back, with the cost that it had.
func (b *bench) reversePart(c message.ReversePart, today clock.Date) (message.Body, error) {
	p := b.parts[c.Entry]
	switch {
	case p == nil:
		return nil, desk.Unknown("entry", "no money is booked under this id")
	case p.reversed:
		return nil, desk.Conflict("entry", "this booking was taken back before")
	}
	err := desk.First(desk.Past("on", c.On, today), desk.Needed("why", c.Why, "say what was wrong with the booking"))
	if err == nil && c.On.Before(p.on) {
		err = fault.Field("on", "lies before the day of the booking, %s", p.on)
	}
	if err != nil {
		return nil, err
	}
	return message.PartReversed{Boat: c.Boat, Entry: c.Entry, Cost: p.cost, PaidBy: p.paidBy, On: c.On, Why: c.Why}, nil
}

// bookHours decides to book time worked on the boat. Whether Who is a member is
// not asked here.
func (b *bench) bookHours(h *hull, c message.BookHours, today clock.Date) (message.Body, error) {
	err := desk.First(
		h.takesBookings(),
		b.newEntry(c.Entry),
		desk.Within("minutes", c.Minutes, 1, mostMinutes),
		desk.Needed("doing", c.Doing, "say what was done"),
		desk.Past("on", c.On, today),
	)
	if err != nil {
		return nil, err
	}
	return message.HoursBooked{Boat: c.Boat, Entry: c.Entry, Who: c.Who, Minutes: c.Minutes, Doing: c.Doing, On: c.On}, nil
}
