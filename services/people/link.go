package people

import (
	"context"
	"time"

	"github.com/google/uuid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// giveLink makes a private link. The letter follows when the room hears that
// the link was given.
func (s *service) giveLink(ctx context.Context, o desk.Order[message.GiveLink]) (desk.Decision, error) {
	c := o.Command
	if err := desk.GoodID("link", c.Link); err != nil {
		return desk.Decision{}, err
	}
	if err := boat.Known("purpose", c.Purpose, purposes); err != nil {
		return desk.Decision{}, err
	}
	if err := mayLink(o.Caller, c.Purpose); err != nil {
		return desk.Decision{}, err
	}
	if _, _, err := s.find(ctx, "person", c.Person); err != nil {
		return desk.Decision{}, err
	}
	if err := s.checkSubject(ctx, o.Caller, c); err != nil {
		return desk.Decision{}, err
	}
	l, at, err := desk.Load[privateLink](ctx, s.Log, message.PrivateLink(c.Link))
	if err != nil {
		return desk.Decision{}, err
	}
	if l.known() {
		return desk.Decision{}, desk.Conflict("link", "this link was given before; make a new one")
	}
	return s.linkFor(ctx, at, message.LinkGiven{Link: c.Link, Person: c.Person, Purpose: c.Purpose, Subject: c.Subject}, o.Now)
}

// linkFor says that a link is given from an instant on, for as long as the club
// has set.
func (s *service) linkFor(ctx context.Context, at ledger.Expected, link message.LinkGiven, from time.Time) (desk.Decision, error) {
	days, err := s.SettingWhole(ctx, "link-days")
	if err != nil {
		return desk.Decision{}, err
	}
	link.Until = from.AddDate(0, 0, days)
	d, err := say(at.Stream, link)
	d.Expect = []ledger.Expected{at}
	return d, err
}

func (s *service) checkSubject(ctx context.Context, by desk.Caller, c message.GiveLink) error {
	if c.Purpose == people.Deadlines {
		if c.Person != by.Actor.Person || c.Subject != string(c.Person) || !by.Has(people.Treasurer) {
			return fault.Field("subject", "a link for a calendar is a treasurer's own: name yourself")
		}
		return nil
	}
	if c.Purpose == people.OwnPapers {
		if c.Subject != string(c.Person) {
			return fault.Field("subject", "a link to papers opens the donor's own: name the donor again")
		}
		return nil
	}
	theirs, err := s.isRequestOf(ctx, c.Subject, c.Person)
	if err == nil && !theirs {
		err = fault.Field("subject", "this household made no such request")
	}
	return err
}

func (s *service) endLink(ctx context.Context, o desk.Order[message.EndLink]) (desk.Decision, error) {
	l, at, err := desk.Load[privateLink](ctx, s.Log, message.PrivateLink(o.Command.Link))
	if err != nil {
		return desk.Decision{}, err
	}
	if !l.known() {
		return desk.Decision{}, noSuchLink()
	}
	if err := onlyThemselves(o.Caller, l.Given.Person); err != nil {
		return desk.Decision{}, err
	}
	if o.Link == nil {
		if err := mayLink(o.Caller, l.Given.Purpose); err != nil {
			return desk.Decision{}, err
		}
	}
	if l.Ended {
		return desk.Decision{}, nil
	}
	d, err := say(at.Stream, message.LinkEnded{Link: o.Command.Link})
	d.Expect = []ledger.Expected{at}
	return d, err
}

func noSuchLink() error {
	return desk.Unknown("link", "there is no such link")
}

// openLink checks a private link's secret before it looks anything up, and
// gives one answer to everything that does not open.
func (s *service) openLink(ctx context.Context, _ desk.Caller, q message.OpenLink) (message.OpenedLink, error) {
	link, ok := message.LinkOf(s.Vault.Token, q.Token)
	if !ok {
		return message.OpenedLink{}, linkIsOver()
	}
	opened, found, err := s.rosterLink(ctx, link)
	if err == nil && (!found || !s.Clock.Now().Before(opened.Until)) {
		return message.OpenedLink{}, linkIsOver()
	}
	return opened, err
}

func linkIsOver() error {
	return fault.New(fault.SignIn, "this private link has ended; ask the club for a new one")
}

func (s *service) linkAddress(ctx context.Context, c desk.Caller, q message.LinkAddress) (message.LinkToken, error) {
	link, found, err := s.rosterLink(ctx, q.Link)
	if err == nil && !found {
		err = noSuchLink()
	}
	if err == nil {
		err = mayLink(c, link.Purpose)
	}
	if err != nil {
		return message.LinkToken{}, err
	}
	return message.LinkToken{Token: message.LinkTokenOf(s.Vault.Token, q.Link), Address: s.linkURL(q.Link)}, nil
}

func (s *service) linkURL(link string) string {
	return s.cfg.BaseURL + message.LinkPath + message.LinkTokenOf(s.Vault.Token, link)
}

// derivedLink is the id of a link that the room makes by itself: always the
// same for the same thing, and nobody can take it beforehand who does not have
// the master key.
func (s *service) derivedLink(purpose, of string) string {
	id, err := uuid.Parse(s.Vault.Blind("link-of-"+purpose, of)[:32])
	if err != nil {
		panic(err) // 32 hexadecimal digits always parse
	}
	id[6], id[8] = id[6]&0x0f|0x80, id[8]&0x3f|0x80 // RFC 9562 §5.8: UUIDv8
	return id.String()
}
