package repair_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/services/repair"
)

func usd(minor int64) money.Amount { return money.Of(minor, "USD") }

// stocked opens a bin of ten seat pairs.
func stocked(c *desktest.Club, repairer people.Actor) {
	c.Do(repairer, message.OpenBin{Bin: "seats", Name: "seat pairs", Unit: message.Pieces, Low: 2 * message.Whole})
	c.Do(repairer, message.BuyStock{Bin: "seats", Entry: "e1", Quantity: 10 * message.Whole, Cost: usd(9_999), PaidBy: message.ClubPays, On: today})
}

// Thirty-two repairers reach for ten seat pairs at one moment: ten get one each,
// and nobody gets what is not there.
func TestThirtyTwoReachForTenPieces(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged, accepted)
	stocked(c, repairer)
	c.Settle()
	const takers = 32
	var reach sync.WaitGroup
	go_, outcomes := make(chan struct{}), make([]error, takers)
	for i := range takers {
		reach.Go(func() {
			<-go_
			take := message.TakeStock{Bin: "seats", Boat: "b1", Entry: fmt.Sprint("t", i), Quantity: message.Whole, On: today}
			_, outcomes[i] = c.Client.Do(t.Context(), desk.Asking{By: repairer, Key: desktest.ID()}, take)
		})
	}
	close(go_)
	reach.Wait()
	got := 0
	for i, err := range outcomes {
		if err == nil {
			got++
			continue
		}
		faulttest.Want(t, err, fault.Conflict, "quantity", i)
		assert.Contains(t, err.Error(), "no more than 0 pieces of seat pairs can be had")
	}
	assert.Equal(t, 10, got, "exactly as many as there were")
	sum := int64(0)
	for _, taken := range desktest.Said[message.StockTaken](c, message.RepairBin("seats")) {
		sum += taken.Cost.Minor
	}
	assert.Equal(t, int64(9_999), sum, "to the cent what they had cost")
	c.RebuildIsTheSame(repair.Name)
}

// stockOrders are good orders with what must have been done before.
func stockOrders() map[string]order {
	take := message.TakeStock{Bin: "seats", Boat: "b1", Entry: "t1", Quantity: message.Whole, On: today}
	return map[string]order{
		"open":    {message.OpenBin{Bin: "cord", Name: "deck line", Unit: message.Metres}, nil, "repair.bin-opened"},
		"change":  {message.ChangeBin{Bin: "seats", Name: "seats, pair", Where: "shelf 4", Low: message.Whole}, nil, "repair.bin-changed"},
		"buy":     {message.BuyStock{Bin: "seats", Entry: "e2", Quantity: message.Whole, Cost: usd(900), PaidBy: message.OwnPocket, On: today}, nil, "repair.stock-bought"},
		"reserve": {message.ReserveStock{Bin: "seats", Boat: "b1", Quantity: message.Whole}, nil, "repair.stock-reserved"},
		"take":    {take, nil, "repair.stock-taken"},
		"return":  {message.ReturnStock{Bin: "seats", Entry: "r1", Of: "t1", Quantity: message.Whole, On: today, Why: "too small"}, []desk.Commanded{take}, "repair.stock-returned"},
		"off":     {message.WriteOffStock{Bin: "seats", Entry: "o1", Quantity: message.Whole, On: today, Why: "mould"}, nil, "repair.stock-written-off"},
		"salvage": {
			message.SalvagePart{Bin: "seats", Boat: "b1", Entry: "s1", Quantity: message.Whole, Value: usd(500), On: today, Words: "sound"},
			[]desk.Commanded{message.RetireBoat{Boat: "b1", Reason: "brittle", Disposal: "bulky waste"}}, "repair.stock-salvaged",
		},
	}
}

func TestWhoMayMoveStock(t *testing.T) {
	for name, o := range stockOrders() {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			repairer := c.Member(people.Repairer)
			intake(c, logged, accepted)
			stocked(c, repairer)
			for _, before := range o.before {
				c.Do(repairer, before)
			}
			c.OnlyFor("donor", o.good, people.Repairer)
			c.WritesNothing(func() {
				for _, bad := range []struct {
					key   string
					value any
				}{{"bin", "a b"}, {"bin", ""}, {"bin", 7}, {"bon", "x"}} {
					faulttest.Want(t, c.TryChanged(repairer, o.good, map[string]any{bad.key: bad.value}), fault.Invalid, bad.key, bad.value)
				}
			})
			reply := c.Do(repairer, o.good)
			assert.Equal(t, o.said, reply.Events[0].Kind)
			c.RebuildIsTheSame(repair.Name)
		})
	}
}

func TestStockForBoatsThatAreNotHere(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged)
	stocked(c, repairer)
	take := message.TakeStock{Bin: "seats", Boat: "b1", Entry: "t1", Quantity: message.Whole, On: today}
	_, err := c.Try(repairer, take)
	faulttest.Want(t, err, fault.Conflict, "boat") // not accepted
	_, err = c.Try(repairer, message.SalvagePart{Bin: "seats", Boat: "b1", Entry: "s1", Quantity: message.Whole, Value: usd(1), On: today, Words: "sound"})
	faulttest.Want(t, err, fault.Conflict, "boat") // not retired
	_, err = c.Try(repairer, message.TakeStock{Bin: "seats", Boat: "nowhere", Entry: "t1", Quantity: message.Whole, On: today})
	faulttest.Want(t, err, fault.Unknown, "boat")
	_, err = c.Try(repairer, message.TakeStock{Bin: "nothing", Boat: "b1", Entry: "t1", Quantity: message.Whole, On: today})
	assert.Error(t, err)
	_, err = c.Try(repairer, message.BuyStock{Bin: "seats", Entry: "e3", Quantity: message.Whole, Cost: usd(1), PaidBy: message.OwnPocket, Pocket: "stranger", On: today})
	faulttest.Want(t, err, fault.Invalid, "pocket")
}

// What is kept for a boat goes back to the bin when the boat leaves.
func TestWhatIsReservedIsFreeAgainWhenTheBoatLeaves(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged, accepted)
	c.Say(message.IntakeBoat("b2"), "b2", message.BoatLogged{Boat: "b2", Name: "Teal", Facts: logged.Facts})
	c.Say(message.IntakeBoat("b2"), "b2", message.BoatAccepted{Boat: "b2"})
	stocked(c, repairer)
	c.Do(repairer, message.ReserveStock{Bin: "seats", Boat: "b1", Quantity: 9 * message.Whole})
	take := message.TakeStock{Bin: "seats", Boat: "b2", Entry: "t1", Quantity: 2 * message.Whole, On: today}
	_, err := c.Try(repairer, take)
	faulttest.Want(t, err, fault.Conflict, "quantity")
	assert.Contains(t, err.Error(), "no more than 1 piece of seat pairs can be had; the rest is reserved")
	c.Do(repairer, message.RetireBoat{Boat: "b1", Reason: "brittle", Disposal: "bulky waste"})
	c.Settle()
	c.Do(repairer, take)
	c.RebuildIsTheSame(repair.Name)
}

func TestSkillsAreSignedOffAndTakenBack(t *testing.T) {
	c := start(t)
	welder, other, administrator := c.Member(people.Repairer), c.Member(people.Repairer), c.Member(people.Administrator)
	young := people.ID("young")
	c.Say(message.Person(young), "", message.PersonRegistered{Person: young, Sort: message.MemberSort})
	c.Say(message.Person(young), "", message.GuardianNamed{Person: young, Guardian: "g"})
	intake(c, logged, crack, accepted)
	c.Do(welder, message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld"})
	finish := message.FinishWork{Boat: "b1", Work: "w1", Words: "welded"}
	_, err := c.Try(welder, finish)
	faulttest.Want(t, err, fault.Forbidden, "")

	sign := message.SignSkill{Person: welder.Person, Skill: mend.HotWork, OfAge: true, Words: "cut open and sound"}
	c.OnlyFor("donor", sign, people.Repairer, people.Administrator)
	_, err = c.Try(other, sign)
	faulttest.Want(t, err, fault.Forbidden, "")
	_, err = c.Try(welder, sign)
	faulttest.Want(t, err, fault.Invalid, "person")
	_, err = c.Try(administrator, message.SignSkill{Person: young, Skill: mend.HotWork, OfAge: true, Words: "good hands"})
	faulttest.Want(t, err, fault.Invalid, "person")
	_, err = c.Try(administrator, message.SignSkill{Person: "stranger", Skill: mend.HotWork, OfAge: true, Words: "x"})
	faulttest.Want(t, err, fault.Invalid, "person")
	c.Do(administrator, sign)
	assert.Empty(t, c.Do(administrator, sign).Events, "it is so already")
	c.Do(welder, message.SignSkill{Person: other.Person, Skill: mend.HotWork, OfAge: true, Words: "learned beside me"})

	end := message.EndSkill{Person: welder.Person, Skill: mend.HotWork, Why: "moved away"}
	c.OnlyFor("donor", end, people.Repairer, people.Administrator)
	c.Do(other, end)
	_, err = c.Try(other, end)
	faulttest.Want(t, err, fault.Conflict, "skill")
	_, err = c.Try(welder, finish)
	faulttest.Want(t, err, fault.Forbidden, "")
	_, err = c.Try(desktest.Operator, finish)
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Do(other, finish)
	c.RebuildIsTheSame(repair.Name)
}

func TestATimerOutlivesThePageAndRingsOnce(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged, accepted)
	for _, id := range []string{"m1", "m2"} {
		c.Do(repairer, message.SetTimer{Boat: "b1", Timer: id, What: "the resin cures", Minutes: 24 * 60, AtCelsius: 25, Celsius: 15, Cures: true})
	}
	c.Do(repairer, message.EndTimer{Boat: "b1", Timer: "m2"})
	c.Settle()
	rang := func() []message.TimerRang {
		c.Restart(repair.Name) // looks at once, and shows that nothing is kept in memory
		c.Settle()
		return desktest.Said[message.TimerRang](c, message.RepairBoat("b1"))
	}
	c.Clock.Advance(47 * time.Hour)
	assert.Empty(t, rang())
	c.Clock.Advance(time.Hour)
	require.Eventually(t, func() bool { return len(rang()) == 1 }, time.Minute, 20*time.Millisecond)
	assert.Equal(t, message.TimerRang{Boat: "b1", Timer: "m1", Who: repairer.Person}, rang()[0])
	assert.Len(t, rang(), 1, "once")
	assert.Empty(t, c.Do(repairer, message.EndTimer{Boat: "b1", Timer: "m2"}).Events)
	c.RebuildIsTheSame(repair.Name)
}

func TestAWaiverIsAnAdministrators(t *testing.T) {
	c := start(t)
	repairer := master(c)
	strap := message.DefectFound{Boat: "b1", Finding: "f5", Look: "l1", Defect: "worn", Severity: boat.Watch, Place: message.Place{Zone: "bow", Side: "port", Face: "outside", Part: "carry toggle"}}
	intake(c, logged, strap, accepted, received)
	c.Do(repairer, message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f5"}, Method: "replace part"})
	c.Do(repairer, message.FinishWork{Boat: "b1", Work: "w1", Words: "new toggle"})
	c.Do(repairer, test("t1", "leak", true))
	waive := message.WaiveTest{Boat: "b1", What: mend.Fittings, Why: "nobody carries it by the toggle"}
	c.OnlyFor("donor", waive, people.Administrator)
	_, err := c.Try(desktest.Operator, waive)
	faulttest.Want(t, err, fault.SignIn, "")
	_, err = c.Try(repairer, message.DeclareReady{Boat: "b1", Grade: 4})
	faulttest.Want(t, err, fault.Conflict, "boat")
	administrator := c.Member(people.Administrator)
	c.Do(administrator, waive)
	c.Do(repairer, message.DeclareReady{Boat: "b1", Grade: 4})
	assert.Equal(t, administrator.Person, desktest.Said[message.TestWaived](c, message.RepairBoat("b1"))[0].By)
	assert.Contains(t, pdfText(t, c, repairer), "nobody carries it by the toggle")
	c.RebuildIsTheSame(repair.Name)
}

// pdfText prints the disclosure sheet of b1 and reads it.
func pdfText(t *testing.T, c *desktest.Club, by people.Actor) string {
	t.Helper()
	sheet := desktest.Ask[message.Sheet](c, by, message.DisclosureSheet{Boat: "b1"})
	return receipttest.Text(t, sheet.PDF)
}

func TestTheDisclosureIsPrintedForEveryMember(t *testing.T) {
	c := start(t)
	repairer := master(c)
	intake(c, logged, crack, scratch, accepted, received)
	text := pdfText(t, c, repairer)
	for _, want := range []string{"Disclosure of Heron (not ready)", "crack on the keel line", "Open: the boat must not be used like this.", "leak missing: needed because its shell keeps the water out"} {
		assert.Contains(t, text, want)
	}
	c.Set("paper-format", "A4")
	first := desktest.Ask[message.Sheet](c, c.Member(people.Auditor), message.DisclosureSheet{Boat: "b1"})
	assert.Equal(t, "disclosure-heron.pdf", first.Name)
	assert.Equal(t, first.PDF, desktest.Ask[message.Sheet](c, repairer, message.DisclosureSheet{Boat: "b1"}).PDF, "the same bytes each time")
	_, err := desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: people.Service(desk.Pages)}, message.DisclosureSheet{Boat: "b1"})
	faulttest.Want(t, err, fault.SignIn, "")
}

// At each booked cent and hour the sums are weighed against what mending gains.
func TestStoppingIsAdvisedAtTheCentThatTurnsIt(t *testing.T) {
	c := start(t)
	repairer := master(c)
	intake(c, logged, crack, accepted, received)
	c.Set("hour-value", "12.00")
	worth := func(minor int64) message.Worth { return message.Worth{Status: "ok", Value: usd(minor)} }
	c.Say(message.ValuationBoat("b1"), "b1", message.BoatValued{Boat: "b1", Value: "v1", AsItLies: worth(10_000), Repaired: worth(20_000)})
	c.Do(repairer, message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld", Minutes: 60, Cost: usd(2_000)})
	stocked(c, repairer)
	said := func() []message.StopAdvised {
		c.Settle()
		return desktest.Said[message.StopAdvised](c, message.RepairBoat("b1"))
	}
	book := func(entry string, minor int64) {
		c.Do(repairer, message.BookPart{Boat: "b1", Entry: entry, Words: "rod", Cost: usd(minor), PaidBy: message.ClubPays, On: today})
	}
	book("e1", 4_600) // 4600 + 2000 + 1200 for the hour = 7800
	c.Do(repairer, message.BookHours{Boat: "b1", Entry: "h1", Who: repairer.Person, Minutes: 60, What: message.Fitting, Doing: "fitting", On: today})
	c.Do(repairer, message.TakeStock{Bin: "seats", Boat: "b1", Entry: "t1", Quantity: message.Whole, On: today}) // 1000 for one
	assert.Empty(t, said(), "to the cent it still pays")
	book("e2", 1)
	advised := said()
	require.Len(t, advised, 1)
	assert.Equal(t, message.StopAdvised{Boat: "b1", Verdict: message.MendingOver, Spent: usd(6_801), ToFinish: usd(3_200), Gain: usd(10_000), Value: "v1"}, advised[0])
	book("e3", 500)
	assert.Len(t, said(), 1, "once")
	c.Say(message.ValuationBoat("b1"), "b1", message.BoatValued{Boat: "b1", Value: "v2", AsItLies: worth(10_000), Repaired: worth(11_000)})
	advised = said()
	require.Len(t, advised, 2, "another value is another question")
	assert.Equal(t, message.MendingStop, advised[1].Verdict)
	c.RebuildIsTheSame(repair.Name)
}
