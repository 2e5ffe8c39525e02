package desk

import (
	"context"
	"errors"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/people"
)

// Caller is who gives an order, as the room itself knows them.
type Caller struct {
	Actor people.Actor
	Roles []people.Role
	// Link is set when the caller came by a private link.
	Link *Link
}

// Link is what a private link opens.
type Link struct {
	Person  people.ID
	Purpose people.Purpose
	Subject string
}

// Has says whether the caller has a role.
func (c Caller) Has(role people.Role) bool { return slices.Contains(c.Roles, role) }

// Allow says who may give an order. The zero Allow admits nobody but the
// operator at the machine.
type Allow struct {
	Roles []people.Role
	// Member admits every member that has any role.
	Member bool
	// Link admits holders of a private link for this purpose. The room checks
	// that the subject is theirs.
	Link people.Purpose
	// AnyLink admits holders of a private link for any purpose. The room checks
	// that the person is themselves.
	AnyLink bool
	// Public admits people who are not signed in, through the pages.
	Public bool
}

// Names by which the service acts for somebody who has no member's id.
const (
	// Pages is the actor for people who are not signed in.
	Pages = "web"
	// AtMachine is the actor for whoever works at the machine itself: import and
	// the first administrator.
	AtMachine = "operator"
)

func (a Allow) check(c Caller) error {
	switch {
	case c.Actor.Room == AtMachine:
		return nil
	case c.Actor.Room == Pages && a.Public:
		return nil
	case c.Link != nil && (a.AnyLink || a.Link != "" && c.Link.Purpose == a.Link):
		return nil
	case c.Actor.Link == "" && len(c.Roles) > 0 && (a.Member || slices.ContainsFunc(a.Roles, c.Has)):
		return nil
	case c.Actor.Link == "" && c.Actor.Person == "":
		return fault.New(fault.SignIn, "sign in first")
	}
	return fault.New(fault.Forbidden, "this is not yours to do: %s", a.who())
}

func (a Allow) who() string {
	if len(a.Roles) == 0 {
		return "ask an administrator"
	}
	text := "it needs the role of "
	for i, role := range a.Roles {
		if i > 0 {
			text += " or "
		}
		text += string(role)
	}
	return text
}

// caller looks up, in the room's own roster, what an actor may do.
func (d *Desk) caller(ctx context.Context, by people.Actor) (Caller, error) {
	c := Caller{Actor: by}
	switch {
	case by.Room == Pages || by.Room == AtMachine:
		return c, nil
	case by.Room != "":
		return c, fault.New(fault.Forbidden, "rooms do not give orders")
	case by.Link != "":
		return d.linkHolder(ctx, c)
	case by.Person == "":
		return c, nil
	}
	rows, err := d.Pool.Query(ctx, `SELECT role FROM `+d.Room+`.roster_role WHERE person = $1 ORDER BY role`, by.Person)
	if err != nil {
		return c, err
	}
	c.Roles, err = pgx.CollectRows(rows, pgx.RowTo[people.Role])
	return c, err
}

func (d *Desk) linkHolder(ctx context.Context, c Caller) (Caller, error) {
	var link Link
	var until time.Time
	err := d.Pool.QueryRow(ctx, `SELECT person, purpose, subject, until FROM `+d.Room+`.roster_link WHERE link = $1`, c.Actor.Link).
		Scan(&link.Person, &link.Purpose, &link.Subject, &until)
	if errors.Is(err, pgx.ErrNoRows) || err == nil && !d.Clock.Now().Before(until) {
		return c, fault.New(fault.SignIn, "this private link has ended; ask the club for a new one")
	}
	c.Link = &link
	c.Actor.Person = link.Person
	return c, err
}
