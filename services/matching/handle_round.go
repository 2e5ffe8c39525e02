package matching

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
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

// round loads a round that was opened and is not closed.
func (s *service) round(ctx context.Context, id string) (round, ledger.Expected, error) {
	if err := desk.GoodID("round", id); err != nil {
		return round{}, ledger.Expected{}, err
	}
	r, at, err := desk.Load[round](ctx, s.Log, message.MatchingRound(id))
	if err == nil {
		err = r.mustStand()
	}
	return r, at, err
}

func (s *service) openRound(ctx context.Context, o desk.Order[message.OpenRound]) (desk.Decision, error) {
	c := o.Command
	if err := goodRound(c); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := desk.Load[round](ctx, s.Log, message.MatchingRound(c.Round))
	if err == nil && r.opened != nil {
		err = desk.Conflict("round", "a round under this id was opened already")
	}
	if err == nil {
		err = r.mustHaveSecrets()
	}
	if err != nil {
		return desk.Decision{}, err
	}
	body, err := s.freeze(ctx, c, o.Today())
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, "", body)
}

// freeze fixes who and what takes part in a round.
func (s *service) freeze(ctx context.Context, c message.OpenRound, today clock.Date) (message.RoundOpened, error) {
	boats, err := s.chooseBoats(ctx, c.Boats, today)
	if err != nil {
		return message.RoundOpened{}, err
	}
	requests, err := s.chooseRequests(ctx, c.Requests)
	if err != nil {
		return message.RoundOpened{}, err
	}
	body, err := opened(c.Round, boats, requests)
	if err == nil {
		body.Priorities, err = s.priorities(ctx)
	}
	return body, err
}

// priorities gives the club's written priorities, tier 1 first.
func (s *service) priorities(ctx context.Context) ([]string, error) {
	text, err := s.Setting(ctx, "priorities")
	var list []string
	for part := range strings.SplitSeq(text, ";") {
		list = append(list, strings.TrimSpace(part))
	}
	return list, err
}

// chooseBoats gives the boats named, all of which must be free, or all free
// ones.
func (s *service) chooseBoats(ctx context.Context, named []boat.ID, today clock.Date) ([]boat.ID, error) {
	rows, err := s.present(ctx)
	if len(named) > 0 && err == nil {
		rows, err = s.boatsNamed(ctx, named)
	}
	if err != nil {
		return nil, err
	}
	why := map[boat.ID]error{}
	var free []boat.ID
	for _, b := range rows {
		if why[b.id] = b.mayTakePart(today); why[b.id] == nil {
			free = append(free, b.id)
		}
	}
	if len(named) == 0 && len(free) == 0 {
		return nil, desk.Conflict("boats", "no boat is free: ready, dry, promised to nobody and in no other round")
	}
	return free, each("boats", named, func(field string, id boat.ID) error { return refusal(field, id, why) })
}

// chooseRequests is chooseBoats for requests.
func (s *service) chooseRequests(ctx context.Context, named []string) ([]message.RoundRequest, error) {
	where, args := `WHERE ended = ''`, []any(nil)
	if len(named) > 0 {
		where, args = `WHERE request = ANY ($1)`, []any{named}
	}
	rows, err := s.requests(ctx, where, args...)
	if err != nil {
		return nil, err
	}
	why := map[string]error{}
	var free []message.RoundRequest
	for _, r := range rows {
		if why[r.id] = r.mayTakePart(); why[r.id] == nil {
			free = append(free, message.RoundRequest{Request: r.id, Version: r.version, Tier: r.tier})
		}
	}
	if len(named) == 0 && len(free) == 0 {
		return nil, desk.Conflict("requests", "no request is open without an offer and outside another round")
	}
	return free, each("requests", named, func(field string, id string) error { return refusal(field, id, why) })
}

// refusal names the field of what was chosen and cannot take part.
func refusal[ID comparable](field string, id ID, why map[ID]error) error {
	err, known := why[id]
	if !known {
		return desk.Unknown(field, "the club's book has nothing under this id")
	}
	if f := fault.Of(err); f != nil {
		f.Field = field
		return f
	}
	return nil
}

func (s *service) solveRound(ctx context.Context, o desk.Order[message.SolveRound]) (desk.Decision, error) {
	r, at, err := s.round(ctx, o.Command.Round)
	if err == nil {
		err = r.maySolve()
	}
	if err != nil {
		return desk.Decision{}, err
	}
	body, f, err := s.pairUp(ctx, o.Command.Round, r, o.Actor.Person, o.Now)
	if err != nil {
		return desk.Decision{}, err
	}
	decision, err := desk.SayAt(at, "", body)
	decision.Expect = append(decision.Expect, f.expect...)
	if err != nil {
		err = fault.Because(fault.Invalid, err, "the round is too large to be written down as one; close it and open rounds with fewer boats")
	}
	return decision, err
}

// pairUp computes the solution of a round, and gives what it rests on of its offers.
func (s *service) pairUp(ctx context.Context, id string, r round, by people.ID, now time.Time) (message.RoundSolved, fates, error) {
	d, err := s.draw(ctx, id, r, now)
	if err == nil && r.everSent {
		err = d.fates.mayGoOn()
	}
	if err != nil {
		return message.RoundSolved{}, d.fates, err
	}
	result, err := d.solve()
	if err != nil {
		return message.RoundSolved{}, d.fates, err
	}
	body, err := s.sealed(ctx, result, d.asks)
	body.SolvedBy = by
	return body, d.fates, err
}

// draw gathers what the solution of a round depends on.
func (s *service) draw(ctx context.Context, id string, r round, now time.Time) (d draw, err error) {
	d = draw{round: id, seed: r.opened.Seed, now: now, rulings: r.rulings}
	if len(r.secrets) > 0 {
		if d.secrets, err = s.reveal(ctx, id, r); err != nil {
			return d, err
		}
		d.seed = seedOf(d.secrets, id, r.opened.ListHash)
	}
	if d.club, err = s.club(ctx, now); err != nil {
		return d, err
	}
	if d.crafts, err = s.crafts(ctx, r.opened.Boats); err != nil {
		return d, err
	}
	if d.asks, err = s.frozen(ctx, r.opened.Requests); err != nil || !r.everSent {
		return d, err
	}
	return d, s.goOn(ctx, &d, r)
}

// goOn lets a draw rest on what became of the offers that were sent.
func (s *service) goOn(ctx context.Context, d *draw, r round) error {
	var err error
	if d.fates, err = s.fates(ctx, r); err != nil {
		return err
	}
	ended, err := s.goneRequests(ctx, r)
	d.fates.free(d.crafts)
	d.asks, d.earlier = d.fates.without(d.asks, ended), r.solved
	return err
}

// crafts gives the boats of a round as they are now, in the round's order.
func (s *service) crafts(ctx context.Context, ids []boat.ID) ([]craft, error) {
	rows, err := s.boatsNamed(ctx, ids)
	crafts := make([]craft, len(rows))
	for i, row := range rows {
		crafts[i] = row.craft
	}
	slices.SortFunc(crafts, func(a, b craft) int { return compare(string(a.id), string(b.id)) })
	return crafts, err
}

// frozen gives the requests of a round as they stood when it was opened.
func (s *service) frozen(ctx context.Context, list []message.RoundRequest) ([]ask, error) {
	asks := make([]ask, len(list))
	for i, f := range list {
		r, err := s.requestAt(ctx, f)
		if err != nil {
			return nil, err
		}
		asks[i] = ask{id: f.Request, household: r.household, tier: f.Tier, made: r.made}
		asks[i].wish, err = s.wish(ctx, r)
		if asks[i].erased = fault.Is(err, fault.Unknown); err != nil && !asks[i].erased {
			return nil, err
		}
	}
	return asks, nil
}

// requestAt folds a request up to the version that a round froze.
func (s *service) requestAt(ctx context.Context, f message.RoundRequest) (request, error) {
	var r request
	events, err := s.Log.Stream(ctx, message.MatchingRequest(f.Request))
	if err != nil {
		return r, err
	}
	for _, e := range events[:min(int64(len(events)), f.Version)] {
		body, err := message.Decode(e)
		if err != nil {
			return r, err
		}
		r.Fold(e, body)
	}
	return r, nil
}

// sealed puts the reasons that hold a household's numbers under its key.
func (s *service) sealed(ctx context.Context, result solution, asks []ask) (message.RoundSolved, error) {
	body := result.RoundSolved
	households := map[string]ask{}
	for _, a := range asks {
		households[a.id] = a
	}
	seal := func(request, reasons string) (string, error) {
		a := households[request]
		if a.erased {
			return "", nil
		}
		sealed, err := s.Vault.Seal(ctx, string(a.household), message.SealReasons, result.reasons[reasons])
		if errors.Is(err, vault.ErrErased) {
			return "", nil
		}
		return string(sealed), err
	}
	var err error
	for i := range body.Pairs {
		if p := body.Pairs[i]; p.Stands == message.PairAccepted || p.Stands != "" && p.With != "" {
			continue // as it was sealed before
		}
		if body.Pairs[i].Sealed, err = seal(body.Pairs[i].Request, reasonsOf(body.Pairs[i])); err != nil {
			return body, err
		}
	}
	for i := range body.Unserved {
		if body.Unserved[i].Sealed, err = seal(body.Unserved[i].Request, body.Unserved[i].Request); err != nil {
			return body, err
		}
	}
	return body, nil
}

func (s *service) approveRound(ctx context.Context, o desk.Order[message.ApproveRound]) (desk.Decision, error) {
	r, at, err := s.round(ctx, o.Command.Round)
	if err == nil {
		err = r.mayApprove(o.Actor)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	theirs, err := s.takesPart(ctx, o.Actor.Person, r.requestIDs())
	if err == nil && theirs {
		err = fault.New(fault.Forbidden, "your own household takes part in this round; another member has to approve it")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.RoundApproved{Round: o.Command.Round, By: o.Actor.Person}
	d, err := desk.SayAt(at, "", said)
	if err != nil || !o.Command.Send {
		return d, err
	}
	if !isCoordinator(o.Caller) {
		return d, fault.New(fault.Forbidden, "a coordinator sends the offers; approve the pairing alone")
	}
	r.Fold(message.Event{}, said)
	return s.mail(ctx, d, at, r, message.SendOffers{Round: o.Command.Round}, o.Now)
}

func (s *service) closeRound(ctx context.Context, o desk.Order[message.CloseRound]) (desk.Decision, error) {
	c := o.Command
	if err := needed("why", c.Why, "say why the round is closed"); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := s.round(ctx, c.Round)
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := desk.SayAt(at, "", message.RoundClosed{Round: c.Round, Why: c.Why})
	if err != nil || r.solved == nil {
		return d, err
	}
	f, err := s.fates(ctx, r)
	d.Expect = append(d.Expect, f.expect...)
	if open := f.unanswered(); err == nil && open > 0 {
		return d, desk.Conflict("round", "%s of this round not answered yet; wait for the answers or withdraw them first", plural(open, "offer is", "offers are"))
	}
	return d, err
}

func (r *round) requestIDs() []string {
	ids := make([]string, len(r.opened.Requests))
	for i, q := range r.opened.Requests {
		ids[i] = q.Request
	}
	return ids
}

// goodRound checks the lists of a round that is to be opened.
func goodRound(c message.OpenRound) error {
	return desk.First(
		desk.GoodID("round", c.Round),
		each("boats", c.Boats, desk.GoodID[boat.ID]),
		once("boats", c.Boats),
		each("requests", c.Requests, desk.GoodID[string]),
		once("requests", c.Requests),
	)
}

// opened freezes a round. The hash stands for exactly these boats and requests,
// whatever order they were named in.
func opened(id string, boats []boat.ID, requests []message.RoundRequest) (message.RoundOpened, error) {
	slices.Sort(boats)
	slices.SortFunc(requests, func(a, b message.RoundRequest) int { return compare(a.Request, b.Request) })
	hash, err := listHash(boats, requests)
	if err != nil {
		return message.RoundOpened{}, fmt.Errorf("freezing round %s: %w", id, err)
	}
	return message.RoundOpened{Round: id, Boats: boats, Requests: requests, ListHash: hash}, nil
}
