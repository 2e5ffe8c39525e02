package treasury

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

func TestNoMoreGoesBackToABuyerThanWasPaid(t *testing.T) {
	sold := func() *book {
		b := &book{}
		b.Fold(message.Event{}, message.BoatSold{Boat: "b1", On: day.AddDays(-1), Gross: usd(130_000), ArmsLength: true})
		return b
	}
	once := sold()
	once.Fold(message.Event{}, message.BuyerRefunded{Boat: "b1", Refund: usd(30_000)})
	back := sold()
	back.Fold(message.Event{}, message.SaleTakenBack{Boat: "b1"})
	order := message.RefundBuyer{Boat: "b1", On: day, Refund: usd(100_000), Words: "a rudder was missing"}
	with := func(change func(*message.RefundBuyer)) message.RefundBuyer { c := order; change(&c); return c }
	for _, row := range []struct {
		name  string
		book  *book
		order message.RefundBuyer
		kind  fault.Kind
		field string
	}{
		{"a part", sold(), order, "", ""},
		{"what is left", once, order, "", ""},
		{"a cent more than is left", once, with(func(c *message.RefundBuyer) { c.Refund = usd(100_001) }), fault.Invalid, "refund"},
		{"nothing", sold(), with(func(c *message.RefundBuyer) { c.Refund = usd(0) }), fault.Invalid, "refund"},
		{"less", sold(), with(func(c *message.RefundBuyer) { c.Refund = usd(-1) }), fault.Invalid, "refund"},
		{"in another currency", sold(), with(func(c *message.RefundBuyer) { c.Refund = money.Of(1, "CAD") }), fault.Invalid, "refund"},
		{"on the day of the sale", sold(), with(func(c *message.RefundBuyer) { c.On = day.AddDays(-1) }), "", ""},
		{"before the sale", sold(), with(func(c *message.RefundBuyer) { c.On = day.AddDays(-2) }), fault.Invalid, "on"},
		{"tomorrow", sold(), with(func(c *message.RefundBuyer) { c.On = day.AddDays(1) }), fault.Invalid, "on"},
		{"without a reason", sold(), with(func(c *message.RefundBuyer) { c.Words = " " }), fault.Invalid, "words"},
		{"never sold", &book{}, order, fault.Conflict, "boat"},
		{"brought back before", back, order, fault.Conflict, "boat"},
	} {
		_, err := row.book.refund(row.order, given(), "USD", day)
		if row.kind == "" {
			assert.NoError(t, err, row.name)
		} else {
			faulttest.Want(t, err, row.kind, row.field, row.name)
		}
	}
	_, err := sold().takeBack(message.TakeSaleBack{Boat: "b1", On: day, Words: "it leaks"}, given(), "USD", day)
	assert.NoError(t, err, "a boat may come back without money")
}

// A second sale and a second refund of one boat are entries of their own.
func TestEachSaleAndRefundIsAnEntryOfItsOwn(t *testing.T) {
	b := &book{}
	for range 2 {
		for _, said := range [][]message.EntryPosted{
			b.sale(message.BoatSold{Boat: "b1", On: day, Gross: usd(500)}, "Heron"),
			b.refunded(message.BuyerRefunded{Boat: "b1", On: day, Refund: usd(500), Words: "it leaks"}, "Heron"),
		} {
			require.Len(t, said, 1)
			require.NoError(t, balanced(said[0]))
			b.Fold(message.Event{}, said[0])
		}
	}
	sums, ids := map[string]int64{}, map[string]bool{}
	for _, e := range b.entries {
		ids[e.Entry] = true
		for _, l := range e.Lines {
			sums[l.Account] += l.Amount.Minor
		}
	}
	assert.Len(t, ids, 4)
	assert.Equal(t, map[string]int64{cash: 0, sales: 0}, sums)
	assert.Empty(t, b.refunded(message.BuyerRefunded{Boat: "b1"}, "Heron"), "nothing back is no entry")
}

// What a paper states in boxes 4a to 4c, and whether it is filed at all, goes by the sale
// that stands. Above 500 USD the gross proceeds are stated (IRC 170(f)(12)(B)(iii)); at
// 500 USD it is box 7 (Notice 2005-44 s. 4.02).
func TestAPaperGoesByWhatTheClubKeepsOfASale(t *testing.T) {
	sale := message.BoatSold{Boat: "b1", On: clock.MustDate("2026-04-18"), Gross: usd(56_000), ArmsLength: true}
	for name, row := range map[string]struct {
		after  []message.Body
		gross  any // box 4c
		box7   any
		filed  bool
		papers int
	}{
		"as it was sold":         {nil, int64(56_000), nil, true, 1},
		"a cent above 500 stays": {[]message.Body{message.BuyerRefunded{Refund: usd(5_999)}}, int64(50_001), nil, true, 1},
		"500 stay":               {[]message.Body{message.BuyerRefunded{Refund: usd(6_000)}}, nil, true, false, 1},
		"in two parts":           {[]message.Body{message.BuyerRefunded{Refund: usd(1_000)}, message.BuyerRefunded{Refund: usd(2_000)}}, int64(53_000), nil, true, 1},
		"brought back":           {[]message.Body{message.SaleTakenBack{On: sale.On}}, nil, nil, false, 0},
		"sold again for more": {[]message.Body{message.SaleTakenBack{On: sale.On}, message.BoatSold{On: sale.On, Gross: usd(60_000), ArmsLength: true}},
			int64(60_000), nil, true, 1},
	} {
		var b book
		b.Fold(message.Event{}, sale)
		for _, body := range row.after {
			b.Fold(message.Event{}, body)
		}
		g := soldGift()
		g.sold = b.sold
		letter, err := g.ruled(taxpaper.US, clock.MustDate("2026-04-20"))
		require.NoError(t, err, name)
		require.Len(t, letter.Papers, row.papers, name)
		if row.papers > 0 {
			boxes := letter.Papers[0].Boxes
			assert.Equal(t, []any{row.gross, row.box7}, []any{boxes["4c"], boxes["7"]}, name)
			assert.Equal(t, row.filed, boxes["4a"] == true, name)
			decision, err := textOf(letter)
			require.NoError(t, err, name)
			assert.Equal(t, row.filed, hasCopyA(decision), name)
		}
		assert.Equal(t, row.filed, len(letter.Filings) == 1, "%s: copy A", name)
	}
}

// IRC 170(f)(12)(B)(iii): the acknowledgment of a sale states the gross proceeds; (A)(ii):
// the deduction may not exceed them.
func TestAPaperThatStatesASaleThatDidNotStayIsWrong(t *testing.T) {
	const decision = `{"papers":[{"boxes":{"4a":true,"4b":"2026-03-31","4c":130000}}]}`
	stated, err := saleOf("US-2026-0001", decision)
	require.NoError(t, err)
	none, err := saleOf("US-2026-0002", `{"papers":[{"boxes":{"7":true}}]}`)
	require.NoError(t, err)
	sale := message.BoatSold{Boat: "b1", On: day.AddDays(-1), Gross: usd(130_000), ArmsLength: true}
	for name, row := range map[string]struct {
		stated *statedSale
		after  []message.Body
		says   []string
	}{
		"as it says":             {stated, nil, nil},
		"a paper without a sale": {none, []message.Body{message.SaleTakenBack{}}, nil},
		"no paper":               {nil, []message.Body{message.BuyerRefunded{Refund: usd(1)}}, nil},
		"brought back":           {stated, []message.Body{message.SaleTakenBack{Refund: usd(130_000)}}, []string{"US-2026-0001", "1300.00 USD", "brought the boat back", "170(f)(12)(B)(iii)", "Cancel the paper", "within 30 days"}},
		"a cent back":            {stated, []message.Body{message.BuyerRefunded{Refund: usd(1)}}, []string{"1299.99 USD", "names the cancelled one"}},
		"sold again": {stated, []message.Body{message.SaleTakenBack{}, message.BoatSold{On: day, Gross: usd(130_000)}},
			[]string{"sold on 2026-04-01"}},
	} {
		var b book
		b.Fold(message.Event{}, sale)
		for _, body := range row.after {
			b.Fold(message.Event{}, body)
		}
		words := gift{record: given(), sold: b.sold, stated: row.stated}.staleSale()
		assert.Equal(t, row.says == nil, words == "", name)
		for _, part := range row.says {
			assert.Contains(t, words, part, name)
		}
	}
}
