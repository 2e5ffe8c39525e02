package people

import (
	"context"
	"fmt"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// erasePerson says that a person is erased. The key goes when the room hears
// its own event (forget): so a crash between the two is mended by hearing it
// again. Roles go with the person.
func (s *service) erasePerson(ctx context.Context, o desk.Order[message.ErasePerson]) (desk.Decision, error) {
	c := o.Command
	if err := onlyThemselves(o.Caller, c.Person); err != nil {
		return desk.Decision{}, err
	}
	if err := boat.Known("why", c.Why, reasons); err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[person](ctx, s.Log, message.Person(c.Person))
	if err != nil || p.Erased {
		return desk.Decision{}, err
	}
	if err := mustStand("person", p); err != nil {
		return desk.Decision{}, err
	}
	if o.Link != nil && len(p.Roles) > 0 {
		return desk.Decision{}, fault.New(fault.Forbidden, "you have a role in the club; ask an administrator to take it back or to erase your data")
	}
	return s.erase(ctx, c.Person, c.Why, p, at)
}

func (s *service) erase(ctx context.Context, id people.ID, why string, p person, at ledger.Expected) (desk.Decision, error) {
	kept, err := s.keptPapers(ctx, id, clock.DateOf(s.Clock.Now()))
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.PersonErased{Person: id, Why: why, Kept: kept})
	d.Expect = []ledger.Expected{at}
	if err == nil && p.has(people.Administrator) {
		err = s.anotherAdministrator(ctx, id, &d)
	}
	return d, err
}

// forget does what a person-erased event says: the key is destroyed, open
// one-time links are void, and so are passkeys.
func (s *service) forget(ctx context.Context, id people.ID) error {
	if err := s.Vault.Destroy(ctx, string(id)); err != nil {
		return err
	}
	for _, table := range []string{"sign_in", "passkey_challenge", "passkey_use"} {
		if _, err := s.Pool.Exec(ctx, `DELETE FROM people.`+table+` WHERE person = $1`, id); err != nil {
			return err
		}
	}
	return nil
}

// forgetWhatIsOver erases households whose day has come and whom nothing else
// needs. Before it looks, its tables have heard all that was said.
func (s *service) forgetWhatIsOver(ctx context.Context) error {
	head, err := s.Log.Head(ctx)
	if err != nil {
		return err
	}
	if err := s.Heard(ctx, head.Position); err != nil {
		return err
	}
	due, err := s.dueForErasure(ctx, clock.DateOf(s.Clock.Now()))
	if err != nil {
		return err
	}
	for _, id := range due {
		// Somebody wrote about them meanwhile: the next look will tell.
		if err := s.eraseForRetention(ctx, id); err != nil && !fault.Is(err, fault.Conflict) {
			return fmt.Errorf("erasing %s: %w", id, err)
		}
	}
	return nil
}

func (s *service) eraseForRetention(ctx context.Context, id people.ID) error {
	p, at, err := desk.Load[person](ctx, s.Log, message.Person(id))
	if err != nil || p.Erased {
		return err
	}
	d, err := s.erase(ctx, id, retention, p, at)
	if err != nil {
		return err
	}
	key := Name + "/retention/" + string(id)
	_, err = s.Log.Append(ctx, ledger.Append{
		Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: people.Service(Name).String(),
		Expect: d.Expect, Events: d.Events,
	})
	return err
}
