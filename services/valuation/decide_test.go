package valuation

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

var day = clock.MustDate("2026-04-01")

func price1(change func(*message.Comparable)) message.Comparable {
	c := message.Comparable{
		Comparable: "k1", Price: money.Of(70_000, "USD"), On: day, PriceKind: message.Sold, ArmsLength: true,
		Type: boat.SitInside, LengthMM: 4300, Seats: 1, AgeYears: 5, Grade: 3, Source: "club board, 1 April", Market: message.PrivateSale,
	}
	change(&c)
	return c
}

func TestAPriceIsCheckedBeforeItCounts(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(*message.Comparable)
		field  string // empty: taken
	}{
		{"as it is", func(*message.Comparable) {}, ""},
		{"one cent", func(c *message.Comparable) { c.Price.Minor = 1 }, ""},
		{"nothing", func(c *message.Comparable) { c.Price.Minor = 0 }, "price"},
		{"less than nothing", func(c *message.Comparable) { c.Price.Minor = -1 }, "price"},
		{"another currency", func(c *message.Comparable) { c.Price.Currency = "CAD" }, "price"},
		{"no currency", func(c *message.Comparable) { c.Price.Currency = "" }, "price"},
		{"ten million", func(c *message.Comparable) { c.Price.Minor = 1_000_000_001 }, "price"},
		{"tomorrow", func(c *message.Comparable) { c.On = day.AddDays(1) }, "on"},
		{"no day", func(c *message.Comparable) { c.On = clock.Date{} }, "on"},
		{"asked", func(c *message.Comparable) { c.PriceKind = message.Asking }, ""},
		{"guessed", func(c *message.Comparable) { c.PriceKind = "guessed" }, "price_kind"},
		{"a raft", func(c *message.Comparable) { c.Type = "raft" }, "type"},
		{"length not known", func(c *message.Comparable) { c.LengthMM = 0 }, ""},
		{"length in centimetres", func(c *message.Comparable) { c.LengthMM = 430 }, "length_mm"},
		{"a crowd", func(c *message.Comparable) { c.Seats = 13 }, "seats"},
		{"material in two lines", func(c *message.Comparable) { c.Material = "a\nb" }, "material"},
		{"new", func(c *message.Comparable) { c.AgeYears = 0 }, ""},
		{"not built yet", func(c *message.Comparable) { c.AgeYears = -1 }, "age_years"},
		{"age not known", func(c *message.Comparable) { c.AgeYears, c.AgeUnknown = 0, true }, ""},
		{"age not known and known", func(c *message.Comparable) { c.AgeUnknown = true }, "age_years"},
		{"grade 1", func(c *message.Comparable) { c.Grade = 1 }, ""},
		{"grade 5", func(c *message.Comparable) { c.Grade = 5 }, ""},
		{"grade 0", func(c *message.Comparable) { c.Grade = 0 }, "grade"},
		{"grade 6", func(c *message.Comparable) { c.Grade = 6 }, "grade"},
		{"area in two lines", func(c *message.Comparable) { c.Area = "a\nb" }, "area"},
		{"from nowhere", func(c *message.Comparable) { c.Source = " " }, "source"},
		{"by a dealer", func(c *message.Comparable) { c.Market = message.DealerSale }, ""},
		{"sold by the club, by hand", func(c *message.Comparable) { c.Market = message.OwnSale }, "market"},
		{"nobody says by whom", func(c *message.Comparable) { c.Market = "" }, "market"},
		{"with paddles", func(c *message.Comparable) { c.Accessories = []string{"two paddles"} }, ""},
		{"with something", func(c *message.Comparable) { c.Accessories = []string{" "} }, "accessories[0]"},
		{"with a shop", func(c *message.Comparable) { c.Accessories = make([]string, 21) }, "accessories"},
		{"our own", func(c *message.Comparable) { c.OwnBoat = "b1" }, "own_boat"},
		{"no id", func(c *message.Comparable) { c.Comparable = "" }, "comparable"},
	} {
		err := recorded(price1(row.change), "USD", day)
		if row.field == "" {
			assert.NoError(t, err, row.name)
			continue
		}
		faulttest.Want(t, err, fault.Invalid, row.field, row.name)
	}
}

func TestOneSaleHasOneDigest(t *testing.T) {
	one := digest(price1(func(*message.Comparable) {}))
	for name, c := range map[string]message.Comparable{
		"another id":        price1(func(c *message.Comparable) { c.Comparable = "k2" }),
		"spelled otherwise": price1(func(c *message.Comparable) { c.Source = " Club  Board, 1 april" }),
		"another grade":     price1(func(c *message.Comparable) { c.Grade = 4 }),
	} {
		assert.Equal(t, one, digest(c), name)
	}
	for name, c := range map[string]message.Comparable{
		"another day":    price1(func(c *message.Comparable) { c.On = day.AddDays(-1) }),
		"another price":  price1(func(c *message.Comparable) { c.Price.Minor++ }),
		"another type":   price1(func(c *message.Comparable) { c.Type = boat.Canoe }),
		"another length": price1(func(c *message.Comparable) { c.LengthMM++ }),
		"another source": price1(func(c *message.Comparable) { c.Source = "a friend" }),
	} {
		assert.NotEqual(t, one, digest(c), name)
	}
}

func TestOnlyAClearNoneIsNoConflict(t *testing.T) {
	for _, answer := range []string{"none", "None", " none. "} {
		assert.NoError(t, noConflict(answer), answer)
	}
	faulttest.Want(t, noConflict(" "), fault.Invalid, "conflict")
	for _, answer := range []string{"none yet", "my brother gives it", "no?", "nonetheless"} {
		faulttest.Want(t, noConflict(answer), fault.Forbidden, "conflict", answer)
	}
}

func TestWhoHasAStakeDoesNotJudge(t *testing.T) {
	member := desk.Caller{Actor: people.Member("m")}
	assert.NoError(t, stake(member, tie{}))
	faulttest.Want(t, stake(member, tie{gives: true}), fault.Forbidden, "")
	faulttest.Want(t, stake(member, tie{waits: true}), fault.Forbidden, "")
	faulttest.Want(t, stake(desk.Caller{Actor: people.Service(desk.AtMachine)}, tie{}), fault.Forbidden, "")
}

func kayak() hull { return hull{kind: boat.SitInside, lengthMM: 4300, yearBuilt: 2021, grade: 3} }

func order(asItLies, repaired boat.Grade) message.ValueBoat {
	return message.ValueBoat{Boat: "b1", Value: "v1", On: day, Purpose: message.ForBook, AsItLies: asItLies, Repaired: repaired, Conflict: "none"}
}

var clubRules = rules{Club: "USD", Grade: 15, Year: 8, Mended: 5, Accessories: 3, Days: 1095}

func TestWhatIsNotKnownCountsForNothing(t *testing.T) {
	for _, row := range []struct {
		name string
		hull hull
		want map[string]float64
	}{
		{"all known", kayak(), map[string]float64{age: 5, grade: 3, length: 4.3}},
		{"next year's model", hull{yearBuilt: 2027}, map[string]float64{age: 0, grade: 3}},
		{"year not known", hull{lengthMM: 4300}, map[string]float64{grade: 3, length: 4.3}},
		{"seats", hull{seats: 2}, map[string]float64{grade: 3, seats: 2}},
	} {
		got := row.hull.features(3, day, 0, false)
		for _, always := range []string{mended, accessories, dealer} {
			assert.Contains(t, got, always, row.name)
			delete(got, always)
		}
		assert.Equal(t, row.want, got, row.name)
	}
	assert.Equal(t, 1.0, hull{material: boat.Wood}.features(3, day, 0, false)[materialName(boat.Wood)])
	q, err := ask(hull{kind: boat.SitInside}, order(3, 4), clubRules, nil)
	require.NoError(t, err)
	assert.NotContains(t, q.Effects, age, "an opinion of what is not compared")
}

func TestPerCentBecomesLogPoints(t *testing.T) {
	of := clubRules
	of.Materials = map[boat.Material]int{boat.ABSSandwich: 20, boat.Aluminium: -10}
	effects := of.effects(boat.Aluminium)
	for name, percent := range map[string]float64{grade: 15, age: -8, mended: -5, accessories: 3, materialName(boat.ABSSandwich): 100 * (1.2/0.9 - 1), materialName(boat.Wood): 100 * (1/0.9 - 1)} {
		assert.InDelta(t, percent, appraise.Percent(effects[name]), 1e-9, name)
	}
	assert.NotContains(t, effects, materialName(boat.Aluminium), "the boat's own material is what others are told against")
	assert.NotContains(t, effects, dealer, "without a setting no opinion")
	faulttest.Want(t, rules{Year: 100}.check(), fault.Conflict, "")
}

// The grid of three sales, worked by hand: with a year at −8 % and a step at
// +15 %, 700.00 (5 years, grade 3) stays, 800.00 (3, 3) becomes 800·0.92² =
// 677.12, 520.00 (7, 2) becomes 520·1.15/0.92² = 706.52; their median is 700.00,
// and as repaired, one grade better, 700·1.15·0.95 = 764.75.
func TestAValueWorkedByHand(t *testing.T) {
	sale := func(id string, minor int64, years int, g boat.Grade) message.Comparable {
		return price1(func(c *message.Comparable) {
			c.Comparable, c.Price.Minor, c.AgeYears, c.Grade = id, minor, years, g
		})
	}
	sales := []message.Comparable{sale("k1", 70_000, 5, 3), sale("k2", 80_000, 3, 3), sale("k3", 52_000, 7, 2)}
	asked := sale("k4", 99_900, 1, 5)
	asked.PriceKind = message.Asking
	friend := sale("k5", 100, 1, 5)
	friend.ArmsLength = false
	late := sale("k6", 10_000, 1, 1)
	late.On = day.AddDays(1)
	old := sale("k7", 10_000, 1, 1)
	old.On = day.AddDays(-1096)
	noAge := sale("k8", 10_000, 0, 1)
	noAge.AgeUnknown = true

	q, err := ask(kayak(), order(3, 4), clubRules, append(sales, asked, friend, late, old, noAge))
	require.NoError(t, err)
	said, err := q.value(order(3, 4), kayak())
	require.NoError(t, err)
	assert.Equal(t, "grid_median", said.Method)
	assert.Equal(t, "weak", said.AsItLies.Status)
	assert.Equal(t, money.Of(70_000, "USD"), said.AsItLies.Value)
	// And as repaired, with 5 % off because the buyer is told.
	assert.Equal(t, money.Of(76_475, "USD"), said.Repaired.Value)
	assert.Equal(t, money.Of(52_930, "USD"), said.ForParts.Value, "two grades down: 700/1.15²")
	assert.Less(t, said.AsItLies.Low.Minor, int64(70_000))
	assert.Greater(t, said.AsItLies.High.Minor, int64(70_000))
	assert.Equal(t, []string{"k1", "k2", "k3"}, said.Used)
	assert.Equal(t, []message.LeftOut{
		{Comparable: "k4", Reason: "asking_price"}, {Comparable: "k5", Reason: "not_arms_length"},
		{Comparable: "k6", Reason: "after_valuation_date"}, {Comparable: "k7", Reason: "too_old"}, {Comparable: "k8", Reason: "missing_feature:age"},
	}, said.LeftOut)

	var opinion appraise.Opinion
	require.NoError(t, json.Unmarshal([]byte(said.Output), &opinion))
	assert.Equal(t, int64(67_712), opinion.Adjusted[1].AdjustedMinor)
	assert.Equal(t, int64(70_652), opinion.Adjusted[2].AdjustedMinor)
}

func TestWhatAValueSaysOfItself(t *testing.T) {
	for _, row := range []struct {
		sales  int
		status string
		says   string
	}{
		{0, "refused", "no usable sale of a sit-inside kayak"},
		{1, "indication", "record three or more"},
		{2, "indication", "record three or more"},
		{3, "weak", "record five or more"},
		{5, "ok", ""},
	} {
		var sales []message.Comparable
		for i := range row.sales {
			sales = append(sales, price1(func(c *message.Comparable) { c.Comparable, c.Price.Minor = fmt.Sprint("k", i), int64(60_000+1000*i) }))
		}
		q, err := ask(kayak(), order(3, 3), clubRules, sales)
		require.NoError(t, err)
		said, err := q.value(order(3, 3), kayak())
		require.NoError(t, err)
		assert.Equal(t, row.status, said.AsItLies.Status)
		assert.Equal(t, row.status, said.Repaired.Status)
		assert.Contains(t, said.AsItLies.Reason, row.says)
		assert.Equal(t, row.sales < 3, said.AsItLies.Low.IsZero(), "a range from three sales on")
		assert.Equal(t, row.says == "", said.AsItLies.Reason == "")
	}
	q, err := ask(kayak(), order(3, 3), clubRules, []message.Comparable{price1(func(c *message.Comparable) { c.PriceKind = message.Asking })})
	require.NoError(t, err)
	said, err := q.value(order(3, 3), kayak())
	require.NoError(t, err)
	assert.Contains(t, said.AsItLies.Reason, "(left out: asking_price 1)")
	assert.True(t, said.AsItLies.Value.IsZero())
}

func TestAnOrderToValueIsChecked(t *testing.T) {
	require.NoError(t, goodValue(order(3, 3), day))
	require.NoError(t, goodValue(order(3, 4), day))
	faulttest.Want(t, goodValue(order(4, 3), day), fault.Invalid, "repaired")
	faulttest.Want(t, goodValue(order(0, 3), day), fault.Invalid, "as_it_lies")
	faulttest.Want(t, goodValue(order(3, 6), day), fault.Invalid, "repaired")
}

// estimated is what two people found who looked alone.
var estimated = looked{estimate: true, first: 6, second: 5, both: 4}

// Worked in the first example of `refloat calc offer`: basis 600.00, repairs
// 50.00 and half of 40.00, margin the larger of 30.00 and 10 %. With the rule of
// 10 % for what was missed: 600 − 70 − 60 − 60 = 410.00.
func TestACeilingWorkedByHand(t *testing.T) {
	repairs := []message.ExpectedWork{
		{What: "weld the keel", Cost: money.Of(5000, "USD"), PercentLikely: 100, MinutesOfHands: 90},
		{What: "new seat", Cost: money.Of(4000, "USD"), PercentLikely: 50},
	}
	club := deal{marginPercent: 10, marginMinimum: 3000, missedPercent: 10}
	for _, row := range []struct {
		name    string
		basis   int64
		repairs []message.ExpectedWork
		looked  looked
		deal    deal
		ceiling int64
		status  string
	}{
		{"by rule", 60_000, repairs, looked{}, club, 41_000, "ok"},
		// Chapman for 6, 5 and 4: 0.4 missed (pkg/defects); at 45.00 each, 18.00.
		{"by estimate", 60_000, repairs, estimated, club, 45_200, "ok"},
		{"an estimate, but nothing to price it by", 60_000, nil, estimated, club, 48_000, "ok"},
		{"repairs that cost nothing price no defect", 60_000, []message.ExpectedWork{{What: "wash", PercentLikely: 100}}, estimated, club, 48_000, "ok"},
		{"the least margin", 20_000, nil, looked{}, club, 15_000, "ok"},
		{"an allowance is rounded up", 20_001, nil, looked{}, club, 15_000, "ok"},
		{"repairs eat it", 10_000, repairs, looked{}, club, 0, "do_not_buy"},
		{"nothing is left", 10_000, nil, looked{}, deal{marginPercent: 90, missedPercent: 10}, 0, "do_not_buy"},
	} {
		p, _ := offerFor(money.Of(row.basis, "USD"), row.repairs, row.looked, row.deal)
		said, err := p.ceiling(message.SetCeiling{Boat: "b1"})
		require.NoError(t, err, row.name)
		assert.Equal(t, money.Of(row.ceiling, "USD"), said.Ceiling, row.name)
		assert.Equal(t, row.status, said.Status, row.name)
	}
}

// The same estimate, by package defects and the two formulas of `refloat calc
// offer`: 0.4 missed of variance 0.56; 50.00 or 40.00 each, so 45.00
// with a standard deviation of 5.00; √(0.4·25 + 45²·0.56) = 33.82, so that nine times in ten it is at most 18.00 + 1.2816·33.82.
func TestWhatIsMissedIsShownWithItsUpperEnd(t *testing.T) {
	repairs := []message.ExpectedWork{{What: "a", Cost: money.Of(5000, "USD")}, {What: "b", Cost: money.Of(4000, "USD")}, {What: "wash"}}
	p, from := offerFor(money.Of(60_000, "USD"), repairs, estimated, deal{})
	assert.Contains(t, from, "the repairs that are reckoned with")
	said, err := p.ceiling(message.SetCeiling{Boat: "b1"})
	require.NoError(t, err)
	assert.Contains(t, said.Output, `"undiscovered_expected_minor":1800,"undiscovered_upper_minor":6135`)
}

// A value is one event, which is bounded, whatever its sales are called.
func TestAValueOfManySalesFitsIntoAnEvent(t *testing.T) {
	var sales []message.Comparable
	for i := range mostSales {
		sales = append(sales, price1(func(c *message.Comparable) { c.Comparable, c.LengthMM = fmt.Sprintf("%064d", i), 4300*(i%2) }))
	}
	q, err := ask(kayak(), order(3, 4), clubRules, sales)
	require.NoError(t, err)
	said, err := q.value(order(3, 4), kayak())
	require.NoError(t, err)
	_, err = message.Canonical(said)
	assert.NoError(t, err)
	assert.Empty(t, said.LeftOut, "half of them say nothing of their length, which therefore does not count")
	assert.Equal(t, "ridge_log", said.Method)
}

func TestACeilingStartsFromTheNewestValueThatSaysSomething(t *testing.T) {
	worth := func(value, status string, c money.Currency) message.BoatValued {
		return message.BoatValued{Value: value, Repaired: message.Worth{Status: status, Value: money.Of(500, c)}}
	}
	var o opinions
	_, err := o.basis("USD")
	faulttest.Want(t, err, fault.Conflict, "boat")
	o.Fold(message.Event{}, worth("v1", "refused", "USD"))
	_, err = o.basis("USD")
	faulttest.Want(t, err, fault.Conflict, "boat")
	o.Fold(message.Event{}, worth("v2", "weak", "USD"))
	basis, err := o.basis("USD")
	require.NoError(t, err)
	assert.Equal(t, money.Of(500, "USD"), basis)
	_, err = o.basis("CAD")
	faulttest.Want(t, err, fault.Conflict, "boat")
}

func TestAnOwnSaleTellsOnlyWhatIsKnown(t *testing.T) {
	sold := message.BoatSold{Boat: "b1", On: day, Gross: money.Of(45_000, "USD")}
	c, usable := ownSale(sold, kayak(), "e1")
	require.True(t, usable)
	assert.Equal(t, message.Comparable{
		Comparable: "sale-e1", Price: sold.Gross, On: day, PriceKind: message.Sold, Type: boat.SitInside, LengthMM: 4300,
		AgeYears: 5, Grade: 3, Source: "the club's own sale", OwnBoat: "b1", Market: message.OwnSale,
	}, c)
	c, usable = ownSale(sold, hull{grade: 2}, "e1")
	require.True(t, usable)
	assert.True(t, c.AgeUnknown)
	_, usable = ownSale(sold, hull{}, "e1")
	assert.False(t, usable, "no grade")
	_, usable = ownSale(message.BoatSold{On: day}, kayak(), "e1")
	assert.False(t, usable, "given away")
}

// What stands in a record is enough to come to the same figures.
func TestARecordCanBeWorkedOutAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var sales []message.Comparable
		for i := range rapid.IntRange(0, 14).Draw(t, "sales") {
			sales = append(sales, price1(func(c *message.Comparable) {
				c.Comparable = fmt.Sprint("k", i)
				c.Price.Minor = rapid.Int64Range(100, 300_000).Draw(t, "price")
				c.AgeYears = rapid.IntRange(0, 30).Draw(t, "age")
				c.Grade = boat.Grade(rapid.IntRange(1, 5).Draw(t, "grade"))
				c.LengthMM = rapid.SampledFrom([]int{0, 3100, 4300, 5200}).Draw(t, "length")
				c.Mended = rapid.Bool().Draw(t, "mended")
				c.Market = rapid.SampledFrom(message.Markets).Draw(t, "market")
				c.Material = string(rapid.SampledFrom(boat.Materials).Draw(t, "material"))
				c.Accessories = rapid.SampledFrom([][]string{nil, {"paddle"}}).Draw(t, "accessories")
			}))
		}
		q, err := ask(kayak(), order(2, 4), clubRules, sales)
		require.NoError(t, err)
		said, err := q.value(order(2, 4), kayak())
		require.NoError(t, err)
		again, err := appraise.ReadRecord(said.Input)
		require.NoError(t, err)
		output, err := text(appraise.Value(again.Question()))
		require.NoError(t, err)
		require.Equal(t, said.Output, output)
	})
}
