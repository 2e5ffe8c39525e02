package people

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

const (
	// signInFor is how long a one-time link works.
	signInFor = 20 * time.Minute
	// signInOpen is how many of a member's one-time links may be open.
	signInOpen = 5
	// signInTakes is how long the answer to AskSignIn takes at least, so that it
	// does not tell whether a member was found.
	signInTakes = 250 * time.Millisecond
)

// askSignIn has a one-time link mailed to the member with an address, if there
// is one. It takes its time, whatever it finds.
func (s *service) askSignIn(ctx context.Context, _ desk.Caller, q message.AskSignIn) (message.SignInAsked, error) {
	enough := time.NewTimer(signInTakes)
	defer enough.Stop()
	address, err := mail.CheckAddress("mail", q.Mail)
	if err == nil {
		err = s.offerSignIn(ctx, s.blindMail(address))
	}
	if err != nil {
		return message.SignInAsked{}, err
	}
	select {
	case <-enough.C:
	case <-ctx.Done():
	}
	return message.SignInAsked{Minutes: int(signInFor / time.Minute)}, nil
}

// offerSignIn writes down a one-time link and the letter that will carry it.
func (s *service) offerSignIn(ctx context.Context, mailBlind string) error {
	now := s.Clock.Now()
	return pgx.BeginFunc(ctx, s.Pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `DELETE FROM people.sign_in WHERE until <= $1`, now); err != nil {
			return err
		}
		member, err := lockMember(ctx, tx, mailBlind)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		var open int
		err = tx.QueryRow(ctx, `SELECT count(*) FROM people.sign_in WHERE person = $1`, member).Scan(&open)
		if err != nil || open >= signInOpen {
			return err
		}
		nonce := strings.ToLower(rand.Text())
		digest := sha256.Sum256([]byte(s.signInToken(nonce)))
		_, err = tx.Exec(ctx, `INSERT INTO people.sign_in (digest, person, until) VALUES ($1, $2, $3)`, digest[:], member, now.Add(signInFor))
		if err != nil {
			return err
		}
		return enqueue(ctx, tx, queued{Key: "sign-in-" + nonce, Sort: signInLetter, Person: member, Link: nonce, Until: now.Add(signInFor), MadeAt: now})
	})
}

// lockMember finds the member who signs in with an address and holds the row,
// so that the count of open links is right. When several share the address, one
// with a role comes first.
func lockMember(ctx context.Context, tx pgx.Tx, mailBlind string) (people.ID, error) {
	var id people.ID
	err := tx.QueryRow(ctx, `
		SELECT person FROM people.person p
		WHERE mail_blind = $1 AND NOT erased AND (sort = 'member' OR EXISTS (SELECT FROM people.roster_role r WHERE r.person = p.person))
		ORDER BY NOT EXISTS (SELECT FROM people.roster_role r WHERE r.person = p.person), person
		LIMIT 1 FOR UPDATE`, mailBlind).Scan(&id)
	return id, err
}

// signInToken is the secret of a one-time link. The letter that waits to be
// sent holds the nonce only: without the master key it opens nothing.
func (s *service) signInToken(nonce string) string {
	return nonce + "." + s.Vault.Token("sign-in", nonce)
}

func (s *service) redeemSignIn(ctx context.Context, _ desk.Caller, q message.RedeemSignIn) (message.SignedIn, error) {
	digest := sha256.Sum256([]byte(q.Token))
	var answer message.SignedIn
	err := s.Pool.QueryRow(ctx, `DELETE FROM people.sign_in WHERE digest = $1 AND until > $2 RETURNING person`, digest[:], s.Clock.Now()).
		Scan(&answer.Person)
	if errors.Is(err, pgx.ErrNoRows) {
		return answer, fault.New(fault.SignIn, "this link was used or is too old; ask for a new one")
	}
	return answer, err
}
