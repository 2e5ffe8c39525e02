package people_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

// Whoever could write the mail address of somebody with a role could sign in as
// them, so it is an administrator's to change, in whatever part they first came.
func TestTheAddressThatSignsInIsAnAdministratorsToChange(t *testing.T) {
	c := start(t)
	donor := c.register(message.DonorSort, "Dor Bane", "dor@example.org")
	c.Do(desktest.Operator, message.GiveRole{Person: donor, Role: who.Administrator})
	c.Do(desktest.Operator, message.GiveLink{Link: "l1", Person: donor, Purpose: who.OwnPapers, Subject: string(donor)})
	c.Settle()
	before := len(c.Bodies(message.Person(donor)))
	moved := message.ChangePerson{Person: donor, Details: message.PersonDetails{Name: "Dor Bane", Mail: "other@example.org"}}
	_, err := c.Try(c.Member(who.Steward), moved)
	assert.True(t, fault.Is(err, fault.Forbidden), "a steward: %v", err)
	_, err = c.Try(who.Actor{Link: "l1"}, moved)
	assert.True(t, fault.Is(err, fault.Forbidden), "whoever holds the link: %v", err)
	assert.Len(t, c.Bodies(message.Person(donor)), before, "nothing was written")

	called := message.ChangePerson{Person: donor, Details: message.PersonDetails{Name: "Dor Bane", Mail: "Dor@example.org", Phone: "555 0199"}}
	c.Do(who.Actor{Link: "l1"}, called)
	c.Do(c.Member(who.Administrator), moved)
}

// A private link is shown to those who give it, so it is not enough to take a
// member out of the club.
func TestAPrivateLinkDoesNotEraseAMemberWithARole(t *testing.T) {
	c := start(t)
	ada := c.register(message.MemberSort, "Ada Oxlip", "ada@example.org", who.Steward)
	c.Do(desktest.Operator, message.GiveLink{Link: "l1", Person: ada, Purpose: who.OwnPapers, Subject: string(ada)})
	c.Settle()
	erase := message.ErasePerson{Person: ada, Why: "asked"}
	_, err := c.Try(who.Actor{Link: "l1"}, erase)
	assert.True(t, fault.Is(err, fault.Forbidden), "%v", err)
	c.Do(desktest.Operator, message.TakeRole{Person: ada, Role: who.Steward})
	c.Do(who.Actor{Link: "l1"}, erase)
}

// Whether two entries are one person decides who may approve a round, so nobody
// judges it of themselves.
func TestNobodyJudgesTheirOwnDoubles(t *testing.T) {
	c := start(t)
	coordinator := c.register(message.MemberSort, "Cor Dina", "cor@example.org", who.Coordinator)
	household := c.register(message.HouseholdSort, "C. Dina", "c.dina@example.org")
	c.Settle()
	_, err := c.Try(who.Member(coordinator), message.JudgeDoubles{One: household, Other: coordinator})
	assert.True(t, fault.Is(err, fault.Forbidden), "%v", err)
	c.Do(c.Member(who.Coordinator), message.JudgeDoubles{One: household, Other: coordinator, Same: true})
}
