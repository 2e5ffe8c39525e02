package matching

import (
	"context"
	"errors"
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// projectPeople keeps whom the club knows.
func (s *service) projectPeople(ctx context.Context, exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.PersonRegistered:
		return s.keepPerson(ctx, exec, b.Person, b.Sort, b.Sealed)
	case message.PersonChanged:
		return s.keepPerson(ctx, exec, b.Person, "", b.Sealed)
	case message.RoleGiven:
		return s.keepPerson(ctx, exec, b.Person, "", "")
	case message.BoatLogged:
		return s.keepNew(ctx, exec, b.NewGiver)
	case message.RequestMade:
		return s.keepNew(ctx, exec, b.NewHousehold)
	case message.DoublesJudged:
		return keepJudgement(exec, b)
	}
	return nil
}

// projectErased purges who is erased.
func projectErased(exec desk.Executor, _ message.Event, body message.Body) error {
	b, ok := body.(message.PersonErased)
	if !ok {
		return nil
	}
	if err := exec(`DELETE FROM matching.person WHERE person = $1`, b.Person); err != nil {
		return err
	}
	if err := exec(`DELETE FROM matching.same_person WHERE one = $1 OR other = $1`, b.Person); err != nil {
		return err
	}
	return exec(`UPDATE matching.request SET sealed = '', draft = '', reasons = '' WHERE household = $1`, b.Person)
}

func (s *service) keepNew(ctx context.Context, exec desk.Executor, introduced *message.NewPerson) error {
	if introduced == nil {
		return nil
	}
	return s.keepPerson(ctx, exec, introduced.Person, introduced.Sort, introduced.Sealed)
}

// keepPerson writes a person's row. Without readable details it holds nothing to
// compare by. An event that does not tell the sort leaves it as it is.
func (s *service) keepPerson(ctx context.Context, exec desk.Executor, id people.ID, sort message.Sort, sealed string) error {
	if sealed == "" {
		return exec(`
			INSERT INTO matching.person AS p (person, sort) VALUES ($1, $2)
			ON CONFLICT (person) DO UPDATE SET sort = coalesce(nullif(excluded.sort, ''), p.sort)`, id, sort)
	}
	var d message.PersonDetails
	err := s.Vault.Unseal(ctx, string(id), message.SealDetails, vault.Sealed(sealed), &d)
	switch {
	case fault.Is(err, fault.Unavailable):
		return err
	case err != nil && !errors.Is(err, vault.ErrErased):
		s.Slog.Error("a person's details cannot be read", "person", id, "err", err)
	}
	return exec(`
		INSERT INTO matching.person AS p (person, sort, mail_blind, phone_blind) VALUES ($1, $2, $3, $4)
		ON CONFLICT (person) DO UPDATE SET sort = coalesce(nullif(excluded.sort, ''), p.sort), mail_blind = excluded.mail_blind, phone_blind = excluded.phone_blind`,
		id, sort, s.blind("mail", strings.ToLower(strings.TrimSpace(d.Mail))), s.blind("phone", digits(d.Phone)))
}

// blind makes a text that can be compared and not read; of nothing it makes
// nothing.
func (s *service) blind(purpose, text string) string {
	if text == "" {
		return ""
	}
	return s.Vault.Blind(Name+"."+purpose, text)
}

func digits(phone string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, phone)
}

func keepJudgement(exec desk.Executor, b message.DoublesJudged) error {
	if !b.Same {
		return exec(`DELETE FROM matching.same_person WHERE (one, other) IN (($1, $2), ($2, $1))`, b.One, b.Other)
	}
	return exec(`INSERT INTO matching.same_person (one, other) VALUES ($1, $2), ($2, $1) ON CONFLICT DO NOTHING`, b.One, b.Other)
}

// takesPart says whether a member is a household of a round: by the same id, by
// somebody's judgement that two entries are one person, or by the same mail
// address or telephone, because a member who fills in the public form comes
// under a new id.
func (s *service) takesPart(ctx context.Context, member people.ID, requests []string) (theirs bool, err error) {
	err = s.Pool.QueryRow(ctx, `
		SELECT EXISTS (
			SELECT FROM matching.request q
			LEFT JOIN matching.person them ON them.person = q.household
			LEFT JOIN matching.person me ON me.person = $1
			WHERE q.request = ANY ($2) AND (
				q.household = $1
				OR EXISTS (SELECT FROM matching.same_person WHERE one = $1 AND other = q.household)
				OR me.mail_blind <> '' AND me.mail_blind = them.mail_blind
				OR me.phone_blind <> '' AND me.phone_blind = them.phone_blind))`, member, requests).Scan(&theirs)
	return theirs, err
}

// isGuardian says whether a household is an adult who acts for a minor.
func (s *service) isGuardian(ctx context.Context, household people.ID) (guardian bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM matching.person WHERE person = $1 AND sort = $2)`, household, message.GuardianSort).Scan(&guardian)
	return guardian, err
}

// knows says whether the club has a person in its book.
func (s *service) knows(ctx context.Context, id people.ID) (known bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM matching.person WHERE person = $1)`, id).Scan(&known)
	return known, err
}
