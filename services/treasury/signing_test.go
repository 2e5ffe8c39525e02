package treasury_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/services/treasury"
)

// named puts a member with a name into the book.
func named(t *testing.T, c *desktest.Club, name string, roles ...people.Role) people.Actor {
	t.Helper()
	member := c.Member(roles...)
	sealed, err := c.Vault.Seal(t.Context(), string(member.Person), message.SealDetails, message.PersonDetails{Name: name})
	require.NoError(t, err)
	c.Say(message.Person(member.Person), "", message.PersonRegistered{Person: member.Person, Sort: message.MemberSort, Sealed: string(sealed)})
	return member
}

func final(order message.IssuePaper) message.IssuePaper {
	order.Final = true
	return order
}

func TestOnlyWhoIsAppointedSigns(t *testing.T) {
	c := start(t)
	gift(t, c, "b1")
	gift(t, c, "b2")
	ada, ben := named(t, c, "Ada Treadwell", people.Treasurer), c.Member(people.Treasurer)
	administrator, steward := c.Member(people.Administrator), c.Member(people.Steward)
	appoint := message.GiveMandate{Mandate: "m1", Person: ada.Person, Office: "treasurer", From: today.AddDays(-7)}
	end := message.EndMandate{Mandate: "m1", To: today.AddDays(-1), Why: "handed the office over"}
	c.OnlyFor("donor-of-b1", appoint, people.Administrator)
	c.OnlyFor("donor-of-b1", end, people.Administrator)

	c.Do(ben, final(issue("b2", "p2"))) // until the first appointment every treasurer signs
	c.WritesNothing(func() {
		for field, change := range map[string]any{"mandate": "a b", "person": "", "office": "", "from": "", "to": "2026-03-24"} {
			faulttest.Want(t, c.TryChanged(administrator, appoint, map[string]any{field: change}), fault.Invalid, field)
		}
		faulttest.Want(t, c.TryChanged(administrator, appoint, map[string]any{"office": "a\nb"}), fault.Invalid, "office")
		faulttest.Want(t, c.TryChanged(administrator, appoint, map[string]any{"person": string(steward.Person)}), fault.Conflict, "person")
		faulttest.Want(t, c.TryChanged(administrator, end, nil), fault.Unknown, "mandate")
	})
	c.Do(administrator, appoint)
	c.WritesNothing(func() {
		faulttest.Want(t, c.TryChanged(administrator, appoint, nil), fault.Conflict, "mandate")
		faulttest.Want(t, c.TryChanged(administrator, end, map[string]any{"why": ""}), fault.Invalid, "why")
		_, err := c.Try(ben, final(issue("b1", "p1")))
		faulttest.Want(t, err, fault.Forbidden, "")
		assert.ErrorContains(t, err, "The club's rule: only members whom an administrator has appointed")
	})
	c.Do(ada, final(issue("b1", "p1")))
	assert.Equal(t, "US-2026-0002", lastPaper(t, c, "US-2026").Serial, "nothing was numbered for what was refused")
	assert.Contains(t, receipttest.Text(t, printed(c, ada, "p1")), "Ada Treadwell, treasurer")
	assert.Contains(t, receipttest.Text(t, printed(c, ada, "p2")), "T. Reed, treasurer", "as the club's setting has it")

	c.Do(administrator, end)
	c.Do(ada, message.CancelPaper{Paper: "p1", Why: "the name was spelled wrong"})
	_, err := c.Try(ada, final(issue("b1", "p3")))
	faulttest.Want(t, err, fault.Forbidden, "", "a mandate that ended yesterday")
	list := desktest.Ask[message.MandateList](c, administrator, message.Mandates{})
	require.Len(t, list.Mandates, 1)
	assert.Equal(t, today.AddDays(-1), list.Mandates[0].To)
	c.RebuildIsTheSame(treasury.Name)
}

func TestTwoSignAboveTheClubsAmount(t *testing.T) {
	c := start(t)
	c.Set("two-signatures-above", "899.99")
	gift(t, c, "b1") // worth 900.00
	ada, ben := named(t, c, "Ada Treadwell", people.Treasurer), named(t, c, "Benedict Oyelaran-Whitcombe", people.Treasurer)
	cy, valuer := named(t, c, "Cy Marsh", people.Treasurer), c.Member(people.Treasurer)
	administrator := c.Member(people.Administrator)
	for id, who := range map[string]people.Actor{"m1": ada, "m2": ben} {
		c.Do(administrator, message.GiveMandate{Mandate: id, Person: who.Person, Office: "treasurer", From: today})
	}
	prepare := final(issue("b1", "p1"))
	second := message.SignPaper{Boat: "b1", Paper: "p1", On: today}
	drop := message.WithdrawPreparation{Boat: "b1", Paper: "p1", Why: "the boat was sold meanwhile"}
	c.OnlyFor("donor-of-b1", second, people.Treasurer)
	c.OnlyFor("donor-of-b1", drop, people.Treasurer)
	refused := func(by people.Actor, order desk.Commanded, kind fault.Kind, field string, why string) {
		t.Helper()
		c.WritesNothing(func() {
			_, err := c.Try(by, order)
			faulttest.Want(t, err, kind, field, why)
		})
	}
	refused(ben, second, fault.Conflict, "paper", "nothing waits")
	refused(ben, drop, fault.Conflict, "paper", "nothing waits")
	c.Do(ada, prepare)
	assert.Empty(t, c.Bodies(message.TreasurySeries("US-2026")), "nothing is numbered before the second signature")
	refused(ada, second, fault.Forbidden, "", "one person is not two")
	refused(cy, second, fault.Forbidden, "", "no mandate")
	for field, value := range map[string]any{"on": "2026-04-02", "paper": "a b", "boat": ""} {
		faulttest.Want(t, c.TryChanged(ben, second, map[string]any{field: value}), fault.Invalid, field)
	}
	faulttest.Want(t, c.TryChanged(ben, second, map[string]any{"on": "2026-03-31"}), fault.Invalid, "on", "before the first signature")
	faulttest.Want(t, c.TryChanged(ben, second, map[string]any{"paper": "p2"}), fault.Conflict, "paper")
	faulttest.Want(t, c.TryChanged(ben, drop, map[string]any{"paper": "p2"}), fault.Conflict, "paper", "another paper waits")
	faulttest.Want(t, c.TryChanged(ben, drop, map[string]any{"why": " "}), fault.Invalid, "why")
	c.Say("people.person/donor-of-b1", "", message.RoleGiven{Person: "donor-of-b1", Role: people.Treasurer})
	c.Settle()
	refused(people.Member("donor-of-b1"), drop, fault.Forbidden, "", "its donor drops no paper")

	// What it says changes after the first signature: both have to sign the same.
	c.Do(ada, message.SellBoat{Boat: "b1", On: today, Gross: usd(88_000), ArmsLength: true})
	refused(ben, second, fault.Conflict, "paper", "the words have changed")
	c.Do(ada, prepare)
	// Neither of the two may have valued the boat.
	valued(c, "b1", "v2", 90_000, func(v *message.BoatValued) { v.Valuer = ben.Person })
	c.Settle()
	refused(ben, second, fault.Forbidden, "", "the second valued it")
	valued(c, "b1", "v3", 90_000, func(v *message.BoatValued) { v.Valuer = ada.Person })
	c.Settle()
	refused(ben, second, fault.Conflict, "paper", "the first valued it")
	valued(c, "b1", "v4", 90_000, func(v *message.BoatValued) { v.Valuer = valuer.Person })
	c.Settle()

	c.Do(ben, drop)
	refused(ben, second, fault.Conflict, "paper", "it was dropped")
	c.Do(ada, prepare)
	c.Do(ben, second)
	said := lastPaper(t, c, "US-2026")
	assert.Equal(t, "US-2026-0001", said.Serial)
	assert.Equal(t, 3, said.Template)
	text := receipttest.Text(t, printed(c, cy, "p1"))
	assert.Contains(t, text, "Ada Treadwell, treasurer")
	assert.Contains(t, text, "Benedict Oyelaran-Whitcombe, treasurer")
	refused(ben, second, fault.Conflict, "paper", "it is issued")

	// At the amount itself one signature is enough.
	c.Set("two-signatures-above", "900.00")
	gift(t, c, "b2")
	c.Do(ada, final(issue("b2", "p2")))
	assert.Equal(t, "US-2026-0002", lastPaper(t, c, "US-2026").Serial)
	c.RebuildIsTheSame(treasury.Name)
}

// The second signature takes a mandate on the paper's day and on the day on which it is really
// given: an earlier date lends none that has ended. The club's own rule, as for the first.
func TestASecondSignatureTakesAMandateOnBothDays(t *testing.T) {
	c := start(t)
	c.Set("two-signatures-above", "100.00")
	gift(t, c, "b1")
	ada, ben, cy := named(t, c, "Ada Treadwell", people.Treasurer), named(t, c, "Ben Marsh", people.Treasurer), named(t, c, "Cy Marsh", people.Treasurer)
	administrator := c.Member(people.Administrator)
	tomorrow := today.AddDays(1)
	for _, m := range []message.GiveMandate{
		{Mandate: "m1", Person: ada.Person, Office: "treasurer", From: today},
		{Mandate: "m2", Person: ben.Person, Office: "treasurer", From: today, To: today},
		{Mandate: "m3", Person: cy.Person, Office: "chair", From: tomorrow},
	} {
		c.Do(administrator, m)
	}
	c.Do(ada, final(issue("b1", "p1")))
	c.Settle()
	c.Clock.Advance(24 * time.Hour)
	c.WritesNothing(func() {
		for _, row := range []struct {
			by people.Actor
			on clock.Date
		}{{ben, today}, {ben, tomorrow}, {cy, today}} {
			_, err := c.Try(row.by, message.SignPaper{Boat: "b1", Paper: "p1", On: row.on})
			faulttest.Want(t, err, fault.Forbidden, "", row.by, row.on)
			assert.ErrorContains(t, err, "no mandate")
		}
	})
	c.Do(cy, message.SignPaper{Boat: "b1", Paper: "p1", On: tomorrow})
	assert.Equal(t, tomorrow, lastPaper(t, c, "US-2026").On)
}
