package people

import (
	"context"
	"errors"
	"slices"
	"strings"
	"unicode"

	"github.com/jackc/pgx/v5"
	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// Bounds on one answer.
const (
	maxRead    = 500
	maxDoubles = 200
)

// readPeople gives persons in clear, in the order asked for, without those that
// the club does not know.
func (s *service) readPeople(ctx context.Context, c desk.Caller, q message.ReadPeople) (message.PeopleRead, error) {
	answer := message.PeopleRead{People: []message.PersonRead{}}
	if len(q.IDs) > maxRead {
		return answer, fault.Field("ids", "ask for at most %d persons at once", maxRead)
	}
	for _, id := range q.IDs {
		if err := onlyThemselves(c, id); err != nil {
			return answer, err
		}
		p, found, err := s.readPerson(ctx, id)
		if err != nil {
			return answer, err
		}
		if found {
			answer.People = append(answer.People, p)
		}
	}
	return answer, nil
}

// readPerson gives a person in clear. One whose key is gone is erased, also in
// the moment before the table knows.
func (s *service) readPerson(ctx context.Context, id people.ID) (p message.PersonRead, found bool, err error) {
	p.Person = id
	var sealed string
	err = s.Pool.QueryRow(ctx, `SELECT sort, sealed, erased FROM people.person WHERE person = $1`, id).Scan(&p.Sort, &sealed, &p.Erased)
	if errors.Is(err, pgx.ErrNoRows) {
		return p, false, nil
	}
	if err != nil || p.Erased {
		return p, err == nil, err
	}
	p.Details, err = s.unseal(ctx, id, sealed)
	if errors.Is(err, vault.ErrErased) {
		p.Erased, err = true, nil
	}
	return p, err == nil, err
}

// likelyDoubles finds pairs by what is blinded, so that nothing has to be
// unsealed. A guardian and their ward share an address by nature.
func (s *service) likelyDoubles(ctx context.Context, _ desk.Caller, _ message.LikelyDoubles) (message.DoublesFound, error) {
	answer := message.DoublesFound{Pairs: []message.LikelyDouble{}}
	rows, err := s.Pool.Query(ctx, `
		WITH shared AS (
			SELECT a.person AS one, b.person AS other, 'mail' AS what FROM people.person a JOIN people.person b
				ON a.mail_blind = b.mail_blind AND a.mail_blind <> '' AND a.person < b.person
			UNION ALL
			SELECT a.person, b.person, 'phone' FROM people.person a JOIN people.person b
				ON a.phone_blind = b.phone_blind AND a.phone_blind <> '' AND a.person < b.person
			UNION ALL
			SELECT a.person, b.person, 'name' FROM people.person a JOIN people.person b
				ON a.name_blind = b.name_blind AND a.name_blind <> '' AND a.person < b.person
		)
		SELECT one, other, array_agg(what ORDER BY what) FROM shared
		WHERE NOT EXISTS (SELECT FROM people.doubles d WHERE d.one = shared.one AND d.other = shared.other)
		  AND NOT EXISTS (SELECT FROM people.person p WHERE p.person = shared.one AND p.guardian = shared.other
		                                               OR p.person = shared.other AND p.guardian = shared.one)
		GROUP BY one, other ORDER BY count(*) DESC, one, other LIMIT $1`, maxDoubles)
	if err != nil {
		return answer, err
	}
	answer.Pairs, err = pgx.AppendRows(answer.Pairs, rows, func(row pgx.CollectableRow) (pair message.LikelyDouble, err error) {
		err = row.Scan(&pair.One, &pair.Other, &pair.Shares)
		return pair, err
	})
	return answer, err
}

// blindTexts blinds what an import makes ids of.
func (s *service) blindTexts(_ context.Context, _ desk.Caller, q message.BlindTexts) (message.TextsBlinded, error) {
	answer := message.TextsBlinded{Blinded: []string{}}
	if len(q.Texts) > maxRead {
		return answer, fault.Field("texts", "ask for at most %d texts at once", maxRead)
	}
	for _, text := range q.Texts {
		answer.Blinded = append(answer.Blinded, s.Vault.Blind("import", text))
	}
	return answer, nil
}

// The blinded texts: one spelling each, and nothing for nothing.

func (s *service) blind(purpose, text string) string {
	if text == "" {
		return ""
	}
	return s.Vault.Blind(purpose, text)
}

func (s *service) blindName(name string) string { return s.blind("name", plainName(name)) }
func (s *service) blindMail(mail string) string { return s.blind("mail", plainMail(mail)) }
func (s *service) blindPhone(tel string) string { return s.blind("phone", plainPhone(tel)) }

func plainMail(mail string) string { return strings.ToLower(strings.TrimSpace(mail)) }

// plainName spells a name without accents, capitals and order, so that
// "Núñez, Ada" and "ada nunez" are the same.
func plainName(name string) string {
	letters := strings.Map(func(c rune) rune {
		switch {
		case unicode.Is(unicode.Mn, c):
			return -1
		case unicode.IsLetter(c) || unicode.IsDigit(c):
			return unicode.ToLower(c)
		}
		return ' '
	}, norm.NFKD.String(name))
	words := strings.Fields(letters)
	slices.Sort(words)
	return strings.Join(words, " ")
}

// plainPhone keeps the last nine digits, which are the same with and without
// the country's prefix (common practice, no source); fewer than six tell
// nobody apart.
func plainPhone(phone string) string {
	digits := strings.Map(func(c rune) rune {
		if c < '0' || c > '9' {
			return -1
		}
		return c
	}, phone)
	if len(digits) < 6 {
		return ""
	}
	return digits[max(0, len(digits)-9):]
}
