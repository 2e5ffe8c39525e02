package people

import (
	"context"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/settings"
)

// find loads a person who must stand in the book.
func (s *service) find(ctx context.Context, field string, id people.ID) (person, ledger.Expected, error) {
	p, at, err := desk.Load[person](ctx, s.Log, message.Person(id))
	if err == nil {
		err = mustStand(field, p)
	}
	return p, at, err
}

func (s *service) registerPerson(ctx context.Context, o desk.Order[message.RegisterPerson]) (desk.Decision, error) {
	c := o.Command
	details, err := checkNewcomer(c)
	if err == nil {
		err = mayKeep(o.Caller, c.Sort)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[person](ctx, s.Log, message.Person(c.Person))
	if err == nil && (p.known() || p.Erased) {
		err = desk.Conflict("person", "this person is in the book already; change the entry instead")
	}
	if err == nil && c.Guardian != "" {
		_, _, err = s.find(ctx, "guardian", c.Guardian)
	}
	if err == nil && c.Sort == message.MemberSort {
		err = s.addressIsFree(ctx, c.Person, details.Mail)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	sealed, err := s.Vault.Seal(ctx, string(c.Person), message.SealDetails, details)
	if err != nil {
		return desk.Decision{}, err
	}
	n := message.NewPerson{Person: c.Person, Sort: c.Sort, Sealed: string(sealed), Consent: c.Consent, Guardian: c.Guardian}
	d, err := introduce(n, "spoken", c.Roles)
	d.Expect = []ledger.Expected{at}
	return d, err
}

func (s *service) changePerson(ctx context.Context, o desk.Order[message.ChangePerson]) (desk.Decision, error) {
	c := o.Command
	details, err := checkDetails(c.Details)
	if err == nil {
		err = onlyThemselves(o.Caller, c.Person)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := s.find(ctx, "person", c.Person)
	if err == nil && o.Link == nil {
		err = mayKeep(o.Caller, p.keptAs())
	}
	if err == nil && p.signsIn() {
		err = s.addressIsFree(ctx, c.Person, details.Mail)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	was, unread := s.unseal(ctx, c.Person, p.Sealed)
	if unread == nil && was == details {
		return desk.Decision{}, nil
	}
	if o.Link != nil && p.signsIn() && plainMail(was.Mail) != plainMail(details.Mail) {
		return desk.Decision{}, signInStays()
	}
	sealed, err := s.Vault.Seal(ctx, string(c.Person), message.SealDetails, details)
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.PersonChanged{Person: c.Person, Sealed: string(sealed)})
	d.Expect = []ledger.Expected{at}
	return d, err
}

func (s *service) giveRole(ctx context.Context, o desk.Order[message.GiveRole]) (desk.Decision, error) {
	c := o.Command
	if err := boat.Known("role", c.Role, people.Roles); err != nil {
		return desk.Decision{}, err
	}
	p, at, err := s.find(ctx, "person", c.Person)
	if err != nil || p.has(c.Role) {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.RoleGiven{Person: c.Person, Role: c.Role})
	d.Expect = []ledger.Expected{at}
	return d, err
}

func (s *service) takeRole(ctx context.Context, o desk.Order[message.TakeRole]) (desk.Decision, error) {
	c := o.Command
	if err := boat.Known("role", c.Role, people.Roles); err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[person](ctx, s.Log, message.Person(c.Person))
	if err == nil && !p.has(c.Role) {
		return desk.Decision{}, mustStand("person", p)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.RoleTaken{Person: c.Person, Role: c.Role})
	d.Expect = []ledger.Expected{at}
	if err == nil && c.Role == people.Administrator {
		err = s.anotherAdministrator(ctx, c.Person, &d)
	}
	return d, err
}

// anotherAdministrator lets a decision rest on somebody else being an
// administrator: when two decisions take the role from each other's witness,
// the book lets only one through.
func (s *service) anotherAdministrator(ctx context.Context, than people.ID, d *desk.Decision) error {
	others, err := s.administratorsBut(ctx, than)
	if err != nil {
		return err
	}
	for _, other := range others {
		p, at, err := desk.Load[person](ctx, s.Log, message.Person(other))
		if err != nil {
			return err
		}
		if p.has(people.Administrator) {
			d.Expect = append(d.Expect, at)
			return nil
		}
	}
	return desk.Conflict("person", "this is the last administrator; give the role to somebody else first")
}

func (s *service) withdrawConsent(ctx context.Context, o desk.Order[message.WithdrawConsent]) (desk.Decision, error) {
	c := o.Command
	if err := onlyThemselves(o.Caller, c.Person); err != nil {
		return desk.Decision{}, err
	}
	if err := goodConsent("text", c.Text); err != nil {
		return desk.Decision{}, err
	}
	p, at, err := s.find(ctx, "person", c.Person)
	if err == nil && o.Link == nil {
		err = mayKeep(o.Caller, p.Sort)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	stands, given := p.Consents[c.Text]
	if !given {
		return desk.Decision{}, fault.Field("text", "this person never agreed to that text")
	}
	if !stands {
		return desk.Decision{}, nil
	}
	d, err := say(at.Stream, message.ConsentWithdrawn{Person: c.Person, Text: c.Text})
	d.Expect = []ledger.Expected{at}
	return d, err
}

func (s *service) judgeDoubles(ctx context.Context, o desk.Order[message.JudgeDoubles]) (desk.Decision, error) {
	c := o.Command
	if c.One == c.Other {
		return desk.Decision{}, fault.Field("other", "name two different entries")
	}
	if by := o.Actor.Person; by != "" && (by == c.One || by == c.Other) {
		return desk.Decision{}, fault.New(fault.Forbidden, "one of the entries is your own; another member has to judge")
	}
	if _, _, err := s.find(ctx, "one", c.One); err != nil {
		return desk.Decision{}, err
	}
	if _, _, err := s.find(ctx, "other", c.Other); err != nil {
		return desk.Decision{}, err
	}
	j, at, err := desk.Load[judgement](ctx, s.Log, message.Doubles(c.One, c.Other))
	if err != nil || j == (judgement{Judged: true, Same: c.Same}) {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.DoublesJudged{One: min(c.One, c.Other), Other: max(c.One, c.Other), Same: c.Same})
	d.Expect = []ledger.Expected{at}
	return d, err
}

func (s *service) changeSetting(ctx context.Context, o desk.Order[message.ChangeSetting]) (desk.Decision, error) {
	c := o.Command
	setting, ok := settings.Find(c.Name)
	if !ok {
		return desk.Decision{}, fault.Field("name", "there is no setting %q", c.Name)
	}
	if err := setting.Check(c.Value); err != nil {
		return desk.Decision{}, err
	}
	now, at, err := desk.Load[club](ctx, s.Log, message.Club)
	if err != nil {
		return desk.Decision{}, err
	}
	if value, changed := now.Settings[c.Name]; changed && value == c.Value || !changed && c.Value == setting.Default {
		return desk.Decision{}, nil
	}
	d, err := say(at.Stream, message.SettingChanged{Name: c.Name, Value: c.Value})
	d.Expect = []ledger.Expected{at}
	return d, err
}
