package valuation_test

import (
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/valuation"
)

var today = desktest.Today

func start(t *testing.T) *desktest.Club {
	return desktest.Start(t, desktest.Room{Name: valuation.Name, Migrations: valuation.Migrations(), New: valuation.New})
}

// sold is a sale of a sit-inside kayak.
func sold(id string, minor int64, change ...func(*message.Comparable)) message.RecordComparable {
	c := message.Comparable{
		Comparable: id, Price: money.Of(minor, "USD"), On: today.AddDays(-30), PriceKind: message.Sold, ArmsLength: true,
		Type: boat.SitInside, LengthMM: 4300, Seats: 1, AgeYears: 5, Grade: 3, Source: "club board",
	}
	for _, f := range change {
		f(&c)
	}
	return message.RecordComparable{Comparable: c}
}

func value(id string) message.ValueBoat {
	return message.ValueBoat{Boat: "b1", Value: id, On: today, Purpose: message.ForPurchase, AsItLies: 3, Repaired: 4, Conflict: "none"}
}

// log lets the intake room log b1, a five-year-old kayak.
func log(c *desktest.Club, giver people.ID) {
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{
		Boat: "b1", Name: "Heron", Taking: message.Purchase, Giver: giver, Right: "owner's declaration",
		Facts: message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, YearBuilt: 2021, NoHullNumber: "removed"},
	})
}

func lookOver(c *desktest.Club, estimate *message.MissedEstimate) {
	c.Say(message.IntakeBoat("b1"), "b1", message.LookOverFinished{Boat: "b1", Look: desktest.ID(), Inspector: "i", Grade: 3, Estimate: estimate})
}

func TestFromPricesToACeiling(t *testing.T) {
	c := start(t)
	steward, treasurer := c.Member(people.Steward), c.Member(people.Treasurer)
	log(c, "seller")

	c.Do(treasurer, value("v0"))
	first := desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))[0]
	assert.Equal(t, "refused", first.AsItLies.Status)
	assert.Contains(t, first.AsItLies.Reason, "record at least one")
	_, err := c.Try(treasurer, message.SetCeiling{Boat: "b1"})
	faulttest.Want(t, err, fault.Conflict, "boat", "no look-over")

	for i, minor := range []int64{60_000, 70_000, 80_000, 65_000, 75_000} {
		c.Do(steward, sold(fmt.Sprint("k", i), minor))
	}
	c.Do(steward, sold("asked", 99_000, func(c *message.Comparable) { c.PriceKind = message.Asking }))
	c.Do(steward, sold("canoe", 10_000, func(c *message.Comparable) { c.Type = boat.Canoe }))
	c.Do(treasurer, message.RefuseComparable{Comparable: "k4", Why: "the seller threw in a trailer"})
	lookOver(c, nil)
	_, err = c.Try(treasurer, message.SetCeiling{Boat: "b1"})
	faulttest.Want(t, err, fault.Conflict, "boat", "the newest value says nothing")

	c.Do(treasurer, value("v1"))
	said := desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))[1]
	assert.Equal(t, treasurer.Person, said.Valuer)
	assert.Equal(t, "v0", said.Supersedes)
	assert.ElementsMatch(t, []string{"k0", "k1", "k2", "k3"}, said.Used)
	assert.Equal(t, []message.LeftOut{{Comparable: "asked", Reason: "asking_price"}}, said.LeftOut)
	// All alike but for the price: the median in logs is √(650·700) = 674.54, and a
	// grade better 15 % more, less 5 % because a repair is told.
	assert.Equal(t, money.Of(67_454, "USD"), said.AsItLies.Value)
	assert.Equal(t, money.Of(73_693, "USD"), said.Repaired.Value)

	c.Do(treasurer, message.SetCeiling{Boat: "b1", Repairs: []message.ExpectedWork{{What: "weld", Cost: money.Of(5000, "USD"), PercentLikely: 100}}})
	ceiling := desktest.Said[message.CeilingSet](c, message.ValuationBoat("b1"))[0]
	// 736.93 − 50.00 − 73.70 (rule, rounded up) − 73.70 (margin, rounded up).
	assert.Equal(t, money.Of(53_953, "USD"), ceiling.Ceiling)
	assert.Equal(t, "ok", ceiling.Status)
	c.RebuildIsTheSame(valuation.Name)
}

func TestAnEstimateOfWhatWasMissedCountsWhenItIsShown(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	log(c, "seller")
	for i := range 3 {
		c.Do(treasurer, sold(fmt.Sprint("k", i), 60_000+int64(i)))
	}
	c.Do(treasurer, value("v1"))
	ceilings := func() []message.CeilingSet {
		return desktest.Said[message.CeilingSet](c, message.ValuationBoat("b1"))
	}
	work := message.SetCeiling{Boat: "b1", Repairs: []message.ExpectedWork{{What: "weld", Cost: money.Of(5000, "USD"), PercentLikely: 100}}}
	lookOver(c, &message.MissedEstimate{First: 6, Second: 5, Both: 2})
	c.Do(treasurer, work)
	assert.Contains(t, ceilings()[0].Output, `"undiscovered_source":"rule"`)
	lookOver(c, &message.MissedEstimate{First: 6, Second: 5, Both: 4, Shown: true})
	lookOver(c, nil) // a third look does not take the estimate away
	c.Do(treasurer, work)
	assert.Contains(t, ceilings()[1].Output, `"undiscovered_source":"two_inspectors"`)
	assert.Contains(t, ceilings()[1].Output, `"missed_expected":0.4`)
	c.RebuildIsTheSame(valuation.Name)
}

func TestOneSaleCountsOnce(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	c.Do(steward, sold("k1", 60_000))
	_, err := c.Try(steward, sold("k1", 70_000))
	faulttest.Want(t, err, fault.Conflict, "comparable")
	_, err = c.Try(steward, sold("k2", 60_000))
	faulttest.Want(t, err, fault.Conflict, "comparable")
	assert.Contains(t, err.Error(), "k1")

	c.Do(steward, message.RefuseComparable{Comparable: "k1", Why: "the grade was wrong"})
	c.Do(steward, sold("k2", 60_000, func(c *message.Comparable) { c.Grade = 2 }))
	_, err = c.Try(steward, sold("k3", 60_000))
	assert.ErrorContains(t, err, "k2")

	var all sync.WaitGroup
	var mu sync.Mutex
	taken := 0
	for i := range 6 {
		all.Go(func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: steward, Key: desktest.ID(), Seen: 1}, sold(fmt.Sprint("m", i), 50_000))
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				taken++
				return
			}
			assert.True(t, fault.Is(err, fault.Conflict), err)
		})
	}
	all.Wait()
	assert.Equal(t, 1, taken)
}

func TestAnOwnSaleComesIntoTheCollectionByItself(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	log(c, "seller")
	lookOver(c, nil)
	c.Say(message.RepairBoat("b1"), "b1", message.BoatReady{Boat: "b1", Grade: 4})
	e := c.Say(message.TreasuryBoat("b1"), "b1", message.BoatSold{Boat: "b1", On: today, Gross: money.Of(40_000, "USD"), ArmsLength: true})
	c.Say(message.TreasuryBoat("b9"), "b9", message.BoatSold{Boat: "b9", On: today, Gross: money.Of(40_000, "USD")}) // not known here
	c.Settle()
	recorded := desktest.Said[message.ComparableRecorded](c, message.ValuationComparable("sale-"+e.ID))
	require.Len(t, recorded, 1)
	assert.Equal(t, boat.ID("b1"), recorded[0].OwnBoat)
	assert.Equal(t, boat.Grade(4), recorded[0].Grade)
	assert.Equal(t, 5, recorded[0].AgeYears)
	assert.True(t, recorded[0].ArmsLength)

	c.DB.Exec(`UPDATE valuation.cursor SET position = 0 WHERE name = 'reactions'`)
	c.Restart(valuation.Name)
	c.Settle()
	assert.Len(t, c.Bodies(message.ValuationComparable("sale-"+e.ID)), 1)
	c.Do(treasurer, value("v1"))
	assert.Equal(t, []string{"sale-" + e.ID}, desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))[0].Used)
	c.RebuildIsTheSame(valuation.Name)
}

func TestWhoGivesOrWaitsDoesNotValue(t *testing.T) {
	c := start(t)
	giver, waiting, guardian, double, free := c.Member(people.Treasurer), c.Member(people.Steward), c.Member(people.Steward), c.Member(people.Steward), c.Member(people.Steward)
	log(c, giver.Person)
	lookOver(c, nil)
	c.Say(message.MatchingRequest("r1"), "", message.RequestMade{Request: "r1", Household: waiting.Person, Boats: 1})
	c.Say(message.MatchingRequest("r2"), "", message.RequestMade{Request: "r2", Household: "ward", Boats: 1,
		NewHousehold: &message.NewPerson{Person: "ward", Guardian: guardian.Person}})
	c.Say(message.Doubles(double.Person, giver.Person), "", message.DoublesJudged{One: double.Person, Other: giver.Person, Same: true})
	for name, by := range map[string]people.Actor{"giver": giver, "household": waiting, "guardian": guardian, "giver twice in the book": double, "nobody": desktest.Operator} {
		_, err := c.Try(by, value("v1"))
		faulttest.Want(t, err, fault.Forbidden, "", name)
		_, err = c.Try(by, message.SetCeiling{Boat: "b1"})
		faulttest.Want(t, err, fault.Forbidden, "", name)
	}
	stake := value("v1")
	stake.Conflict = "my sister will get it"
	_, err := c.Try(free, stake)
	faulttest.Want(t, err, fault.Forbidden, "conflict")
	assert.Empty(t, c.Bodies(message.ValuationBoat("b1")))

	c.Say(message.MatchingRequest("r1"), "", message.RequestEnded{Request: "r1", How: "withdrawn"})
	c.Do(waiting, value("v1"))
	c.Do(free, value("v2"))
	c.RebuildIsTheSame(valuation.Name)
}

func TestSettingsOfTheClubCount(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	orders := ready(c)
	c.Set("grade-effect-percent", "50")
	c.Do(steward, value("v2"))
	said := desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))[1]
	assert.Equal(t, money.Of(85_500, "USD"), said.Repaired.Value, "600.00 and half as much again, less 5 % for the repair that is told")
	c.Set("comparable-days", "29")
	c.Do(steward, value("v3"))
	assert.Equal(t, "too_old", desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))[2].LeftOut[0].Reason)
	c.Set("year-effect-percent", "100")
	_, err := c.Try(steward, value("v4"))
	faulttest.Want(t, err, fault.Conflict, "")
	c.Set("year-effect-percent", "8")
	c.Set("comparable-days", "30")
	c.Do(steward, value("v5"))
	c.Set("margin-minimum", "a lot")
	_, err = c.Try(steward, orders["ceiling"])
	faulttest.Want(t, err, fault.Conflict, "")
	c.Set("currency", "CAD")
	_, err = c.Try(steward, message.SetCeiling{Boat: "b1"})
	faulttest.Want(t, err, fault.Conflict, "boat", "a value in another currency")
	c.Do(steward, value("v6"))
	assert.Equal(t, "refused", desktest.Said[message.BoatValued](c, message.ValuationBoat("b1"))[4].AsItLies.Status, "nothing is converted")
}
