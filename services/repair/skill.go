package repair

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// craft is what a member's own stream adds up to: what they are signed off for.
type craft struct{ skills map[mend.Skill]bool }

// Fold adds an event.
func (c *craft) Fold(_ message.Event, body message.Body) {
	switch said := body.(type) {
	case message.SkillSigned:
		if c.skills == nil {
			c.skills = map[mend.Skill]bool{}
		}
		c.skills[said.Skill] = true
	case message.SkillEnded:
		delete(c.skills, said.Skill)
	}
}

// can says whether somebody may do work that asks for a skill; no skill is
// everybody's.
func (c craft) can(skill mend.Skill) bool { return skill == "" || c.skills[skill] }

// craftOf gives the skills of a member. Whoever is nobody has none.
func (s *service) craftOf(ctx context.Context, who people.ID) (craft, ledger.Expected, error) {
	if who == "" {
		return craft{}, ledger.Expected{}, nil
	}
	return desk.Load[craft](ctx, s.Log, message.RepairPerson(who))
}

func (s *service) signSkill(ctx context.Context, o desk.Order[message.SignSkill]) (desk.Decision, error) {
	c := o.Command
	if err := s.goodMember(ctx, "person", c.Person); err != nil {
		return desk.Decision{}, err
	}
	minor, err := s.isMinor(ctx, c.Person)
	if err != nil {
		return desk.Decision{}, err
	}
	own, ownAt, err := s.craftOf(ctx, o.Actor.Person)
	if err != nil {
		return desk.Decision{}, err
	}
	has, at, err := s.craftOf(ctx, c.Person)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := sign(c, signer{o.Caller, own}, has, minor)
	if err != nil || said == nil {
		return desk.Decision{}, err
	}
	d, err := desk.SayAt(at, "", said)
	return resting(d, ownAt), err
}

// signer is who vouches, with their own skills.
type signer struct {
	desk.Caller
	craft craft
}

// sign decides to vouch for a member. No body means that it is so already.
func sign(c message.SignSkill, by signer, has craft, minor bool) (message.Body, error) {
	err := desk.First(
		boat.Known("skill", c.Skill, mend.Skills),
		desk.Needed("words", c.Words, "say what you saw them do"),
	)
	switch {
	case err != nil:
		return nil, err
	case by.Actor.Person == "":
		return nil, fault.New(fault.SignIn, "a sign-off is a person's word; sign in as the member who gives it")
	case by.Actor.Person == c.Person:
		return nil, fault.Field("person", "nobody signs off themselves; ask another member")
	case !by.Has(people.Administrator) && !by.craft.can(c.Skill):
		return nil, fault.New(fault.Forbidden, "only an administrator, or a repairer who is signed off for %s, signs others off for it", c.Skill)
	case minor:
		return nil, fault.Field("person", "is under age: nobody under age does %s for the club", c.Skill)
	case !c.OfAge:
		return nil, fault.Field("of_age", "say that they are of age; nobody under age does %s for the club", c.Skill)
	case has.can(c.Skill):
		return nil, nil
	}
	return message.SkillSigned{Person: c.Person, Skill: c.Skill, By: by.Actor.Person, Words: c.Words}, nil
}

func (s *service) endSkill(ctx context.Context, o desk.Order[message.EndSkill]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(
		desk.GoodID("person", c.Person),
		boat.Known("skill", c.Skill, mend.Skills),
		desk.Needed("why", c.Why, "say why it no longer counts"),
	)
	if err != nil {
		return desk.Decision{}, err
	}
	has, at, err := s.craftOf(ctx, c.Person)
	if err != nil {
		return desk.Decision{}, err
	}
	if !has.can(c.Skill) {
		return desk.Decision{}, desk.Conflict("skill", "they are not signed off for %s", c.Skill)
	}
	return desk.SayAt(at, "", message.SkillEnded{Person: c.Person, Skill: c.Skill, Why: c.Why})
}
