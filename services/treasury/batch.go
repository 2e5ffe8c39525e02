package treasury

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// maxBatch bounds the papers of one batch, and the gifts that are looked at for one
// answer: each is held against the rules.
const maxBatch = 500

// batchPaper names the paper that a batch issues for a boat. It follows from both, so
// that a batch which is begun anew issues none twice.
func batchPaper(batch string, id boat.ID) string {
	sum := sha256.Sum256([]byte(batch + "\n" + string(id)))
	return hex.EncodeToString(sum[:16])
}

// batched is what a batch's stream adds up to.
type batched struct{ asked bool }

// Fold adds an event.
func (b *batched) Fold(_ message.Event, body message.Body) {
	if _, ok := body.(message.PapersAsked); ok {
		b.asked = true
	}
}

// issueYear writes down that papers are wanted. The room issues them when it hears of
// it, one by one.
func (s *service) issueYear(ctx context.Context, o desk.Order[message.IssueYear]) (desk.Decision, error) {
	c := o.Command
	var d desk.Decision
	err := desk.First(desk.GoodID("batch", c.Batch), desk.Within("year", c.Year, firstYear, lastYear), desk.Past("on", c.On, o.Today()), goodBatch(c))
	if err != nil {
		return d, err
	}
	b, at, err := desk.Load[batched](ctx, s.Log, message.TreasuryBatch(c.Batch))
	if err == nil && b.asked {
		err = desk.Conflict("batch", "these papers were asked for already")
	}
	if err != nil {
		return d, err
	}
	gifts, err := s.giftsOf(ctx, c.Year)
	if err != nil {
		return d, err
	}
	known := map[boat.ID]bool{}
	for _, g := range gifts {
		known[g.Boat] = true
	}
	for _, id := range c.Boats {
		if !known[id] {
			return d, desk.Unknown("boats", "%s is no gift that was received in %d", id, c.Year)
		}
		known[id] = false // a second time it is not known any more
	}
	return desk.SayAt(at, "", message.PapersAsked{Batch: c.Batch, Year: c.Year, On: c.On, Boats: c.Boats, By: o.Actor.Person})
}

func goodBatch(c message.IssueYear) error {
	switch n := len(c.Boats); {
	case n == 0:
		return fault.Field("boats", "names no gift; there is no paper to issue")
	case n > maxBatch:
		return fault.Field("boats", "names %d gifts; at most %d get their papers in one go", n, maxBatch)
	}
	for _, id := range c.Boats {
		if err := desk.GoodID("boats", id); err != nil {
			return err
		}
	}
	return nil
}

// issueAsked issues the papers of a batch, each by a decision of its own. When it is
// broken off and begins anew, what was issued or withheld stands and is not said again.
func (s *service) issueAsked(ctx context.Context, e message.Event, b message.PapersAsked) error {
	for _, id := range b.Boats {
		o := desk.Order[message.IssuePaper]{
			Caller:  desk.Caller{Actor: people.Member(b.By)},
			Command: message.IssuePaper{Boat: id, Paper: batchPaper(b.Batch, id), On: b.On},
			Now:     e.RecordedAt, HappenedAt: e.HappenedAt,
		}
		err := s.SayAnew(ctx, e, "paper/"+string(id), func() (desk.Decision, error) { return s.issueOrWithhold(ctx, o, b) })
		if err != nil {
			return err
		}
	}
	return nil
}

// issueOrWithhold decides about one paper of a batch. What an order for this paper would be
// refused with is written down; what may pass is tried again.
func (s *service) issueOrWithhold(ctx context.Context, o desk.Order[message.IssuePaper], b message.PapersAsked) (desk.Decision, error) {
	own, _, err := desk.Load[paper](ctx, s.Log, message.TreasuryPaper(o.Command.Paper))
	if err != nil || own.noted != nil {
		return desk.Decision{}, err
	}
	d, err := s.issueUnlessWaiting(ctx, o)
	why, refused := refusal(err)
	if !refused {
		return d, err
	}
	at, err := s.Log.At(ctx, message.TreasuryBatch(b.Batch))
	if err != nil {
		return desk.Decision{}, err
	}
	d = desk.Decision{Expect: []ledger.Expected{at}}
	return d, d.Say(at.Stream, o.Command.Boat, message.PaperWithheld{Batch: b.Batch, Boat: o.Command.Boat, Why: why})
}

// issueUnlessWaiting leaves alone what a treasurer signed before: a batch would put another
// paper in its place.
func (s *service) issueUnlessWaiting(ctx context.Context, o desk.Order[message.IssuePaper]) (desk.Decision, error) {
	_, b, _, err := s.open(ctx, o.Command.Boat)
	if err == nil && b.prepared != nil {
		err = desk.Conflict("boat", waitsForSecond)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return s.issuePaper(ctx, o)
}

// waitsForSecond is why a gift has no paper yet that one treasurer signed.
const waitsForSecond = "it waits for a second signature"

// refusal gives the sentence of a fault that says no, as opposed to one that says not
// now. A gift that the program cannot decide about holds up no other.
func refusal(err error) (why string, refused bool) {
	var f *fault.Fault
	if !errors.As(err, &f) {
		return "", false
	}
	switch f.Kind {
	case fault.Invalid, fault.Unknown, fault.Forbidden, fault.Conflict:
		return f.Text, true
	case fault.Internal:
		return "the program cannot write this paper; tell whoever looks after it", true
	}
	return "", false
}

// yearPapers lists a year's gifts with their papers.
func (s *service) yearPapers(ctx context.Context, by desk.Caller, q message.YearPapers) (message.PapersOfYear, error) {
	list := message.PapersOfYear{Year: q.Year, Gifts: []message.GiftPaper{}, Batches: []message.PaperBatch{}}
	if err := desk.Within("year", q.Year, firstYear, lastYear); err != nil {
		return list, err
	}
	var err error
	if list.Gifts, err = s.giftsOf(ctx, q.Year); err != nil {
		return list, err
	}
	if more := len(list.Gifts) - maxBatch; more > 0 {
		list.Gifts, list.More = list.Gifts[:maxBatch], more
	}
	for i := range list.Gifts {
		if g := &list.Gifts[i]; g.Paper == "" {
			if g.WhyNot, err = s.whyNoPaper(ctx, by, g.Boat); err != nil {
				return list, err
			}
		}
	}
	list.Batches, err = s.batchesOf(ctx, q.Year)
	return list, err
}

// whyNoPaper says why no paper could be issued for a gift today; empty when one could.
func (s *service) whyNoPaper(ctx context.Context, by desk.Caller, id boat.ID) (string, error) {
	var d desk.Decision // nothing is decided
	today := clock.DateOf(s.Clock.Now())
	var signers []signer // nobody, for who reads without issuing
	if by.Has(people.Treasurer) {
		signers = []signer{{by.Actor.Person, today}}
	}
	_, b, err := s.gather(ctx, message.IssuePaper{Boat: id, Paper: batchPaper("", id), On: today}, signers, &d)
	if why, refused := refusal(err); refused {
		return why, nil
	}
	if err == nil && b.prepared != nil {
		return waitsForSecond, nil
	}
	return "", err
}

// giftsOf gives the gifts that were received in a year, those without a paper first,
// so that they are never beyond what is listed, each in order of the day.
func (s *service) giftsOf(ctx context.Context, year int) ([]message.GiftPaper, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT b.boat, b.name, b.received_on::text, coalesce(p.paper, ''), coalesce(p.serial, '')
		FROM treasury.boat b LEFT JOIN treasury.paper p ON p.boat = b.boat AND p.cancelled = ''
		WHERE extract(year FROM b.received_on) = $1 AND b.taking <> $2
		ORDER BY p.paper IS NOT NULL, b.received_on, b.name, b.boat`, year, message.Purchase)
	if err != nil {
		return nil, err
	}
	return pgx.AppendRows([]message.GiftPaper{}, rows, func(row pgx.CollectableRow) (g message.GiftPaper, err error) {
		var on string
		if err = row.Scan(&g.Boat, &g.BoatName, &on, &g.Paper, &g.Serial); err == nil {
			g.Received, err = clock.ParseDate(on)
		}
		return g, err
	})
}

// shownBatches is how many batches of a year are shown.
const shownBatches = 10

func (s *service) batchesOf(ctx context.Context, year int) ([]message.PaperBatch, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT batch, dated::text, asked_at, count(*), count(*) FILTER (WHERE issued)
		FROM treasury.batch JOIN treasury.batch_paper USING (batch) WHERE year = $1
		GROUP BY batch, dated, asked_at ORDER BY asked_at DESC, batch LIMIT $2`, year, shownBatches)
	if err != nil {
		return nil, err
	}
	batches, err := pgx.AppendRows([]message.PaperBatch{}, rows, func(row pgx.CollectableRow) (b message.PaperBatch, err error) {
		var on string
		b.Withheld = []message.Withheld{}
		if err = row.Scan(&b.Batch, &on, &b.Asked, &b.Of, &b.Issued); err == nil {
			b.On, err = clock.ParseDate(on)
		}
		return b, err
	})
	if err != nil {
		return nil, err
	}
	for i := range batches {
		batches[i].Withheld, err = collect(ctx, s, batches[i].Withheld, pgx.RowToStructByPos[message.Withheld], `
			SELECT batch_paper.boat, coalesce(name, ''), withheld FROM treasury.batch_paper LEFT JOIN treasury.boat USING (boat)
			WHERE batch = $1 AND withheld <> '' ORDER BY name, boat`, batches[i].Batch)
		if err != nil {
			return nil, err
		}
	}
	return batches, nil
}

// projectBatch keeps how far batches have come.
func projectBatch(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PapersAsked:
		err := exec(`INSERT INTO treasury.batch (batch, year, dated, asked_at) VALUES ($1, $2, $3::text::date, $4) ON CONFLICT DO NOTHING`, b.Batch, b.Year, b.On.String(), e.RecordedAt)
		if err != nil {
			return err
		}
		for _, id := range b.Boats {
			if err := exec(`INSERT INTO treasury.batch_paper (batch, boat, paper) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, b.Batch, id, batchPaper(b.Batch, id)); err != nil {
				return err
			}
		}
	case message.PaperWithheld:
		return exec(`UPDATE treasury.batch_paper SET withheld = $3 WHERE batch = $1 AND boat = $2`, b.Batch, b.Boat, b.Why)
	case message.PaperPrepared:
		if err := exec(`UPDATE treasury.batch_paper SET withheld = $3 WHERE boat = $1 AND paper <> $2 AND withheld = $4`, b.Boat, b.Paper, "it was prepared anew, apart from these", waitsForSecond); err != nil {
			return err
		}
		return exec(`UPDATE treasury.batch_paper SET withheld = $2 WHERE paper = $1`, b.Paper, waitsForSecond)
	case message.PreparationWithdrawn:
		return exec(`UPDATE treasury.batch_paper SET withheld = $2 WHERE paper = $1`, b.Paper, "it was dropped before the second signature: "+b.Why)
	case message.PaperIssued:
		return exec(`UPDATE treasury.batch_paper SET issued = true, withheld = '' WHERE paper = $1`, b.Paper)
	}
	return nil
}
