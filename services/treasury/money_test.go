package treasury_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/treasury"
)

func part(id boat.ID, entry string, minor int64, by message.Payer) message.PartBooked {
	return message.PartBooked{Boat: id, Entry: entry, Words: "seat", Cost: usd(minor), PaidBy: by, On: today}
}

// season is a year with a purchase that was sold, a gift that was placed, a gift
// that was given up, and a boat that only took time.
func season(t *testing.T, c *desktest.Club) {
	t.Helper()
	say := func(id boat.ID, body message.Body) {
		c.Say(body.Kind().Room()+".boat/"+string(id), string(id), body)
	}
	boatOf(t, c, "bought", message.Purchase, usd(30_000))
	receive(c, "bought")
	valued(c, "bought", "v1", 40_000)
	say("bought", part("bought", "p1", 2_500, message.ClubPays))
	say("bought", part("bought", "p2", 9_900, message.ClubPays))
	say("bought", message.PartReversed{Boat: "bought", Entry: "p2", Cost: usd(9_900), PaidBy: message.ClubPays, On: today, Why: "wrong boat"})
	say("bought", message.HoursBooked{Boat: "bought", Entry: "h1", Who: "w", Minutes: 90, On: today})
	say("bought", message.HoursBooked{Boat: "bought", Entry: "h2", Who: "w", Minutes: 900, On: today})
	say("bought", message.HoursReversed{Boat: "bought", Entry: "h2", Who: "w", Minutes: 900, On: today, Why: "90, not 900"})

	gift(t, c, "given")
	say("given", part("given", "p3", 1_200, message.DonorPays))
	say("given", part("given", "p4", 800, message.OwnPocket))
	say("given", message.HoursBooked{Boat: "given", Entry: "h2", Who: "w", Minutes: 45, On: today})
	say("given", message.HoursBooked{Boat: "given", Entry: "h3", Who: "w", Minutes: 60, On: clock.MustDate("2025-12-31")})
	say("given", message.BoatHandedOver{Boat: "given", Request: "r", Household: "h", On: today})

	boatOf(t, c, "=tired", message.Gift, usd(0))
	receive(c, "=tired")
	say("=tired", message.BoatRetired{Boat: "=tired", Reason: "brittle"})
	boatOf(t, c, "asked", message.Purchase, usd(10_000))
	c.Settle()
	c.Do(c.Member(people.Treasurer), message.SellBoat{Boat: "bought", On: today, Gross: usd(47_000), ArmsLength: true})
	c.Settle()
}

func TestWhatHappensToABoatIsInItsBook(t *testing.T) {
	c := start(t)
	season(t, c)
	treasurer := c.Member(people.Treasurer)
	book := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "bought"})
	assert.Equal(t, "Heron bought", book.Name)
	require.Len(t, book.Entries, 5)
	assert.Equal(t, "part-p2", book.Entries[3].Reverses)
	assert.Equal(t, []message.EntryLine{
		{Account: "boat:cost", Amount: usd(30_000)}, {Account: "boat:parts", Amount: usd(2_500)},
		{Account: "cash", Amount: usd(14_500)}, {Account: "sales", Amount: usd(-47_000)},
	}, book.Balances)
	book = desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "given"})
	assert.Equal(t, []message.EntryLine{
		{Account: "boat:gift in kind", Amount: usd(90_000)}, {Account: "boat:parts", Amount: usd(2_000)},
		{Account: "contributions in kind", Amount: usd(-90_000)}, {Account: "gift of parts", Amount: usd(-1_200)}, {Account: "owed to volunteers", Amount: usd(-800)},
	}, book.Balances)
	_, err := c.Try(treasurer, message.SellBoat{Boat: "given", On: today, Gross: usd(1)})
	faulttest.Want(t, err, fault.Conflict, "boat", "it was placed")
	_, err = c.Try(treasurer, message.SellBoat{Boat: "asked", On: today, Gross: usd(1)})
	faulttest.Want(t, err, fault.Conflict, "boat", "it is not the club's")

	// All is heard again, as after a crash: nothing is posted twice.
	c.WritesNothing(func() {
		c.DB.Exec(`UPDATE treasury.cursor SET position = 0 WHERE name = 'reactions'`)
		c.Restart(treasury.Name)
		c.Settle()
	})
	c.RebuildIsTheSame(treasury.Name)
}

func TestAValueThatComesLateOrAgainIsPosted(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gifted := func() int64 {
		c.Settle()
		return desktest.Ask[message.Totals](c, treasurer, message.YearTotals{Year: 2026}).Sum.GiftedAt.Minor
	}
	boatOf(t, c, "b1", message.Gift, usd(0))
	valued(c, "b1", "early", 10_000)
	assert.Zero(t, gifted(), "it is not received")
	receive(c, "b1")
	assert.Equal(t, int64(10_000), gifted())
	valued(c, "b1", "again", 12_000)
	assert.Equal(t, int64(12_000), gifted())
	for name, change := range map[string]func(*message.BoatValued){
		"for-an-offer": func(v *message.BoatValued) { v.Purpose = message.ForPurchase },
		"refused":      func(v *message.BoatValued) { v.AsItLies = message.Worth{Status: message.RefusedWorth, Value: usd(0)} },
		"another-day":  func(v *message.BoatValued) { v.On = today },
	} {
		valued(c, "b1", name, 99_000, change)
		assert.Equal(t, int64(12_000), gifted(), name)
	}
	c.RebuildIsTheSame(treasury.Name)
}

func TestTotalsAreTheSumOfTheEntries(t *testing.T) {
	c := start(t)
	season(t, c)
	totals := desktest.Ask[message.Totals](c, c.Member(people.Auditor), message.YearTotals{Year: 2026})
	row := func(id boat.ID, state string, paid, parts, fetched, gifted int64, minutes int) message.BoatTotal {
		return message.BoatTotal{Boat: id, Name: "Heron " + string(id), Paid: usd(paid), Parts: usd(parts), Cost: usd(paid + parts),
			Fetched: usd(fetched), GiftedAt: usd(gifted), Minutes: minutes, State: state}
	}
	assert.Equal(t, []message.BoatTotal{
		row("=tired", "retired", 0, 0, 0, 0, 0), row("bought", "sold", 30_000, 2_500, 47_000, 0, 90), row("given", "placed", 0, 2_000, 0, 90_000, 45),
	}, totals.Boats)

	sums := map[string]int64{}
	for _, id := range []boat.ID{"bought", "given", "=tired"} {
		for _, e := range desktest.Said[message.EntryPosted](c, message.TreasuryBoat(id)) {
			for _, l := range e.Lines {
				sums[l.Account] += l.Amount.Minor
			}
		}
	}
	want := message.BoatTotal{
		Paid: usd(sums["boat:cost"]), Parts: usd(sums["boat:parts"]), Cost: usd(sums["boat:cost"] + sums["boat:parts"]),
		Fetched: usd(-sums["sales"]), GiftedAt: usd(sums["boat:gift in kind"]), Minutes: 135,
	}
	assert.Equal(t, want, totals.Sum)

	other := desktest.Ask[message.Totals](c, c.Member(people.Auditor), message.YearTotals{Year: 2025})
	assert.Equal(t, 60, other.Sum.Minutes, "time belongs to the year in which it was worked")
	assert.Zero(t, other.Sum.Cost.Minor)
}

func TestUnlikeMoneyIsNotAdded(t *testing.T) {
	c := start(t)
	season(t, c)
	c.Say(message.RepairBoat("given"), "given", message.PartBooked{Boat: "given", Entry: "cad", Words: "seat", Cost: money.Of(700, "CAD"), PaidBy: message.ClubPays, On: today})
	c.Settle()
	totals := desktest.Ask[message.Totals](c, c.Member(people.Auditor), message.YearTotals{Year: 2026})
	require.Len(t, totals.Boats, 4)
	assert.Equal(t, money.Of(700, "CAD"), totals.Boats[3].Cost)
	assert.Zero(t, totals.Boats[3].Minutes, "time stands once")
	assert.Equal(t, usd(34_500), totals.Sum.Cost)
	records := csvOf(t, c)
	require.Len(t, records, 1+3+1+1+1)
	assert.Equal(t, []string{"Total", "", "CAD", "0.00", "7.00", "7.00", "0.00", "0.00", "0", ""}, records[6])
}

func csvOf(t *testing.T, c *desktest.Club) [][]string {
	t.Helper()
	file := desktest.Ask[message.Export](c, c.Member(people.Treasurer), message.ExportYear{Year: 2026, Format: "csv"})
	assert.Equal(t, "boats-2026.csv", file.Name)
	text, marked := strings.CutPrefix(string(file.File), "\ufeff")
	assert.True(t, marked, "a byte order mark")
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	return records
}

func TestTheYearAsCommaSeparatedValues(t *testing.T) {
	c := start(t)
	season(t, c)
	records := csvOf(t, c)
	require.Len(t, records, 5)
	assert.Equal(t, []string{"Heron =tired", "retired", "USD", "0.00", "0.00", "0.00", "0.00", "0.00", "0", "'=tired"}, records[1])
	assert.Equal(t, []string{"Heron bought", "sold", "USD", "300.00", "25.00", "325.00", "470.00", "0.00", "90", "bought"}, records[2])
	assert.Equal(t, []string{"Total", "", "USD", "300.00", "45.00", "345.00", "470.00", "900.00", "135", ""}, records[4])
}

// The workbook is read back by a library's own reckoning, which knows nothing
// of the values that stand beside the formulas.
func TestTheYearAsAWorkbookAddsUp(t *testing.T) {
	c := start(t)
	season(t, c)
	file := desktest.Ask[message.Export](c, c.Member(people.Treasurer), message.ExportYear{Year: 2026, Format: "xlsx"})
	assert.Equal(t, "boats-2026.xlsx", file.Name)
	book, err := excelize.OpenReader(bytes.NewReader(file.File))
	require.NoError(t, err)
	for cell, want := range map[string]struct {
		formula string
		value   float64
	}{
		"D5": {"SUM(D2:D4)", 300}, "E5": {"SUM(E2:E4)", 45}, "F5": {"SUM(F2:F4)", 345}, "G5": {"SUM(G2:G4)", 470},
		"H5": {"SUM(H2:H4)", 900}, "I5": {"SUM(I2:I4)", 135}, "F3": {"D3+E3", 325},
	} {
		formula, err := book.GetCellFormula("Boats", cell)
		require.NoError(t, err)
		assert.Equal(t, want.formula, formula, cell)
		cached, err := book.GetCellValue("Boats", cell, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		kind, err := book.GetCellType("Boats", cell)
		require.NoError(t, err)
		assert.NotContains(t, []excelize.CellType{excelize.CellTypeInlineString, excelize.CellTypeSharedString}, kind, cell)
		reckoned, err := book.CalcCellValue("Boats", cell, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		for _, text := range []string{cached, reckoned} {
			n, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err, cell)
			assert.Equal(t, want.value, n, cell)
		}
	}
	name, err := book.GetCellValue("Boats", "J2")
	require.NoError(t, err)
	assert.Equal(t, "=tired", name, "a text, not a formula")
	formula, err := book.GetCellFormula("Boats", "J2")
	require.NoError(t, err)
	assert.Empty(t, formula)

	read := readWorkbook(t, file.File)
	formulas := 0
	for cell, found := range read {
		if found.Formula != "" {
			formulas++
			assert.InDelta(t, read.number(t, cell), read.reckon(t, cell), 1e-9, cell)
		}
	}
	assert.Equal(t, 3+6, formulas, "the cost of each boat, and the sum of each column")

	empty := desktest.Ask[message.Export](c, c.Member(people.Treasurer), message.ExportYear{Year: 1999, Format: "xlsx"})
	_, err = excelize.OpenReader(bytes.NewReader(empty.File))
	assert.NoError(t, err)
}

// workbook is the cells of a sheet by name, read from the file's own XML (ECMA-376, part 1,
// 18.3.1: sheetData, row, c with its reference r, formula f and value v), without the
// library that wrote it.
type workbook map[string]struct{ Formula, Value string }

func readWorkbook(t *testing.T, file []byte) workbook {
	t.Helper()
	archive, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	part, err := archive.Open("xl/worksheets/sheet1.xml")
	require.NoError(t, err)
	var sheet struct {
		Cells []struct {
			R string `xml:"r,attr"`
			F string `xml:"f"`
			V string `xml:"v"`
		} `xml:"sheetData>row>c"`
	}
	require.NoError(t, xml.NewDecoder(part).Decode(&sheet))
	cells := workbook{}
	for _, c := range sheet.Cells {
		cells[c.R] = struct{ Formula, Value string }{c.F, c.V}
	}
	return cells
}

func (w workbook) number(t *testing.T, cell string) float64 {
	t.Helper()
	n, err := strconv.ParseFloat(w[cell].Value, 64)
	require.NoError(t, err, cell)
	return n
}

// sumOfColumn and sumOfTwo are the two sorts of formulas that are written.
var (
	sumOfColumn = regexp.MustCompile(`^SUM\(([A-Z]+)(\d+):([A-Z]+)(\d+)\)$`)
	sumOfTwo    = regexp.MustCompile(`^([A-Z]+\d+)\+([A-Z]+\d+)$`)
)

// reckon works a cell out from the cells that are no formulas.
func (w workbook) reckon(t *testing.T, cell string) float64 {
	t.Helper()
	formula := w[cell].Formula
	if formula == "" {
		return w.number(t, cell)
	}
	if of := sumOfTwo.FindStringSubmatch(formula); of != nil {
		return w.reckon(t, of[1]) + w.reckon(t, of[2])
	}
	of := sumOfColumn.FindStringSubmatch(formula)
	require.NotNil(t, of, "%s: %s", cell, formula)
	require.Equal(t, of[1], of[3])
	from, _ := strconv.Atoi(of[2])
	to, _ := strconv.Atoi(of[4])
	sum := 0.0
	for row := from; row <= to; row++ {
		sum += w.reckon(t, of[1]+strconv.Itoa(row))
	}
	return sum
}

// A bin's own book, and what it gives to a boat in the boat's: together the stock
// account is what the bin is worth.
func TestTheStockHasBooksOfItsOwn(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	say := func(id boat.ID, body message.Body) { c.Say(message.RepairBin("n1"), string(id), body) }
	say("", message.BinOpened{Bin: "n1", Name: "deck line", Unit: message.Metres})
	say("", message.StockBought{Bin: "n1", Entry: "e1", Quantity: 50_000, Cost: usd(4_200), PaidBy: message.OwnPocket, Pocket: "p1", On: today})
	say("b1", message.StockTaken{Bin: "n1", Boat: "b1", Entry: "e2", Name: "deck line", Unit: message.Metres, Quantity: 6_000, Cost: usd(504), On: today})
	say("b1", message.StockReturned{Bin: "n1", Boat: "b1", Entry: "e3", Of: "e2", Quantity: 1_000, Cost: usd(84), On: today, Why: "too long"})
	say("", message.StockWrittenOff{Bin: "n1", Entry: "e4", Quantity: 2_000, Cost: usd(168), On: today, Why: "chafed"})
	c.Settle()
	c.Do(treasurer, message.SettlePocket{Bin: "n1", Entry: "bought-n1-e1", How: message.Given, On: today})
	bin := desktest.Ask[message.BoatBook](c, treasurer, message.BinBook{Bin: "n1"})
	assert.Equal(t, []message.EntryLine{
		{Account: "gifts of volunteers", Amount: usd(-4_200)}, {Account: "owed to volunteers", Amount: usd(0)},
		{Account: "stock", Amount: usd(4_032)}, {Account: "stock losses", Amount: usd(168)},
	}, bin.Balances)
	book := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1"})
	assert.Contains(t, book.Balances, message.EntryLine{Account: "boat:parts", Amount: usd(420)})
	assert.Contains(t, book.Balances, message.EntryLine{Account: "stock", Amount: usd(-420)})
	c.Settle()
	totals := desktest.Ask[message.Totals](c, treasurer, message.YearTotals{Year: 2026})
	require.Len(t, totals.Boats, 1, "a bin is no boat")
	assert.Equal(t, usd(420), totals.Boats[0].Parts)
	c.RebuildIsTheSame(treasury.Name)
}

// A long book is turned in pages, each with what those before it come to: together
// they are the whole, added up by hand here.
func TestALongBookIsTurnedInPages(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	boatOf(t, c, "b1", message.Gift, usd(0))
	stream, random := message.TreasuryBoat("b1"), rand.New(rand.NewPCG(7, 11))
	const most = 230
	for i := range most {
		entry := message.EntryPosted{Boat: "b1", Entry: fmt.Sprintf("part-%d", i), On: today, Words: "rod", Lines: []message.EntryLine{
			{Account: []string{"boat:parts", "boat:fees", "boat:outside work"}[random.IntN(3)], Amount: usd(1 + random.Int64N(9_999))}, {Account: "cash"},
		}}
		entry.Lines[1].Amount = entry.Lines[0].Amount.Neg()
		switch i {
		case 3, 120, 121, 229:
			entry.Lines[1].Account = "owed to volunteers"
		case 122:
			entry.Reverses, entry.Entry = "part-121", "part-121-back"
			entry.Lines[1].Account = "owed to volunteers"
		}
		c.Say(stream, "b1", entry)
	}
	c.Settle()
	c.Do(treasurer, message.SettlePocket{Boat: "b1", Entry: "part-120", How: message.Given, On: today})

	var whole []message.EntryPosted
	for page := 1; page <= 3; page++ {
		b := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1", Page: page})
		assert.Equal(t, []int{page, 3, most + 1}, []int{b.Page, b.Pages, b.Count})
		brought, err := treasury.Balances(whole)
		require.NoError(t, err)
		assert.Equal(t, brought, b.Brought, "page %d", page)
		whole = append(whole, b.Entries...)
	}
	require.Len(t, whole, most+1)
	var posted []message.EntryPosted
	for _, body := range c.Bodies(stream) {
		if e, is := body.(message.EntryPosted); is {
			posted = append(posted, e)
		}
	}
	assert.Equal(t, posted, whole, "the pages are the book")
	newest := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1"})
	assert.Equal(t, 3, newest.Page)
	sums, err := treasury.Balances(posted)
	require.NoError(t, err)
	assert.Equal(t, sums, newest.Balances)
	var owed []string
	for _, o := range newest.Owed {
		owed = append(owed, o.Entry)
	}
	assert.Equal(t, []string{"part-3", "part-229"}, owed, "one was settled, one taken back")
	beyond := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1", Page: 99})
	assert.Equal(t, newest, beyond)
	none := desktest.Ask[message.BoatBook](c, treasurer, message.BinBook{Bin: "n1"})
	assert.Equal(t, []int{1, 1, 0}, []int{none.Page, none.Pages, none.Count})
	c.RebuildIsTheSame(treasury.Name)
}
