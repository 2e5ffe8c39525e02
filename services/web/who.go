package web

import (
	"slices"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/people"
)

// Who is who looks at a page: a member with roles, the holder of a private link,
// or nobody known.
type Who struct {
	Person people.ID
	Roles  []people.Role
	// Link is set for somebody who came by a private link.
	Link *desk.Link
	link string // the link's id
}

// Has says whether the viewer is a member with one of the roles.
func (w Who) Has(roles ...people.Role) bool {
	return slices.ContainsFunc(roles, func(r people.Role) bool { return slices.Contains(w.Roles, r) })
}

// Member says whether the viewer is signed in as a member.
func (w Who) Member() bool { return len(w.Roles) > 0 }

// Actor is who gives the viewer's commands.
func (w Who) Actor() people.Actor {
	switch {
	case w.link != "":
		return people.Actor{Link: w.link}
	case w.Person != "":
		return people.Member(w.Person)
	}
	return people.Service(desk.Pages)
}

// Home is the own page of somebody who came by a private link.
func (w Who) Home() string {
	if w.Link == nil {
		return "/"
	}
	return homesOfLinks[w.Link.Purpose]
}

// seesNames says whether the viewer may read a person's name: members who do
// more than audit, and everybody their own.
func (w Who) seesNames(of people.ID) bool {
	if w.Person == of && of != "" {
		return true
	}
	return slices.ContainsFunc(w.Roles, func(r people.Role) bool { return r != people.Auditor })
}

// audience says who may open a route. The zero audience is nobody.
type audience struct {
	public bool
	member bool // any role at all
	roles  []people.Role
	link   people.Purpose
}

// The audiences that routes are made of.
var (
	anybody   = audience{public: true}
	anyMember = audience{member: true}
)

func only(roles ...people.Role) audience { return audience{roles: roles} }

// orLink opens a route for holders of a private link as well. The page itself
// checks that the subject is theirs.
func (a audience) orLink(purpose people.Purpose) audience {
	a.link = purpose
	return a
}

// admits says whether somebody may open the route.
func (a audience) admits(w Who) bool {
	switch {
	case a.public:
		return true
	case w.Link != nil:
		return a.link != "" && w.Link.Purpose == a.link
	}
	return a.member && w.Member() || w.Has(a.roles...)
}

func (a audience) check(w Who) error {
	switch {
	case a.admits(w):
		return nil
	case w.Person == "" && a.link != "" && !a.member && len(a.roles) == 0:
		return fault.New(fault.SignIn, "Open this page with your private link. If the link has ended, ask the club for a new one.")
	case w.Person == "":
		return fault.New(fault.SignIn, "Sign in first.")
	}
	return fault.New(fault.Forbidden, "This page is not yours to open. If you need it for your work in the club, ask an administrator.")
}
