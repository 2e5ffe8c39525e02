package people

import (
	"slices"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// person is what a person's stream adds up to.
type person struct {
	Sort     message.Sort // empty: not in the book
	Sealed   string
	Roles    []people.Role
	Consents map[string]bool // by text: whether it stands
	Passkeys []heldPasskey
	Erased   bool
}

func (p *person) known() bool { return p.Sort != "" }

func (p *person) has(role people.Role) bool { return slices.Contains(p.Roles, role) }

// signsIn says whether the person's mail address opens the club's pages.
func (p *person) signsIn() bool { return p.Sort == message.MemberSort || len(p.Roles) > 0 }

// keptAs is the sort by which it is decided who corrects the details: whoever
// writes the address of somebody who signs in could sign in as them.
func (p *person) keptAs() message.Sort {
	if p.signsIn() {
		return message.MemberSort
	}
	return p.Sort
}

// Fold takes an event in.
func (p *person) Fold(e message.Event, body message.Body) {
	switch b := body.(type) {
	case message.PersonRegistered:
		p.Sort, p.Sealed = b.Sort, b.Sealed
	case message.PersonChanged:
		p.Sealed = b.Sealed
	case message.RoleGiven:
		p.Roles = append(p.Roles, b.Role)
	case message.RoleTaken:
		p.Roles = slices.DeleteFunc(p.Roles, func(r people.Role) bool { return r == b.Role })
	case message.ConsentGiven:
		p.consent(b.Text, true)
	case message.ConsentWithdrawn:
		p.consent(b.Text, false)
	case message.PasskeyAdded:
		p.Passkeys = append(p.Passkeys, heldPasskey{b.Passkey, b.Sealed, e.RecordedAt})
	case message.PasskeyRemoved:
		p.Passkeys = slices.DeleteFunc(p.Passkeys, func(k heldPasskey) bool { return k.ID == b.Passkey })
	case message.PersonErased:
		p.Erased, p.Roles, p.Passkeys = true, nil, nil
	}
}

// passkey finds a passkey that stands.
func (p *person) passkey(id string) *heldPasskey {
	if i := slices.IndexFunc(p.Passkeys, func(k heldPasskey) bool { return k.ID == id }); i >= 0 {
		return &p.Passkeys[i]
	}
	return nil
}

func (p *person) consent(text string, stands bool) {
	if p.Consents == nil {
		p.Consents = map[string]bool{}
	}
	p.Consents[text] = stands
}

// privateLink is what a link's stream adds up to.
type privateLink struct {
	Given message.LinkGiven
	Ended bool
}

func (l *privateLink) known() bool { return l.Given.Link != "" }

// Fold takes an event in. The first gift of a link is the one that counts.
func (l *privateLink) Fold(_ message.Event, body message.Body) {
	switch b := body.(type) {
	case message.LinkGiven:
		if !l.known() {
			l.Given = b
		}
	case message.LinkEnded:
		l.Ended = true
	}
}

// judgement is what the stream of two persons adds up to.
type judgement struct{ Judged, Same bool }

// Fold takes an event in.
func (j *judgement) Fold(_ message.Event, body message.Body) {
	if b, ok := body.(message.DoublesJudged); ok {
		j.Judged, j.Same = true, b.Same
	}
}

// club is what the club's stream adds up to: the settings that were changed.
type club struct{ Settings map[string]string }

// Fold takes an event in.
func (c *club) Fold(_ message.Event, body message.Body) {
	if b, ok := body.(message.SettingChanged); ok {
		if c.Settings == nil {
			c.Settings = map[string]string{}
		}
		c.Settings[b.Name] = b.Value
	}
}
