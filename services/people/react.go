package people

import (
	"context"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// react answers what the room hears, its own words included.
func (s *service) react(ctx context.Context, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.BoatLogged:
		return s.meet(ctx, e, b.NewGiver)
	case message.RequestMade:
		if err := s.meet(ctx, e, b.NewHousehold); err != nil {
			return err
		}
		link := message.LinkGiven{Link: b.Link, Person: b.Household, Purpose: people.OwnRequest, Subject: b.Request}
		return s.link(ctx, e, "link", link, e.HappenedAt)
	case message.PaperIssued:
		return s.tellDonor(ctx, e, b)
	case message.OfferMade:
		return s.tellApplicant(ctx, e, b)
	case message.UseStopped:
		return s.tellToStop(ctx, e, b)
	case message.LinkGiven:
		return s.tellLink(ctx, e, b)
	case message.TimerRang:
		return enqueue(ctx, s.Pool, queued{
			Key: "timer-" + b.Timer, Sort: timerLetter, Person: b.Who, Link: string(b.Boat), Until: e.RecordedAt.Add(remindFor), MadeAt: e.RecordedAt,
		})
	case message.DeadlinesNear:
		return s.tellTreasurers(ctx, e, b)
	case message.LetterSettled:
		return s.settle(ctx, e, b)
	case message.PersonErased:
		return s.forget(ctx, b.Person)
	}
	return nil
}

// remindFor is how long it is any use to say that something has waited long
// enough.
const remindFor = 7 * 24 * time.Hour

// tellTreasurers writes to every treasurer that something falls due. What it is stands on
// the page, and not in the mail.
func (s *service) tellTreasurers(ctx context.Context, e message.Event, b message.DeadlinesNear) error {
	treasurers, err := s.withRole(ctx, people.Treasurer)
	if err != nil {
		return err
	}
	for _, person := range treasurers {
		err := enqueue(ctx, s.Pool, queued{
			Key: "deadlines-" + e.ID + "-" + string(person), Sort: deadlinesLetter, Person: person, Link: b.First.String(), Until: e.RecordedAt.Add(deadlinesFor), MadeAt: e.RecordedAt,
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// deadlinesFor is how long it is any use to say that something falls due.
const deadlinesFor = 90 * 24 * time.Hour

// meet registers a person whom another room introduced, unless they are known.
func (s *service) meet(ctx context.Context, e message.Event, n *message.NewPerson) error {
	if n == nil {
		return nil
	}
	return s.SayAnew(ctx, e, "meet", func() (desk.Decision, error) {
		p, at, err := desk.Load[person](ctx, s.Log, message.Person(n.Person))
		if err != nil || p.known() || p.Erased {
			return desk.Decision{}, err
		}
		d, err := introduce(*n, "form", nil)
		d.Expect = []ledger.Expected{at}
		return d, err
	})
}

// link gives a link, unless its id was given before or its person is erased.
func (s *service) link(ctx context.Context, e message.Event, name string, link message.LinkGiven, from time.Time) error {
	if link.Link == "" {
		return nil
	}
	return s.SayAnew(ctx, e, name, func() (desk.Decision, error) {
		p, _, err := desk.Load[person](ctx, s.Log, message.Person(link.Person))
		if err != nil || p.Erased {
			return desk.Decision{}, err
		}
		l, at, err := desk.Load[privateLink](ctx, s.Log, message.PrivateLink(link.Link))
		if err != nil || l.known() {
			return desk.Decision{}, err
		}
		return s.linkFor(ctx, at, link, from)
	})
}

// tellDonor writes to a donor that a paper is there. The first paper brings the
// donor's own link; later ones use it for as long as it works.
func (s *service) tellDonor(ctx context.Context, e message.Event, b message.PaperIssued) error {
	link := message.LinkGiven{Person: b.Donor, Purpose: people.OwnPapers, Subject: string(b.Donor), Until: e.RecordedAt}
	link.Link = s.derivedLink("donor", string(b.Donor))
	first, _, err := desk.Load[privateLink](ctx, s.Log, message.PrivateLink(link.Link))
	if err != nil {
		return err
	}
	if first.known() { // and ended, unless tell finds it standing
		link.Link = s.derivedLink("paper", b.Paper)
	}
	return s.tell(ctx, e, link, queued{Key: message.PaperLetter(b.Paper), Sort: paperLetter})
}

// tellApplicant writes to a household that a boat is offered to them; of two boats
// that are offered together, once.
func (s *service) tellApplicant(ctx context.Context, e message.Event, b message.OfferMade) error {
	if !b.Leads() {
		return nil
	}
	link := message.LinkGiven{
		Link: s.derivedLink("offer", b.Offer), Person: b.Household, Purpose: people.OwnRequest, Subject: b.Request, Until: b.Until,
	}
	return s.tell(ctx, e, link, queued{Key: "offer-" + b.Offer, Sort: offerLetter, Until: b.Until})
}

// tellToStop writes to a household that it must not use its boat any more. What is
// wrong stands on its page.
func (s *service) tellToStop(ctx context.Context, e message.Event, b message.UseStopped) error {
	household, err := s.householdOf(ctx, b.Request)
	if err != nil || household == "" {
		return err
	}
	link := message.LinkGiven{Link: s.derivedLink("stop", e.ID), Person: household, Purpose: people.OwnRequest, Subject: b.Request}
	return s.tell(ctx, e, link, queued{Key: "stop-" + e.ID, Sort: stopLetter})
}

// tell writes a letter that carries a link: one that stands, or else the one
// given. The letter is written down after the link, and before the room hears
// of the link, so that there is one letter and not two.
func (s *service) tell(ctx context.Context, e message.Event, link message.LinkGiven, l queued) error {
	standing, found, err := s.standingLink(ctx, link)
	if err != nil {
		return err
	}
	l.Link = standing.Link
	if !found {
		l.Link = link.Link
		if err := s.link(ctx, e, "link", link, e.RecordedAt); err != nil {
			return err
		}
	}
	l.Person, l.MadeAt = link.Person, e.RecordedAt
	return enqueue(ctx, s.Pool, l)
}

// tellLink writes the letter that brings a new link, unless another letter
// brings it, it was over before it was given (that of an old request which
// somebody wrote down afterwards), or its address has got enough for a day.
func (s *service) tellLink(ctx context.Context, e message.Event, b message.LinkGiven) error {
	if !b.Until.After(e.RecordedAt) || b.Purpose == people.Deadlines { // the page shows it to whoever made it
		return nil
	}
	brought, err := s.isBrought(ctx, b.Link)
	if err != nil || brought {
		return err
	}
	if e.Actor == people.Service(Name).String() {
		// Whoever fills in the public form names the address, and it need not be theirs.
		if enough, err := s.hasEnoughLetters(ctx, b.Person, e.RecordedAt); err != nil || enough {
			return err
		}
	}
	sort := requestLetter
	if b.Purpose == people.OwnPapers {
		sort = papersLetter
	}
	return enqueue(ctx, s.Pool, queued{Key: "link-" + b.Link, Sort: sort, Person: b.Person, Link: b.Link, MadeAt: e.RecordedAt})
}
