package web

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/passkey"
	"refloat.example/pkg/people"
)

func signingInRoutes() []route {
	return []route{
		get("/signing-in", anyMember, (*visit).signingInPage),
		post("/signing-in/sessions/{session}/end", anyMember, (*visit).endSession, nil),
		post("/sign-out/others", anyMember, (*visit).signOutOthers, nil),
		post("/sign-out/everywhere", anyMember, (*visit).signOutEverywhere, nil),
		post("/people/{person}/sign-out", administrators, (*visit).signOutMember, nil),
	}
}

// sessionRow is one browser in which a member is signed in.
type sessionRow struct {
	ID          string
	Began, Used *time.Time // nil: not known, of a session that is older than its dates
	Machine     string
	This        bool // it is the one that asks
	End         Form
}

// machineOf says in a word on what a browser runs, by what it says of itself, which
// may be false and is for recognising only. Phones say "Mobi", and tablets that
// say what they run on leave it out (MDN, "Browser detection using the user
// agent", on mobile and tablet; RFC 9110 §10.1.5 for the header).
func machineOf(userAgent string) string {
	says := func(words ...string) bool {
		for _, word := range words {
			if strings.Contains(userAgent, word) {
				return true
			}
		}
		return false
	}
	switch {
	case says("iPad", "Tablet"), says("Android") && !says("Mobi"):
		return "a tablet"
	case says("Mobi"):
		return "a phone"
	case says("Mozilla/"): // every browser for people begins so
		return "a computer"
	}
	return ""
}

// sessionsOf gives where somebody is signed in, the last used first.
func (s *Site) sessionsOf(ctx context.Context, person people.ID, now string) ([]sessionRow, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT id, began, used, machine, hash = $3 FROM web.session WHERE person = $1 AND expires > $2
		ORDER BY used DESC NULLS LAST, id`, person, s.Clock.Now(), now)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (one sessionRow, err error) {
		err = row.Scan(&one.ID, &one.Began, &one.Used, &one.Machine, &one.This)
		return one, err
	})
}

// signingInPage is where a member sees how they come in, and where they are.
type signingInPage struct {
	Frame
	Sessions []sessionRow
	Others   bool // there are more sessions than this one
	// Passkeys are shown where the club's address can have them.
	Possible bool
	Passkeys []passkeyRow
	New      Form
}

func (v *visit) signingInPage() error {
	p := signingInPage{Frame: v.frame("Signing in"), Possible: passkey.Possible(v.cfg.BaseURL), New: v.newPasskeyForm()}
	var err error
	if p.Passkeys, err = v.passkeysOf(v.Who.Person, ""); err != nil {
		return err
	}
	if p.Sessions, err = v.sessionsOf(v.ctx, v.Who.Person, v.session.hash); err != nil {
		return err
	}
	for i, s := range p.Sessions {
		p.Others = p.Others || !s.This
		p.Sessions[i].End = v.button("end-"+s.ID, "/signing-in/sessions/"+s.ID+"/end", "Sign out there")
	}
	return v.show("signing_in", p)
}

// endSession ends one session of the viewer's own.
func (v *visit) endSession() error {
	if _, err := v.Pool.Exec(v.ctx, `DELETE FROM web.session WHERE id = $1 AND person = $2`, v.param("session"), v.Who.Person); err != nil {
		return err
	}
	v.lives.call()
	return v.goTo("/signing-in", "session-ended")
}

// signOutOthers ends every session of the viewer's but this one.
func (v *visit) signOutOthers() error {
	if _, err := v.Pool.Exec(v.ctx, `DELETE FROM web.session WHERE person = $1 AND hash <> $2`, v.Who.Person, v.session.hash); err != nil {
		return err
	}
	v.lives.call()
	return v.goTo("/signing-in", "signed-out-others")
}

// signOutEverywhere ends every session of the viewer's, in all browsers: for a phone
// that was lost or lent.
func (v *visit) signOutEverywhere() error {
	if _, err := v.Pool.Exec(v.ctx, `DELETE FROM web.session WHERE person = $1`, v.Who.Person); err != nil {
		return err
	}
	v.lives.call()
	v.session = nil
	v.setCookie("", -1)
	return v.goTo("/", "signed-out-everywhere")
}

// signOutMember ends every session of somebody else's: a member who lost a phone may
// not be able to come in and do it. Roles stay as they are.
func (v *visit) signOutMember() error {
	person := people.ID(v.param("person"))
	if _, err := find[Person](v.ctx, v.Site, "person", string(person), "person"); err != nil {
		return err
	}
	tag, err := v.Pool.Exec(v.ctx, `DELETE FROM web.session WHERE person = $1`, person)
	if err != nil {
		return err
	}
	v.lives.call()
	v.Slog.InfoContext(v.ctx, "a member was signed out everywhere", "person", person, "by", v.Who.Person, "sessions", tag.RowsAffected())
	return v.goTo("/people/"+string(person), "signed-out-member")
}
