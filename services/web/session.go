package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/http"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
)

const (
	sessionCookie = "refloat"
	// sessionFor is how long somebody stays signed in.
	sessionFor = 14 * 24 * time.Hour
	// usedWithin is how exactly a session remembers when it was used: not every page
	// that is read is worth a write.
	usedWithin = 5 * time.Minute
)

// session is what is kept of somebody who is signed in.
type session struct {
	hash   string
	person people.ID
	link   string
	seen   int64
}

// hashOf keeps the secret of a cookie out of the database.
func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// begin signs somebody in: a member, or the holder of a private link.
func (v *visit) begin(person people.ID, link string) error {
	if err := v.end(); err != nil {
		return err
	}
	secret := rand.Text() + rand.Text()
	now := v.Clock.Now()
	_, err := v.Pool.Exec(v.ctx, `INSERT INTO web.session (id, hash, person, link, began, used, machine, expires, seen) VALUES ($1, $2, $3, $4, $5, $5, $6, $7, $8)`,
		freshID(), hashOf(secret), person, link, now, machineOf(v.r.UserAgent()), now.Add(sessionFor), v.Position())
	if err == nil {
		v.setCookie(secret, int(sessionFor.Seconds()))
	}
	return err
}

// end signs the viewer out.
func (v *visit) end() error {
	v.setCookie("", -1)
	if v.session == nil {
		return nil
	}
	_, err := v.Pool.Exec(v.ctx, `DELETE FROM web.session WHERE hash = $1`, v.session.hash)
	v.lives.call()
	return err
}

func (v *visit) setCookie(value string, seconds int) {
	http.SetCookie(v.w, &http.Cookie{
		Name: sessionCookie, Value: value, Path: "/", MaxAge: seconds,
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: v.overTLS(),
	})
}

// overTLS says whether people reach the pages over TLS.
func (s *Site) overTLS() bool { return strings.HasPrefix(s.cfg.BaseURL, "https://") }

// recognise finds out who asks. A cookie that is unknown or over is nobody's.
func (v *visit) recognise() error {
	cookie, err := v.r.Cookie(sessionCookie)
	if err != nil || cookie.Value == "" {
		return nil
	}
	found := session{hash: hashOf(cookie.Value)}
	var used *time.Time
	err = v.Pool.QueryRow(v.ctx, `SELECT person, link, seen, used FROM web.session WHERE hash = $1 AND expires > $2`, found.hash, v.Clock.Now()).
		Scan(&found.person, &found.link, &found.seen, &used)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	v.session = &found
	if err := v.noteUse(used); err != nil {
		return err
	}
	// Another instance of the pages may have taken the last command. When this
	// one is far behind, an older page is better than none.
	_ = v.Heard(v.ctx, found.seen)
	if found.link != "" {
		return v.recogniseLink(found)
	}
	return v.recogniseMember(found.person)
}

// noteUse writes down that the session is used.
func (v *visit) noteUse(before *time.Time) error {
	now := v.Clock.Now()
	if before != nil && now.Sub(*before) < usedWithin {
		return nil
	}
	_, err := v.Pool.Exec(v.ctx, `UPDATE web.session SET used = $2 WHERE hash = $1`, v.session.hash, now)
	return err
}

// recogniseMember looks up what a member may do now.
func (v *visit) recogniseMember(person people.ID) error {
	v.Who.Person = person
	rows, err := v.Pool.Query(v.ctx, `SELECT role FROM web.roster_role WHERE person = $1 ORDER BY role`, person)
	if err != nil {
		return err
	}
	v.Who.Roles, err = pgx.CollectRows(rows, pgx.RowTo[people.Role])
	return err
}

// recogniseLink looks up what a link opens; one that has ended opens nothing.
func (v *visit) recogniseLink(found session) error {
	var link desk.Link
	err := v.Pool.QueryRow(v.ctx, `SELECT person, purpose, subject FROM web.roster_link WHERE link = $1 AND until > $2`, found.link, v.Clock.Now()).
		Scan(&link.Person, &link.Purpose, &link.Subject)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	if err == nil {
		v.Who = Who{Person: link.Person, Link: &link, link: found.link}
	}
	return err
}

// remember keeps up to where the viewer has read, so that rooms and other
// instances of the pages catch up before they answer.
func (v *visit) remember(position int64) error {
	if v.session == nil || position <= v.session.seen {
		return nil
	}
	v.session.seen = position
	_, err := v.Pool.Exec(v.ctx, `UPDATE web.session SET seen = greatest(seen, $2) WHERE hash = $1`, v.session.hash, position)
	return err
}

func (s *Site) dropOldSessions(ctx context.Context) error {
	_, err := s.Pool.Exec(ctx, `DELETE FROM web.session WHERE expires <= $1`, s.Clock.Now())
	return err
}
