package treasury

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/taxpaper"
)

// giftDoc is what the boat's stream says of a gift, with its standing paper, as it is
// kept in a table.
type giftDoc struct {
	Sold     *message.BoatSold                             `json:"sold,omitempty"`
	Claim    *message.ClaimStated                          `json:"claim,omitempty"`
	Excepted map[message.Exception]message.ExceptionStated `json:"excepted,omitempty"`
	Benefit  *message.BenefitStated                        `json:"benefit,omitempty"`
	Similar  *message.SimilarStated                        `json:"similar,omitempty"`
	Paper    string                                        `json:"paper,omitempty"`
	Serial   string                                        `json:"serial,omitempty"`
	Decision string                                        `json:"decision,omitempty"`
}

// Fold adds an event of the boat's stream as the boat's book does.
func (d *giftDoc) Fold(e message.Event, body message.Body) {
	b := book{sold: d.Sold, claim: d.Claim, excepted: d.Excepted, benefit: d.Benefit, similar: d.Similar}
	b.Fold(e, body)
	d.Sold, d.Claim, d.Excepted, d.Benefit, d.Similar = b.sold, b.claim, b.excepted, b.benefit, b.similar
}

// projectGift keeps the documents of gifts.
func projectGift(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PaperIssued:
		if b.Boat == "" {
			return nil // it is about no gift of a boat
		}
		return changeGift(ctx, tx, string(b.Boat), func(d *giftDoc) { d.Paper, d.Serial, d.Decision = b.Paper, b.Serial, b.Decision })
	case message.PaperCancelled:
		if b.Boat == "" {
			return nil
		}
		return changeGift(ctx, tx, string(b.Boat), func(d *giftDoc) {
			if d.Paper == b.Paper {
				d.Paper, d.Serial, d.Decision = "", "", ""
			}
		})
	case message.EntryPosted, message.PaperNoted, message.BoatCounted, message.DonorNumberStated, message.VolunteerCostNoted: // no fact about the gift
		return nil
	}
	id, own := strings.CutPrefix(e.Stream, message.TreasuryBoat(""))
	if !own {
		return nil
	}
	return changeGift(ctx, tx, id, func(d *giftDoc) { d.Fold(e, body) })
}

func changeGift(ctx context.Context, tx pgx.Tx, id string, change func(*giftDoc)) error {
	d, err := desk.Document[giftDoc](ctx, tx, "gift/"+id, `SELECT doc FROM treasury.gift WHERE boat = $1`, id)
	if err != nil {
		return err
	}
	change(&d)
	return desk.Keep(ctx, tx, "gift/"+id, d, `INSERT INTO treasury.gift (boat, doc) VALUES ($1, $2) ON CONFLICT (boat) DO UPDATE SET doc = excluded.doc`, id, d)
}

// kept is a received gift as the tables know it.
type kept struct {
	gift
	paper giftDoc
}

// keptGifts gives every gift that was received, in one question.
func (s *service) keptGifts(ctx context.Context) ([]kept, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT b.boat, b.name, b.taking, b.giver, b.price_minor, b.price_currency, b.received_on, b.state,
			coalesce(v.value, ''), coalesce(v.minor, 0), coalesce(v.currency, ''), coalesce(v.valuer, ''), coalesce(g.doc, '{}')
		FROM treasury.boat b
		LEFT JOIN LATERAL (SELECT value, minor, currency, valuer FROM treasury.value
			WHERE boat = b.boat AND for_day = b.received_on ORDER BY position DESC LIMIT 1) v ON true
		LEFT JOIN treasury.gift g ON g.boat = b.boat
		WHERE b.received_on IS NOT NULL AND b.taking <> $1 ORDER BY b.boat`, message.Purchase)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (k kept, err error) {
		var w worth
		var on time.Time
		err = row.Scan(&k.boat, &k.name, &k.taking, &k.giver, &k.price.Minor, &k.price.Currency, &on, &k.state,
			&w.value, &w.amount.Minor, &w.amount.Currency, &w.valuer, &k.paper)
		if w.value != "" {
			k.worth = &w
		}
		k.benefit, k.similar = k.paper.Benefit, k.paper.Similar
		k.received, k.sold, k.claim, k.excepted = clock.DateOf(on), k.paper.Sold, k.paper.Claim, k.paper.Excepted
		return k, err
	})
}

// letter gives what the rules say of a gift: of a paper that stands as it was issued, with
// what a sale since then asks for, and of a gift without one as the rules have it today. A
// gift that the rules cannot be asked of, being in another currency, has nothing.
func (k kept) letter(country string) (letter taxpaper.Letter, known bool, err error) {
	if k.paper.Serial == "" {
		letter, err = k.ruled(country, clock.Date{})
		letter.KeepUntil = "" // there is nothing to keep yet
		return letter, err == nil, nil
	}
	if err := json.Unmarshal([]byte(k.paper.Decision), &letter); err != nil {
		return letter, false, err
	}
	if k.sold == nil {
		return letter, true, nil
	}
	if k.certified, err = certifiedBox(k.paper.Decision); err != nil {
		return letter, false, err
	}
	if now, err := k.ruled(country, clock.Date{}); err == nil {
		letter.Filings = append(no8282(letter.Filings, filed), only8282(now.Filings, filed)...)
		letter.Watch = append(no8282(letter.Watch, watched), only8282(now.Watch, watched)...)
	}
	return letter, true, nil
}

func filed(f taxpaper.Filing) string  { return f.Name }
func watched(w taxpaper.Watch) string { return w.What }

func no8282[T any](list []T, name func(T) string) []T {
	return slices.DeleteFunc(slices.Clone(list), func(t T) bool { return name(t) == form8282 })
}

func only8282[T any](list []T, name func(T) string) []T {
	return slices.DeleteFunc(slices.Clone(list), func(t T) bool { return name(t) != form8282 })
}

// form8282 reports that the club parted with a gift within three years (IRC 6050L).
const form8282 = "8282"

// due lists what falls due on a day or later.
func (s *service) due(ctx context.Context, since clock.Date) ([]message.Clock, error) {
	country, err := s.Setting(ctx, "country")
	if err != nil {
		return nil, err
	}
	gifts, err := s.keptGifts(ctx)
	if err != nil {
		return nil, err
	}
	list := []message.Clock{}
	for _, k := range gifts {
		letter, known, err := k.letter(country)
		if err != nil {
			return nil, err
		}
		if !known {
			continue
		}
		for _, c := range clocksOf(k.gift, letter, k.paper.Serial) {
			if !c.Due.Before(since) {
				list = append(list, c)
			}
		}
	}
	return list, nil
}
