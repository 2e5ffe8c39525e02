package people

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// project keeps the room's tables.
func (s *service) project(ctx context.Context, tx pgx.Tx, _ message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	switch b := body.(type) {
	case message.PersonRegistered:
		return s.showPerson(ctx, tx, b.Person, b.Sort, b.Sealed)
	case message.PersonChanged:
		return s.showPerson(ctx, tx, b.Person, "", b.Sealed)
	case message.GuardianNamed:
		return exec(`UPDATE people.person SET guardian = $2 WHERE person = $1`, b.Person, b.Guardian)
	case message.PersonErased:
		return exec(`UPDATE people.person SET erased = true, sealed = '', name_blind = '', mail_blind = '', phone_blind = '' WHERE person = $1`, b.Person)
	case message.DoublesJudged:
		return exec(`INSERT INTO people.doubles VALUES ($1, $2, $3) ON CONFLICT (one, other) DO UPDATE SET same = excluded.same`,
			min(b.One, b.Other), max(b.One, b.Other), b.Same)
	}
	return projectUse(exec, body)
}

// projectUse keeps what tells whether a person's data is still needed.
func projectUse(exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.BoatLogged:
		return exec(`INSERT INTO people.given VALUES ($1, $2) ON CONFLICT (boat) DO NOTHING`, b.Boat, b.Giver)
	case message.RequestMade:
		return exec(`INSERT INTO people.request (request, household) VALUES ($1, $2) ON CONFLICT (request) DO NOTHING`, b.Request, b.Household)
	case message.RequestEnded:
		return exec(`UPDATE people.request SET keep_until = $2 WHERE request = $1`, b.Request, b.KeepUntil.Time())
	case message.OfferMade:
		return exec(`INSERT INTO people.offer VALUES ($1, $2, $3) ON CONFLICT (offer) DO NOTHING`, b.Offer, b.Request, b.Household)
	case message.OfferAnswered:
		if b.Answer == "accepted" { // until the boat is handed over, or the promise ends
			return nil
		}
		return exec(`DELETE FROM people.offer WHERE offer = $1`, b.Offer)
	case message.PromiseEnded:
		return exec(`DELETE FROM people.offer WHERE offer = $1`, b.Offer)
	case message.BoatHandedOver:
		if err := exec(`DELETE FROM people.offer WHERE request = $1`, b.Request); err != nil {
			return err
		}
		return exec(`INSERT INTO people.received VALUES ($1, $2) ON CONFLICT DO NOTHING`, b.Boat, b.Household)
	case message.BoatReturned:
		return exec(`DELETE FROM people.received WHERE boat = $1`, b.Boat)
	case message.PaperIssued:
		return exec(`INSERT INTO people.paper VALUES ($1, $2, $3, $4) ON CONFLICT (paper) DO NOTHING`, b.Paper, b.Serial, b.Donor, b.KeepTo.Time())
	}
	return nil
}

// showPerson writes a person's row; the sort stays when none is given. When the
// key was destroyed, or another room sealed what cannot be read, the row holds
// nothing to find the person by.
func (s *service) showPerson(ctx context.Context, tx pgx.Tx, id people.ID, sort message.Sort, sealed string) error {
	var nameBlind, mailBlind, phoneBlind string
	details, err := s.unseal(ctx, id, sealed)
	switch {
	case err == nil:
		nameBlind, mailBlind, phoneBlind = s.blindName(details.Name), s.blindMail(details.Mail), s.blindPhone(details.Phone)
	case fault.Is(err, fault.Unavailable):
		return err
	case !errors.Is(err, vault.ErrErased):
		s.Slog.Error("a person's details cannot be read", "person", id, "err", err)
	}
	_, err = tx.Exec(ctx, `
		INSERT INTO people.person (person, sort, sealed, name_blind, mail_blind, phone_blind) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (person) DO UPDATE SET sealed = $3, name_blind = $4, mail_blind = $5, phone_blind = $6 WHERE NOT person.erased`,
		id, sort, sealed, nameBlind, mailBlind, phoneBlind)
	return err
}

func (s *service) unseal(ctx context.Context, id people.ID, sealed string) (message.PersonDetails, error) {
	var details message.PersonDetails
	err := s.Vault.Unseal(ctx, string(id), message.SealDetails, vault.Sealed(sealed), &details)
	return details, err
}

func (s *service) administratorsBut(ctx context.Context, but people.ID) ([]people.ID, error) {
	rows, err := s.Pool.Query(ctx, `SELECT person FROM people.roster_role WHERE role = $1 AND person <> $2 ORDER BY person`, people.Administrator, but)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[people.ID])
}

func (s *service) withRole(ctx context.Context, role people.Role) ([]people.ID, error) {
	rows, err := s.Pool.Query(ctx, `SELECT person FROM people.roster_role WHERE role = $1 ORDER BY person`, role)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[people.ID])
}

// addressIsFree refuses a mail address with which another member signs in. Two
// who are registered in the same instant can both get through; the list of
// likely doubles shows them.
func (s *service) addressIsFree(ctx context.Context, member people.ID, address string) error {
	if address == "" {
		return nil
	}
	var taken bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (
		SELECT FROM people.person p
		WHERE mail_blind = $1 AND person <> $2 AND (sort = 'member' OR EXISTS (SELECT FROM people.roster_role r WHERE r.person = p.person)))`,
		s.blindMail(address), member).Scan(&taken)
	if err == nil && taken {
		err = fault.Field("details.mail", "another member signs in with this address; each needs their own")
	}
	return err
}

func (s *service) isRequestOf(ctx context.Context, request string, household people.ID) (theirs bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM people.request WHERE request = $1 AND household = $2)`, request, household).Scan(&theirs)
	return theirs, err
}

// rosterLink finds a link that was neither ended nor erased.
func (s *service) rosterLink(ctx context.Context, link string) (l message.OpenedLink, found bool, err error) {
	l.Link = link
	err = s.Pool.QueryRow(ctx, `SELECT person, purpose, subject, until FROM people.roster_link WHERE link = $1`, link).
		Scan(&l.Person, &l.Purpose, &l.Subject, &l.Until)
	if errors.Is(err, pgx.ErrNoRows) {
		return l, false, nil
	}
	return l, err == nil, err
}

// standingLink finds a person's link for a purpose and subject that works at
// least until an instant.
func (s *service) standingLink(ctx context.Context, wanted message.LinkGiven) (l message.OpenedLink, found bool, err error) {
	var link string
	err = s.Pool.QueryRow(ctx, `
		SELECT link FROM people.roster_link WHERE person = $1 AND purpose = $2 AND subject = $3 AND until >= $4
		ORDER BY until DESC, link LIMIT 1`, wanted.Person, wanted.Purpose, wanted.Subject, wanted.Until).Scan(&link)
	if errors.Is(err, pgx.ErrNoRows) {
		return l, false, nil
	}
	if err != nil {
		return l, false, err
	}
	return s.rosterLink(ctx, link)
}

// requestLetters is how many letters about new requests an address gets in a
// day: enough for somebody who fills in the form for several households.
const requestLetters = 10

// hasEnoughLetters says whether a person's address got its share of letters
// about new requests in the day before an instant.
func (s *service) hasEnoughLetters(ctx context.Context, id people.ID, now time.Time) (enough bool, err error) {
	err = s.Pool.QueryRow(ctx, `
		SELECT count(*) >= $4 FROM people.person them
		JOIN people.person p ON p.mail_blind = them.mail_blind AND p.mail_blind <> ''
		JOIN people.letter l ON l.person = p.person AND l.sort = $2 AND l.made_at > $3
		WHERE them.person = $1`, id, requestLetter, now.AddDate(0, 0, -1), requestLetters).Scan(&enough)
	return enough, err
}

// keptPapers names the papers of a donor that must be kept on a day.
func (s *service) keptPapers(ctx context.Context, donor people.ID, on clock.Date) ([]message.KeptPaper, error) {
	rows, err := s.Pool.Query(ctx, `SELECT serial, keep_to FROM people.paper WHERE donor = $1 AND keep_to >= $2 ORDER BY serial`, donor, on.Time())
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (message.KeptPaper, error) {
		var paper message.KeptPaper
		var until time.Time
		err := row.Scan(&paper.Serial, &until)
		paper.Until = clock.DateOf(until)
		return paper, err
	})
}

// dueForErasure finds households all of whose requests ended and whose day has
// come, and guardians all of whose wards are erased; neither when something
// else needs them.
func (s *service) dueForErasure(ctx context.Context, on clock.Date) ([]people.ID, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT person FROM people.person p
		WHERE NOT erased
		  AND (sort = 'household' AND EXISTS (SELECT FROM people.request WHERE household = p.person)
		    OR sort = 'guardian' AND EXISTS (SELECT FROM people.person WHERE guardian = p.person))
		  AND NOT EXISTS (SELECT FROM people.person WHERE guardian = p.person AND NOT erased)
		  AND NOT EXISTS (SELECT FROM people.request WHERE household = p.person AND (keep_until IS NULL OR keep_until > $1))
		  AND NOT EXISTS (SELECT FROM people.offer WHERE household = p.person)
		  AND NOT EXISTS (SELECT FROM people.received WHERE household = p.person)
		  AND NOT EXISTS (SELECT FROM people.given WHERE giver = p.person)
		  AND NOT EXISTS (SELECT FROM people.paper WHERE donor = p.person)
		  AND NOT EXISTS (SELECT FROM people.roster_role WHERE person = p.person)
		ORDER BY person`, on.Time())
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[people.ID])
}

// householdOf gives who made a request, or nobody when the request is not known.
func (s *service) householdOf(ctx context.Context, request string) (household people.ID, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT household FROM people.request WHERE request = $1`, request).Scan(&household)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	return household, err
}
