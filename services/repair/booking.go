package repair

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// mostMinutes is a day: hours are booked day by day.
const mostMinutes = 24 * 60

// bookPart decides to book money spent on the boat. by books it; whether Pocket is
// a member is not asked here.
func (b *bench) bookPart(h *hull, c message.BookPart, club money.Currency, by people.ID, today clock.Date) (message.Body, error) {
	if c.Cost.IsZero() {
		return nil, fault.Field("cost", "say what it cost; nothing is booked for what was free")
	}
	c.What = cmp.Or(c.What, message.ForPart)
	err := desk.First(
		h.takesBookings(),
		b.newEntry(c.Entry),
		boat.Known("what", c.What, message.Spendings),
		desk.Needed("words", c.Words, "say what was bought"),
		desk.ClubMoney("cost", c.Cost, club),
		boat.Known("paid_by", c.PaidBy, message.Payers),
		goodReceipt(c.Receipt),
		desk.Past("on", c.On, today),
	)
	if err != nil {
		return nil, err
	}
	return message.PartBooked{
		Boat: c.Boat, Entry: c.Entry, What: c.What, Words: c.Words, Cost: c.Cost, PaidBy: c.PaidBy, Pocket: pocket(c.PaidBy, c.Pocket, by), Receipt: c.Receipt, On: c.On,
	}, nil
}

// pocket gives the member who is out of money: nobody, unless it was a member's
// own; then the one named, or else whoever books it.
func pocket(paidBy message.Payer, named, by people.ID) people.ID {
	if paidBy != message.OwnPocket {
		return ""
	}
	return cmp.Or(named, by)
}

// goodReceipt wants the SHA-256 of a photo, or nothing.
func goodReceipt(hash string) error {
	raw, err := hex.DecodeString(hash)
	if hash != "" && (err != nil || len(raw) != sha256.Size || strings.ToLower(hash) != hash) {
		return fault.Field("receipt", "is not the fingerprint of a photo (64 digits from 0 to f)")
	}
	return nil
}

// newEntry wants an id under which nothing is booked yet, neither money nor
// hours.
func (b *bench) newEntry(id string) error {
	if err := desk.GoodID("entry", id); err != nil {
		return err
	}
	if _, worked := b.hours[id]; worked || b.parts[id] != nil {
		return desk.Conflict("entry", "something is booked under this id already")
	}
	return nil
}

// reversePart decides to take a booking back, with the cost that it had.
func (b *bench) reversePart(c message.ReversePart, today clock.Date) (message.Body, error) {
	p := b.parts[c.Entry]
	switch {
	case p == nil || p.recovered:
		return nil, desk.Unknown("entry", "no money is booked under this id")
	}
	if err := p.mayReverse(c.On, c.Why, today); err != nil {
		return nil, err
	}
	return message.PartReversed{Boat: c.Boat, Entry: c.Entry, Cost: p.cost, PaidBy: p.paidBy, On: c.On, Why: c.Why}, nil
}

// mayReverse wants a booking that stands, a day that is not before it, and a
// reason.
func (p *part) mayReverse(on clock.Date, why string, today clock.Date) error {
	if p.reversed {
		return desk.Conflict("entry", "this booking was taken back before")
	}
	err := desk.First(desk.Past("on", on, today), desk.Needed("why", why, "say what was wrong with the booking"))
	if err == nil && on.Before(p.on) {
		err = fault.Field("on", "lies before the day of the booking, %s", p.on)
	}
	return err
}

// reverseHours decides to take a booking of hours back.
func (b *bench) reverseHours(c message.ReverseHours, today clock.Date) (message.Body, error) {
	h := b.hours[c.Entry]
	switch {
	case h == nil:
		return nil, desk.Unknown("entry", "no hours are booked under this id")
	case h.reversed:
		return nil, desk.Conflict("entry", "this booking was taken back before")
	}
	err := desk.First(desk.Past("on", c.On, today), desk.Needed("why", c.Why, "say what was wrong with the booking"))
	if err == nil && c.On.Before(h.on) {
		err = fault.Field("on", "lies before the day of the booking, %s", h.on)
	}
	if err != nil {
		return nil, err
	}
	return message.HoursReversed{Boat: c.Boat, Entry: c.Entry, Who: h.who, Minutes: h.minutes, On: c.On, Why: c.Why}, nil
}

// recoverMoney decides to book money that came in for the boat.
func (b *bench) recoverMoney(h *hull, c message.RecoverMoney, club money.Currency, today clock.Date) (message.Body, error) {
	if c.Amount.IsZero() {
		return nil, fault.Field("amount", "say how much came in")
	}
	err := desk.First(
		h.takesBookings(),
		b.newEntry(c.Entry),
		desk.Needed("words", c.Words, "say what the money is for"),
		desk.ClubMoney("amount", c.Amount, club),
		desk.Past("on", c.On, today),
	)
	if err != nil {
		return nil, err
	}
	return message.MoneyRecovered{Boat: c.Boat, Entry: c.Entry, Words: c.Words, Amount: c.Amount, On: c.On}, nil
}

// reverseRecovery decides to take such a booking back.
func (b *bench) reverseRecovery(c message.ReverseRecovery, today clock.Date) (message.Body, error) {
	p := b.parts[c.Entry]
	if p == nil || !p.recovered {
		return nil, desk.Unknown("entry", "no money is booked as recovered under this id")
	}
	if err := p.mayReverse(c.On, c.Why, today); err != nil {
		return nil, err
	}
	return message.RecoveryReversed{Boat: c.Boat, Entry: c.Entry, Amount: p.cost, On: c.On, Why: c.Why}, nil
}

// bookHours decides to book time worked on the boat. Whether Who is a member is
// not asked here; has are their skills.
func (b *bench) bookHours(h *hull, c message.BookHours, has craft, today clock.Date) (message.Body, error) {
	c.What = cmp.Or(c.What, message.OtherDoings)
	err := desk.First(
		h.takesBookings(),
		b.newEntry(c.Entry),
		desk.Within("minutes", c.Minutes, 1, mostMinutes),
		boat.Known("what", c.What, message.Doings),
		desk.Needed("doing", c.Doing, "say what was done"),
		desk.Past("on", c.On, today),
	)
	if err == nil && !has.can(c.What.Skill()) {
		err = fault.Field("what", "they are not signed off for %s; what they did beside somebody who is, is %s", c.What, message.Learning)
	}
	if err != nil {
		return nil, err
	}
	return message.HoursBooked{Boat: c.Boat, Entry: c.Entry, Who: c.Who, Minutes: c.Minutes, What: c.What, Doing: c.Doing, On: c.On}, nil
}
