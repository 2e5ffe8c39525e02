package treasury

import (
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// paid is the entry for what the club paid for a boat; none when it paid
// nothing.
func (b *book) paid(r record) []message.EntryPosted {
	id := "paid-" + string(r.boat)
	if r.price.Minor <= 0 || b.entry(id) != nil {
		return nil
	}
	return []message.EntryPosted{entry(r.boat, id, r.received, "paid for "+r.name, costAccount, cash, r.price)}
}

// booked is the entry for a part; none for one that cost nothing.
func (b *book) booked(p message.PartBooked) []message.EntryPosted {
	id := "part-" + p.Entry
	if p.Cost.IsZero() || b.entry(id) != nil {
		return nil
	}
	return []message.EntryPosted{entry(p.Boat, id, p.On, p.Words, parts, paidFrom(p.PaidBy), p.Cost)}
}

// takenBack is the entry that takes a part back.
func (b *book) takenBack(p message.PartReversed) []message.EntryPosted {
	id := "part-" + p.Entry
	first := b.entry(id)
	if first == nil || b.reversed[id] {
		return nil
	}
	return []message.EntryPosted{opposite(*first, p.On, p.Why)}
}

// sale is the entry for what a boat fetched; none when it fetched nothing.
func sale(s message.BoatSold, name string) []message.EntryPosted {
	if s.Gross.IsZero() {
		return nil
	}
	return []message.EntryPosted{entry(s.Boat, "sale-"+string(s.Boat), s.On, name+" sold", cash, sales, s.Gross)}
}

// worth is a boat's newest value on the day of its gift.
type worth struct {
	value  string
	amount money.Amount
	valuer people.ID
}

// recognised are the entries that bring a gift into the books at its value, less
// what the club paid: the opposite of an older value's, and the right one.
func (b *book) recognised(r record, w worth) []message.EntryPosted {
	if r.taking == message.Purchase || r.received.IsZero() {
		return nil
	}
	var entries []message.EntryPosted
	id := "gift-" + w.value
	if old := b.standing(); old != nil {
		if old.Entry == id {
			return nil
		}
		entries = append(entries, opposite(*old, r.received, "another value for the day of the gift"))
	}
	given := w.amount
	if !r.price.IsZero() {
		less, err := given.Add(r.price.Neg())
		if err != nil {
			return entries // in two currencies: nothing is converted
		}
		given = less
	}
	if given.Minor <= 0 || b.entry(id) != nil {
		return entries
	}
	return append(entries, entry(r.boat, id, r.received, r.name+" given", giftAccount, contributed, given))
}
