package matching

import (
	"context"
	"errors"
	"slices"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

func (s *service) agreeFetching(ctx context.Context, o desk.Order[message.AgreeFetching]) (desk.Decision, error) {
	c := o.Command
	if err := goodFetching(c, o.Today()); err != nil {
		return desk.Decision{}, err
	}
	p, at, err := s.book(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	promised, err := p.promise()
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, message.FetchingAgreed{Boat: c.Boat, Request: promised.Request, On: c.On, At: c.At, How: c.How})
}

func goodFetching(c message.AgreeFetching, today clock.Date) error {
	switch _, err := time.Parse("15:04", c.At); {
	case c.On.IsZero():
		return fault.Field("on", "state the day")
	case c.On.Before(today):
		return fault.Field("on", "lies in the past")
	case err != nil || len(c.At) != len("15:04"):
		return fault.Field("at", "write the time like 10:30")
	}
	return boat.Known("how", c.How, message.Fetchings)
}

// placedBoat loads a boat that a household has, for somebody who may see it.
func (s *service) placedBoat(ctx context.Context, by desk.Caller, id boat.ID) (after, ledger.Expected, error) {
	p, at, err := s.book(ctx, id)
	switch {
	case err != nil:
	case !p.handedOver:
		err = desk.Conflict("boat", "this boat was not handed over to a household")
	case p.after.back != "":
		err = desk.Conflict("boat", "the household does not have this boat any more: %s", p.after.back)
	default:
		err = ownOnly(by, p.after.request)
	}
	return p.after, at, err
}

// pastDay checks a day on or after the hand-over that is not in the future.
func (a after) pastDay(on, today clock.Date) error {
	switch {
	case on.IsZero():
		return fault.Field("on", "state the day")
	case on.After(today):
		return fault.Field("on", "lies in the future")
	case on.Before(a.on):
		return fault.Field("on", "lies before the hand-over on %s", a.on)
	}
	return nil
}

func (s *service) noteFollowUp(ctx context.Context, o desk.Order[message.NoteFollowUp]) (desk.Decision, error) {
	c := o.Command
	a, at, err := s.placedBoat(ctx, o.Caller, c.Boat)
	if err == nil {
		err = desk.First(a.pastDay(c.On, o.Today()), a.mayNote(c), text("words", c.Words, desk.MaxWords))
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.FollowUpNoted{Boat: c.Boat, Request: a.request, Days: c.Days, On: c.On, Fares: c.Fares}
	if _, said.Sealed, err = s.reason(ctx, a.household, c.Words, true); err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, said)
}

// followUpGrace is by how many days a household may be asked early. The club's own
// rule.
const followUpGrace = 7

func (a after) mayNote(c message.NoteFollowUp) error {
	switch {
	case !slices.Contains(message.FollowUps, c.Days):
		return fault.Field("days", "the club asks after 30 and after 180 days; choose one of them")
	case slices.Contains(a.asked, c.Days):
		return desk.Conflict("days", "how it goes after %d days is written down already", c.Days)
	}
	if err := boat.Known("fares", c.Fares, message.Fares); err != nil {
		return err
	}
	if from := a.on.AddDays(c.Days - followUpGrace); c.On.Before(from) {
		return fault.Field("on", "how it goes after %d days is written down from %s on; until then report what goes wrong as an incident", c.Days, from)
	}
	return nil
}

func (s *service) noteComeback(ctx context.Context, o desk.Order[message.NoteComeback]) (desk.Decision, error) {
	c := o.Command
	a, at, err := s.placedBoat(ctx, o.Caller, c.Boat)
	if err == nil {
		err = desk.First(a.pastDay(c.On, o.Today()), boat.Known("where", c.Where, message.Comebacks), text("words", c.Words, desk.MaxWords))
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.BoatReturned{Boat: c.Boat, Request: a.request, On: c.On, Where: c.Where}
	if _, said.Sealed, err = s.reason(ctx, a.household, c.Words, true); err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, said)
}

func (s *service) stopUse(ctx context.Context, o desk.Order[message.StopUse]) (desk.Decision, error) {
	c := o.Command
	a, at, err := s.placedBoat(ctx, o.Caller, c.Boat)
	if err == nil {
		err = desk.First(needed("why", c.Why, "say what is wrong with the boat"), needed("what", c.What, "say what the household is to do"))
	}
	if err == nil {
		err = s.canBeReached(ctx, a.household)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, message.UseStopped{Boat: c.Boat, Request: a.request, Why: c.Why, What: c.What})
}

// canBeReached refuses to say that an erased household was told something.
func (s *service) canBeReached(ctx context.Context, household people.ID) error {
	_, err := s.Vault.Seal(ctx, string(household), message.SealWords, "")
	if errors.Is(err, vault.ErrErased) {
		return desk.Conflict("boat", "this household's data were erased, so that the club cannot reach it: nobody would be told; if a member knows who has the boat, tell them in person")
	}
	return err
}

func (s *service) reportIncident(ctx context.Context, o desk.Order[message.ReportIncident]) (desk.Decision, error) {
	c := o.Command
	a, at, err := s.placedBoat(ctx, o.Caller, c.Boat)
	if err == nil {
		err = desk.First(
			desk.GoodID("incident", c.Incident), a.pastDay(c.On, o.Today()), boat.Known("harm", c.Harm, message.Harms),
			needed("words", c.Words, "say what happened"),
		)
	}
	if err == nil {
		err = a.mayReport(c.Incident)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.IncidentReported{Boat: c.Boat, Request: a.request, Incident: c.Incident, On: c.On, Harm: c.Harm}
	if _, said.Sealed, err = s.reason(ctx, a.household, c.Words, true); err == nil && said.Sealed == "" {
		err = desk.Conflict("words", "this household's data were erased, so that nothing more is kept about it; write down with the boat what is wrong with it, and nothing about people")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, said)
}

// maxIncidents is how many reports of a boat the book takes, which anybody with the
// household's link can send.
const maxIncidents = 50

func (a after) mayReport(incident string) error {
	switch {
	case slices.Contains(a.incidents, incident):
		return desk.Conflict("incident", "this report is in the book already")
	case len(a.incidents) >= maxIncidents:
		return desk.Conflict("boat", "the book takes at most %d incidents of a boat, and they are reported; tell the club by telephone", maxIncidents)
	}
	return nil
}

func (s *service) makeAppeal(ctx context.Context, o desk.Order[message.MakeAppeal]) (desk.Decision, error) {
	c := o.Command
	if err := desk.First(desk.GoodID("request", c.Request), desk.GoodID("appeal", c.Appeal), needed("words", c.Words, "say what should be looked at again"), ownOnly(o.Caller, c.Request)); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(c.Request))
	switch {
	case err != nil:
	case r.household == "":
		err = desk.Unknown("request", "the club's book has no request under this id")
	case slices.ContainsFunc(r.appeals, func(a appeal) bool { return !a.decided || a.id == c.Appeal }):
		err = desk.Conflict("appeal", "an appeal of this request waits for its answer already")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.AppealMade{Request: c.Request, Appeal: c.Appeal}
	if _, said.Sealed, err = s.reason(ctx, r.household, c.Words, true); err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", said)
}

func (s *service) decideAppeal(ctx context.Context, o desk.Order[message.DecideAppeal]) (desk.Decision, error) {
	c := o.Command
	if err := desk.First(desk.GoodID("request", c.Request), needed("why", c.Why, "say why; the household reads it")); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := desk.Load[request](ctx, s.Log, message.MatchingRequest(c.Request))
	if err == nil && !slices.Contains(r.appeals, appeal{id: c.Appeal}) {
		err = desk.Unknown("appeal", "no appeal of this request under this id waits for an answer")
	}
	if err == nil {
		err = s.mayDecide(ctx, o.Actor, c.Request, r)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", message.AppealDecided{Request: c.Request, Appeal: c.Appeal, Upheld: c.Upheld, Why: c.Why})
}

// mayDecide wants a member who decided nothing of what is appealed and whose own
// household it is not.
func (s *service) mayDecide(ctx context.Context, by people.Actor, id string, r request) error {
	round, err := s.lastRound(ctx, id)
	switch {
	case err != nil:
		return err
	case by.Person == "":
		return fault.New(fault.Forbidden, "a member has to decide the appeal, under their own name")
	case slices.Contains(r.deciders, by.String()) || slices.Contains(round.deciders, by.Person) || round.ruledBy(by):
		return fault.New(fault.Forbidden, "you decided what is appealed; another member has to look at it. Where all who may decide took part, an administrator can give somebody from outside the club the role of coordinator for this one decision")
	}
	return s.notTheirOwn(ctx, by.Person, id)
}

// lastRound gives the last round that told of a request, or the zero one.
func (s *service) lastRound(ctx context.Context, request string) (round, error) {
	id, err := s.solvedIn(ctx, request)
	if err != nil || id == "" {
		return round{}, err
	}
	r, _, err := desk.Load[round](ctx, s.Log, message.MatchingRound(id))
	return r, err
}
