package matching

import (
	"context"
	"errors"
	"fmt"
	"reflect"

	"github.com/google/uuid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// standing loads a request that has not ended, for somebody who may see it.
func (s *service) standing(ctx context.Context, by desk.Caller, id string) (request, ledger.Expected, error) {
	if err := desk.First(desk.GoodID("request", id), ownOnly(by, id)); err != nil {
		return request{}, ledger.Expected{}, err
	}
	r, at, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(id))
	if err == nil {
		err = r.mustStand()
	}
	return r, at, err
}

func (s *service) makeRequest(ctx context.Context, o desk.Order[message.MakeRequest]) (desk.Decision, error) {
	c := o.Command
	if c.Boats == 0 {
		c.Boats = 1
	}
	if err := goodRequest(c); err != nil {
		return desk.Decision{}, err
	}
	if err := s.goodAsker(ctx, c, o.Caller); err != nil {
		return desk.Decision{}, err
	}
	d, err := s.firstOfHousehold(ctx, c)
	if err != nil {
		return d, err
	}
	asked := message.HouseholdAsked{Household: c.Household, Request: c.Request}
	for i, body := range requestsOf(c) {
		if i == 0 {
			body.NewHousehold, err = s.introduce(ctx, c)
		} else {
			asked.Also = append(asked.Also, body.Request)
			err = s.restOnNew(ctx, &d, body.Request)
		}
		if err == nil {
			body.Sealed, err = s.seal(ctx, c.Household, message.SealWish, c.Wish)
		}
		if err == nil {
			err = d.Say(message.MatchingRequest(body.Request), "", body)
		}
		if err != nil {
			return d, err
		}
	}
	return d, d.Say(message.MatchingHousehold(c.Household), "", asked)
}

// requestsOf gives the request that a form asks for, or those of an organisation,
// whose ids follow from the first one's.
func requestsOf(c message.MakeRequest) []message.RequestMade {
	first := message.RequestMade{Request: c.Request, Household: c.Household, Link: c.Link, Boats: c.Boats}
	if !c.Separate || c.Boats == 1 {
		return []message.RequestMade{first}
	}
	first.Boats, first.Of, first.First = 1, c.Boats, c.Request
	list := make([]message.RequestMade, c.Boats)
	for i := range list {
		list[i] = first
		list[i].Number = i + 1
		if i > 0 {
			list[i].Request, list[i].Link = idAfter("request", c.Request, i), idAfter("link", c.Link, i)
		}
	}
	return list
}

// idAfter is the id of a further thing of a sort, the same whenever the order comes.
func idAfter(sort, first string, n int) string {
	return uuid.NewSHA1(uuid.NameSpaceOID, fmt.Appendf(nil, "refloat %s %s %d", sort, first, n)).String()
}

// restOnNew lets a decision rest on a request being new.
func (s *service) restOnNew(ctx context.Context, d *desk.Decision, id string) error {
	r, at, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(id))
	if err == nil && r.household != "" {
		err = desk.Conflict("request", "a request under this id stands in the book already")
	}
	d.Expect = append(d.Expect, at)
	return err
}

func (s *service) goodAsker(ctx context.Context, c message.MakeRequest, by desk.Caller) error {
	known, err := s.knows(ctx, c.Household)
	if err != nil {
		return err
	}
	taken, err := s.linkIsTaken(ctx, c.Link)
	if err == nil && taken {
		err = fault.Field("link", "this id is in use; make a new one")
	}
	return desk.First(err, goodAsker(c, by, known))
}

// firstOfHousehold lets a decision rest on the request being new and on the
// household having no other that stands.
func (s *service) firstOfHousehold(ctx context.Context, c message.MakeRequest) (desk.Decision, error) {
	var d desk.Decision
	if err := s.restOnNew(ctx, &d, c.Request); err != nil {
		return d, err
	}
	h, householdAt, err := desk.Load[household](ctx, s.Log, message.MatchingHousehold(c.Household))
	d.Expect = append(d.Expect, householdAt)
	for _, id := range h.requests {
		before, beforeAt, loadErr := desk.Load[request](ctx, s.Log, message.MatchingRequest(id))
		if loadErr == nil && before.ended == "" {
			loadErr = desk.Conflict("household", "this household has an open request already; change that one instead")
		}
		if loadErr != nil {
			return d, loadErr
		}
		d.Expect = append(d.Expect, beforeAt)
	}
	return d, err
}

// introduce seals what is told of a new household.
func (s *service) introduce(ctx context.Context, c message.MakeRequest) (*message.NewPerson, error) {
	if c.Details == nil {
		return nil, nil
	}
	details, err := tidyDetails(*c.Details)
	if err != nil {
		return nil, err
	}
	sealed, err := s.seal(ctx, c.Household, message.SealDetails, details)
	return &message.NewPerson{Person: c.Household, Sort: sortOf(c), Sealed: sealed, Consent: c.Consent}, err
}

func (s *service) seal(ctx context.Context, id people.ID, purpose string, plain any) (string, error) {
	sealed, err := s.Vault.Seal(ctx, string(id), purpose, plain)
	if errors.Is(err, vault.ErrErased) {
		err = fault.Field("household", "this household's data were erased; use a new id")
	}
	return string(sealed), err
}

// wish unseals a request's wish.
func (s *service) wish(ctx context.Context, r request) (message.Wish, error) {
	var w message.Wish
	err := s.Vault.Unseal(ctx, string(r.household), message.SealWish, vault.Sealed(r.sealed), &w)
	if errors.Is(err, vault.ErrErased) {
		err = desk.Unknown("request", "this household's data were erased")
	}
	return w, err
}

func (s *service) changeRequest(ctx context.Context, o desk.Order[message.ChangeRequest]) (desk.Decision, error) {
	c := o.Command
	if err := goodWish(c.Wish); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := s.standing(ctx, o.Caller, c.Request)
	if err != nil {
		return desk.Decision{}, err
	}
	was, err := s.wish(ctx, r)
	if err != nil || reflect.DeepEqual(was, c.Wish) {
		return desk.Decision{}, err
	}
	sealed, err := s.seal(ctx, r.household, message.SealWish, c.Wish)
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", message.RequestChanged{Request: c.Request, Sealed: sealed})
}

func (s *service) setTier(ctx context.Context, o desk.Order[message.SetTier]) (desk.Decision, error) {
	c := o.Command
	if err := goodTier(c); err != nil {
		return desk.Decision{}, err
	}
	_, at, err := s.standing(ctx, o.Caller, c.Request)
	if err == nil {
		err = s.notTheirOwn(ctx, o.Actor.Person, c.Request)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", message.TierSet{Request: c.Request, Tier: c.Tier, Why: c.Why})
}

// notTheirOwn keeps a member from deciding about their own household.
func (s *service) notTheirOwn(ctx context.Context, member people.ID, request string) error {
	theirs, err := s.takesPart(ctx, member, []string{request})
	if err == nil && theirs {
		err = fault.New(fault.Forbidden, "this is your own household's request; another member has to decide about it")
	}
	return err
}

func (s *service) endRequest(ctx context.Context, o desk.Order[message.EndRequest]) (desk.Decision, error) {
	c := o.Command
	if err := goodEnd(c, o.Caller); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := s.standing(ctx, o.Caller, c.Request)
	if err != nil {
		return desk.Decision{}, err
	}
	until, err := s.keepUntil(ctx, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.RequestEnded{Request: c.Request, How: c.How, KeepUntil: until}
	if said.Why, said.Sealed, err = s.reason(ctx, r.household, c.Why, c.How == withdrawn); err != nil {
		return desk.Decision{}, err
	}
	return s.end(ctx, r, at, said)
}

// reason gives why something ends: in clear when the club says so, sealed when
// the household does, who may be erased meanwhile.
func (s *service) reason(ctx context.Context, household people.ID, why string, theirs bool) (plain, sealed string, err error) {
	if !theirs || why == "" {
		return why, "", nil
	}
	words, err := s.Vault.Seal(ctx, string(household), message.SealWords, why)
	if errors.Is(err, vault.ErrErased) {
		return "", "", nil
	}
	return "", string(words), err
}

// keepUntil gives the day on which the data of a request that ends today go.
func (s *service) keepUntil(ctx context.Context, today clock.Date) (clock.Date, error) {
	days, err := s.SettingWhole(ctx, "request-kept-days")
	return today.AddDays(days), err
}

// end ends a request, and with it what it was offered or promised.
func (s *service) end(ctx context.Context, r request, at ledger.Expected, body message.RequestEnded) (desk.Decision, error) {
	d, err := desk.SayAt(at, "", body)
	for _, t := range r.ties {
		if err == nil {
			err = s.letGo(ctx, &d, t, "the request has ended")
		}
	}
	return d, err
}

// letGo ends the offer or promise of one boat, unless the household has the boat.
func (s *service) letGo(ctx context.Context, d *desk.Decision, t tie, why string) error {
	p, at, err := desk.Load[promises](ctx, s.Log, message.MatchingBoat(t.boat))
	if err != nil {
		return err
	}
	d.Expect = append(d.Expect, at)
	if o := p.find(t.offer); o != nil && o.stands() && !p.handedOver {
		return d.Say(at.Stream, t.boat, o.over(why))
	}
	return nil
}

// over is what is said when an offer or the promise that it became comes to
// nothing.
func (o *offer) over(why string) message.Body {
	if o.answer == accepted {
		return message.PromiseEnded{Offer: o.Offer, Boat: o.Boat, Request: o.Request, Why: why}
	}
	return message.OfferAnswered{Offer: o.Offer, Boat: o.Boat, Request: o.Request, Answer: withdrawn, Why: why}
}

func (s *service) readWish(ctx context.Context, by desk.Caller, q message.ReadWish) (message.Wish, error) {
	r, err := s.request(ctx, by, q.Request)
	if err != nil {
		return message.Wish{}, err
	}
	return s.wish(ctx, r)
}

// request loads a request, ended or not, for somebody who may see it.
func (s *service) request(ctx context.Context, by desk.Caller, id string) (request, error) {
	if err := desk.First(desk.GoodID("request", id), ownOnly(by, id)); err != nil {
		return request{}, err
	}
	r, _, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(id))
	if err == nil && r.household == "" {
		err = desk.Unknown("request", "the club's book has no request under this id")
	}
	return r, err
}

// book loads what a boat is promised to.
func (s *service) book(ctx context.Context, id boat.ID) (promises, ledger.Expected, error) {
	if err := desk.GoodID("boat", id); err != nil {
		return promises{}, ledger.Expected{}, err
	}
	return desk.Load[promises](ctx, s.Log, message.MatchingBoat(id))
}
