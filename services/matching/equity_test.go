package matching

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// askedOften makes n requests of a tier, made so many weeks before noon, of which
// some were served a week ago.
func askedOften(n, served, tier, weeks int, needs ...boat.Feature) []asked {
	list := make([]asked, n)
	for i := range list {
		list[i] = asked{tier: tier, made: noon.AddDate(0, 0, -7*weeks), wish: &message.Wish{Needs: needs, Transport: onRoof}}
		if i < served {
			at := noon.AddDate(0, 0, -7)
			list[i].ended, list[i].endedAt = placed, &at
		}
	}
	return list
}

func shown(n int) message.Tally { return message.Tally{N: n} }

var hidden = message.Tally{Hidden: true}

func TestTheReportCountsByTierNeedAndWait(t *testing.T) {
	list := append(askedOften(20, 12, 1, 3), askedOften(30, 10, 2, 20, "wide cockpit")...)
	r := report(list, map[string]int{"load": 7, "roof": 2}, noon)
	assert.Equal(t, []message.ServedRow{{Name: "tier 1", Asked: shown(20), Served: shown(12)}, {Name: "tier 2", Asked: shown(30), Served: shown(10)}}, r.Tiers)
	assert.Equal(t, []message.ServedRow{
		{Name: "asks for: wide cockpit", Asked: shown(30), Served: shown(10)}, {Name: "no special need", Asked: shown(20), Served: shown(12)},
	}, r.Needs)
	assert.Equal(t, []message.WaitRow{
		{Name: "under 4 weeks", Served: shown(12), Waiting: shown(8)}, {Name: "under 12 weeks"},
		{Name: "under 26 weeks", Served: shown(10), Waiting: shown(20)}, {Name: "under 52 weeks"}, {Name: "52 weeks and more"},
	}, r.Waited)
	assert.Equal(t, []message.RuleTally{{Rule: "load", Requests: shown(7)}, {Rule: "roof", Requests: hidden}}, r.Refusals)
}

func TestSmallNumbersAreNotTold(t *testing.T) {
	for name, row := range map[string]struct {
		list []asked
		want []message.ServedRow
	}{
		"few asked, and the next smallest with it": {
			append(append(askedOften(4, 0, 1, 1), askedOften(10, 5, 2, 1)...), askedOften(20, 10, 3, 1)...),
			[]message.ServedRow{{Name: "tier 1", Asked: hidden, Served: hidden}, {Name: "tier 2", Asked: hidden, Served: hidden}, {Name: "tier 3", Asked: shown(20), Served: shown(10)}},
		},
		"two of few that are few together, and the next smallest with them": {
			append(append(append(askedOften(1, 0, 1, 1), askedOften(1, 0, 2, 1)...), askedOften(10, 0, 3, 1)...), askedOften(20, 0, 4, 1)...),
			[]message.ServedRow{{Name: "tier 1", Asked: hidden, Served: hidden}, {Name: "tier 2", Asked: hidden, Served: hidden}, {Name: "tier 3", Asked: hidden, Served: hidden}, {Name: "tier 4", Asked: shown(20), Served: shown(0)}},
		},
		"few were served": {
			append(askedOften(10, 4, 1, 1), askedOften(20, 10, 2, 1)...),
			[]message.ServedRow{{Name: "tier 1", Asked: shown(10), Served: hidden}, {Name: "tier 2", Asked: shown(20), Served: hidden}},
		},
		"few were left over": {
			append(askedOften(10, 6, 1, 1), askedOften(20, 10, 2, 1)...),
			[]message.ServedRow{{Name: "tier 1", Asked: shown(10), Served: hidden}, {Name: "tier 2", Asked: shown(20), Served: hidden}},
		},
		"nobody was served": {
			append(askedOften(10, 0, 1, 1), askedOften(20, 10, 2, 1)...),
			[]message.ServedRow{{Name: "tier 1", Asked: shown(10), Served: shown(0)}, {Name: "tier 2", Asked: shown(20), Served: shown(10)}},
		},
	} {
		assert.Equal(t, row.want, report(row.list, nil, noon).Tiers, name)
	}
}

// Whoever knows the sums of all columns cannot work out a number from 1 to 4.
func TestNoSmallNumberCanBeWorkedOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []asked
		for tier := range 3 {
			n := rapid.IntRange(0, 12).Draw(t, "asked")
			list = append(list, askedOften(n, rapid.IntRange(0, n).Draw(t, "served"), tier+1, rapid.IntRange(0, 60).Draw(t, "weeks"))...)
		}
		r := report(list, map[string]int{"load": rapid.IntRange(0, 12).Draw(t, "refused")}, noon)
		var askedOf, servedOf, got, waiting []message.Tally
		var sums [4]int // of the same columns, as somebody may know them elsewhere
		for _, a := range list {
			sums[0]++
			switch {
			case a.served():
				sums[1]++
				sums[2]++
			default:
				sums[3]++
			}
		}
		for _, row := range r.Tiers {
			askedOf, servedOf = append(askedOf, row.Asked), append(servedOf, row.Served)
			if !row.Asked.Hidden && !row.Served.Hidden && few(row.Asked.N-row.Served.N) {
				t.Fatalf("%+v", row)
			}
		}
		for _, row := range r.Waited {
			got, waiting = append(got, row.Served), append(waiting, row.Waiting)
		}
		for i, column := range [][]message.Tally{askedOf, servedOf, got, waiting} {
			hidden, others := 0, 0
			for _, tally := range column {
				if few(tally.N) || tally.Hidden && tally.N != 0 {
					t.Fatalf("%+v", column)
				}
				if tally.Hidden {
					hidden++
				}
				others += tally.N
			}
			if hidden == 1 && others > 0 {
				t.Fatalf("one alone is hidden: %+v", column)
			}
			if hidden > 0 && others > 0 && sums[i]-others < fewAsked {
				t.Fatalf("the hidden numbers of %+v sum to %d", column, sums[i]-others)
			}
		}
	})
}

// Who knows how many asked in all takes those without a special need from it.
func TestFewWithASpecialNeedAreNotTold(t *testing.T) {
	none := func(list []asked) message.ServedRow {
		for _, row := range report(list, nil, noon).Needs {
			if row.Name == "no special need" {
				return row
			}
		}
		return message.ServedRow{}
	}
	many := askedOften(40, 20, 1, 1)
	assert.Equal(t, message.ServedRow{Name: "no special need", Asked: hidden, Served: hidden}, none(append(askedOften(2, 0, 1, 1, "wide cockpit"), many...)))
	assert.Equal(t, message.ServedRow{Name: "no special need", Asked: shown(40), Served: hidden}, none(append(askedOften(10, 3, 1, 1, "wide cockpit"), many...)), "3 of them were served")
	assert.Equal(t, message.ServedRow{Name: "no special need", Asked: shown(40), Served: shown(20)}, none(append(askedOften(10, 5, 1, 1, "wide cockpit"), many...)))
}

// The book takes so many incidents of a boat and no more.
func TestIncidentsAreBounded(t *testing.T) {
	a := after{incidents: make([]string, maxIncidents-1)}
	require.NoError(t, a.mayReport("i50"))
	a.incidents = append(a.incidents, "i50")
	assert.ErrorContains(t, a.mayReport("i51"), "at most 50 incidents of a boat")
}

// Households that were erased are still counted by tier, and by nothing else.
func TestTheReportNeedsNoWish(t *testing.T) {
	list := askedOften(10, 5, 2, 1, "wide cockpit")
	for i := range list {
		list[i].wish = nil
	}
	r := report(list, nil, noon.Add(time.Hour))
	assert.Equal(t, shown(10), r.Tiers[0].Asked)
	assert.Empty(t, r.Needs)
	_, err := json.Marshal(r)
	require.NoError(t, err)
}

// Of few requests it is not told how many boats went where; of more it is.
func TestWhereBoatsWentIsNotToldOfFew(t *testing.T) {
	for asked, want := range map[int]string{
		fewAsked - 1: "So few took part that it is not told how many went where.",
		fewAsked:     "2 boats of this round would fit, and all of them went to other requests.",
	} {
		s, err := drawOf(2, asked).solve()
		require.NoError(t, err)
		require.NotEmpty(t, s.Unserved)
		assert.Contains(t, s.Unserved[0].Reasons[0], want)
		for _, reason := range s.Unserved[0].Reasons {
			if asked < fewAsked {
				assert.NotRegexp(t, `[0-9]`, reason)
			}
		}
	}
}

// The nearest miss in numbers, over all boats that a rule keeps out, and what
// would change it.
func TestReasonsTellByHowMuch(t *testing.T) {
	d := drawOf(3, 1)
	d.crafts[0].facts.RatedLoadG, d.crafts[1].facts.RatedLoadG = 165_000, 160_000 // 120 kg against 115.5 and 112
	d.crafts[2].facts.LengthMM = 5200
	s, err := d.solve()
	require.NoError(t, err)
	own := s.reasons["r000"]
	assert.Contains(t, own, "By the rule on load, 2 boats: over by 4.5 kg at the least and 8 kg at the most.")
	assert.Contains(t, own, "By the rule on storage, 1 boat: over by 0.2 m.")
	assert.Contains(t, own, "What would change it: 2 boats would fit if you take less gear along.")
	assert.Contains(t, own, "What would change it: 1 boat would fit if there is room for a longer boat.")
	for _, reason := range s.Unserved[0].Reasons {
		assert.NotContains(t, reason, "4.5", "the household's numbers are not for the book")
	}
}
