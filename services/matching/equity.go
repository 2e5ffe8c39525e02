package matching

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// asked is a request as the report counts it.
type asked struct {
	household people.ID
	sealed    string
	tier      int
	made      time.Time
	ended     string
	endedAt   *time.Time
	wish      *message.Wish // nil: cannot be read any more
}

func (a asked) served() bool { return a.ended == placed }

// whoWasServed counts requests. Nothing in the answer is about fewer than
// fewAsked of them.
func (s *service) whoWasServed(ctx context.Context, _ desk.Caller, _ message.WhoWasServed) (message.ServedReport, error) {
	list, err := s.allAsked(ctx)
	if err != nil {
		return message.ServedReport{}, err
	}
	refused, err := s.refusals(ctx)
	return report(list, refused, s.Clock.Now()), err
}

func (s *service) allAsked(ctx context.Context) ([]asked, error) {
	rows, err := s.Pool.Query(ctx, `SELECT household, sealed, tier, made_at, ended, ended_at FROM matching.request ORDER BY request`)
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (asked, error) {
		var a asked
		err := row.Scan(&a.household, &a.sealed, &a.tier, &a.made, &a.ended, &a.endedAt)
		return a, err
	})
	if err != nil {
		return nil, err
	}
	for i, a := range list {
		if a.sealed == "" {
			continue
		}
		var w message.Wish
		err := s.Vault.Unseal(ctx, string(a.household), message.SealWish, vault.Sealed(a.sealed), &w)
		if errors.Is(err, vault.ErrErased) {
			continue
		}
		if err != nil {
			return nil, err
		}
		list[i].wish = &w
	}
	return list, nil
}

func (s *service) refusals(ctx context.Context) (map[string]int, error) {
	rows, err := s.Pool.Query(ctx, `SELECT rule, count(DISTINCT request) FROM matching.refusal GROUP BY rule`)
	if err != nil {
		return nil, err
	}
	counts := map[string]int{}
	var rule string
	var n int
	_, err = pgx.ForEachRow(rows, []any{&rule, &n}, func() error { counts[rule] = n; return nil })
	return counts, err
}

// sorts are what a request can be counted under beside its tier.
func sorts() (names []string, of []func(message.Wish) bool) {
	add := func(name string, is func(message.Wish) bool) { names, of = append(names, name), append(of, is) }
	for _, f := range boat.Features {
		add("asks for: "+string(f), func(w message.Wish) bool { return slices.Contains(w.Needs, f) })
	}
	add("no special need", func(w message.Wish) bool { return len(w.Needs) == 0 })
	add("two single boats would do", func(w message.Wish) bool { return w.TwoSingles })
	add("no car", func(w message.Wish) bool { return w.Transport == noCar })
	add("children paddle along", func(w message.Wish) bool { return len(w.Children) > 0 })
	add("an animal comes along", func(w message.Wish) bool { return len(w.AnimalsG) > 0 })
	return names, of
}

// waits are the ends, in whole weeks, of the spans by which waiting is counted.
var waits = []int{4, 12, 26, 52}

// report counts. It is pure.
func report(list []asked, refused map[string]int, now time.Time) message.ServedReport {
	r := message.ServedReport{Few: fewAsked, Tiers: []message.ServedRow{}, Refusals: []message.RuleTally{}}
	for tier := 1; tier <= 9; tier++ {
		r.Tiers = appendCounted(r.Tiers, fmt.Sprintf("tier %d", tier), list, func(a asked) bool { return a.tier == tier })
	}
	names, of := sorts()
	for i, name := range names {
		r.Needs = appendCounted(r.Needs, name, list, func(a asked) bool { return a.wish != nil && of[i](*a.wish) })
	}
	r.Waited = waited(list, now)
	for _, rule := range rules {
		if n := refused[rule.name]; n > 0 {
			r.Refusals = append(r.Refusals, message.RuleTally{Rule: rule.name, Requests: message.Tally{N: n}})
		}
	}
	hideTheOthers(r.Needs, list)
	suppress(&r)
	return r
}

func appendCounted(rows []message.ServedRow, name string, list []asked, is func(asked) bool) []message.ServedRow {
	row := message.ServedRow{Name: name}
	for _, a := range list {
		if is(a) {
			row.Asked.N++
			if a.served() {
				row.Served.N++
			}
		}
	}
	if row.Asked.N == 0 {
		return rows
	}
	return append(rows, row)
}

func waited(list []asked, now time.Time) []message.WaitRow {
	rows := make([]message.WaitRow, len(waits)+1)
	for i, end := range waits {
		rows[i].Name = fmt.Sprintf("under %d weeks", end)
	}
	rows[len(waits)].Name = fmt.Sprintf("%d weeks and more", waits[len(waits)-1])
	for _, a := range list {
		until := now
		if a.endedAt != nil {
			until = *a.endedAt
		}
		weeks := int(until.Sub(a.made) / (7 * 24 * time.Hour))
		i := slices.IndexFunc(waits, func(end int) bool { return weeks < end })
		if i < 0 {
			i = len(waits)
		}
		switch {
		case a.served():
			rows[i].Served.N++
		case a.ended == "":
			rows[i].Waiting.N++
		}
	}
	return rows
}

// hideTheOthers hides what would tell of few requests by taking a row from all: 48 of
// 50 without a special need are 2 with one.
func hideTheOthers(rows []message.ServedRow, list []asked) {
	var all, read message.ServedRow
	for _, a := range list {
		for _, sum := range []*message.ServedRow{&all, &read} {
			if sum == &read && a.wish == nil {
				continue
			}
			sum.Asked.N++
			if a.served() {
				sum.Served.N++
			}
		}
	}
	for i := range rows {
		for _, sum := range []message.ServedRow{all, read} {
			others, served := sum.Asked.N-rows[i].Asked.N, sum.Served.N-rows[i].Served.N
			rows[i].Asked.Hidden = rows[i].Asked.Hidden || few(others)
			rows[i].Served.Hidden = rows[i].Served.Hidden || few(served) || few(others-served)
		}
	}
}

// suppress hides every number from 1 to below fewAsked, and what would give such
// a number away: the other number of a row whose difference is small, and the next
// smallest numbers of a column whose hidden ones are too few to be added up, because
// the sum of the column may be known elsewhere.
func suppress(r *message.ServedReport) {
	for _, rows := range [][]message.ServedRow{r.Tiers, r.Needs} {
		for i := range rows {
			if few(rows[i].Asked.N) || few(rows[i].Served.N) || few(rows[i].Asked.N-rows[i].Served.N) {
				rows[i].Served.Hidden = true
			}
		}
	}
	var askedOf, servedOf, got, waiting, refused []*message.Tally
	for i := range r.Tiers {
		askedOf, servedOf = append(askedOf, &r.Tiers[i].Asked), append(servedOf, &r.Tiers[i].Served)
	}
	for i := range r.Waited {
		got, waiting = append(got, &r.Waited[i].Served), append(waiting, &r.Waited[i].Waiting)
	}
	for _, column := range [][]*message.Tally{askedOf, servedOf, got, waiting} {
		hideFew(column)
	}
	hideMore(askedOf)
	hideServed(r.Tiers) // a hidden number of all says nothing of the served
	hideMore(servedOf)
	hideMore(got)
	hideMore(waiting)
	for i := range r.Needs { // sorts overlap, so that their columns have no sum
		refused = append(refused, &r.Needs[i].Asked, &r.Needs[i].Served)
	}
	for i := range r.Refusals {
		refused = append(refused, &r.Refusals[i].Requests)
	}
	hideFew(refused)
	hideServed(r.Needs)
	for _, t := range slices.Concat(askedOf, servedOf, got, waiting, refused) {
		if t.Hidden {
			t.N = 0
		}
	}
}

func hideServed(rows []message.ServedRow) {
	for i := range rows {
		rows[i].Served.Hidden = rows[i].Served.Hidden || rows[i].Asked.Hidden
	}
}

func few(n int) bool { return n > 0 && n < fewAsked }

func hideFew(column []*message.Tally) {
	for _, t := range column {
		t.Hidden = t.Hidden || few(t.N)
	}
}

// hideMore hides the smallest numbers that are left in a column where something is
// hidden, until two are and they sum to fewAsked: less than that would be a number of
// few.
func hideMore(column []*message.Tally) {
	for {
		hidden, sum, smallest := 0, 0, (*message.Tally)(nil)
		for _, t := range column {
			switch {
			case t.Hidden:
				hidden++
				sum += t.N
			case t.N > 0 && (smallest == nil || t.N < smallest.N):
				smallest = t
			}
		}
		if hidden == 0 || hidden > 1 && sum >= fewAsked || smallest == nil {
			return
		}
		smallest.Hidden = true
	}
}
