package matching

import (
	"fmt"
	"slices"
	"time"

	"refloat.example/pkg/assign"
	"refloat.example/pkg/assigncheck"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// draw is a frozen round with all that its solution depends on.
type draw struct {
	round, seed string
	secrets     []message.RoundSecret
	crafts      []craft
	asks        []ask
	club        club
	now         time.Time

	rulings []ruled

	// Of a round that goes on after offers were sent.
	fates   fates
	earlier *message.RoundSolved
}

// solution is what a round came to, with the reasons that hold households'
// numbers kept apart, by request; of two boats that go together, by both (reasonsOf).
type solution struct {
	message.RoundSolved
	reasons map[string][]string
}

// cell is one boat held against one request.
type cell struct {
	craft    craft
	verdicts []verdict
	parts    []message.ScorePart
}

func (c cell) fits() bool { return len(against(c.verdicts)) == 0 }

// table holds, for each request, all boats of the round.
type table map[string][]cell

// solve computes fits and pairs. It is pure: the same draw gives the same
// solution, in whatever order its boats and requests come. The error means that
// the pairing failed its own check, and then nothing may be said.
func (d draw) solve() (solution, error) {
	d = d.inOrder()
	t := d.table()
	rows := d.rows(t)
	bundles, places := d.bundles()
	options := assign.Options{Seed: d.seed, Pins: d.pins(rows), Forbids: d.forbids(), Keep: d.fates.offered()}
	limit := searchLimit(len(rows), len(bundles))
	result, err := pair(rows, bundles, options, limit)
	if err != nil {
		return solution{}, fmt.Errorf("pairing round %s: %w", d.round, err)
	}
	if err := confirm(rows, bundles, options, result); err != nil {
		return solution{}, fmt.Errorf("the pairing of round %s does not hold: %w", d.round, err)
	}
	s := d.tell(t, result, places)
	if len(bundles) > 0 {
		s.Search = searched(result, limit)
	}
	return s, nil
}

// inOrder sorts by id, as the round was frozen.
func (d draw) inOrder() draw {
	d.crafts = slices.SortedFunc(slices.Values(d.crafts), func(a, b craft) int { return compare(string(a.id), string(b.id)) })
	d.asks = slices.SortedFunc(slices.Values(d.asks), func(a, b ask) int { return compare(a.id, b.id) })
	return d
}

func (d draw) table() table {
	t := table{}
	for _, a := range d.asks {
		if a.erased {
			continue
		}
		for _, c := range d.crafts {
			m := match{craft: c, ask: a, club: d.club}
			t[a.id] = append(t[a.id], cell{c, weigh(m), score(m, d.now)})
		}
	}
	return t
}

func (d draw) rows(t table) []assign.Pair {
	var rows []assign.Pair
	for _, a := range d.asks {
		if len(d.standing(a.id)) > 0 {
			continue
		}
		if p := d.accepted(a.id); p != nil {
			// The boat may be handed over or the data erased by now: the pair stands.
			rows = append(rows, assign.Pair{Boat: string(p.Boat), Applicant: a.id, Weight: p.Score, Tier: a.tier})
			continue
		}
		for _, c := range t[a.id] {
			if c.fits() && !d.fates.hasBoat(string(c.craft.id)) {
				rows = append(rows, assign.Pair{Boat: string(c.craft.id), Applicant: a.id, Weight: total(c.parts), Tier: a.tier})
			}
		}
	}
	return rows
}

// accepted gives the pair of the earlier solution that a request has accepted, or
// nil.
func (d draw) accepted(request string) *message.RoundPair {
	if d.earlier == nil || !d.fates.hasRequest(request) {
		return nil
	}
	for i, p := range d.earlier.Pairs {
		if d.fates.stands(couple(p.Boat, p.Request)) == message.PairAccepted && p.Request == request {
			return &d.earlier.Pairs[i]
		}
	}
	return nil
}

// confirm has a result checked by code that shares nothing with the solver: the
// bundles that were taken, and the pairing of what they leave, which is as if they
// had never been there.
func confirm(rows []assign.Pair, bundles []assign.Bundle, o assign.Options, result *assign.Bundled) error {
	taken := assigncheck.Taken{
		Possible: checkedBundles(bundles), Taken: checkedBundles(result.Taken), Rest: checked(result.Pairs),
		ServedByTier: wide(result.ServedByTier), Total: result.Total, RestServed: wide(result.RestServed), RestTotal: result.RestTotal,
	}
	if err := assigncheck.Bundles(taken); err != nil {
		return err
	}
	rows = slices.DeleteFunc(slices.Clone(rows), func(p assign.Pair) bool {
		return slices.ContainsFunc(result.Taken, func(b assign.Bundle) bool { return b.Applicant == p.Applicant || slices.Contains(b.Boats[:], p.Boat) })
	})
	claim := &assigncheck.Claim{
		ServedByTier: wide(result.RestServed), Total: result.RestTotal, Pairs: checked(result.Pairs), Step: result.Proof.Step, Boats: result.Proof.Boats, Applicants: result.Proof.Applicants,
	}
	checker, err := assigncheck.New(claim, checked(o.Pins), checked(o.Forbids))
	if err != nil {
		return err
	}
	for _, r := range rows {
		if bad := checker.Row(r.Boat, r.Applicant, r.Weight, r.Tier); bad != nil {
			return bad
		}
	}
	return checker.Verdict()
}

// checked gives pairs to the checker, which shares no types with the solver.
func checked(list []assign.Couple) []assigncheck.Couple {
	couples := make([]assigncheck.Couple, len(list))
	for i, c := range list {
		couples[i] = assigncheck.Couple(c)
	}
	return couples
}

func checkedBundles(list []assign.Bundle) []assigncheck.Bundle {
	bundles := make([]assigncheck.Bundle, len(list))
	for i, b := range list {
		bundles[i] = assigncheck.Bundle(b)
	}
	return bundles
}

func wide(counts []int) []int64 {
	list := make([]int64, len(counts))
	for i, n := range counts {
		list[i] = int64(n)
	}
	return list
}

// tell puts a result into the words of the book.
func (d draw) tell(t table, result *assign.Bundled, bundles map[string][]bundleFit) solution {
	s := solution{reasons: map[string][]string{}}
	s.Round, s.ServedByTier, s.Total, s.Step = d.round, result.ServedByTier, result.Total, result.Proof.Step
	s.Seed, s.Secrets, s.Ended = d.seed, d.secrets, append(couples(d.fates.ended), d.fates.endedTogether...)
	s.BoatPrices, s.AskPrices = prices(result.Proof.Boats), prices(result.Proof.Applicants)
	taken := map[string]assign.Couple{} // by boat and by request
	for _, p := range result.Pairs {
		taken[p.Boat], taken[p.Applicant] = p, p
	}
	both := map[string]assign.Bundle{} // by request
	for _, b := range result.Taken {
		both[b.Applicant] = b
	}
	takers := d.takers(result)
	for _, a := range d.asks {
		if pairs := d.standing(a.id); len(pairs) > 0 {
			s.addStanding(d, a, pairs)
			continue
		}
		if p := d.accepted(a.id); p != nil {
			s.addAccepted(*p, slices.IndexFunc(d.crafts, func(c craft) bool { return c.id == p.Boat }))
			continue
		}
		cells := t[a.id]
		s.Candidates = append(s.Candidates, candidates(a.id, cells)...)
		s.Blocks = append(s.Blocks, blocks(a.id, cells)...)
		for _, f := range bundles[a.id] {
			s.Bundles = append(s.Bundles, message.RoundBundle{Request: a.id, Boats: [2]int{f.one, f.other}, Score: f.points})
		}
		if b, served := both[a.id]; served {
			s.addBundle(d, a, b)
		} else if p, served := taken[a.id]; served {
			s.addPair(a, cells[slices.IndexFunc(cells, func(c cell) bool { return string(c.craft.id) == p.Boat })], d.fates.stands(p))
		} else {
			s.addUnserved(a, cells, len(bundles[a.id]), takers, len(d.asks), d.ruledOut(a.id, cells))
		}
	}
	slices.SortFunc(s.Pairs, func(a, b message.RoundPair) int { return compare(string(a.Boat), string(b.Boat)) })
	return s
}

// addAccepted takes a pair over as it was told before, with the boat's place in
// the round. Its household has no other candidates.
func (s *solution) addAccepted(p message.RoundPair, place int) {
	s.Candidates = append(s.Candidates, message.RoundFit{Request: p.Request, Boats: []int{place}, Scores: []int64{p.Score}})
	p.Stands = message.PairAccepted
	s.Pairs = append(s.Pairs, p)
}

func (s *solution) addPair(a ask, c cell, stands string) {
	pair := message.RoundPair{Boat: c.craft.id, Request: a.id, Score: total(c.parts), Stands: stands, Reasons: []string{}}
	for _, v := range c.verdicts {
		if v.rule.yes != "" {
			pair.Reasons = append(pair.Reasons, v.plain())
			s.reasons[a.id] = append(s.reasons[a.id], v.because)
		}
	}
	s.Pairs = append(s.Pairs, pair)
}

func (s *solution) addUnserved(a ask, cells []cell, bundles int, takers map[boat.ID]int, asked int, out []string) {
	plain, own := reasonsAgainst(a, cells, bundles, takers, asked)
	plain, own = append(plain, out...), append(own, out...)
	s.Unserved = append(s.Unserved, message.RoundReason{Request: a.id, Fitting: countFitting(cells), Bundles: bundles, Reasons: plain})
	s.reasons[a.id] = own
}

// takers gives the tier to which each boat went.
func (d draw) takers(result *assign.Bundled) map[boat.ID]int {
	tiers := map[string]int{}
	for _, a := range d.asks {
		tiers[a.id] = a.tier
	}
	takers := map[boat.ID]int{}
	for _, p := range result.Pairs {
		takers[boat.ID(p.Boat)] = tiers[p.Applicant]
	}
	for _, b := range result.Taken {
		takers[boat.ID(b.Boats[0])], takers[boat.ID(b.Boats[1])] = b.Tier, b.Tier
	}
	for _, o := range d.fates.together {
		takers[o.Boat] = tiers[o.Request]
	}
	return takers
}

// prices gives the prices that are not zero, in order.
func prices(of map[string]int64) []message.RoundPrice {
	list := []message.RoundPrice{}
	for id, price := range of {
		if price != 0 {
			list = append(list, message.RoundPrice{Of: id, Price: price})
		}
	}
	slices.SortFunc(list, func(a, b message.RoundPrice) int { return compare(a.Of, b.Of) })
	return list
}

// blocks counts how many boats each rule keeps from a request.
func blocks(request string, cells []cell) []message.RoundBlocked {
	var list []message.RoundBlocked
	for _, c := range counts(cells) {
		if n := c.No + c.Ask; n > 0 {
			list = append(list, message.RoundBlocked{Request: request, Rule: c.Rule, Boats: n})
		}
	}
	return list
}

// candidates gives the boats of the round that fit a request, if any do.
func candidates(request string, cells []cell) []message.RoundFit {
	fit := message.RoundFit{Request: request}
	for i, c := range cells {
		if c.fits() {
			fit.Boats, fit.Scores = append(fit.Boats, i), append(fit.Scores, total(c.parts))
		}
	}
	if len(fit.Boats) == 0 {
		return nil
	}
	return []message.RoundFit{fit}
}

func countFitting(cells []cell) int {
	n := 0
	for _, c := range cells {
		if c.fits() {
			n++
		}
	}
	return n
}
