package matching

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/settings"
)

// offerID is the same for the same round and boat and the number of times that the
// boat was offered in that round before, so that sending twice cannot make two
// offers.
func offerID(round string, id boat.ID, before int) string {
	text := "refloat offer " + round + " " + string(id)
	if before > 0 {
		text += fmt.Sprintf(" %d", before)
	}
	return uuid.NewSHA1(uuid.NameSpaceOID, []byte(text)).String()
}

// sendOffers sends the offers of a solution that were not sent by an earlier one,
// and takes back the open ones that the solution did not keep.
func (s *service) sendOffers(ctx context.Context, o desk.Order[message.SendOffers]) (desk.Decision, error) {
	r, at, err := s.round(ctx, o.Command.Round)
	if err != nil {
		return desk.Decision{}, err
	}
	return s.mail(ctx, desk.Decision{Expect: []ledger.Expected{at}}, at, r, o.Command, o.Now)
}

// mail adds the offers of a solution to a decision.
func (s *service) mail(ctx context.Context, d desk.Decision, at ledger.Expected, r round, c message.SendOffers, now time.Time) (desk.Decision, error) {
	days, err := s.offerDays(ctx, c.Days)
	if err == nil {
		err = r.maySend()
	}
	if err != nil {
		return desk.Decision{}, err
	}
	rules, err := s.club(ctx, now)
	if err != nil {
		return desk.Decision{}, err
	}
	f, err := s.fates(ctx, r)
	if err != nil {
		return desk.Decision{}, err
	}
	m := mailing{service: s, rules: rules, sent: message.OffersSent{Round: c.Round}, Decision: d}
	m.Expect = append(m.Expect, f.expect...)
	for _, open := range f.takenBack(r.solved.Pairs) {
		if err := m.takeBack(ctx, open); err != nil {
			return desk.Decision{}, err
		}
	}
	until := now.AddDate(0, 0, days)
	for _, pair := range r.solved.Pairs {
		if f.stands(couple(pair.Boat, pair.Request)) != "" {
			continue
		}
		if pair.With != "" {
			if err := m.offerBoth(ctx, r.solved.Pairs, pair, message.OfferMade{Round: c.Round, Until: until}); err != nil {
				return desk.Decision{}, err
			}
			continue
		}
		if err := m.offer(ctx, pair, message.OfferMade{Round: c.Round, Until: until}); err != nil {
			return desk.Decision{}, err
		}
	}
	if len(m.sent.Offers) == 0 && f.unanswered() == len(m.sent.TakenBack) {
		return desk.Decision{}, desk.Conflict("round", "none of the round's pairs stands any more; close the round and open a new one")
	}
	return m.Decision, m.Say(at.Stream, "", m.sent)
}

func (s *service) offerDays(ctx context.Context, days int) (int, error) {
	if days == 0 {
		return s.SettingWhole(ctx, "offer-days")
	}
	return days, desk.Within("days", days, 1, 90)
}

// mailing is the offers of one solution on their way into the book.
type mailing struct {
	*service
	desk.Decision
	rules club
	sent  message.OffersSent
}

// betterElsewhere is why the club takes an open offer back by itself.
const betterElsewhere = "after another household's answer the round as a whole is paired better without this offer"

// takeBack ends an open offer. Its request may be offered another boat at once.
func (m *mailing) takeBack(ctx context.Context, open *offer) error {
	_, requestAt, err := desk.Load[request](ctx, m.Log, message.MatchingRequest(open.Request))
	if err != nil {
		return err
	}
	m.Expect = append(m.Expect, requestAt)
	m.sent.TakenBack = append(m.sent.TakenBack, open.Offer)
	if err := m.Say(message.MatchingBoat(open.Boat), open.Boat, open.over(betterElsewhere)); err != nil {
		return err
	}
	return m.Say(requestAt.Stream, "", message.RequestFreed{Request: open.Request, Offer: open.Offer})
}

// offer adds one offer, unless the pair stands no more: the request ended or
// changed so that the boat does not fit, or the boat went elsewhere.
func (m *mailing) offer(ctx context.Context, pair message.RoundPair, offer message.OfferMade) error {
	p, boatAt, err := m.book(ctx, pair.Boat)
	if err != nil {
		return err
	}
	offer.Offer, offer.Boat, offer.Request, offer.Reasons = offerID(offer.Round, pair.Boat, p.madeIn(offer.Round)), pair.Boat, pair.Request, pair.Reasons
	r, requestAt, err := desk.Load[request](ctx, m.Log, message.MatchingRequest(pair.Request))
	if err != nil {
		return err
	}
	m.Expect = append(m.Expect, boatAt, requestAt)
	m.forget(&r, &p)
	stillFits, err := m.stillFits(ctx, p, r, pair)
	if err != nil || !stillFits {
		return err
	}
	offer.Household = r.household
	m.sent.Offers = append(m.sent.Offers, offer.Offer)
	if err := m.Say(boatAt.Stream, pair.Boat, offer); err != nil {
		return err
	}
	return m.Say(requestAt.Stream, "", message.RequestTied{Request: pair.Request, Offer: offer.Offer, Boat: pair.Boat})
}

// forget leaves out of a request and a boat what this mailing takes back.
func (m *mailing) forget(r *request, p *promises) {
	if slices.ContainsFunc(m.sent.TakenBack, r.tiedTo) {
		r.ties = nil
	}
	if o := p.standing(); o != nil && slices.Contains(m.sent.TakenBack, o.Offer) {
		o.answer = withdrawn
	}
}

// offerBoth adds the two offers of boats that a household takes together, when it
// comes to the one that speaks for both and both still stand.
func (m *mailing) offerBoth(ctx context.Context, pairs []message.RoundPair, one message.RoundPair, offer message.OfferMade) error {
	at := slices.IndexFunc(pairs, func(p message.RoundPair) bool { return p.Request == one.Request && p.Boat == one.With })
	if at < 0 || one.With < one.Boat {
		return nil
	}
	r, requestAt, err := desk.Load[request](ctx, m.Log, message.MatchingRequest(one.Request))
	if err != nil {
		return err
	}
	m.Expect = append(m.Expect, requestAt)
	both := [2]message.OfferMade{}
	free := r.ended == ""
	var crafts [2]craft
	for i, pair := range []message.RoundPair{one, pairs[at]} {
		p, boatAt, err := m.book(ctx, pair.Boat)
		if err != nil {
			return err
		}
		m.Expect = append(m.Expect, boatAt)
		m.forget(&r, &p)
		free = free && !p.handedOver && p.standing() == nil
		if crafts[i], err = m.boat(ctx, pair.Boat); err != nil {
			return err
		}
		crafts[i].promisedTo, crafts[i].held = "", p.held // the book has said so; the table may lag
		both[i] = offer
		both[i].Offer, both[i].Boat, both[i].Request, both[i].Household, both[i].Reasons = offerID(offer.Round, pair.Boat, p.madeIn(offer.Round)), pair.Boat, pair.Request, r.household, pair.Reasons
	}
	if !free || len(r.ties) > 0 {
		return nil
	}
	w, err := m.wish(ctx, r)
	if fault.Is(err, fault.Unknown) {
		return nil // erased meanwhile
	}
	if err != nil {
		return err
	}
	if _, stillFit := seat(crafts[0], crafts[1], ask{id: one.Request, wish: w}, m.rules, m.Clock.Now()); !stillFit {
		return nil
	}
	for i := range both {
		both[i].With, both[i].WithOffer = both[1-i].Boat, both[1-i].Offer
		m.sent.Offers = append(m.sent.Offers, both[i].Offer)
		if err := m.Say(message.MatchingBoat(both[i].Boat), both[i].Boat, both[i]); err != nil {
			return err
		}
	}
	return m.Say(requestAt.Stream, "", message.RequestTied{
		Request: one.Request, Offer: both[0].Offer, Boat: both[0].Boat, With: both[1].Boat, WithOffer: both[1].Offer,
	})
}

func (m *mailing) stillFits(ctx context.Context, p promises, r request, pair message.RoundPair) (bool, error) {
	if r.ended != "" || len(r.ties) > 0 || p.handedOver || p.standing() != nil {
		return false, nil
	}
	c, err := m.boat(ctx, pair.Boat)
	if err != nil {
		return false, err
	}
	c.promisedTo, c.held = "", p.held // the book has said so; the table may lag
	w, err := m.wish(ctx, r)
	if fault.Is(err, fault.Unknown) {
		return false, nil // erased meanwhile
	}
	verdicts := weigh(match{craft: c, ask: ask{id: pair.Request, wish: w}, club: m.rules})
	return len(against(verdicts)) == 0, err
}

func (s *service) answerOffer(ctx context.Context, o desk.Order[message.AnswerOffer]) (desk.Decision, error) {
	c := o.Command
	p, at, err := s.book(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	if found := p.find(c.Offer); found != nil {
		err = ownOnly(o.Caller, found.Request)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	open, err := p.open(c.Offer)
	if err == nil {
		err = open.mayAnswer(c, o.Caller, o.Now)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return s.endOffer(ctx, open, at, c)
}

// endOffer ends an open offer, and with it that of a boat that is offered together
// with it. A request whose offer was not accepted may take
// part in rounds again.
func (s *service) endOffer(ctx context.Context, open *offer, at ledger.Expected, c message.AnswerOffer) (desk.Decision, error) {
	_, requestAt, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(open.Request))
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.OfferAnswered{Offer: c.Offer, Boat: c.Boat, Request: open.Request, Answer: c.Answer}
	said.Why, said.Sealed, err = s.reason(ctx, open.Household, c.Why, c.Answer == accepted || c.Answer == declined)
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: []ledger.Expected{at, requestAt}}
	if err = d.Say(at.Stream, c.Boat, said); err == nil && open.With != "" {
		other, otherAt, loadErr := s.book(ctx, open.With)
		if loadErr != nil {
			return d, loadErr
		}
		d.Expect = append(d.Expect, otherAt)
		if o := other.find(open.WithOffer); o != nil && o.answer == "" {
			said.Offer, said.Boat = o.Offer, o.Boat
			err = d.Say(otherAt.Stream, o.Boat, said)
		}
	}
	if err != nil {
		return d, err
	}
	if c.Answer == accepted {
		return d, s.closeOne(ctx, &d, open.Round)
	}
	return d, d.Say(requestAt.Stream, "", message.RequestFreed{Request: open.Request, Offer: c.Offer})
}

// lapse ends the offers that nobody answered in time.
func (s *service) lapse(ctx context.Context) error {
	overdue, err := s.overdue(ctx, s.Clock.Now())
	if err != nil {
		return err
	}
	for _, c := range overdue {
		// A conflict means that somebody answered at the last moment.
		if err := s.lapseOne(ctx, c); err != nil && !fault.Is(err, fault.Conflict) {
			return err
		}
	}
	return nil
}

func (s *service) lapseOne(ctx context.Context, c message.AnswerOffer) error {
	p, at, err := s.book(ctx, c.Boat)
	if err != nil {
		return err
	}
	open, err := p.open(c.Offer)
	if err != nil {
		return err
	}
	d, err := s.endOffer(ctx, open, at, c)
	if err != nil {
		return err
	}
	key := Name + "/lapse/" + c.Offer
	_, err = s.Log.Append(ctx, ledger.Append{
		Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: people.Service(Name).String(), Expect: d.Expect, Events: d.Events,
	})
	return err
}

func (s *service) handOver(ctx context.Context, o desk.Order[message.HandOver]) (desk.Decision, error) {
	c := o.Command
	release, set, releaseAt, err := s.releaseOn(ctx, c.On)
	if err == nil {
		err = desk.First(desk.GoodID("boat", c.Boat), goodHandOver(c, o.Today(), release))
	}
	if err != nil {
		return desk.Decision{}, err
	}
	h, err := s.handing(ctx, c.Boat)
	if err == nil {
		err = desk.First(h.craft.mayGo(c.On), h.craft.jacketsGood(), allTicked(c.Checks, checkLines(h.craft)))
	}
	if err != nil {
		return desk.Decision{}, err
	}
	ended, err := s.keepUntil(ctx, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	d := desk.Decision{Expect: append(h.expect, releaseAt)}
	said := message.BoatHandedOver{
		Boat: c.Boat, Request: h.promise.Request, Household: h.request.household, On: c.On, Checks: checkLines(h.craft),
		Release: c.Release, SignedBy: h.signedBy(),
	}
	if set != nil {
		said.ReleaseSHA256 = set.SHA256
	}
	if err = d.Say(message.MatchingBoat(c.Boat), c.Boat, said); err != nil {
		return d, err
	}
	if h.promise.With != "" {
		other, otherAt, err := s.book(ctx, h.promise.With)
		if err != nil {
			return d, err
		}
		d.Expect = append(d.Expect, otherAt)
		if o := other.find(h.promise.WithOffer); o != nil && o.stands() && !other.handedOver {
			return d, nil // the request is met with the second boat
		}
	}
	if h.request.got+1 < h.request.boats {
		return d, d.Say(message.MatchingRequest(h.promise.Request), "", message.RequestFreed{Request: h.promise.Request, Offer: h.promise.Offer, Placed: true})
	}
	return d, d.Say(message.MatchingRequest(h.promise.Request), "", message.RequestEnded{Request: h.promise.Request, How: placed, KeepUntil: ended})
}

// handing is a boat on its way to the household that accepted it.
type handing struct {
	craft   craft
	promise *offer
	request request
	// guardian says that the household is one by the book, whose first request may
	// have been an earlier one.
	guardian bool
	expect   []ledger.Expected
}

func (s *service) handing(ctx context.Context, id boat.ID) (handing, error) {
	var h handing
	var err error
	if h.craft, err = s.boat(ctx, id); err != nil {
		return h, err
	}
	p, at, err := s.book(ctx, id)
	if err != nil {
		return h, err
	}
	if h.promise, err = p.promise(); err != nil {
		return h, err
	}
	r, requestAt, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(h.promise.Request))
	if err != nil {
		return h, err
	}
	h.request, h.expect = r, []ledger.Expected{at, requestAt}
	h.guardian, err = s.isGuardian(ctx, r.household)
	return h, err
}

// club gives what the settings and the day add to a fit.
func (s *service) club(ctx context.Context, now time.Time) (club, error) {
	percent, err := s.SettingWhole(ctx, "load-percent")
	if err != nil {
		return club{}, err
	}
	gear, err := s.SettingWhole(ctx, "gear-kg")
	if err != nil {
		return club{}, err
	}
	fitting, err := s.Setting(ctx, "fitting-hours")
	if err != nil {
		return club{}, err
	}
	stock, err := s.Setting(ctx, "jackets")
	return club{
		loadPercent: percent, gearG: gear * 1000, today: clock.DateOf(now),
		fitting: settings.FittingMinutes(fitting), jackets: settings.Jackets(stock),
	}, err
}
