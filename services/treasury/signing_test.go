package treasury_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
	appoint := message.GiveMandate{Mandate: "m1", Person: ada.Person, Office: "treasurer", From: today}
	end := message.EndMandate{Mandate: "m1", To: today.AddDays(-1), Why: "handed the office over"}
	c.OnlyFor("donor-of-b1", appoint, people.Administrator)
	c.OnlyFor("donor-of-b1", end, people.Administrator)

	c.Do(ben, final(issue("b2", "p2"))) // until the first appointment every treasurer signs
	c.WritesNothing(func() {
		for field, change := range map[string]any{"mandate": "a b", "person": "", "office": "", "from": "", "to": "2026-03-31"} {
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
