package matching

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// project keeps the room's tables.
func (s *service) project(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	for _, part := range []func(desk.Executor, message.Event, message.Body) error{projectBoat, projectErased, projectRequest, projectRound} {
		if err := part(exec, e, body); err != nil {
			return err
		}
	}
	return s.projectPeople(ctx, exec, body)
}

// projectBoat keeps what other rooms say of boats.
func projectBoat(exec desk.Executor, _ message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.BoatLogged:
		return exec(`INSERT INTO matching.boat (boat, name, facts) VALUES ($1, $2, $3) ON CONFLICT (boat) DO NOTHING`, b.Boat, b.Name, b.Facts)
	case message.FactsCorrected:
		return exec(`UPDATE matching.boat SET facts = $2 WHERE boat = $1`, b.Boat, b.Facts)
	case message.QuarantineSet:
		return exec(`UPDATE matching.boat SET last_water = $2, quarantine_until = $3 WHERE boat = $1`, b.Boat, b.LastWater, b.Until.Time())
	case message.BoatReady:
		lines := b.Disclosure
		if lines == nil {
			lines = []message.DisclosedFinding{}
		}
		return exec(`UPDATE matching.boat SET ready = true, disclosure = $2 WHERE boat = $1`, b.Boat, lines)
	case message.JacketChecked:
		return keepBadJacket(exec, b.Boat, b.Jacket, !b.Serviceable())
	case message.JacketGone:
		return keepBadJacket(exec, b.Boat, b.Jacket, false)
	case message.TestWaived:
		return exec(`UPDATE matching.boat SET waived = waived || $2::text WHERE boat = $1`, b.Boat, fmt.Sprintf("%s: %s", b.What, b.Why))
	case message.FindingReopened:
		return unready(exec, b.Boat)
	case message.TestRecorded:
		if !b.Passed {
			return unready(exec, b.Boat)
		}
	case message.DefectFound:
		if b.Severity == boat.MendBefore || b.Severity == boat.DoNotUse {
			return unready(exec, b.Boat)
		}
	case message.BoatDeclined:
		return leave(exec, b.Boat, "declined")
	case message.BoatRetired:
		return leave(exec, b.Boat, "retired")
	case message.BoatSold:
		return leave(exec, b.Boat, "sold")
	case message.SaleTakenBack: // no round sees it before it is kept back: see react
		return exec(`UPDATE matching.boat SET gone = '', held = CASE held WHEN '' THEN $2 ELSE held END WHERE boat = $1`, b.Boat, broughtBack)
	case message.BoatHandedOver:
		return leave(exec, b.Boat, "handed over")
	case message.BoatKeptBack:
		return exec(`UPDATE matching.boat SET held = $2 WHERE boat = $1`, b.Boat, b.Why)
	case message.BoatLetOut:
		return exec(`UPDATE matching.boat SET held = '' WHERE boat = $1`, b.Boat)
	}
	return nil
}

// unready: what was found after the workshop had declared the boat ready counts.
func unready(exec desk.Executor, id boat.ID) error {
	return exec(`UPDATE matching.boat SET ready = false WHERE boat = $1`, id)
}

func leave(exec desk.Executor, id boat.ID, how string) error {
	return exec(`UPDATE matching.boat SET gone = $2, offer = '', promised_to = '' WHERE boat = $1`, id, how)
}

// projectRequest keeps requests and offers.
func projectRequest(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.RequestMade:
		return exec(`INSERT INTO matching.request (request, household, sealed, boats, tier, made_at, version) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			b.Request, b.Household, b.Sealed, b.Boats, ordinaryTier, e.HappenedAt, e.Version)
	case message.RequestChanged:
		return exec(`UPDATE matching.request SET sealed = $2, version = $3 WHERE request = $1`, b.Request, b.Sealed, e.Version)
	case message.TierSet:
		return exec(`UPDATE matching.request SET tier = $2, version = $3 WHERE request = $1`, b.Request, b.Tier, e.Version)
	case message.RequestTied:
		return exec(`UPDATE matching.request SET offer = $2, version = $3 WHERE request = $1`, b.Request, b.Offer, e.Version)
	case message.RequestFreed:
		return exec(`UPDATE matching.request SET offer = '', version = $2 WHERE request = $1`, b.Request, e.Version)
	case message.RequestEnded:
		return exec(`UPDATE matching.request SET ended = $2, offer = '', version = $3, ended_at = $4 WHERE request = $1`, b.Request, b.How, e.Version, e.HappenedAt)
	}
	return projectOffer(exec, body)
}

func projectOffer(exec desk.Executor, body message.Body) error {
	switch b := body.(type) {
	case message.OfferMade:
		err := exec(`INSERT INTO matching.offer (offer, round, boat, request, until) VALUES ($1, $2, $3, $4, $5)`, b.Offer, b.Round, b.Boat, b.Request, b.Until)
		if err != nil {
			return err
		}
		return exec(`UPDATE matching.boat SET offer = $2, promised_to = $3 WHERE boat = $1`, b.Boat, b.Offer, b.Request)
	case message.OfferAnswered:
		if err := exec(`UPDATE matching.offer SET answer = $2 WHERE offer = $1`, b.Offer, b.Answer); err != nil || b.Answer == accepted {
			return err
		}
		return freeBoat(exec, b.Offer)
	case message.PromiseEnded:
		return freeBoat(exec, b.Offer)
	}
	return nil
}

func freeBoat(exec desk.Executor, offer string) error {
	return exec(`UPDATE matching.boat SET offer = '', promised_to = '' WHERE offer = $1`, offer)
}

// projectRound keeps rounds and, sealed, what came of them for each request.
func projectRound(exec desk.Executor, _ message.Event, body message.Body) error {
	stage := func(round, stage string) error {
		return exec(`UPDATE matching.round SET stage = $2 WHERE round = $1`, round, stage)
	}
	switch b := body.(type) {
	case message.SecretCommitted:
		if b.Boat == "" {
			return nil
		}
		return exec(`INSERT INTO matching.one_boat (round) VALUES ($1) ON CONFLICT DO NOTHING`, b.Round)
	case message.RoundOpened:
		requests := make([]string, len(b.Requests))
		for i, r := range b.Requests {
			requests[i] = r.Request
		}
		return exec(`INSERT INTO matching.round (round, stage, boats, requests) VALUES ($1, 'opened', $2, $3)`, b.Round, b.Boats, requests)
	case message.RoundSolved:
		if err := projectReasons(exec, b); err != nil {
			return err
		}
		if err := projectRefusals(exec, b); err != nil {
			return err
		}
		return stage(b.Round, "solved")
	case message.RoundApproved:
		if err := exec(`UPDATE matching.request SET reasons = draft WHERE solved_in = $1`, b.Round); err != nil {
			return err
		}
		return stage(b.Round, "approved")
	case message.OffersSent:
		return stage(b.Round, "sent")
	case message.RoundClosed:
		return stage(b.Round, "closed")
	}
	return nil
}

func projectReasons(exec desk.Executor, b message.RoundSolved) error {
	const draft = `UPDATE matching.request SET solved_in = $2, draft = $3 WHERE request = $1 AND sealed <> ''`
	for _, p := range b.Pairs {
		if err := exec(draft, p.Request, b.Round, p.Sealed); err != nil {
			return err
		}
	}
	for _, u := range b.Unserved {
		if err := exec(draft, u.Request, b.Round, u.Sealed); err != nil {
			return err
		}
	}
	return nil
}

// keepBadJacket follows the life jackets that lie with a boat and may not go with
// it.
func keepBadJacket(exec desk.Executor, id boat.ID, jacket string, bad bool) error {
	if bad {
		return exec(`UPDATE matching.boat SET bad_jackets = array_append(array_remove(bad_jackets, $2), $2) WHERE boat = $1`, id, jacket)
	}
	return exec(`UPDATE matching.boat SET bad_jackets = array_remove(bad_jackets, $2) WHERE boat = $1`, id, jacket)
}

// projectRefusals keeps which rules kept boats from those who got none.
func projectRefusals(exec desk.Executor, b message.RoundSolved) error {
	if err := exec(`DELETE FROM matching.refusal WHERE round = $1`, b.Round); err != nil {
		return err
	}
	unserved := map[string]bool{}
	for _, u := range b.Unserved {
		unserved[u.Request] = true
	}
	for _, block := range b.Blocks {
		if !unserved[block.Request] {
			continue
		}
		if err := exec(`INSERT INTO matching.refusal (round, request, rule) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, b.Round, block.Request, block.Rule); err != nil {
			return err
		}
	}
	return nil
}

// boatRow is a boat with the unfinished round in which it stands.
type boatRow struct {
	craft
	round string
}

const boatColumns = `
	SELECT boat, name, facts, ready, disclosure, waived, bad_jackets, last_water, quarantine_until, gone, held, promised_to,
		coalesce((SELECT min(round) FROM matching.round r WHERE stage IN ('opened', 'solved', 'approved', 'sent') AND b.boat = ANY (r.boats)), '')
	FROM matching.boat b `

func (s *service) boats(ctx context.Context, where string, args ...any) ([]boatRow, error) {
	rows, err := s.Pool.Query(ctx, boatColumns+where+` ORDER BY boat`, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (boatRow, error) {
		var b boatRow
		var until *time.Time
		err := row.Scan(&b.id, &b.name, &b.facts, &b.ready, &b.disclosure, &b.waived, &b.badJackets, &b.lastWater, &until, &b.gone, &b.held, &b.promisedTo, &b.round)
		if until != nil {
			b.quarantine = clock.DateOf(*until)
		}
		return b, err
	})
}

// present gives the boats that are with the club.
func (s *service) present(ctx context.Context) ([]boatRow, error) {
	return s.boats(ctx, `WHERE gone = ''`)
}

func (s *service) boatsNamed(ctx context.Context, ids []boat.ID) ([]boatRow, error) {
	return s.boats(ctx, `WHERE boat = ANY ($1)`, ids)
}

func (s *service) boat(ctx context.Context, id boat.ID) (craft, error) {
	rows, err := s.boatsNamed(ctx, []boat.ID{id})
	if err == nil && len(rows) == 0 {
		err = desk.Unknown("boat", "the club's book has no boat under this id")
	}
	if err != nil {
		return craft{}, err
	}
	return rows[0].craft, nil
}

// requestRow is a request with the unfinished round that holds it. A round of one
// boat holds no requests.
type requestRow struct {
	id        string
	household people.ID
	tier      int
	version   int64
	ended     string
	offer     string
	round     string
}

func (s *service) requests(ctx context.Context, where string, args ...any) ([]requestRow, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT request, household, tier, version, ended, offer,
			coalesce((SELECT min(round) FROM matching.round r WHERE stage IN ('opened', 'solved', 'approved', 'sent') AND q.request = ANY (r.requests)
				AND NOT EXISTS (SELECT FROM matching.one_boat o WHERE o.round = r.round)), '')
		FROM matching.request q `+where+` ORDER BY request`, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (requestRow, error) {
		var r requestRow
		err := row.Scan(&r.id, &r.household, &r.tier, &r.version, &r.ended, &r.offer, &r.round)
		return r, err
	})
}

func (s *service) linkIsTaken(ctx context.Context, link string) (taken bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM matching.roster_link WHERE link = $1)`, link).Scan(&taken)
	return taken, err
}

// sealedReasons gives what the last approved round said to a request.
func (s *service) sealedReasons(ctx context.Context, request string) (sealed string, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT reasons FROM matching.request WHERE request = $1`, request).Scan(&sealed)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	return sealed, err
}

// solvedIn gives the round that last told of a request, or nothing.
func (s *service) solvedIn(ctx context.Context, request string) (round string, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT solved_in FROM matching.request WHERE request = $1`, request).Scan(&round)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	return round, err
}

// overdue gives the offers that nobody answered in time.
func (s *service) overdue(ctx context.Context, now time.Time) ([]message.AnswerOffer, error) {
	rows, err := s.Pool.Query(ctx, `SELECT offer, boat FROM matching.offer WHERE answer = '' AND until <= $1 ORDER BY until, offer`, now)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (message.AnswerOffer, error) {
		o := message.AnswerOffer{Answer: lapsed, Why: "nobody answered in time"}
		err := row.Scan(&o.Offer, &o.Boat)
		return o, err
	})
}
