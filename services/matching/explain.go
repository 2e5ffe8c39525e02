package matching

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/vault"
)

// counts says for each rule how many boats it keeps from a request, and how many
// of them nothing else does.
func counts(cells []cell) []message.RuleCount {
	list := make([]message.RuleCount, len(rules))
	for i, r := range rules {
		list[i] = message.RuleCount{Rule: r.name, Source: r.source, Words: r.wants}
		for _, c := range cells {
			switch c.verdicts[i].answer {
			case not:
				list[i].No++
			case asks:
				list[i].Ask++
			default:
				continue
			}
			if len(against(c.verdicts)) == 1 {
				list[i].Alone++
			}
		}
	}
	return list
}

// sentence says what one rule did, without the household's numbers.
func sentence(c message.RuleCount, of int) string {
	text := fmt.Sprintf("%s Of %s, %d did not pass", c.Words, plural(of, "boat", "boats"), c.No)
	if c.Ask > 0 {
		text += fmt.Sprintf(" and of %d it is not known", c.Ask)
	}
	if c.Alone > 0 {
		text += fmt.Sprintf("; for %d it was the only hindrance", c.Alone)
	}
	return text + "."
}

// reasonsAgainst says why a request was not served: in sentences for the book,
// and in sentences for the household with its numbers. Neither names anybody.
func reasonsAgainst(a ask, cells []cell, bundles int, takers map[boat.ID]int, asked int) (plain, own []string) {
	switch {
	case a.erased:
		plain = []string{"The household's data were erased, so the request could not be weighed."}
		return plain, plain
	case countFitting(cells) > 0:
		plain = wentElsewhere(a, cells, takers, asked)
		return plain, plain
	case bundles > 0:
		plain = []string{"Two single boats of this round would fit together. At least one of them went to another request each time."}
		return plain, plain
	}
	plain = []string{keptOut(cells)}
	own = ruleSentences(cells)
	if near, ok := nearest(cells); ok {
		plain = append(plain, "The boat that came nearest failed on: "+words(ruleNames(near))+".")
		for _, v := range against(near.verdicts) {
			own = append(own, "The boat that came nearest: "+v.because)
		}
	}
	own = append(own, misses(cells)...)
	return plain, append(own, changes(cells)...)
}

// misses says by how much boats miss each limit, the least first.
func misses(cells []cell) []string {
	var list []string
	for i, r := range rules {
		if r.over == nil {
			continue
		}
		boats, least, most := 0, 0, 0
		for _, c := range cells {
			by := c.verdicts[i].over
			if by <= 0 {
				continue
			}
			if boats == 0 || by < least {
				least = by
			}
			boats, most = boats+1, max(most, by)
		}
		switch {
		case boats == 1 || boats > 1 && least == most:
			list = append(list, fmt.Sprintf("By the rule on %s, %s: over by %s.", r.name, plural(boats, "boat", "boats"), r.unit(least)))
		case boats > 1:
			list = append(list, fmt.Sprintf("By the rule on %s, %s: over by %s at the least and %s at the most.", r.name, plural(boats, "boat", "boats"), r.unit(least), r.unit(most)))
		}
	}
	return list
}

// changes says what would let boats fit that one rule alone keeps out.
func changes(cells []cell) []string {
	var list []string
	for i, c := range counts(cells) {
		if change := rules[i].change; c.Alone > 0 && change != "" {
			list = append(list, fmt.Sprintf("What would change it: %s would fit if %s.", plural(c.Alone, "boat", "boats"), change))
		}
	}
	return list
}

// keptOut counts in one sentence how many boats each rule kept out. It is short
// because the book holds it for every household that got nothing.
func keptOut(cells []cell) string {
	var list []string
	for _, c := range counts(cells) {
		if n := c.No + c.Ask; n > 0 {
			list = append(list, fmt.Sprintf("%s %d (%d by it alone)", c.Rule, n, c.Alone))
		}
	}
	return fmt.Sprintf("None of %s fits. Kept out by %s.", plural(len(cells), "boat", "boats"), words(list))
}

func ruleSentences(cells []cell) []string {
	var list []string
	for _, c := range counts(cells) {
		if c.No+c.Ask > 0 {
			list = append(list, sentence(c, len(cells)))
		}
	}
	return list
}

// fewAsked is how many requests a round must have for a household to be told how
// many boats went where: of fewer, neighbours could tell who. The club's own rule.
const fewAsked = 5

// wentElsewhere counts where the boats that fit went.
func wentElsewhere(a ask, cells []cell, takers map[boat.ID]int, asked int) []string {
	if asked < fewAsked {
		return []string{
			"Boats of this round would fit, and all of them went to other requests. So few took part that it is not told how many went where.",
			"Boats go by the club's written priorities first, then so that the round as a whole has most points, then by the lottery.",
		}
	}
	fitting, earlier, same := 0, 0, 0
	for _, c := range cells {
		if !c.fits() {
			continue
		}
		fitting++
		switch tier := takers[c.craft.id]; {
		case tier > 0 && tier < a.tier:
			earlier++
		case tier > 0:
			same++
		}
	}
	reasons := []string{fmt.Sprintf("%s of this round would fit, and all of them went to other requests.", plural(fitting, "boat", "boats"))}
	if earlier > 0 {
		reasons = append(reasons, fmt.Sprintf("%s to requests in an earlier tier of the club's written priorities.", plural(earlier, "boat went", "boats went")))
	}
	if same > 0 {
		reasons = append(reasons, fmt.Sprintf("%s to requests with which the round as a whole has more points, or which the lottery drew.", plural(same, "boat went", "boats went")))
	}
	return reasons
}

// nearest gives the boat that the fewest rules keep away, sure refusals counting
// more than open questions.
func nearest(cells []cell) (cell, bool) {
	if len(cells) == 0 {
		return cell{}, false
	}
	return slices.MinFunc(cells, func(a, b cell) int {
		return cmp.Or(cmp.Compare(distance(a), distance(b)), cmp.Compare(a.craft.id, b.craft.id))
	}), true
}

func distance(c cell) int {
	d := 0
	for _, v := range against(c.verdicts) {
		if v.answer == not {
			d += 1000
		}
		d++
	}
	return d
}

func ruleNames(c cell) []string {
	var names []string
	for _, v := range against(c.verdicts) {
		names = append(names, v.rule.name)
	}
	return names
}

// explainRequest weighs all boats that are with the club.
func (s *service) explainRequest(ctx context.Context, by desk.Caller, q message.ExplainRequest) (message.RequestExplained, error) {
	var e message.RequestExplained
	r, err := s.request(ctx, by, q.Request)
	if err != nil {
		return e, err
	}
	cells, err := s.cells(ctx, q.Request, r)
	if err != nil {
		return e, err
	}
	e = message.RequestExplained{Request: q.Request, Present: len(cells), Fitting: countFitting(cells), Rules: counts(cells), Limits: limits}
	if e.Bundles, err = s.bundlesNow(ctx, q.Request, r, cells); err != nil {
		return e, err
	}
	if e.Reasons, err = s.reasons(ctx, q.Request, r); err != nil || by.Link != nil {
		return e, err
	}
	e.Boats = boatFits(cells)
	return e, nil
}

// bundlesNow counts how many times two single boats fit a request together.
func (s *service) bundlesNow(ctx context.Context, id string, r request, cells []cell) (int, error) {
	w, err := s.wish(ctx, r)
	if err != nil {
		return 0, err
	}
	rules, err := s.club(ctx, s.Clock.Now())
	crafts := make([]craft, len(cells))
	for i, c := range cells {
		crafts[i] = c.craft
	}
	return len(bundlesOf(ask{id: id, tier: r.tier, made: r.made, wish: w}, crafts, rules, s.Clock.Now())), err
}

func (s *service) cells(ctx context.Context, id string, r request) ([]cell, error) {
	w, err := s.wish(ctx, r)
	if err != nil {
		return nil, err
	}
	now := s.Clock.Now()
	rules, err := s.club(ctx, now)
	if err != nil {
		return nil, err
	}
	rows, err := s.present(ctx)
	cells := make([]cell, len(rows))
	for i, row := range rows {
		m := match{craft: row.craft, ask: ask{id: id, tier: r.tier, made: r.made, wish: w}, club: rules}
		cells[i] = cell{row.craft, weigh(m), score(m, now)}
	}
	return cells, err
}

// reasons unseals what the last approved round said to a request.
func (s *service) reasons(ctx context.Context, id string, r request) ([]string, error) {
	sealed, err := s.sealedReasons(ctx, id)
	if err != nil || sealed == "" {
		return nil, err
	}
	var reasons []string
	err = s.Vault.Unseal(ctx, string(r.household), message.SealReasons, vault.Sealed(sealed), &reasons)
	if errors.Is(err, vault.ErrErased) {
		return nil, nil
	}
	return reasons, err
}

// boatFits gives the boats, those that fit first and the best of them first.
func boatFits(cells []cell) []message.BoatFit {
	cells = slices.Clone(cells)
	slices.SortStableFunc(cells, func(a, b cell) int {
		return cmp.Or(cmp.Compare(distance(a), distance(b)), cmp.Compare(total(b.parts), total(a.parts)), cmp.Compare(a.craft.name, b.craft.name))
	})
	list := make([]message.BoatFit, len(cells))
	for i, c := range cells {
		list[i] = message.BoatFit{Boat: c.craft.id, Name: c.craft.name, Fits: c.fits(), Score: total(c.parts), Parts: c.parts}
		for _, v := range c.verdicts {
			list[i].Verdicts = append(list[i].Verdicts, message.RuleVerdict{
				Rule: v.rule.name, Answer: string(v.answer), Because: v.because, Source: v.rule.source,
			})
		}
	}
	return list
}
