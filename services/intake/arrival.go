package intake

import (
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// arrival is how a boat comes: by what right, with which doubts, and which of
// possession and signed transfer there is.
type arrival struct {
	shown       *message.RightPaper
	intent      *message.GiftIntent
	registered  message.Registration
	doubts      []doubt
	time        int     // 2 and more: the club has had it before
	earlier     boat.ID // the entry of the time before
	later       boat.ID // the entry of the time after
	quarantined bool
	possession  clock.Date
	signed      clock.Date
}

// doubt is a reason to ask whose a boat is, and whether that was found out.
type doubt struct {
	id      string
	about   message.Doubt
	settled bool
}

// foldArrival adds an event about an entry.
func (b *Boat) foldArrival(about boat.ID, body message.Body) {
	switch e := body.(type) {
	case message.RightShown:
		b.right, b.shown = e.Right, &e.RightPaper
	case message.IntentStated:
		b.intent = &e.GiftIntent
	case message.RegistrationNoted:
		b.registered = e.Registration
	case message.DoubtRaised:
		b.doubts = append(b.doubts, doubt{id: e.Doubt, about: e.About})
	case message.DefectFound:
		if e.AltersNumber() {
			b.doubts = append(b.doubts, doubt{id: e.Finding, about: message.NumberAltered})
		}
	case message.DefectWithdrawn:
		b.settle(e.Finding)
	case message.DoubtSettled:
		b.settle(e.Doubt)
	case message.BoatCameBack:
		if about == e.Earlier {
			b.later = e.Boat
		} else {
			b.time, b.earlier = e.Time, e.Earlier
		}
	case message.QuarantineSet:
		b.quarantined = true
	case message.PossessionNoted:
		b.possession = e.On
	case message.TransferSigned:
		b.signed = e.On
	}
}

func (b *Boat) settle(id string) {
	for i := range b.doubts {
		if b.doubts[i].id == id {
			b.doubts[i].settled = true
		}
	}
}

// openDoubt gives the first doubt that nobody has settled, or nil.
func (b *Boat) openDoubt() *doubt {
	i := slices.IndexFunc(b.doubts, func(d doubt) bool { return !d.settled })
	if i < 0 {
		return nil
	}
	return &b.doubts[i]
}

// noDoubt wants that it is clear whose the boat is.
func (b *Boat) noDoubt() error {
	d := b.openDoubt()
	if d == nil {
		return nil
	}
	return desk.Conflict("boat", "it is not clear whose %s is: %s. An administrator settles the doubt, or the boat is declined", b.name, d.about)
}

// mayBeTaken wants what has to be there before the club takes a boat, whatever
// its state is.
func (b *Boat) mayBeTaken(words string, d deal) error {
	switch {
	case b.shown == nil:
		return desk.Conflict("boat", "nothing shows yet by what right %s is given (%s); record the paper first", b.name, b.right)
	case b.time > 1 && !b.quarantined:
		return desk.Conflict("boat", "%s has been with the club before; record in which water it was last and keep it dry first", b.name)
	}
	if err := b.noDoubt(); err != nil {
		return err
	}
	if until := b.shown.On.AddDays(d.foundDays); b.right == message.FoundProperty && d.today.Before(until) {
		return desk.Conflict("boat", "%s was found on %s; by the club's rule it waits for its owner until %s", b.name, b.shown.On, until)
	}
	return b.wantsWords(words)
}

// wantsWords asks for the steward's words where a paper alone does not tell why
// the club may take the boat, or how it keeps to what the giver asks.
func (b *Boat) wantsWords(words string) error {
	switch {
	case b.right == message.FoundProperty:
		return desk.Needed("words", words, "say how found property became the club's to take")
	case b.intent != nil && b.intent.Restriction != "":
		return desk.Needed("words", words, "the gift is bound to something; say how the club keeps to it")
	}
	return desk.NotLonger("words", words, desk.MaxWords)
}

// goodPaper checks by what a right is shown.
func goodPaper(under, right string, p message.RightPaper, today clock.Date) error {
	return desk.First(
		boat.Known(under+"paper", p.Paper, message.RightPapers[right]),
		desk.Past(under+"on", p.On, today),
		desk.NotLonger(under+"words", p.Words, desk.MaxWords),
	)
}

// goodIntent checks what the giver of a gift wrote.
func goodIntent(under string, taking message.Taking, i message.GiftIntent, today clock.Date) error {
	if taking != message.Gift {
		return desk.Conflict(under+"on", "only a gift has the giver's intent; this is a %s", taking)
	}
	return desk.First(desk.Past(under+"on", i.On, today), desk.NotLonger(under+"restriction", i.Restriction, desk.MaxWords))
}

// goodRegistration checks a state's entry.
func goodRegistration(under string, r message.Registration) error {
	err := desk.First(
		desk.Needed(under+"state", r.State, "name the state or authority"), desk.OneLine(under+"state", r.State, desk.MaxLine),
		desk.OneLine(under+"number", r.Number, 40), desk.OneLine(under+"title", r.Title, 40),
	)
	if err == nil && r.Number+r.Title == "" {
		err = desk.Needed(under+"number", "", "write the registration's number or the title's")
	}
	return err
}

// told gives what is said beside BoatLogged of how the boat comes.
func told(c message.LogBoat, today clock.Date) ([]message.Body, error) {
	var said []message.Body
	if c.Shown != nil {
		if err := goodPaper("shown.", c.Right, *c.Shown, today); err != nil {
			return nil, err
		}
		said = append(said, message.RightShown{Boat: c.Boat, Right: c.Right, RightPaper: *c.Shown})
	}
	if c.Intent != nil {
		if err := goodIntent("intent.", c.Taking, *c.Intent, today); err != nil {
			return nil, err
		}
		said = append(said, message.IntentStated{Boat: c.Boat, GiftIntent: *c.Intent})
	}
	if c.Registration != nil {
		if err := goodRegistration("registration.", *c.Registration); err != nil {
			return nil, err
		}
		said = append(said, message.RegistrationNoted{Boat: c.Boat, Registration: *c.Registration})
	}
	for i, about := range c.Doubts {
		if err := boat.Known(fmt.Sprintf("doubts[%d]", i), about, message.TellableDoubts); err != nil {
			return nil, err
		}
		if !slices.Contains(c.Doubts[:i], about) {
			said = append(said, message.DoubtRaised{Boat: c.Boat, Doubt: fmt.Sprintf("logged-%d", i+1), About: about})
		}
	}
	return said, nil
}

func (b *Boat) showRight(c message.ShowRight, by people.ID, today clock.Date) (message.Body, error) {
	err := desk.First(b.notDecided(), b.mayDeal(by), boat.Known("right", c.Right, message.Rights), goodPaper("", c.Right, c.RightPaper, today))
	if err != nil || b.right == c.Right && b.shown != nil && *b.shown == c.RightPaper {
		return nil, err
	}
	return message.RightShown{Boat: c.Boat, Right: c.Right, RightPaper: c.RightPaper}, nil
}

func (b *Boat) stateIntent(c message.StateIntent, today clock.Date) (message.Body, error) {
	err := desk.First(b.notDecided(), goodIntent("", b.taking, c.GiftIntent, today))
	if err != nil || b.intent != nil && *b.intent == c.GiftIntent {
		return nil, err
	}
	return message.IntentStated{Boat: c.Boat, GiftIntent: c.GiftIntent}, nil
}

func (b *Boat) noteRegistration(c message.NoteRegistration) (message.Body, error) {
	err := desk.First(b.notDeclined(), goodRegistration("", c.Registration))
	if err != nil || b.registered == c.Registration {
		return nil, err
	}
	return message.RegistrationNoted{Boat: c.Boat, Registration: c.Registration}, nil
}

// notDecided wants a boat about which the club has not decided.
func (b *Boat) notDecided() error { return b.is(offered, "this is recorded") }

func (b *Boat) raise(c message.RaiseDoubt) (message.Body, error) {
	if slices.ContainsFunc(b.doubts, func(d doubt) bool { return d.id == c.Doubt }) {
		return nil, nil
	}
	err := desk.First(
		desk.GoodID("doubt", c.Doubt),
		b.notTaken(),
		boat.Known("about", c.About, message.TellableDoubts),
		desk.Needed("words", c.Words, "say what was seen or heard, without names"),
	)
	if err != nil {
		return nil, err
	}
	return message.DoubtRaised{Boat: c.Boat, Doubt: c.Doubt, About: c.About, Words: c.Words}, nil
}

// notTaken wants a boat that is not the club's yet.
func (b *Boat) notTaken() error {
	if b.stage != offered && b.stage != accepted {
		return desk.Conflict("boat", "%s is %s; tell an administrator", b.name, b.stage)
	}
	return nil
}

func (b *Boat) settleDoubt(c message.SettleDoubt, by people.ID) (message.Body, error) {
	i := slices.IndexFunc(b.doubts, func(d doubt) bool { return d.id == c.Doubt })
	if i < 0 {
		return nil, desk.Unknown("doubt", "there is no such doubt about %s", b.name)
	}
	err := desk.First(b.mayDeal(by), desk.Needed("words", c.Words, "say what was found out, and where it was asked"))
	if err != nil || b.doubts[i].settled {
		return nil, err
	}
	return message.DoubtSettled{Boat: c.Boat, Doubt: c.Doubt, Words: c.Words}, nil
}

// possess decides that the boat is in the club's hands, and that it is received
// when the transfer is signed already.
func (b *Boat) possess(c message.NotePossession, today clock.Date) ([]message.Body, error) {
	if err := desk.First(b.notTaken(), desk.Past("on", c.On, today)); err != nil || b.possession == c.On {
		return nil, err
	}
	said := []message.Body{message.PossessionNoted{Boat: c.Boat, On: c.On}}
	if b.signed.IsZero() {
		return said, nil
	}
	body, err := b.receive(message.ReceiveBoat{Boat: c.Boat, Possession: c.On, Signed: b.signed}, today)
	return append(said, body), err
}

// sign decides that the transfer is signed, and that the boat is received when
// the club has it in its hands already.
func (b *Boat) sign(c message.SignTransfer, today clock.Date) ([]message.Body, error) {
	if err := desk.First(b.is(accepted, "a transfer is signed"), b.noDoubt(), desk.Past("on", c.On, today)); err != nil || b.signed == c.On {
		return nil, err
	}
	said := []message.Body{message.TransferSigned{Boat: c.Boat, On: c.On}}
	if b.possession.IsZero() {
		return said, nil
	}
	body, err := b.receive(message.ReceiveBoat{Boat: c.Boat, Possession: b.possession, Signed: c.On}, today)
	return append(said, body), err
}
