package repair_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/services/repair"
)

var today = desktest.Today

func start(t *testing.T) *desktest.Club {
	return desktest.Start(t, desktest.Room{Name: repair.Name, Migrations: repair.Migrations(), New: repair.New})
}

// intake says what the intake room would say of b1.
func intake(c *desktest.Club, bodies ...message.Body) {
	for _, body := range bodies {
		c.Say(message.IntakeBoat("b1"), "b1", body)
	}
}

var (
	logged = message.BoatLogged{Boat: "b1", Name: "Heron", Taking: message.Gift, Facts: message.BoatFacts{Type: boat.SitOnTop, Material: boat.Rotomoulded}}
	crack  = message.DefectFound{
		Boat: "b1", Finding: "f1", Look: "l1", Defect: "crack", LengthMM: 90, Through: true, LoadBearing: true, Severity: boat.DoNotUse,
		Place: message.Place{Zone: "stern", Side: "centreline", Face: "outside", Part: "keel line"},
	}
	scratch = message.DefectFound{
		Boat: "b1", Finding: "f2", Look: "l1", Defect: "abrasion", Severity: boat.Use,
		Place: message.Place{Zone: "amid", Side: "port", Face: "outside", Part: "hull"},
	}
	again = message.DefectFound{
		Boat: "b1", Finding: "g1", Look: "l2", Defect: crack.Defect, Place: crack.Place, Severity: boat.MendBefore, SameAs: "f1",
	}
	accepted = message.BoatAccepted{Boat: "b1"}
	received = message.BoatReceived{Boat: "b1", Possession: today, Signed: today, On: today}
)

func test(id string, what message.TestKind, passed bool) message.RecordTest {
	numbers := message.TestNumbers{Minutes: 20}
	if what == mend.Load {
		numbers.LoadG = 90_000
	}
	return message.RecordTest{Boat: "b1", Test: id, What: what, Reading: "after 20 min", TestNumbers: numbers, Passed: passed, On: today}
}

// master gives a repairer who is signed off for everything.
func master(c *desktest.Club) people.Actor {
	repairer, administrator := c.Member(people.Repairer), c.Member(people.Administrator)
	for _, skill := range mend.Skills {
		c.Do(administrator, message.SignSkill{Person: repairer.Person, Skill: skill, OfAge: true, Words: "three pieces, cut open"})
	}
	return repairer
}

func TestACrackIsMendedTwice(t *testing.T) {
	c := start(t)
	repairer := master(c)
	intake(c, logged, crack, scratch, again, accepted, received)
	ready := message.DeclareReady{Boat: "b1", Grade: 3}
	_, err := c.Try(repairer, ready)
	faulttest.Want(t, err, fault.Conflict, "boat")

	c.Do(repairer, message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld", Minutes: 90})
	c.Do(repairer, message.BookPart{Boat: "b1", Entry: "e1", Words: "welding rod of the same polymer", Cost: money.Of(1250, "USD"), PaidBy: message.ClubPays, On: today})
	c.Do(repairer, message.BookHours{Boat: "b1", Entry: "e2", Who: repairer.Person, Minutes: 80, Doing: "drilled the ends, welded", On: today})
	c.Do(repairer, message.FinishWork{Boat: "b1", Work: "w1", Words: "welded from outside"})
	c.Do(repairer, test("t1", "leak", false))
	_, err = c.Try(repairer, ready)
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.Contains(t, err.Error(), "crack on the keel line")
	assert.Contains(t, err.Error(), "leak test was failed")

	c.Do(repairer, message.PlanWork{Boat: "b1", Work: "w2", Findings: []string{"g1"}, Method: "weld", Minutes: 60})
	c.Do(repairer, message.FinishWork{Boat: "b1", Work: "w2", Words: "welded from both sides"})
	c.Do(repairer, test("t2", "leak", true))
	c.Do(repairer, test("t3", "load", true))
	c.Do(repairer, ready)

	assert.Equal(t, []message.Kind{
		"repair.work-planned", "repair.part-booked", "repair.hours-booked", "repair.work-finished",
		"repair.test-recorded", "repair.finding-reopened", "repair.finding-reopened",
		"repair.work-planned", "repair.work-finished", "repair.test-recorded", "repair.test-recorded", "repair.boat-ready",
	}, c.Kinds(message.RepairBoat("b1")))
	said := desktest.Said[message.BoatReady](c, message.RepairBoat("b1"))[0]
	assert.Equal(t, []message.DisclosedFinding{
		{Finding: "f1", Place: crack.Place, Defect: "crack", End: "welded from outside (a test showed that this did not hold). welded from both sides"},
		{Finding: "f2", Place: scratch.Place, Defect: "abrasion", End: "Left as it was found: it does not hinder use."},
		{Finding: "g1", Place: crack.Place, Defect: "crack", End: "welded from outside (a test showed that this did not hold). welded from both sides (Two people saw it.)"},
	}, said.Disclosure)
	assert.Equal(t, repairer.Person, desktest.Said[message.TestRecorded](c, message.RepairBoat("b1"))[0].Tester)
	assert.Empty(t, c.Do(repairer, ready).Events, "it is so already")
	c.RebuildIsTheSame(repair.Name)
}

func TestAFindingNotedLaterIsAFindingOfItsOwn(t *testing.T) {
	c := start(t)
	repairer := master(c)
	intake(c, logged, crack, accepted, received)
	c.Do(repairer, message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld"})
	c.Do(repairer, message.FinishWork{Boat: "b1", Work: "w1", Words: "welded"})
	c.Do(repairer, test("t1", "leak", true))
	c.Do(repairer, test("t2", "load", true))
	intake(c, again) // somebody sees a crack there after the mend
	_, err := c.Try(repairer, message.DeclareReady{Boat: "b1", Grade: 3})
	faulttest.Want(t, err, fault.Conflict, "boat")

	intake(c, message.DefectWithdrawn{Boat: "b1", Finding: "g1", Why: "the weld's own seam"})
	c.Do(repairer, message.DeclareReady{Boat: "b1", Grade: 3})
}

// A person who confirms which findings are the same counts more than the tool's
// own matching.
func TestFindingsThatAPersonMatchedArePlannedTogether(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	other := scratch
	other.Finding, other.Look = "g2", "l2"
	intake(c, logged, crack, scratch, message.LookOverFinished{Boat: "b1", Look: "l1"}, again, other, message.LookOverFinished{Boat: "b1", Look: "l2"}, accepted, received)
	plan := func(work, finding string) []string {
		c.Do(repairer, message.PlanWork{Boat: "b1", Work: work, Findings: []string{finding}, Method: "patch"})
		all := desktest.Said[message.WorkPlanned](c, message.RepairBoat("b1"))
		return all[len(all)-1].Findings
	}
	assert.Equal(t, []string{"f1", "g1"}, plan("w1", "f1"), "as the tool matched them")
	intake(c, message.FindingsMatched{Boat: "b1", Look: "l2", Pairs: []message.FindingPair{{Finding: "g2", SameAs: "f2"}}})
	assert.Equal(t, []string{"f1"}, plan("w2", "f1"))
	assert.Equal(t, []string{"f2", "g2"}, plan("w3", "g2"))
	c.RebuildIsTheSame(repair.Name)
}

// What was written a moment ago must count, although the room has not heard of
// it yet.
func TestReadyRestsOnWhatTheIntakeRoomSaid(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged, accepted, received)
	c.Do(repairer, test("t1", "leak", true))
	c.Settle()
	c.DB.Exec(`UPDATE repair.boat SET intake_version = intake_version - 1`)
	_, err := c.Try(repairer, message.DeclareReady{Boat: "b1", Grade: 3})
	assert.True(t, fault.Is(err, fault.Conflict), "%v", err)
	c.DB.Exec(`UPDATE repair.boat SET intake_version = intake_version + 1`)
	c.Do(repairer, message.DeclareReady{Boat: "b1", Grade: 3})
}

func TestCorrectedFactsChangeWhatIsNeeded(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged, crack, accepted, received)
	weld := message.PlanWork{Boat: "b1", Work: "w1", Findings: []string{"f1"}, Method: "weld"}
	intake(c, message.FactsCorrected{Boat: "b1", Facts: message.BoatFacts{Type: boat.SitOnTop, Material: boat.CrossLinked}})
	_, err := c.Try(repairer, weld)
	faulttest.Want(t, err, fault.Invalid, "method")
	intake(c, message.FactsCorrected{Boat: "b1", Facts: message.BoatFacts{Type: boat.SitOnTop, Material: boat.Rotomoulded}})
	c.Do(repairer, weld)
	c.RebuildIsTheSame(repair.Name)
}

func TestABoatThatLeavesIsNotWorkedOnButItsBillsAreBooked(t *testing.T) {
	for name, leave := range map[string]func(c *desktest.Club){
		"handed over": func(c *desktest.Club) { c.Say(message.MatchingBoat("b1"), "b1", message.BoatHandedOver{Boat: "b1"}) },
		"sold":        func(c *desktest.Club) { c.Say(message.TreasuryBoat("b1"), "b1", message.BoatSold{Boat: "b1"}) },
		"declined":    func(c *desktest.Club) { intake(c, message.BoatDeclined{Boat: "b1"}) },
		"retired": func(c *desktest.Club) {
			c.Do(c.Member(people.Repairer), message.RetireBoat{Boat: "b1", Reason: "brittle", Disposal: "fittings kept"})
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			repairer := c.Member(people.Repairer)
			intake(c, logged, accepted)
			c.Do(repairer, test("t1", "leak", true))
			leave(c)
			_, err := c.Try(repairer, test("t2", "leak", true))
			faulttest.Want(t, err, fault.Conflict, "boat")
			c.Do(repairer, message.BookPart{Boat: "b1", Entry: "e1", Words: "rod", Cost: money.Of(1, "USD"), PaidBy: message.ClubPays, On: today})
			c.Do(repairer, message.ReversePart{Boat: "b1", Entry: "e1", On: today, Why: "another boat's"})
			if name == "sold" {
				c.Say(message.TreasuryBoat("b1"), "b1", message.SaleTakenBack{Boat: "b1"})
				c.Settle()
				c.Do(repairer, test("t3", "leak", true))
			}
			c.RebuildIsTheSame(repair.Name)
		})
	}
}

func TestWhoseHoursAreBooked(t *testing.T) {
	c := start(t)
	repairer, member := c.Member(people.Repairer), c.Member(people.Auditor)
	intake(c, logged, accepted)
	c.Say("people.person/plain", "", message.PersonRegistered{Person: "plain", Sort: message.MemberSort})
	c.Say("people.person/donor", "", message.PersonRegistered{Person: "donor", Sort: message.DonorSort})
	book := func(entry string, who people.ID) error {
		_, err := c.Try(repairer, message.BookHours{Boat: "b1", Entry: entry, Who: who, Minutes: 30, Doing: "sanding", On: today})
		return err
	}
	require.NoError(t, book("e1", repairer.Person))
	require.NoError(t, book("e2", member.Person))
	require.NoError(t, book("e3", "plain"))
	faulttest.Want(t, book("e4", "donor"), fault.Invalid, "who")
	c.Say("people.person/plain", "", message.PersonErased{Person: "plain"})
	faulttest.Want(t, book("e4", "plain"), fault.Invalid, "who")
	c.RebuildIsTheSame(repair.Name)
}

func TestMoneyIsTheClubs(t *testing.T) {
	c := start(t)
	repairer := c.Member(people.Repairer)
	intake(c, logged, accepted)
	c.Set("currency", "CAD")
	part := message.BookPart{Boat: "b1", Entry: "e1", Words: "rod", Cost: money.Of(100, "USD"), PaidBy: message.OwnPocket, On: today}
	_, err := c.Try(repairer, part)
	faulttest.Want(t, err, fault.Invalid, "cost")
	part.Cost.Currency = "CAD"
	c.Do(repairer, part)
}
