package treasury

import (
	"cmp"

	"refloat.example/pkg/clock"
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

// partEntry names the entry for a part.
func partEntry(id string) string { return "part-" + id }

// boughtEntry names the entry for what was bought for a bin.
func boughtEntry(bin, id string) string { return "bought-" + bin + "-" + id }

// booked is the entry for a part; none for one that cost nothing.
func (b *book) booked(p message.PartBooked) []message.EntryPosted {
	id := partEntry(p.Entry)
	if p.Cost.IsZero() || b.entry(id) != nil {
		return nil
	}
	return []message.EntryPosted{entry(p.Boat, id, p.On, p.Words, spentOn(p.What), paidFrom(p.PaidBy), p.Cost)}
}

// cameIn is the entry for money that came in for a boat in the workshop.
func (b *book) cameIn(m message.MoneyRecovered) []message.EntryPosted {
	return b.once(entry(m.Boat, "recovered-"+m.Entry, m.On, m.Words, cash, recovered, m.Amount))
}

// once leaves out an entry that moves nothing or was posted before.
func (b *book) once(e message.EntryPosted) []message.EntryPosted {
	if e.Lines[0].Amount.IsZero() || b.entry(e.Entry) != nil {
		return nil
	}
	return []message.EntryPosted{e}
}

// takenBack is the entry that takes one back; what a member gave for it goes with it, as
// there was nothing to give.
func (b *book) takenBack(id string, on clock.Date, why string) []message.EntryPosted {
	first := b.entry(id)
	if first == nil || b.reversed[id] {
		return nil
	}
	entries := []message.EntryPosted{opposite(*first, on, why)}
	if settled := b.entry(settledMark + id); settled != nil && settled.Lines[1].Account == pockets {
		entries = append(entries, opposite(*settled, on, why))
	}
	return entries
}

// stocked is the entry for what was bought for a bin. It is no boat's yet.
func (b *book) stocked(m message.StockBought) []message.EntryPosted {
	return b.once(entry("", boughtEntry(m.Bin, m.Entry), m.On, cmp.Or(m.Words, "for the stock"), stock, paidFrom(m.PaidBy), m.Cost))
}

// fromStock is the entry for what a bin gave to a boat.
func (b *book) fromStock(m message.StockTaken) []message.EntryPosted {
	return b.once(entry(m.Boat, "stock-"+m.Bin+"-"+m.Entry, m.On, m.Name+" from the stock", parts, stock, m.Cost))
}

// toStock is the entry for what came back from a boat.
func (b *book) toStock(m message.StockReturned) []message.EntryPosted {
	return b.once(entry(m.Boat, "stock-"+m.Bin+"-"+m.Entry, m.On, m.Why, stock, parts, m.Cost))
}

// lost is the entry for what is gone from a bin.
func (b *book) lost(m message.StockWrittenOff) []message.EntryPosted {
	return b.once(entry("", "lost-"+m.Bin+"-"+m.Entry, m.On, m.Why, losses, stock, m.Cost))
}

// kept is the entry for a part of a retired boat that goes into a bin.
func (b *book) kept(m message.StockSalvaged) []message.EntryPosted {
	return b.once(entry(m.Boat, "kept-"+m.Bin+"-"+m.Entry, m.On, m.Words, stock, recovered, m.Value))
}

// sale is the entry for what a boat fetched; none when it fetched nothing.
func (b *book) sale(s message.BoatSold, name string) []message.EntryPosted {
	return b.once(entry(s.Boat, b.fresh("sale-"+string(s.Boat)), s.On, name+" sold", cash, sales, s.Gross))
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
