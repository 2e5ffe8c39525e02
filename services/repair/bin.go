package repair

import (
	"math/big"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// mostQuantity bounds what a bin holds: a million of its unit.
const mostQuantity = 1_000_000 * message.Whole

// bin is what a bin's own stream adds up to. What it holds is worth what was paid
// for it, less what left it at the average of that moment; an empty bin is worth
// nothing.
type bin struct {
	opened  *message.BinOpened
	name    string
	held    message.Quantity
	value   money.Amount
	kept    map[boat.ID]message.Quantity // for boats
	takes   map[string]*take             // by entry
	entries map[string]bool
}

// take is what left for a boat, with what has not come back of it.
type take struct {
	boat boat.ID
	left message.Quantity
	cost money.Amount // of what is left
	on   clock.Date
}

// Fold adds an event.
func (b *bin) Fold(_ message.Event, body message.Body) {
	if b.takes == nil {
		b.kept, b.takes, b.entries = map[boat.ID]message.Quantity{}, map[string]*take{}, map[string]bool{}
	}
	switch said := body.(type) {
	case message.BinOpened:
		b.opened, b.name = &said, said.Name
	case message.BinChanged:
		b.name = said.Name
	case message.StockBought:
		b.entries[said.Entry] = true
		b.add(said.Quantity, said.Cost)
	case message.StockSalvaged:
		b.entries[said.Entry] = true
		b.add(said.Quantity, said.Value)
	case message.StockReserved:
		b.keep(said.Boat, said.Quantity)
	case message.StockTaken:
		b.entries[said.Entry] = true
		b.takes[said.Entry] = &take{said.Boat, said.Quantity, said.Cost, said.On}
		b.add(-said.Quantity, said.Cost.Neg())
		b.keep(said.Boat, max(0, b.kept[said.Boat]-said.Quantity))
	case message.StockReturned:
		b.entries[said.Entry] = true
		t := b.takes[said.Of]
		t.left -= said.Quantity
		t.cost.Minor -= said.Cost.Minor
		b.add(said.Quantity, said.Cost)
	case message.StockWrittenOff:
		b.entries[said.Entry] = true
		b.add(-said.Quantity, said.Cost.Neg())
	}
}

// add changes what the bin holds; what was decided cannot overflow.
func (b *bin) add(quantity message.Quantity, cost money.Amount) {
	b.held += quantity
	b.value = money.Of(b.value.Minor+cost.Minor, cost.Currency)
}

func (b *bin) keep(id boat.ID, quantity message.Quantity) {
	if quantity == 0 {
		delete(b.kept, id)
		return
	}
	b.kept[id] = quantity
}

// free is what nobody but this boat has reserved.
func (b *bin) free(id boat.ID) message.Quantity {
	free := b.held
	for of, quantity := range b.kept {
		if of != id {
			free -= quantity
		}
	}
	return free
}

// average gives the share of a cost that falls on a part of a quantity, rounded
// to the nearest minor unit, halves to the even one. All of the quantity bears all
// of the cost.
func average(cost money.Amount, part, of message.Quantity) money.Amount {
	n := new(big.Int).Mul(big.NewInt(cost.Minor), big.NewInt(int64(part)))
	q, r := new(big.Int).QuoRem(n, big.NewInt(int64(of)), new(big.Int))
	twice := r.Lsh(r, 1).CmpAbs(big.NewInt(int64(of)))
	if twice > 0 || twice == 0 && q.Bit(0) == 1 {
		q.Add(q, big.NewInt(1))
	}
	return money.Of(q.Int64(), cost.Currency)
}

// says writes a quantity of the bin for people.
func (b *bin) says(quantity message.Quantity) string { return quantity.In(b.opened.Unit) }

// known wants a bin that was opened.
func (b *bin) known() error {
	if b.opened == nil {
		return desk.Unknown("bin", "the workshop keeps no bin under this id")
	}
	return nil
}

// newEntry wants an id under which nothing moved yet.
func (b *bin) newEntry(id string) error {
	if err := desk.GoodID("entry", id); err != nil {
		return err
	}
	if b.entries[id] {
		return desk.Conflict("entry", "something is booked under this id already")
	}
	return nil
}

// goodQuantity wants something, and pieces whole.
func (b *bin) goodQuantity(quantity message.Quantity) error {
	switch {
	case quantity < 1 || quantity > mostQuantity:
		return fault.Field("quantity", "must be more than nothing and at most %s", b.says(mostQuantity))
	case b.opened.Unit == message.Pieces && quantity%message.Whole != 0:
		return fault.Field("quantity", "there are only whole pieces")
	}
	return nil
}

// room wants that so much more can be kept.
func (b *bin) room(quantity message.Quantity, cost money.Amount) error {
	switch {
	case b.held+quantity > mostQuantity:
		return fault.Field("quantity", "is more than a bin holds, %s", b.says(mostQuantity))
	case b.value.Minor != 0 && cost.Minor != 0 && b.value.Currency != cost.Currency:
		return desk.Conflict("cost", "this bin is kept in %s; open another one", b.value.Currency)
	case b.value.Minor+cost.Minor > desk.MaxMinor:
		return fault.Field("cost", "is more than the book takes for one bin")
	}
	return nil
}

// enough wants that so much is there and not kept for others.
func (b *bin) enough(quantity, free message.Quantity) error {
	if quantity <= free {
		return nil
	}
	if free < b.held {
		return desk.Conflict("quantity", "no more than %s of %s can be had; the rest is reserved", b.says(free), b.name)
	}
	return desk.Conflict("quantity", "no more than %s of %s can be had", b.says(b.held), b.name)
}

// open decides to keep something in stock. No body means that the bin is there
// already, and the same.
func (b *bin) open(c message.OpenBin) (message.Body, error) {
	err := desk.First(
		desk.GoodID("bin", c.Bin),
		goodBin(c.Name, c.Where, c.Low),
		boat.Known("unit", c.Unit, message.Units),
	)
	if err == nil && b.opened != nil {
		err = desk.Conflict("bin", "a bin under this id is open already")
	}
	if err != nil {
		return nil, err
	}
	return message.BinOpened{Bin: c.Bin, Name: c.Name, Unit: c.Unit, Where: c.Where, Low: c.Low}, nil
}

func goodBin(name, where string, low message.Quantity) error {
	err := desk.First(
		desk.Needed("name", name, "say what is in the bin"),
		desk.OneLine("name", name, desk.MaxLine),
		desk.OneLine("where", where, desk.MaxLine),
	)
	if err == nil && (low < 0 || low > mostQuantity) {
		err = fault.Field("low", "must not be less than nothing, nor more than a million")
	}
	return err
}

func (b *bin) change(c message.ChangeBin) (message.Body, error) {
	if err := desk.First(b.known(), goodBin(c.Name, c.Where, c.Low)); err != nil {
		return nil, err
	}
	return message.BinChanged{Bin: c.Bin, Name: c.Name, Where: c.Where, Low: c.Low}, nil
}

// buy decides to book a purchase. by books it.
func (b *bin) buy(c message.BuyStock, club money.Currency, by people.ID, today clock.Date) (message.Body, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	err := desk.First(
		b.newEntry(c.Entry),
		b.goodQuantity(c.Quantity),
		desk.ClubMoney("cost", c.Cost, club),
		boat.Known("paid_by", c.PaidBy, message.Payers),
		goodReceipt(c.Receipt),
		desk.NotLonger("words", c.Words, desk.MaxWords),
		desk.Past("on", c.On, today),
	)
	if err == nil && c.PaidBy == message.DonorPays {
		err = fault.Field("paid_by", "what a donor pays for is booked on the boat that they gave: it changes their paper")
	}
	cost := money.Of(c.Cost.Minor, club)
	if err == nil {
		err = b.room(c.Quantity, cost)
	}
	if err != nil {
		return nil, err
	}
	return message.StockBought{
		Bin: c.Bin, Entry: c.Entry, Quantity: c.Quantity, Cost: cost, PaidBy: c.PaidBy, Pocket: pocket(c.PaidBy, c.Pocket, by),
		Receipt: c.Receipt, Words: c.Words, On: c.On,
	}, nil
}

// reserve decides how much is kept for a boat. No body means that so much is kept
// already.
func (b *bin) reserve(c message.ReserveStock) (message.Body, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	if c.Quantity != 0 {
		if err := desk.First(b.goodQuantity(c.Quantity), b.enough(c.Quantity, b.free(c.Boat))); err != nil {
			return nil, err
		}
	}
	if b.kept[c.Boat] == c.Quantity {
		return nil, nil
	}
	return message.StockReserved{Bin: c.Bin, Boat: c.Boat, Quantity: c.Quantity}, nil
}

// take decides to take something for a boat, at the average of what is there.
func (b *bin) take(c message.TakeStock, today clock.Date) (message.Body, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	err := desk.First(
		b.newEntry(c.Entry),
		b.goodQuantity(c.Quantity),
		b.enough(c.Quantity, b.free(c.Boat)),
		desk.Past("on", c.On, today),
	)
	if err != nil {
		return nil, err
	}
	return message.StockTaken{
		Bin: c.Bin, Boat: c.Boat, Entry: c.Entry, Name: b.name, Unit: b.opened.Unit,
		Quantity: c.Quantity, Cost: average(b.value, c.Quantity, b.held), On: c.On,
	}, nil
}

// giveBack decides that something comes back, at the cost at which it left.
func (b *bin) giveBack(c message.ReturnStock, today clock.Date) (message.Body, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	t := b.takes[c.Of]
	if t == nil {
		return nil, desk.Unknown("of", "nothing was taken from this bin under this id")
	}
	err := desk.First(
		b.newEntry(c.Entry),
		b.goodQuantity(c.Quantity),
		desk.Past("on", c.On, today),
		desk.Needed("why", c.Why, "say why it comes back"),
	)
	switch {
	case err != nil:
	case c.Quantity > t.left:
		err = fault.Field("quantity", "is more than was taken and has not come back, %s", b.says(t.left))
	case c.On.Before(t.on):
		err = fault.Field("on", "lies before the day on which it was taken, %s", t.on)
	}
	cost := money.Amount{}
	if err == nil {
		cost = average(t.cost, c.Quantity, t.left)
		err = b.room(c.Quantity, cost)
	}
	if err != nil {
		return nil, err
	}
	return message.StockReturned{Bin: c.Bin, Boat: t.boat, Entry: c.Entry, Of: c.Of, Quantity: c.Quantity, Cost: cost, On: c.On, Why: c.Why}, nil
}

// writeOff decides that something is gone, for no boat.
func (b *bin) writeOff(c message.WriteOffStock, today clock.Date) (message.Body, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	err := desk.First(
		b.newEntry(c.Entry),
		b.goodQuantity(c.Quantity),
		b.enough(c.Quantity, b.free("")),
		desk.Past("on", c.On, today),
		desk.Needed("why", c.Why, "say what became of it"),
	)
	if err != nil {
		return nil, err
	}
	return message.StockWrittenOff{Bin: c.Bin, Entry: c.Entry, Quantity: c.Quantity, Cost: average(b.value, c.Quantity, b.held), On: c.On, Why: c.Why}, nil
}

// salvage decides to keep a part of a retired boat, at a value. The caller has
// seen that the boat is retired.
func (b *bin) salvage(c message.SalvagePart, club money.Currency, today clock.Date) (message.Body, error) {
	if err := b.known(); err != nil {
		return nil, err
	}
	value := money.Of(c.Value.Minor, club)
	err := desk.First(
		b.newEntry(c.Entry),
		b.goodQuantity(c.Quantity),
		desk.ClubMoney("value", c.Value, club),
		desk.Needed("words", c.Words, "say in what state it is"),
		desk.Past("on", c.On, today),
	)
	if err == nil {
		err = b.room(c.Quantity, value)
	}
	if err != nil {
		return nil, err
	}
	return message.StockSalvaged{Bin: c.Bin, Boat: c.Boat, Entry: c.Entry, Quantity: c.Quantity, Value: value, On: c.On, Words: c.Words}, nil
}
