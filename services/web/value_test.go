package web

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// canoes lets the book hold prices of canoes: a market in which a year takes some
// eight per cent off and a step of condition fifteen, with the scatter of real sales.
func canoes(c *club, n int) {
	for i := range n {
		age, grade := 3+i*7%13, 2+i%3
		price := 900.0
		for range age {
			price *= 0.92
		}
		for range grade {
			price *= 1.15
		}
		price *= 1 + float64((i*37)%41-20)/100
		k := message.Comparable{
			Comparable: fmt.Sprintf("canoe-%03d", i), Price: usd(int64(price) * 100), On: clock.MustDate("2026-03-20").AddDays(-11 * (i % 80)), PriceKind: message.Sold, ArmsLength: true,
			Type: boat.Canoe, LengthMM: 4400 + 50*(i%9), Seats: 2, Material: string([]boat.Material{boat.Rotomoulded, boat.ABSSandwich, boat.Aluminium}[i%3]),
			AgeYears: age, Grade: boat.Grade(grade), Source: fmt.Sprintf("notice board, sheet %d", i), Market: message.PrivateSale, Mended: i%5 == 4,
		}
		if i%6 == 5 {
			k.Accessories = []string{"two paddles"}
		}
		c.Say(message.ValuationComparable(k.Comparable), "", message.ComparableRecorded{Comparable: k})
	}
	for _, odd := range []func(*message.Comparable){
		func(k *message.Comparable) { k.PriceKind = message.Asking },
		func(k *message.Comparable) { k.Market = message.DealerSale },
		func(k *message.Comparable) { k.Market, k.ArmsLength = message.ForcedSale, false },
	} {
		k := message.Comparable{
			Price: usd(99_900), On: clock.MustDate("2026-02-01"), PriceKind: message.Sold, ArmsLength: true, Type: boat.Canoe, LengthMM: 4600, Seats: 2,
			AgeYears: 6, Grade: 3, Source: "elsewhere", Market: message.PrivateSale,
		}
		odd(&k)
		k.Comparable = "odd-" + string(k.Market) + string(k.PriceKind)
		k.Comparable = strings.ReplaceAll(k.Comparable, " ", "-")
		if n > 0 {
			c.Say(message.ValuationComparable(k.Comparable), "", message.ComparableRecorded{Comparable: k})
		}
	}
}

// updating writes the golden pages anew.
const updating = "REFLOAT_GOLDEN"

// Each page says honestly how much is known. The goldens are read by people before
// they are taken: what a page may claim at which number of sales is common practice.
func TestHowMuchAValuationClaims(t *testing.T) {
	for _, n := range []int{0, 1, 4, 5, 20, 500} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			c := openClub(t, intakeRoom, valuationRoom)
			valuer := c.enter("Marigold Finch", people.Treasurer)
			facts := openCanoe()
			facts.YearBuilt = 2018
			id := c.ready("Heron", facts)
			canoes(c, n)
			c.Settle()
			c.Do(people.Member(valuer.who), message.ValueBoat{Boat: id, Value: "v1", On: desktest.Today, Purpose: message.ForBook, AsItLies: 3, Repaired: 4, Conflict: "none"})
			c.Settle()
			page := valuer.open("/boats/" + string(id) + "/values/v1")
			golden(t, fmt.Sprintf("value-%d.txt", n), linesOfPage(page.byID("main")))
			assert.NotContains(t, page.text, "style=")
			sheet := valuer.get("/boats/" + string(id) + "/values/v1/sheet.pdf")
			assert.Equal(t, "application/pdf", sheet.header.Get("Content-Type"))
			worksheet := valuer.get("/boats/" + string(id) + "/values/v1/worksheet.pdf")
			if n == 0 {
				assert.Equal(t, http.StatusConflict, worksheet.status, "no sales to weigh")
			} else if n >= 5 {
				assert.Equal(t, "application/pdf", worksheet.header.Get("Content-Type"))
			}
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if os.Getenv(updating) != "" {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "%s=1 writes it", updating)
	assert.Equal(t, string(want), got, "%s=1 writes it anew; read it before you take it", updating)
}

// linesOfPage gives the text of a page, a line for each heading, paragraph and row.
// The computation and the moment of writing are left out: they stand elsewhere.
func linesOfPage(main *html.Node) string {
	var lines []string
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type != html.ElementNode || n.Data == "details" || n.Data == "svg":
			return
		case strings.Contains(" h1 h2 p tr li caption figcaption dt dd ", " "+n.Data+" "):
			if text := textOf(n); text != "" {
				lines = append(lines, text)
			}
			return
		}
		for child := range n.ChildNodes() {
			walk(child)
		}
	}
	for child := range main.ChildNodes() {
		walk(child)
	}
	own := slices.IndexFunc(lines, func(line string) bool { return strings.HasSuffix(line, "Its value over time") })
	return strings.Join(lines[max(own, 0):], "\n") + "\n" // what every page has above its own content is left out
}

// From the look-over to the day on which the gift part of the purchase is explained:
// the boat is looked over, valued, given a ceiling, bargained for and bought below
// it; repairs are proposed and chosen; it is mended and valued for the day it came
// and for today. A value put right later leaves both visible.
func TestABoatIsBargainedForMendedAndValuedAgain(t *testing.T) {
	c := open(t, intakeRoom, repairRoom, valuationRoom)
	steward, treasurer, admin, repairer := c.member(people.Steward), c.member(people.Treasurer), c.member(people.Administrator), c.member(people.Repairer)
	canoes(&club{t: t, Club: c.Club}, 12)
	c.Settle()
	b := steward.lookedOver("taking", "bargain purchase", "asked", "400")

	early := treasurer.fill(b+"/value", "value-boat", map[string]string{"on": "2026-03-30", "purpose": "purchase", "as_it_lies": "4", "repaired": "4", "conflict": "none"})
	assert.Contains(t, early.says("f-as_it_lies-error"), "an open finding says", "what was found bounds the grade")
	page := treasurer.done(b+"/value", "value-boat", map[string]string{"on": "2026-03-30", "purpose": "purchase", "as_it_lies": "2", "repaired": "4", "conflict": "none"})
	assert.Contains(t, page.says("states"), "for parts")
	page = treasurer.done(b+"/ceiling", "set-ceiling", map[string]string{"repairs[0].what": "weld the crack", "repairs[0].cost": "20", "repairs[0].percent_likely": "100", "repairs[0].minutes": "90"})
	assert.Contains(t, page.says("ceiling"), "Offer at most")
	assert.Contains(t, page.says("ceiling-lines"), "Kept for what was not found a rule of the club")
	c.Settle()

	// The negotiation, step by step, each with the ceiling that was in force.
	steward.done(b+"/price", "offer-price", map[string]string{"price": "100", "stake": "none", "words": "it rains; the boat is cheap"})
	steward.done(b+"/answer", "note-answer", map[string]string{"answer": "asks for another price", "price": "5000", "words": "it was my father's"})
	assert.Equal(t, http.StatusForbidden, steward.fill(b+"/price", "offer-price", map[string]string{"price": "5000", "words": "it is old", "stake": "none"}).status, "above the ceiling")
	assert.Equal(t, http.StatusUnprocessableEntity, admin.fill(b+"/price", "offer-price", map[string]string{"price": "5000", "stake": "none"}).status, "not even an administrator without words")
	page = steward.done(b+"/answer", "note-answer", map[string]string{"answer": "agrees", "price": "150"})
	assert.Contains(t, page.says("bargain"), "the seller asks 400.00 USD none")
	assert.Contains(t, page.says("bargain"), "it was my father's above the ceiling 5000.00 USD")
	c.Settle()
	page = steward.done(b+"/accept", "accept", map[string]string{"price": "150", "stake": "none", "words": "it rains; the boat is cheap"})
	assert.Contains(t, page.says("bargain"), "agreed: it rains; the boat is cheap 150.00 USD")
	steward.done(b+"/receive", "receive", map[string]string{"possession": "2026-03-30", "signed": "2026-03-31"})
	c.Settle()

	// What could be mended, and what is chosen within hours and cash.
	repairer.done(b+"/proposals", "propose-repair", map[string]string{"what": "weld the crack", "minutes": "90", "cash": "20", "steps": "1", "must": "yes"})
	repairer.done(b+"/proposals", "propose-repair", map[string]string{"what": "new seat", "minutes": "60", "cash": "35", "steps": "1"})
	repairer.done(b+"/proposals", "propose-repair", map[string]string{"what": "gold leaf", "minutes": "600", "cash": "900", "steps": "1"})
	page = repairer.open("/shop?minutes=100&cash=100")
	assert.Contains(t, page.says("chosen"), "weld the crack must be done")
	assert.Contains(t, page.says("others"), "new seat")
	assert.Contains(t, page.says("not-worth"), "gold leaf")
	assert.Contains(t, page.says("shadow"), "One more hour would add")
	page = repairer.done(attr(page.byID("write-plan"), "href"), "make-plan", map[string]string{})
	assert.Contains(t, page.says("made"), "1 repair for 1 h 40 min and 100.00 USD")
	repairer.done(b+"/parts", "book-part", map[string]string{"words": "rod", "cost": "18", "paid_by": "club"})

	// Valued for the day it came, by what was known; a dear sale is found out, and the
	// value for that day is put right. Both stay.
	of := func(day string) map[string]string {
		return map[string]string{"on": day, "purpose": "book", "as_it_lies": "2", "repaired": "4", "conflict": "none"}
	}
	treasurer.done(b+"/value", "value-boat", of("2026-03-31"))
	treasurer.done("/comparables/canoe-000/refuse", "refuse-comparable", map[string]string{"why": "a trailer went with it"})
	treasurer.done(b+"/value", "value-boat", of("2026-03-31"))
	treasurer.done(b+"/value", "value-boat", of("2026-04-01"))
	page = treasurer.open(b + "/values")
	assert.Contains(t, page.says("values"), "as known then; a later one took its place")
	assert.Contains(t, page.says("values"), "the day of the bargain purchase")
	assert.Contains(t, page.says("spent"), "the boat itself 150.00 USD 150.00 USD")
	assert.Contains(t, page.says("spent"), "rod 18.00 USD 168.00 USD")
	require.NotNil(t, page.byID("worth-chart"))
	require.NotNil(t, page.byID("cost-chart"))
	var then, now string
	for _, n := range all(page.byID("values"), "a") {
		if strings.Contains(textOf(n), "31 March") {
			then, now = now, attr(n, "href")
		}
	}
	old := treasurer.open(then)
	assert.Contains(t, old.says("superseded"), "as known now,")
	assert.Contains(t, old.says("sales"), "notice board, sheet 0", "what was used then is still shown")
	assert.NotContains(t, treasurer.open(now).says("sales"), "notice board, sheet 0")
	c.RebuildIsTheSame(Name)
}

func TestHowGoodValuesWere(t *testing.T) {
	c := open(t)
	auditor := c.member(people.Auditor)
	assert.Contains(t, auditor.open("/comparables/track").text, "nothing can be said")
	worth := func(value, low, high int64) message.Worth {
		return message.Worth{Status: "ok", Value: usd(value), Low: usd(low), High: usd(high)}
	}
	sold := func(id string, value message.Worth, minor int64, arms bool, more ...message.Body) {
		c.Say(message.IntakeBoat(boat.ID(id)), id, message.BoatLogged{Boat: boat.ID(id), Name: id})
		c.Say(message.ValuationBoat(boat.ID(id)), id, message.BoatValued{Boat: boat.ID(id), Value: "v", On: clock.MustDate("2026-03-01"), AsItLies: value, Repaired: worth(50_000, 40_000, 60_000)})
		for _, body := range more {
			c.Say(message.RepairBoat(boat.ID(id)), id, body)
		}
		c.Say(message.TreasuryBoat(boat.ID(id)), id, message.BoatSold{Boat: boat.ID(id), On: clock.MustDate("2026-03-20"), Gross: usd(minor), ArmsLength: arms})
	}
	sold("a", worth(11_000, 9_000, 12_000), 10_000, true)
	sold("b", worth(9_000, 5_000, 9_500), 10_000, true)
	sold("c", worth(1, 1, 1), 50_000, true, message.BoatReady{Boat: "c", Grade: 4}) // sold repaired
	sold("d", worth(1, 1, 1), 50_000, false)
	c.Say(message.ValuationModel, "", message.ModelChanged{Model: "2.1", Rules: "{}"})
	c.Settle()
	page := auditor.open("/comparables/track")
	assert.Contains(t, page.says("track"), "Sales to judge by 3")
	assert.Contains(t, page.says("track"), "Half were off by less than 10.0 %")
	assert.Contains(t, page.says("track"), "2 of 3; 9 of 10 are promised")
	assert.Contains(t, page.says("tracked"), "+10.0 %")
	assert.Contains(t, page.says("tracked"), "−10.0 %")
	assert.Contains(t, page.text, "1 more were sold")
	assert.Contains(t, page.says("changes"), "version 2.1")
}

// The same sale on two boards, rounded: common practice of those who sell.
func TestPricesThatMayBeOneSale(t *testing.T) {
	price := func(change func(*Price)) Price {
		p := Price{Comparable: message.Comparable{Comparable: "one", Price: usd(50_000), On: noon0, Type: boat.Canoe, LengthMM: 4600, Grade: 3, PriceKind: message.Sold}}
		change(&p)
		return p
	}
	first := price(func(*Price) {})
	for name, row := range map[string]struct {
		change func(*Price)
		twin   bool
	}{
		"a week later":   {func(p *Price) { p.On = noon0.AddDays(7) }, true},
		"rounded":        {func(p *Price) { p.Price = usd(49_500) }, true},
		"no length told": {func(p *Price) { p.LengthMM = 0 }, true},
		"a month later":  {func(p *Price) { p.On = noon0.AddDays(30) }, false},
		"dearer":         {func(p *Price) { p.Price = usd(60_000) }, false},
		"longer":         {func(p *Price) { p.LengthMM = 5100 }, false},
		"another type":   {func(p *Price) { p.Type = boat.Board }, false},
		"only asked":     {func(p *Price) { p.PriceKind = message.Asking }, false},
		"out of use":     {func(p *Price) { p.Refused = "hearsay" }, false},
	} {
		assert.Equal(t, row.twin, len(findTwins([]Price{first, price(row.change)})) == 1, name)
	}
}

var noon0 = clock.MustDate("2026-03-01")
