package repair

import (
	"fmt"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

const whole = message.Whole

func usd(minor int64) money.Amount { return money.Of(minor, "USD") }

// binAfter folds events.
func binAfter(bodies ...message.Body) *bin {
	b := &bin{}
	for _, body := range bodies {
		b.Fold(message.Event{}, body)
	}
	return b
}

func opened(unit message.Unit) message.Body {
	return message.BinOpened{Bin: "n", Name: "deck line", Unit: unit, Low: 5 * whole}
}

func bought(quantity message.Quantity, minor int64) message.Body {
	return message.StockBought{Bin: "n", Entry: fmt.Sprint("b", quantity, "-", minor), Quantity: quantity, Cost: usd(minor)}
}

// Cord that is bought by the drum and cut by the metre costs by the metre: the
// moving average (IAS 2, paragraph 27: "the average may be calculated on a
// periodic basis, or as each additional shipment is received", from memory).
func TestCordIsCutByTheMetreAtTheMovingAverage(t *testing.T) {
	b := binAfter(opened(message.Metres), bought(50*whole, 4200))
	take := func(entry string, quantity message.Quantity) message.StockTaken {
		body, err := b.take(message.TakeStock{Bin: "n", Boat: "b1", Entry: entry, Quantity: quantity, On: day}, day)
		require.NoError(t, err)
		b.Fold(message.Event{}, body)
		return body.(message.StockTaken)
	}
	assert.Equal(t, usd(504), take("t1", 6*whole).Cost, "0.84 a metre")
	assert.Equal(t, usd(210), take("t2", 2500).Cost)
	b.Fold(message.Event{}, bought(50*whole, 6000))
	assert.Equal(t, usd(9486), b.value)
	assert.Equal(t, usd(1037), take("t3", 10*whole).Cost, "9486 for 91.5 m: 1036.7")
	body, err := b.giveBack(message.ReturnStock{Bin: "n", Entry: "r1", Of: "t1", Quantity: 2 * whole, On: day, Why: "cut too long"}, day)
	require.NoError(t, err)
	assert.Equal(t, usd(168), body.(message.StockReturned).Cost, "at what it had left for, not at today's average")
	assert.Equal(t, "2.5 metres", message.Quantity(2500).In(message.Metres))
	assert.Equal(t, "3 pieces", message.Quantity(3000).In(message.Pieces))
	assert.Equal(t, "1 piece", message.Whole.In(message.Pieces))
	assert.Equal(t, "-6.5 metres", message.Quantity(-6500).In(message.Metres))
	assert.Equal(t, "0.05 grams", message.Quantity(50).In(message.Grams))
}

func TestHalvesAreRoundedToTheEvenUnit(t *testing.T) {
	for _, row := range []struct {
		cost     int64
		part, of message.Quantity
		want     int64
	}{{5, 1, 2, 2}, {7, 1, 2, 4}, {10, 1, 3, 3}, {20, 1, 3, 7}, {9, 3, 3, 9}, {0, 1, 3, 0}, {1_000_000_000, 999_999_999, 1_000_000_000, 999_999_999}} {
		assert.Equal(t, usd(row.want), average(usd(row.cost), row.part, row.of), "%+v", row)
	}
}

func TestABinRefuses(t *testing.T) {
	seats := func(more ...message.Body) *bin {
		return binAfter(append([]message.Body{opened(message.Pieces), bought(2*whole, 3000)}, more...)...)
	}
	take := message.TakeStock{Bin: "n", Boat: "b1", Entry: "t1", Quantity: whole, On: day}
	buy := message.BuyStock{Bin: "n", Entry: "e1", Quantity: whole, Cost: usd(100), PaidBy: message.ClubPays, On: day}
	try := func(c message.TakeStock, change func(*message.TakeStock), b *bin) error {
		change(&c)
		_, err := b.take(c, day)
		return err
	}
	tryBuy := func(change func(*message.BuyStock), b *bin) error {
		c := buy
		change(&c)
		_, err := b.buy(c, "USD", "p1", day)
		return err
	}
	kept := message.StockReserved{Bin: "n", Boat: "b2", Quantity: 2 * whole}
	for name, row := range map[string]struct {
		err   error
		kind  fault.Kind
		field string
		says  string
	}{
		"a bin that is none":        {try(take, func(*message.TakeStock) {}, binAfter()), fault.Unknown, "bin", ""},
		"more than there is":        {try(take, func(c *message.TakeStock) { c.Quantity = 3 * whole }, seats()), fault.Conflict, "quantity", "no more than 2 pieces of deck line can be had"},
		"half a piece":              {try(take, func(c *message.TakeStock) { c.Quantity = 500 }, seats()), fault.Invalid, "quantity", "whole pieces"},
		"nothing":                   {try(take, func(c *message.TakeStock) { c.Quantity = 0 }, seats()), fault.Invalid, "quantity", ""},
		"what is kept for another":  {try(take, func(*message.TakeStock) {}, seats(kept)), fault.Conflict, "quantity", "no more than 0 pieces of deck line can be had"},
		"the same entry":            {try(take, func(c *message.TakeStock) { c.Entry = "b2000-3000" }, seats()), fault.Conflict, "entry", ""},
		"a day to come":             {try(take, func(c *message.TakeStock) { c.On = day.AddDays(1) }, seats()), fault.Invalid, "on", ""},
		"a donor's money":           {tryBuy(func(c *message.BuyStock) { c.PaidBy = message.DonorPays }, seats()), fault.Invalid, "paid_by", "booked on the boat"},
		"another currency":          {tryBuy(func(c *message.BuyStock) { c.Cost = money.Of(5, "EUR") }, seats()), fault.Invalid, "cost", ""},
		"a bin of another currency": {tryBuy(func(*message.BuyStock) {}, binAfter(opened(message.Pieces), message.StockBought{Entry: "x", Quantity: whole, Cost: money.Of(5, "EUR")})), fault.Conflict, "cost", "kept in EUR"},
		"more than a bin holds":     {tryBuy(func(c *message.BuyStock) { c.Quantity = mostQuantity }, seats()), fault.Invalid, "quantity", "more than a bin holds"},
		"more than the book takes":  {tryBuy(func(c *message.BuyStock) { c.Cost = usd(1_000_000_000) }, seats()), fault.Invalid, "cost", "more than the book takes"},
	} {
		t.Log(name)
		faulttest.Want(t, row.err, row.kind, row.field, name)
		assert.Contains(t, row.err.Error(), row.says, name)
	}
	assert.NoError(t, try(take, func(c *message.TakeStock) { c.Boat = "b2" }, seats(kept)), "its own reservation is no obstacle")
	b := seats(kept, message.StockTaken{Bin: "n", Boat: "b2", Entry: "t", Quantity: whole, Cost: usd(1500)})
	assert.Equal(t, message.Quantity(whole), b.kept["b2"], "what was taken is not reserved any more")

	given := seats(message.StockTaken{Bin: "n", Boat: "b1", Entry: "t", Quantity: whole, Cost: usd(1500), On: day})
	for name, c := range map[string]message.ReturnStock{
		"quantity": {Entry: "r", Of: "t", Quantity: 2 * whole, On: day, Why: "x"}, "of": {Entry: "r", Of: "u", Quantity: whole, On: day, Why: "x"},
		"on": {Entry: "r", Of: "t", Quantity: whole, On: day.AddDays(-1), Why: "x"}, "why": {Entry: "r", Of: "t", Quantity: whole, On: day},
	} {
		_, err := given.giveBack(c, day)
		require.Error(t, err, name)
		assert.Equal(t, name, fault.Of(err).Field)
	}
}

// Whatever is asked of a bin: it never holds less than nothing, what it is worth
// is what went in less what went out, and that lies within rounding of an exact
// computation in fractions.
func TestNoOrderBreaksABin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom(message.Units).Draw(t, "unit")
		b := binAfter(opened(unit))
		exact, moved := new(big.Rat), 0
		taken := map[string]*big.Rat{} // exact cost of what has not come back
		for i := range rapid.IntRange(1, 60).Draw(t, "orders") {
			quantity := message.Quantity(rapid.Int64Range(-1, 12).Draw(t, "quantity") * rapid.SampledFrom([]int64{1, 250, 1000}).Draw(t, "grain"))
			before, entry := b.held, fmt.Sprint("e", i)
			body, err := drawOrder(t, b, entry, quantity)
			if err != nil || body == nil {
				continue
			}
			held := new(big.Rat).SetInt64(int64(before))
			share := func(of *big.Rat, part, whole *big.Rat) *big.Rat {
				return new(big.Rat).Quo(new(big.Rat).Mul(of, part), whole)
			}
			part := new(big.Rat).SetInt64(int64(quantity))
			switch said := body.(type) {
			case message.StockBought:
				exact.Add(exact, new(big.Rat).SetInt64(said.Cost.Minor))
			case message.StockTaken:
				taken[entry] = share(exact, part, held)
				exact.Sub(exact, taken[entry])
				moved++
			case message.StockWrittenOff:
				exact.Sub(exact, share(exact, part, held))
				moved++
			case message.StockReturned:
				back := share(taken[said.Of], part, new(big.Rat).SetInt64(int64(b.takes[said.Of].left)))
				taken[said.Of].Sub(taken[said.Of], back)
				exact.Add(exact, back)
				moved++
			}
			b.Fold(message.Event{}, body)
			if b.held < 0 || b.value.Minor < 0 || b.free("") < 0 {
				t.Fatalf("after %+v: %d held, worth %s", body, b.held, b.value)
			}
			if b.held == 0 && b.value.Minor != 0 {
				t.Fatalf("an empty bin is worth %s", b.value)
			}
			off := new(big.Rat).Sub(exact, new(big.Rat).SetInt64(b.value.Minor))
			if off.Abs(off).Cmp(big.NewRat(int64(moved), 1)) > 0 { // half a unit a move, at most doubled by its return
				t.Fatalf("%s is off the exact value by %s after %d roundings", b.value, off.FloatString(3), moved)
			}
		}
	})
}

func drawOrder(t *rapid.T, b *bin, entry string, quantity message.Quantity) (message.Body, error) {
	of := boat.ID(rapid.SampledFrom([]string{"b1", "b2"}).Draw(t, "boat"))
	switch rapid.IntRange(0, 4).Draw(t, "order") {
	case 0:
		cost := usd(rapid.Int64Range(0, 5000).Draw(t, "cost"))
		return b.buy(message.BuyStock{Entry: entry, Quantity: quantity, Cost: cost, PaidBy: message.ClubPays, On: day}, "USD", "p", day)
	case 1:
		return b.take(message.TakeStock{Boat: of, Entry: entry, Quantity: quantity, On: day}, day)
	case 2:
		return b.reserve(message.ReserveStock{Boat: of, Quantity: quantity})
	case 3:
		if len(b.takes) == 0 {
			return nil, nil
		}
		var entries []string
		for e := range b.takes {
			entries = append(entries, e)
		}
		return b.giveBack(message.ReturnStock{Entry: entry, Of: rapid.SampledFrom(sorted(entries)).Draw(t, "of"), Quantity: quantity, On: day, Why: "unused"}, day)
	}
	return b.writeOff(message.WriteOffStock{Entry: entry, Quantity: quantity, On: day, Why: "spoiled"}, day)
}
