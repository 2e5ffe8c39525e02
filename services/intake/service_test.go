package intake_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
	"refloat.example/services/intake"
)

var today = desktest.Today

func start(t *testing.T) *desktest.Club {
	return desktest.Start(t, desktest.Room{Name: intake.Name, Migrations: intake.Migrations(), New: intake.New})
}

// stranger is a giver whom the club does not know.
func stranger() message.LogBoat {
	c := gift("b1", "Heron", "stranger")
	c.NewGiver = &message.PersonDetails{Name: "Odalys Fenwright", Mail: "odalys@example.org", Language: "en"}
	c.Consent = "privacy 2026-1"
	return c
}

func gift(id boat.ID, name string, giver people.ID) message.LogBoat {
	return message.LogBoat{
		Boat: id, Name: name, Taking: message.Gift, Giver: giver, Right: "owner's declaration",
		Facts: message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, NoHullNumber: "home-built"},
		Shown: &message.RightPaper{Paper: "signed declaration", On: today},
	}
}

func purchase(id boat.ID, name string, giver people.ID) message.LogBoat {
	c := gift(id, name, giver)
	c.Taking, c.Asked = message.Purchase, money.Of(30_000, "USD")
	return c
}

func crack(look, finding string) message.NoteDefect {
	return message.NoteDefect{
		Boat: "b1", Finding: finding, Look: look, Defect: "crack", LengthMM: 90, Through: true, Severity: boat.MendBefore,
		Place: message.Place{Zone: "stern", Side: "centreline", Face: "outside", Part: "keel line"},
	}
}

// lookOver begins and finishes a look-over of b1 by somebody.
func lookOver(c *desktest.Club, by people.Actor, look string) {
	c.Do(by, message.BeginLookOver{Boat: "b1", Look: look})
	c.Do(by, answered(look))
	c.Do(by, message.FinishLookOver{Boat: "b1", Look: look, Grade: 3})
}

// answered says of every point that its trouble was looked for and not seen.
func answered(look string) message.AnswerPoints {
	c := message.AnswerPoints{Boat: "b1", Look: look}
	for _, p := range guide.For(boat.SitInside, boat.Rotomoulded).Points {
		c.Answers = append(c.Answers, message.PointAnswer{Point: p.ID, Answer: guide.NotSeen})
	}
	return c
}

// last gives the newest event of a kind about b1.
func last[B message.Body](t *testing.T, c *desktest.Club) B {
	t.Helper()
	said := desktest.Said[B](c, message.IntakeBoat("b1"))
	require.NotEmpty(t, said)
	return said[len(said)-1]
}

func TestAGiftFromTheTelephoneToTheRack(t *testing.T) {
	c := start(t)
	member, one, other := c.Member(people.Coordinator), c.Member(people.Steward), c.Member(people.Steward)

	c.Do(member, stranger())
	c.Do(one, message.BeginLookOver{Boat: "b1", Look: "l1"})
	c.Do(one, crack("l1", "f1"))
	c.Do(other, message.BeginLookOver{Boat: "b1", Look: "l2"})
	c.Do(other, crack("l2", "g1"))
	assert.Equal(t, "f1", last[message.DefectFound](t, c).SameAs)
	c.Do(one, message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 2})
	c.Do(other, message.FinishLookOver{Boat: "b1", Look: "l2", Grade: 2, CouldNotSee: []boat.Part{"bulkhead"}})
	said := last[message.LookOverFinished](t, c)
	assert.True(t, said.Provisional)
	assert.Equal(t, &message.MissedEstimate{First: 1, Second: 1, Both: 1, LowMilli: 1000, HighMilli: 1000, Reason: said.Estimate.Reason, Looks: 2, LookAgain: true}, said.Estimate)

	c.Do(one, message.SetQuarantine{Boat: "b1", LastWater: "Lake Amberjay", OutOfWater: today.AddDays(-3), Rule: "utah"})
	facts := stranger().Facts
	facts.HullNumber, facts.NoHullNumber = "XYZ12345L495", ""
	c.Do(one, message.CorrectFacts{Boat: "b1", Facts: facts, Why: "the number was under the mud"})
	c.Do(one, message.AcceptBoat{Boat: "b1", Words: "a good first boat", Stake: "none"})
	c.Do(one, message.ReceiveBoat{Boat: "b1", Possession: today.AddDays(-2), Signed: today.AddDays(-1)})
	assert.Equal(t, today.AddDays(-1), last[message.BoatReceived](t, c).On)

	assert.Equal(t, []message.Kind{
		"intake.boat-logged", "intake.right-shown", "intake.look-over-begun", "intake.defect-found", "intake.look-over-begun", "intake.defect-found",
		"intake.look-over-finished", "intake.look-over-finished", "intake.quarantine-set", "intake.facts-corrected",
		"intake.boat-accepted", "intake.boat-received",
	}, c.Kinds(message.IntakeBoat("b1")))
	c.RebuildIsTheSame(intake.Name)
}

func TestANewGiverIsSealed(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	reply := c.Do(steward, stranger())
	e, err := c.Log.Event(t.Context(), reply.Events[0].Position)
	require.NoError(t, err)
	assert.NotContains(t, string(e.Data), "Odalys")
	assert.NotContains(t, string(e.Data), "example.org")

	giver := last[message.BoatLogged](t, c).NewGiver
	assert.Equal(t, message.DonorSort, giver.Sort)
	assert.Equal(t, "privacy 2026-1", giver.Consent)
	var d message.PersonDetails
	require.NoError(t, c.Vault.Unseal(t.Context(), "stranger", message.SealDetails, vault.Sealed(giver.Sealed), &d))
	assert.Equal(t, *stranger().NewGiver, d)

	c.Do(steward, gift("b2", "Egret", "stranger")) // known from now on
	again := stranger()
	again.Boat, again.Name = "b3", "Coot"
	_, err = c.Try(steward, again)
	faulttest.Want(t, err, fault.Invalid, "new_giver")

	c.Say("people.person/stranger", "", message.PersonErased{Person: "stranger", Why: "asked"})
	_, err = c.Try(steward, gift("b3", "Coot", "stranger"))
	faulttest.Want(t, err, fault.Invalid, "giver")
	require.NoError(t, c.Vault.Destroy(t.Context(), "stranger"))
	_, err = c.Try(steward, again)
	faulttest.Want(t, err, fault.Invalid, "giver")
	c.RebuildIsTheSame(intake.Name)
}

func TestAMemberGivesABoatAndAnotherAcceptsIt(t *testing.T) {
	c := start(t)
	giver, other := c.Member(people.Steward), c.Member(people.Steward)
	c.Do(giver, gift("b1", "Heron", giver.Person))
	lookOver(c, other, "l1")
	_, err := c.Try(giver, message.AcceptBoat{Boat: "b1", Stake: "none"})
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Do(other, message.AcceptBoat{Boat: "b1", Stake: "none"})
}

func TestAPurchaseStaysUnderItsCeiling(t *testing.T) {
	c := start(t)
	steward, administrator := c.Member(people.Steward), c.Member(people.Administrator)
	seller := c.Member(people.Auditor)
	c.Do(steward, purchase("b1", "Heron", seller.Person))
	lookOver(c, steward, "l1")
	at := func(minor int64) message.OfferPrice {
		return message.OfferPrice{Boat: "b1", Price: money.Of(minor, "USD"), Stake: "none"}
	}
	_, err := c.Try(steward, at(100))
	faulttest.Want(t, err, fault.Conflict, "price")
	c.Say(message.ValuationBoat("b1"), "b1", message.CeilingSet{Boat: "b1", Ceiling: money.Of(25_000, "USD"), Status: "ok"})
	c.Say(message.ValuationBoat("b1"), "b1", message.CeilingSet{Boat: "b1", Ceiling: money.Of(20_000, "USD"), Status: "ok"})
	_, err = c.Try(steward, at(20_001))
	faulttest.Want(t, err, fault.Forbidden, "")
	c.Do(steward, at(20_000))
	assert.Equal(t, money.Of(20_000, "USD"), last[message.PriceOffered](t, c).Ceiling, "the newest one")
	c.Do(administrator, message.AcceptBoat{Boat: "b1", Price: money.Of(21_000, "USD"), Words: "the only tandem in the county", Stake: "none"})
	assert.Equal(t, money.Of(21_000, "USD"), last[message.BoatAccepted](t, c).Price)
	_, err = c.Try(steward, at(100))
	faulttest.Want(t, err, fault.Conflict, "boat")
	c.RebuildIsTheSame(intake.Name)
}

// Who negotiates is not who valued, where the club wants that.
func TestWhoValuedLeavesThePriceToOthers(t *testing.T) {
	c := start(t)
	steward, valuer, ceilings := c.Member(people.Steward), c.Member(people.Steward), c.Member(people.Steward, people.Administrator)
	c.Do(steward, purchase("b1", "Heron", c.Member(people.Auditor).Person))
	lookOver(c, steward, "l1")
	c.Say(message.ValuationBoat("b1"), "b1", message.BoatValued{Boat: "b1", Value: "v1", Valuer: valuer.Person})
	c.Say(message.ValuationBoat("b1"), "b1", message.CeilingSet{Boat: "b1", Ceiling: money.Of(20_000, "USD"), Status: "ok", By: ceilings.Person})
	c.Do(valuer, message.OfferPrice{Boat: "b1", Price: money.Of(9_000, "USD"), Stake: "none"})
	c.Set("valuer-apart", "yes")
	for _, by := range []people.Actor{valuer, ceilings} {
		_, err := c.Try(by, message.OfferPrice{Boat: "b1", Price: money.Of(10_000, "USD"), Stake: "none"})
		faulttest.Want(t, err, fault.Forbidden, "")
		_, err = c.Try(by, message.AcceptBoat{Boat: "b1", Price: money.Of(10_000, "USD"), Stake: "none"})
		faulttest.Want(t, err, fault.Forbidden, "")
		assert.ErrorContains(t, err, "another member names and agrees the price")
	}
	c.Do(steward, message.OfferPrice{Boat: "b1", Price: money.Of(10_000, "USD"), Stake: "none"})
	c.Do(steward, message.AcceptBoat{Boat: "b1", Price: money.Of(10_000, "USD"), Stake: "none"})
	c.RebuildIsTheSame(intake.Name)
}

func TestTheClubsSettingsHold(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	c.Set("currency", "CAD")
	c.Set("drying-rule", "days")
	c.Set("drying-days", "12")
	_, err := c.Try(steward, purchase("b1", "Heron", steward.Person))
	faulttest.Want(t, err, fault.Invalid, "asked")
	c.Do(steward, gift("b1", "Heron", steward.Person))
	assert.Equal(t, money.Of(0, "CAD"), last[message.BoatLogged](t, c).Asked)
	c.Do(steward, message.SetQuarantine{Boat: "b1", LastWater: "Lake Amberjay", OutOfWater: today})
	said := last[message.QuarantineSet](t, c)
	assert.Equal(t, "days", said.Rule)
	assert.Equal(t, today.AddDays(12), said.Until)
}

func TestANameIsOneBoatsForEver(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	c.Do(steward, gift("b1", "Grey Heron", steward.Person))
	_, err := c.Try(steward, gift("b2", "grey  heron", steward.Person))
	faulttest.Want(t, err, fault.Conflict, "name")
	c.Do(steward, message.DeclineBoat{Boat: "b1", Reason: "brittle", Stake: "none"})
	_, err = c.Try(steward, gift("b2", "Grey Heron", steward.Person))
	faulttest.Want(t, err, fault.Conflict, "name")
	assert.Empty(t, c.Bodies(message.IntakeBoat("b2")), "nothing was half written")
}

func numbered(id boat.ID, name, number string, giver people.ID) message.LogBoat {
	c := gift(id, name, giver)
	c.Facts.HullNumber, c.Facts.NoHullNumber = number, ""
	return c
}

func TestAHullNumberIsOneBoatsWhileItIsWithTheClub(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	log := func(id boat.ID, number string) error {
		_, err := c.Try(steward, numbered(id, "boat "+string(id), number, steward.Person))
		return err
	}
	doubtful := func(id boat.ID) []message.DoubtRaised {
		return desktest.Said[message.DoubtRaised](c, message.IntakeBoat(id))
	}
	require.NoError(t, log("b1", "XYZ12345L495"))
	require.NoError(t, log("b0", "xyz-12345-L495"))
	assert.Equal(t, []message.DoubtRaised{{Boat: "b0", Doubt: "number-of-b1", About: message.NumberTwice, Other: "b1"}}, doubtful("b0"))
	c.Do(steward, message.DeclineBoat{Stake: "none", Boat: "b0", Reason: "it is Heron's number"})
	require.NoError(t, log("b2", "XYZA0042H394"))
	facts := numbered("", "", "XYZ12345L495", "").Facts
	c.Do(steward, message.CorrectFacts{Boat: "b2", Facts: facts, Why: "misread"})
	assert.Len(t, doubtful("b2"), 1, "a correction meets the other boat, too")
	assert.Empty(t, doubtful("b1"))
	c.Do(steward, message.CorrectFacts{Boat: "b2", Facts: numbered("", "", "XYZA0042H394", "").Facts, Why: "misread again"})

	// A corrected boat gives its number back, and so does one that has left.
	c.Do(steward, message.CorrectFacts{Boat: "b1", Facts: numbered("", "", "XYZ00017C585", "").Facts, Why: "misread"})
	c.Do(steward, message.CorrectFacts{Boat: "b2", Facts: facts, Why: "misread"})
	require.NoError(t, log("b3", "XYZA0042H394"))
	assert.Empty(t, doubtful("b3"))
	for i, leave := range []func(boat.ID){
		func(id boat.ID) { c.Do(steward, message.DeclineBoat{Boat: id, Reason: "brittle", Stake: "none"}) },
		func(id boat.ID) { c.Say(message.MatchingBoat(id), string(id), message.BoatHandedOver{Boat: id}) },
		func(id boat.ID) { c.Say(message.TreasuryBoat(id), string(id), message.BoatSold{Boat: id}) },
		func(id boat.ID) { c.Say(message.RepairBoat(id), string(id), message.BoatRetired{Boat: id}) },
	} {
		now, next := boat.ID("x"+string(rune('0'+i))), boat.ID("x"+string(rune('1'+i)))
		if i == 0 {
			require.NoError(t, log(now, "XYZ90001F212"))
		}
		leave(now)
		require.NoError(t, log(next, "XYZ90001F212"))
		assert.Empty(t, doubtful(next), "after way %d of leaving", i)
	}
	require.NoError(t, log("b4", "illegible"))
	require.NoError(t, log("b5", "illegible"))
	c.RebuildIsTheSame(intake.Name)
}

func TestWhatIsSoAlreadyIsNotSaidAgain(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	c.Do(steward, gift("b1", "Heron", steward.Person))
	reply := c.Do(steward, message.CorrectFacts{Boat: "b1", Facts: gift("", "", "").Facts, Why: "checked again"})
	assert.Empty(t, reply.Events)
	_, err := c.Try(steward, gift("b1", "Egret", steward.Person))
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.Equal(t, []message.Kind{"intake.boat-logged", "intake.right-shown"}, c.Kinds(message.IntakeBoat("b1")))
}

func TestTheClockDecidesWhatLiesAhead(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	tomorrow := gift("b1", "Heron", steward.Person)
	tomorrow.Facts.LastAfloat = today.AddDays(1)
	_, err := c.Try(steward, tomorrow)
	faulttest.Want(t, err, fault.Invalid, "facts.last_afloat")
	c.Clock.Advance(24 * time.Hour)
	c.Do(steward, tomorrow)
}
