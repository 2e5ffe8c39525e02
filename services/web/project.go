package web

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/hin"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// project keeps all tables in step with the book.
func project(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	b, err := projectBoat(ctx, tx, e, body)
	if err != nil {
		return err
	}
	if err := addHistory(ctx, tx, e, body, b.lookOf(body)); err != nil {
		return err
	}
	if err := projectPeople(ctx, tx, e, body); err != nil {
		return err
	}
	if err := projectValues(ctx, tx, e, body); err != nil {
		return err
	}
	if err := projectPlace(ctx, tx, e, body); err != nil {
		return err
	}
	return projectRest(ctx, tx, e, body)
}

// document is something that the pages keep whole and fold event by event.
type document[D any] interface {
	*D
	Fold(e message.Event, body message.Body)
}

// refold folds one event into the document of that id and gives what came of it.
func refold[D any, P document[D]](ctx context.Context, tx pgx.Tx, table, id string, e message.Event, body message.Body) (D, error) {
	doc, err := load[D](ctx, tx, table, id)
	P(&doc).Fold(e, body)
	return doc, err
}

// load reads a document; one that is not there yet is empty.
func load[D any](ctx context.Context, tx pgx.Tx, table, id string) (D, error) {
	doc, err := desk.Document[D](ctx, tx, table+"/"+id, `SELECT doc FROM web.`+table+` WHERE id = $1 FOR UPDATE`, id)
	if err != nil {
		err = fmt.Errorf("reading %s %s: %w", table, id, err)
	}
	return doc, err
}

func projectBoat(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) (Boat, error) {
	if e.Boat == "" {
		return Boat{}, nil
	}
	b, err := refold[Boat](ctx, tx, "boat", string(e.Boat), e, body)
	if err != nil {
		return b, err
	}
	b.ID = e.Boat
	return b, SaveBoat(ctx, tx, b, e.Position)
}

// SaveBoat writes a boat's row, as it stands after the event at a position. It is
// exported for who fills the table to measure it.
func SaveBoat(ctx context.Context, tx pgx.Tx, b Boat, position int64) error {
	c := cardOf(b)
	return desk.Keep(ctx, tx, "boat/"+string(b.ID), b, `
		INSERT INTO web.boat (id, name, type, state, maker, colour, open, later, place, hull, paperless, search, position, doc)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, type = excluded.type, state = excluded.state,
			maker = excluded.maker, colour = excluded.colour, open = excluded.open, later = excluded.later, place = excluded.place,
			hull = excluded.hull, paperless = excluded.paperless, search = excluded.search, position = excluded.position, doc = excluded.doc`,
		c.ID, c.Name, c.Type, c.State, c.Maker, c.Colour, c.Open, b.Later, b.Place, hin.Key(b.Facts.HullNumber), wantsPaper(&b), searchText(b), position, b)
}

// searchText is what the search among boats looks through.
func searchText(b Boat) string {
	f := b.Facts
	return strings.ToLower(strings.Join([]string{b.Name, string(f.Type), f.Maker, f.Model, f.Colour, f.HullNumber, string(f.Material), f.StoredWhere}, " "))
}

// projectPeople keeps what the pages know of people.
func projectPeople(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	switch m := body.(type) {
	case message.BoatLogged:
		if m.NewGiver != nil {
			return savePerson(ctx, tx, m.NewGiver.Person, e, body)
		}
	case message.RequestMade:
		if m.NewHousehold != nil {
			return savePerson(ctx, tx, m.NewHousehold.Person, e, body)
		}
	case message.PersonRegistered:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.PersonChanged:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.RoleGiven:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.ConsentGiven:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.ConsentWithdrawn:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.GuardianNamed:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.LinkGiven:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.SkillSigned:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.SkillEnded:
		return savePerson(ctx, tx, m.Person, e, body)
	case message.LinkEnded:
		return dropLink(ctx, tx, m.Link, e)
	case message.PersonErased:
		for _, table := range []string{"session", "api_token"} {
			if _, err := tx.Exec(ctx, `DELETE FROM web.`+table+` WHERE person = $1`, m.Person); err != nil {
				return err
			}
		}
		return savePerson(ctx, tx, m.Person, e, body)
	}
	return nil
}

func savePerson(ctx context.Context, tx pgx.Tx, id people.ID, e message.Event, body message.Body) error {
	p, err := refold[Person](ctx, tx, "person", string(id), e, body)
	if err != nil {
		return err
	}
	return writePerson(ctx, tx, p, e.Position)
}

func writePerson(ctx context.Context, tx pgx.Tx, p Person, position int64) error {
	return desk.Keep(ctx, tx, "person/"+string(p.ID), p, `
		INSERT INTO web.person (id, sort, erased, position, doc) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (id) DO UPDATE SET sort = excluded.sort, erased = excluded.erased, position = excluded.position, doc = excluded.doc`,
		p.ID, p.Sort, p.Erased != nil, position, p)
}

func dropLink(ctx context.Context, tx pgx.Tx, link string, e message.Event) error {
	var id people.ID
	err := tx.QueryRow(ctx, `SELECT id FROM web.person WHERE doc -> 'links' @> jsonb_build_array(jsonb_build_object('link', $1::text))`, link).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	p, err := load[Person](ctx, tx, "person", string(id))
	if err != nil {
		return err
	}
	p.endLink(link)
	return writePerson(ctx, tx, p, e.Position)
}

// projectRest keeps requests, rounds, offers, papers and comparables.
func projectRest(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	switch m := body.(type) {
	case message.RequestMade:
		return saveRequest(ctx, tx, m.Request, e, body)
	case message.RequestChanged:
		return saveRequest(ctx, tx, m.Request, e, body)
	case message.TierSet:
		return saveRequest(ctx, tx, m.Request, e, body)
	case message.RequestEnded:
		return saveRequest(ctx, tx, m.Request, e, body)
	case message.AppealMade:
		return saveRequest(ctx, tx, m.Request, e, body)
	case message.AppealDecided:
		return saveRequest(ctx, tx, m.Request, e, body)
	case message.PairRuled:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.SecretCommitted:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.OffersSent:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.RoundOpened:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.RoundSolved:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.RoundApproved:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.RoundClosed:
		return saveRound(ctx, tx, m.Round, e, body)
	case message.OfferMade:
		if err := saveRound(ctx, tx, m.Round, e, body); err != nil {
			return err
		}
		return saveOffer(ctx, tx, m.Offer, e, body)
	case message.OfferAnswered:
		return saveOffer(ctx, tx, m.Offer, e, body)
	case message.PromiseEnded:
		return saveOffer(ctx, tx, m.Offer, e, body)
	case message.PaperIssued:
		if err := savePaper(ctx, tx, m.Paper, e, body); err != nil {
			return err
		}
		return projectLodged(ctx, tx, e, body)
	case message.PaperLodged:
		return projectLodged(ctx, tx, e, body)
	case message.PaperRead:
		return savePaper(ctx, tx, m.Paper, e, body)
	case message.CopyAOpened:
		return savePaper(ctx, tx, m.Paper, e, body)
	case message.PaperCancelled:
		if err := savePaper(ctx, tx, m.Paper, e, body); err != nil {
			return err
		}
		return projectLodged(ctx, tx, e, body)
	case message.ComparableRecorded:
		return saveComparable(ctx, tx, m.Comparable.Comparable, e, body)
	case message.ComparableRefused:
		return saveComparable(ctx, tx, m.Comparable, e, body)
	}
	return projectStock(ctx, tx, e, body)
}

// projectStock keeps the bins.
func projectStock(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	id, isBin := strings.CutPrefix(e.Stream, message.RepairBin(""))
	if !isBin {
		return nil
	}
	b, err := refold[Bin](ctx, tx, "bin", id, e, body)
	if err != nil {
		return err
	}
	b.ID = id
	return desk.Keep(ctx, tx, "bin/"+id, b, `
		INSERT INTO web.bin (id, name, position, doc) VALUES ($1, $2, $3, $4)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, position = excluded.position, doc = excluded.doc`,
		id, b.Name, e.Position, b)
}

func saveRequest(ctx context.Context, tx pgx.Tx, id string, e message.Event, body message.Body) error {
	r, err := refold[Request](ctx, tx, "request", id, e, body)
	if err != nil {
		return err
	}
	return desk.Keep(ctx, tx, "request/"+id, r, `
		INSERT INTO web.request (id, household, state, tier, position, doc) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (id) DO UPDATE SET household = excluded.household, state = excluded.state, tier = excluded.tier,
			position = excluded.position, doc = excluded.doc`,
		id, r.Household, r.State(), r.Tier, e.Position, r)
}

func saveRound(ctx context.Context, tx pgx.Tx, id string, e message.Event, body message.Body) error {
	r, err := refold[Round](ctx, tx, "round", id, e, body)
	if err != nil {
		return err
	}
	return desk.Keep(ctx, tx, "round/"+id, r, `
		INSERT INTO web.round (id, state, position, doc) VALUES ($1, $2, $3, $4)
		ON CONFLICT (id) DO UPDATE SET state = excluded.state, position = excluded.position, doc = excluded.doc`,
		id, r.State(), e.Position, r)
}

func saveOffer(ctx context.Context, tx pgx.Tx, id string, e message.Event, body message.Body) error {
	o, err := refold[Offer](ctx, tx, "offer", id, e, body)
	if err != nil {
		return err
	}
	return desk.Keep(ctx, tx, "offer/"+id, o, `
		INSERT INTO web.offer (id, round, boat, request, household, state, until, position, doc) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
		ON CONFLICT (id) DO UPDATE SET round = excluded.round, boat = excluded.boat, request = excluded.request, household = excluded.household,
			state = excluded.state, until = excluded.until, position = excluded.position, doc = excluded.doc`,
		id, o.Round, o.Boat, o.Request, o.Household, o.State(), o.Until, e.Position, o)
}

func savePaper(ctx context.Context, tx pgx.Tx, id string, e message.Event, body message.Body) error {
	p, err := refold[Paper](ctx, tx, "paper", id, e, body)
	if err != nil {
		return err
	}
	return desk.Keep(ctx, tx, "paper/"+id, p, `
		INSERT INTO web.paper (id, serial, boat, donor, state, due, position, doc) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
		ON CONFLICT (id) DO UPDATE SET serial = excluded.serial, boat = excluded.boat, donor = excluded.donor,
			state = excluded.state, due = excluded.due, position = excluded.position, doc = excluded.doc`,
		id, p.Serial, p.Boat, p.Donor, p.State(), dateOrNull(p.Due), e.Position, p)
}

func saveComparable(ctx context.Context, tx pgx.Tx, id string, e message.Event, body message.Body) error {
	p, err := refold[Price](ctx, tx, "comparable", id, e, body)
	if err != nil {
		return err
	}
	return desk.Keep(ctx, tx, "comparable/"+id, p, `
		INSERT INTO web.comparable (id, type, state, sold_on, position, doc) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (id) DO UPDATE SET type = excluded.type, state = excluded.state, sold_on = excluded.sold_on, position = excluded.position, doc = excluded.doc`,
		id, p.Type, p.State(), p.On.Time(), e.Position, p)
}

func dateOrNull(d clock.Date) any {
	if d.IsZero() {
		return nil
	}
	return d.Time()
}
