package matching

import (
	"strings"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// isCoordinator says whether somebody runs the matching, the operator at the
// machine included.
func isCoordinator(c desk.Caller) bool {
	return c.Has(people.Coordinator) || c.Actor.Room == desk.AtMachine
}

// ownOnly refuses a link holder who means another request than their own.
func ownOnly(c desk.Caller, request string) error {
	if c.Link != nil && c.Link.Subject != request {
		return fault.New(fault.Forbidden, "this private link is for your own request only")
	}
	return nil
}

// goodRequest checks a new request but for who asks.
func goodRequest(c message.MakeRequest) error {
	return desk.First(
		desk.GoodID("request", c.Request),
		desk.GoodID("household", c.Household),
		desk.GoodID("link", c.Link),
		needed("consent", c.Consent, "say which text about personal data was agreed to"),
		line("consent", c.Consent, maxConsent),
		desk.Within("boats", c.Boats, 1, 50),
		goodWish(c.Wish),
	)
}

// goodAsker decides whether the caller may ask for this household, which the
// club knows or not.
func goodAsker(c message.MakeRequest, by desk.Caller, known bool) error {
	switch {
	case known && c.Details != nil:
		return fault.Field("household", "the club knows this household already; leave the details out, or use a new id for somebody else")
	case !known && c.Details == nil:
		return fault.Field("details", "the club does not know this household yet; say who asks")
	case known && !isCoordinator(by) && by.Actor.Person != c.Household:
		return fault.New(fault.Forbidden, "only a coordinator asks for a household that the club knows; use your private link, or write to the club")
	case c.Separate && !isCoordinator(by):
		return fault.New(fault.Forbidden, "a coordinator writes down what an organisation asks for; ask the club")
	case c.Details == nil && c.ForMinor:
		return fault.Field("for_minor", "belongs to a new household; leave it out for one that the club knows")
	case c.Details != nil && !isCoordinator(by) && strings.TrimSpace(c.Details.Mail+c.Details.Phone) == "":
		return fault.Field("details.mail", "give a mail address or a telephone number, so that the club can answer")
	}
	return nil
}

// sortOf says in which part a newcomer comes: for somebody under age it is the
// adult who acts for them.
func sortOf(c message.MakeRequest) message.Sort {
	if c.ForMinor {
		return message.GuardianSort
	}
	return message.HouseholdSort
}

// mustStand wants a request that is in the book and has not ended.
func (r *request) mustStand() error {
	switch {
	case r.household == "":
		return desk.Unknown("request", "the club's book has no request under this id")
	case r.ended != "":
		return desk.Conflict("request", "this request has ended (%s); make a new one", r.ended)
	}
	return nil
}

// goodTier checks a priority that is to be set.
func goodTier(c message.SetTier) error {
	return desk.First(
		desk.Within("tier", c.Tier, 1, 9),
		needed("why", c.Why, "say which of the club's written reasons puts the request here"),
	)
}

// goodEnd decides who may end a request how.
func goodEnd(c message.EndRequest, by desk.Caller) error {
	if by.Link != nil {
		if c.How != withdrawn {
			return fault.Field("how", "you can withdraw your request; only the club can decline it")
		}
		return text("why", c.Why, desk.MaxWords)
	}
	return desk.First(
		boat.Known("how", c.How, []string{withdrawn, declined}),
		needed("why", c.Why, "say why the request ends"),
	)
}

// open gives an offer that nobody has answered, or a fault that says what became
// of it.
func (p *promises) open(id string) (*offer, error) {
	o := p.find(id)
	switch {
	case o == nil:
		return nil, desk.Unknown("offer", "this boat was never offered under this id")
	case o.answer != "":
		return nil, desk.Conflict("offer", "this offer has ended already: it was %s", o.answer)
	}
	return o, nil
}

// mayAnswer decides whether the caller may end an open offer so at an instant.
func (o *offer) mayAnswer(c message.AnswerOffer, by desk.Caller, now time.Time) error {
	answers := []string{accepted, declined, withdrawn}
	if by.Link != nil {
		answers = []string{accepted, declined}
	}
	if err := boat.Known("answer", c.Answer, answers); err != nil {
		return err
	}
	if c.Answer == accepted && !now.Before(o.Until) {
		return desk.Conflict("offer", "the offer ended on %s; ask the club whether the boat is still free", o.Until.UTC().Format("2 January 2006 at 15:04 UTC"))
	}
	if c.Answer == withdrawn {
		return needed("why", c.Why, "say why the club withdraws the offer")
	}
	return text("why", c.Why, desk.MaxWords)
}

// promise gives the accepted offer that promises the boat, or says why none does.
func (p *promises) promise() (*offer, error) {
	o := p.standing()
	switch {
	case p.handedOver:
		return nil, desk.Conflict("boat", "this boat was handed over already")
	case o == nil:
		return nil, desk.Conflict("boat", "no household has accepted this boat; offer it in a round first")
	case o.answer != accepted:
		return nil, desk.Conflict("boat", "the household has not accepted this boat yet")
	}
	return o, nil
}

// mayGo wants a boat that may leave the club on a day.
func (c craft) mayGo(on clock.Date) error {
	switch {
	case c.gone != "":
		return desk.Conflict("boat", "%s is no longer with the club: %s", c.name, c.gone)
	case c.held != "":
		return desk.Conflict("boat", "%s is kept back: %s; it has to be let out again first", c.name, c.held)
	case !c.ready:
		return desk.Conflict("boat", "%s is not ready; the workshop has to declare it ready first", c.name)
	case on.Before(c.quarantine):
		return desk.Conflict("boat", "%s has to dry until %s; it cannot go to another water before", c.name, c.quarantine)
	}
	return nil
}

// jacketsGood wants no life jacket with the boat that may not be passed on.
func (c craft) jacketsGood() error {
	if len(c.badJackets) > 0 {
		return desk.Conflict("boat", "a life jacket that fails, or was not checked as a whole, lies with %s; say on the boat's page what became of it first", c.name)
	}
	return nil
}

// goodHandOver checks what is written down of a hand-over.
func goodHandOver(c message.HandOver, today clock.Date, release string) error {
	switch {
	case c.On.IsZero():
		return fault.Field("on", "state the day")
	case c.On.After(today):
		return fault.Field("on", "lies in the future")
	case strings.TrimSpace(c.Release) == "":
		return fault.Field("release", "say which version of the release text was signed")
	case c.Release != release:
		return fault.Field("release", "the club's release text is version %s; have that one signed", release)
	}
	return nil
}

// allTicked wants every line of the check list, word for word, and no other.
func allTicked(ticked, lines []string) error {
	done := map[string]bool{}
	for _, t := range ticked {
		done[t] = true
	}
	for _, wanted := range lines {
		if !done[wanted] {
			return fault.Field("checks", "not ticked yet: %s", wanted)
		}
		delete(done, wanted)
	}
	for _, t := range ticked {
		if done[t] {
			return fault.Field("checks", "this line is not on the boat's check list: %s", t)
		}
	}
	return nil
}
