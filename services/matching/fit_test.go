package matching

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// fitting is a boat and a request that pass every rule.
func fitting() match {
	return match{
		craft: craft{
			id: "b1", name: "Heron", ready: true,
			facts: message.BoatFacts{
				Type: boat.Canoe, Seats: 2, LengthMM: 4600, BeamMM: 800, MassG: 19_000, RatedLoadG: 300_000, RatedSource: "plate",
				Features: []boat.Feature{"high seat back"},
			},
		},
		ask: ask{id: "r1", tier: 2, wish: message.Wish{
			Types: []boat.Type{boat.Canoe, boat.SitInside}, Adults: []message.Paddler{{MassG: 80_000}}, Children: []message.Paddler{{Years: 9, MassG: 30_000}},
			GearG: 10_000, Water: "sheltered lake", Experience: "some", Carriers: 2, Transport: "roof", RoofLoadG: 75_000, RackG: 6000, StorageMM: 5000,
			VehicleMM: 4300,
		}},
		club: club{
			loadPercent: 70, gearG: 10_000, today: clock.MustDate("2026-04-01"),
			fitting: map[boat.Feature]int{"grip aids can be fitted": 90}, jackets: map[string]int{"youth": 1, "adult": 1},
		},
	}
}

func TestEveryRulePassesTheFittingBoat(t *testing.T) {
	for _, v := range weigh(fitting()) {
		assert.Equal(t, fits, v.answer, "%s: %s", v.rule.name, v.because)
	}
}

// example is what one rule says of the fitting boat and request after a change.
type example struct {
	rule, name string
	want       answer
	set        func(m *match)
}

// examples stand on both sides of every limit, and where something is not known.
// Limits that have a source name it.
var examples = slices.Concat(examplesOfBoats, examplesOfLoads, examplesOfCarrying, examplesOfPeople)

var (
	examplesOfBoats = []example{
		{"ready", "declared ready", fits, func(*match) {}},
		{"ready", "not declared ready", not, func(m *match) { m.craft.ready = false }},
		{"ready", "left the club", not, func(m *match) { m.craft.gone = "sold" }},

		{"held", "kept back", not, func(m *match) { m.craft.held = "water behind the bulkhead" }},
		{"held", "not kept back", fits, func(*match) {}},

		{"promise", "offered to another", not, func(m *match) { m.craft.promisedTo = "r2" }},
		{"promise", "offered to this request", fits, func(m *match) { m.craft.promisedTo = "r1" }},

		{"quarantine", "dry today", fits, func(m *match) { m.craft.quarantine = clock.MustDate("2026-04-01") }},
		{"quarantine", "dry tomorrow", not, func(m *match) { m.craft.quarantine = clock.MustDate("2026-04-02") }},
		{"quarantine", "the day is not known", asks, func(m *match) {
			m.craft.quarantine, m.club.today = clock.MustDate("2026-04-02"), clock.Date{}
		}},

		{"type", "second choice", fits, func(m *match) { m.craft.facts.Type = boat.SitInside }},
		{"type", "not named", not, func(m *match) { m.craft.facts.Type = boat.Board }},
		{"type", "not noted", asks, func(m *match) { m.craft.facts.Type = "" }},

		{"seats", "one each", fits, func(*match) {}},
		{"seats", "one short", not, func(m *match) { m.craft.facts.Seats = 1 }},
		{"seats", "not counted", asks, func(m *match) { m.craft.facts.Seats = 0 }},
	}

	examplesOfLoads = []example{
		// 120 kg in the boat; 70 % is the setting load-percent.
		{"load", "exactly the share", fits, func(m *match) { m.craft.facts.RatedLoadG = 171_430 }},
		{"load", "a gram over the share", not, func(m *match) { m.craft.facts.RatedLoadG = 171_427 }},
		{"load", "a person's mass not stated", asks, func(m *match) { m.ask.wish.Adults[0].MassG = 0 }},
		{"load", "not stated, and too much without", not, func(m *match) {
			m.ask.wish.Adults[0].MassG, m.craft.facts.RatedLoadG = 0, 50_000
		}},
		{"load", "gear not stated is the club's 10 kg", fits, func(m *match) {
			m.ask.wish.GearG, m.craft.facts.RatedLoadG = 0, 171_430
		}},
		{"load", "a dog of 10 kg counts as 11", not, func(m *match) {
			m.ask.wish.AnimalsG, m.craft.facts.RatedLoadG = []int{10_000}, 187_000 // 130.9 kg
		}},
		{"load", "the club's estimate, within the margin", fits, func(m *match) {
			m.craft.facts.RatedSource, m.craft.facts.RatedLoadG = "club's estimate", 214_300 // 80 % of 70 %: 120.008 kg
		}},
		{"load", "the club's estimate, inside the margin's doubt", asks, func(m *match) {
			m.craft.facts.RatedSource, m.craft.facts.RatedLoadG = "club's estimate", 214_200
		}},
		{"load", "the club's estimate, over it", not, func(m *match) {
			m.craft.facts.RatedSource, m.craft.facts.RatedLoadG = "club's estimate", 171_000
		}},
		{"load", "no figure, reckoned from the form, not enough margin", asks, func(m *match) { m.craft.facts.RatedLoadG = 0 }},
		{"load", "no figure, reckoned from the form, much margin", fits, func(m *match) {
			m.craft.facts.RatedLoadG, m.ask.wish.Children, m.ask.wish.Adults[0].MassG = 0, nil, 48_000
		}},
		{"load", "no figure and no beam", asks, func(m *match) { m.craft.facts.RatedLoadG, m.craft.facts.BeamMM = 0, 0 }},

		// A worked canoe of 4.60 × 0.80 m, waterplane coefficient 0.61 here: 2.2448 m²,
		// 22.448 kg a centimetre (10·A in fresh water), so 120 kg sink it 5.3 cm. With
		// block 0.42 it lies 139 kg / (1000·0.42·4.6·0.8) = 9.0 cm deep.
		{"freeboard", "the maker's rating stands", fits, func(*match) {}},
		{"freeboard", "a canoe keeps 6 inches and one of doubt", fits, unrated(boat.Canoe, 268)},
		{"freeboard", "a canoe within the doubt", asks, unrated(boat.Canoe, 267)},
		{"freeboard", "a canoe at 6 inches", asks, unrated(boat.Canoe, 243)},
		{"freeboard", "a canoe below 6 inches", not, unrated(boat.Canoe, 242)},
		{"freeboard", "a kayak keeps 2.5 inches and one of doubt", fits, unrated(boat.SitOnTop, 179)},
		{"freeboard", "a kayak below 2.5 inches", not, unrated(boat.SitOnTop, 153)},
		{"freeboard", "the club's own estimate is no rating", not, func(m *match) {
			unrated(boat.Canoe, 242)(m)
			m.craft.facts.RatedLoadG, m.craft.facts.RatedSource = 300_000, "club's estimate"
		}},
		{"freeboard", "depth not measured", asks, unrated(boat.Canoe, 0)},
		{"freeboard", "a board that nobody has rated", asks, unrated(boat.Board, 300)},
		{"freeboard", "a board that the club has rated", fits, func(m *match) {
			unrated(boat.Board, 0)(m)
			m.craft.facts.RatedLoadG, m.craft.facts.RatedSource = 300_000, "club's estimate"
		}},
		{"freeboard", "a person's mass not stated", asks, func(m *match) {
			unrated(boat.Canoe, 400)(m)
			m.ask.wish.Adults[0].MassG = 0
		}},

		{"each seat", "the label's limit", fits, func(m *match) { m.craft.facts.SeatLimitG = 80_000 }},
		{"each seat", "a gram over the label's limit", not, func(m *match) { m.craft.facts.SeatLimitG = 79_999 }},
		{"each seat", "an even share of the rated load", fits, func(m *match) { m.craft.facts.RatedLoadG = 160_000 }},
		{"each seat", "a gram over an even share", asks, func(m *match) { m.craft.facts.RatedLoadG = 159_998 }},
		{"each seat", "a person's mass not stated", asks, func(m *match) { m.ask.wish.Children[0].MassG = 0 }},
		{"each seat", "neither label nor load", asks, func(m *match) { m.craft.facts.RatedLoadG, m.craft.facts.BeamMM = 0, 0 }},
	}

	examplesOfCarrying = []example{
		// One person: NIOSH 94-110, 23 kg × 25/40 = 14.375 kg. Two: HSE guidance on
		// the Manual Handling Operations Regulations 1992, 4/3 of that, 19.1667 kg.
		{"carry", "two at their limit", fits, func(m *match) { m.craft.facts.MassG = 19_166 }},
		{"carry", "two, a gram over", asks, func(m *match) { m.craft.facts.MassG = 19_167 }},
		{"carry", "one at the limit", fits, func(m *match) { m.ask.wish.Carriers, m.craft.facts.MassG = 1, 14_375 }},
		{"carry", "one, a gram over", asks, func(m *match) { m.ask.wish.Carriers, m.craft.facts.MassG = 1, 14_376 }},
		{"carry", "three: 3/2, 21.5625 kg", fits, func(m *match) { m.ask.wish.Carriers, m.craft.facts.MassG = 3, 21_562 }},
		{"carry", "five carry no more than three", asks, func(m *match) { m.ask.wish.Carriers, m.craft.facts.MassG = 5, 21_563 }},
		// HSE's own example: two of 20 kg each carry 26.7 kg.
		{"carry", "two of 20 kg each", fits, func(m *match) { m.ask.wish.EachLiftsG, m.craft.facts.MassG = 20_000, 26_666 }},
		{"carry", "two of 20 kg each, a gram over", not, func(m *match) { m.ask.wish.EachLiftsG, m.craft.facts.MassG = 20_000, 26_667 }},
		{"carry", "a cart: half at one end", fits, func(m *match) { m.ask.wish.HasCart, m.craft.facts.MassG = true, 38_332 }},
		{"carry", "a cart, a gram too much at one end", asks, func(m *match) { m.ask.wish.HasCart, m.craft.facts.MassG = true, 38_334 }},
		{"carry", "a cart, and too much by their own word", not, func(m *match) {
			m.ask.wish.HasCart, m.ask.wish.EachLiftsG, m.craft.facts.MassG = true, 10_000, 26_668
		}},
		{"carry", "not weighed", asks, func(m *match) { m.craft.facts.MassG = 0 }},
		{"carry", "nobody named to carry", asks, func(m *match) { m.ask.wish.Carriers = 0 }},

		{"roof", "boat and rack at the limit", fits, func(m *match) { m.ask.wish.RoofLoadG = 25_000 }},
		{"roof", "a gram over with the rack", not, func(m *match) { m.ask.wish.RoofLoadG = 24_999 }},
		{"roof", "the handbook not read", asks, func(m *match) { m.ask.wish.RoofLoadG = 0 }},
		{"roof", "the rack not weighed", asks, func(m *match) { m.ask.wish.RackG = 0 }},
		{"roof", "the boat alone over", not, func(m *match) { m.ask.wish.RackG, m.ask.wish.RoofLoadG = 0, 18_999 }},
		{"roof", "the boat not weighed", asks, func(m *match) { m.craft.facts.MassG = 0 }},
		{"roof", "a trailer", fits, func(m *match) { m.ask.wish.Transport, m.ask.wish.RoofLoadG = "trailer", 0 }},
		{"roof", "no car", fits, func(m *match) { m.ask.wish.Transport, m.ask.wish.RoofLoadG = "none", 0 }},
		{"roof", "goes into a bag", fits, func(m *match) { m.craft.facts.Type, m.ask.wish.RoofLoadG = boat.Inflatable, 0 }},

		{"storage", "as long as the room", fits, func(m *match) { m.ask.wish.StorageMM = 4600 }},
		{"storage", "a millimetre too long", not, func(m *match) { m.ask.wish.StorageMM = 4599 }},
		{"storage", "room not stated", asks, func(m *match) { m.ask.wish.StorageMM = 0 }},
		{"storage", "not measured", asks, func(m *match) { m.craft.facts.LengthMM = 0 }},
		{"storage", "goes into a bag", fits, func(m *match) { m.craft.facts.Type, m.ask.wish.StorageMM = boat.InflatableCanoe, 0 }},
	}

	examplesOfPeople = []example{
		{"floor", "no animal", fits, func(*match) {}},
		{"floor", "a dog, and floor space", fits, func(m *match) {
			m.ask.wish.AnimalsG, m.craft.facts.Features = []int{20_000}, []boat.Feature{"floor space for a dog"}
		}},
		{"floor", "a dog, and none", not, func(m *match) { m.ask.wish.AnimalsG = []int{20_000} }},
		{"floor", "a dog, and nobody looked", asks, func(m *match) { m.ask.wish.AnimalsG, m.craft.facts.Features = []int{20_000}, nil }},

		{"needs", "has it", fits, func(m *match) { m.ask.wish.Needs = []boat.Feature{"high seat back"} }},
		{"needs", "lacks it", not, func(m *match) { m.ask.wish.Needs = []boat.Feature{"high seat back", "wide cockpit"} }},
		{"needs", "the workshop can add it", fitsIf, func(m *match) { m.ask.wish.Needs = []boat.Feature{"grip aids can be fitted"} }},
		{"needs", "the workshop can add one of two", not, func(m *match) {
			m.ask.wish.Needs = []boat.Feature{"grip aids can be fitted", "wide cockpit"}
		}},
		{"needs", "the workshop adds nothing", not, func(m *match) {
			m.ask.wish.Needs, m.club.fitting = []boat.Feature{"grip aids can be fitted"}, nil
		}},
		{"needs", "nobody looked", asks, func(m *match) {
			m.ask.wish.Needs, m.craft.facts.Features = []boat.Feature{"wide cockpit"}, nil
		}},

		{"experience", "some, a short closed cockpit", fits, closedCockpit("some", 4299, "high seat back")},
		{"experience", "some, a touring kayak", asks, closedCockpit("some", 4300, "high seat back")},
		{"experience", "some, not measured", asks, closedCockpit("some", 0, "high seat back")},
		{"experience", "none, a wide short cockpit", fits, closedCockpit("none", 3200, "wide cockpit")},
		{"experience", "none, a long wide cockpit", not, closedCockpit("none", 4300, "wide cockpit")},
		{"experience", "none, a narrow cockpit", not, closedCockpit("none", 3200, "high seat back")},
		{"experience", "none, not measured", asks, closedCockpit("none", 0, "wide cockpit")},
		{"experience", "none, nobody looked", asks, closedCockpit("none", 3200)},
		{"experience", "much, a touring kayak", fits, closedCockpit("much", 5200)},
		{"experience", "not stated", asks, closedCockpit("", 3200, "wide cockpit")},

		{"water", "sheltered, no experience", fits, func(m *match) { m.ask.wish.Experience = "none" }},
		{"water", "open, no experience", not, func(m *match) { m.ask.wish.Experience, m.ask.wish.Water = "none", "large lake" }},
		{"water", "open, some experience", fits, func(m *match) { m.ask.wish.Water = "river, class I" }},
		{"water", "open, some experience, on a board", asks, func(m *match) {
			m.ask.wish.Water, m.craft.facts.Type = "coast, near the shore", boat.Board
		}},
		{"water", "open, much experience, on a board", fits, func(m *match) {
			m.ask.wish.Water, m.craft.facts.Type, m.ask.wish.Experience = "coast, near the shore", boat.Board, "much"
		}},
		{"water", "not one that the form names", asks, func(m *match) { m.ask.wish.Water = "the backwater" }},
		{"water", "open, experience not stated", asks, func(m *match) { m.ask.wish.Water, m.ask.wish.Experience = "large lake", "" }},

		// Sizes by the harmonised labels: youth up to 40 kg.
		{"jackets", "an adult and a youth", fits, func(m *match) { m.ask.wish.Children[0].MassG = 40_000 }},
		{"jackets", "a gram over the youth size", fitsIf, func(m *match) { m.ask.wish.Children[0].MassG = 40_001 }},
		{"jackets", "the youngest youth", fits, func(m *match) { m.ask.wish.Children[0].MassG = 25_000 }},
		{"jackets", "a child's size", fitsIf, func(m *match) { m.ask.wish.Children[0].MassG = 24_999 }},
		{"jackets", "their own", fits, func(m *match) { m.ask.wish.OwnJackets, m.club.jackets = true, map[string]int{} }},
		{"jackets", "nobody has counted", fitsIf, func(m *match) { m.club.jackets = nil }},
		{"jackets", "a person's mass not stated", asks, func(m *match) { m.ask.wish.Adults[0].MassG = 0 }},
	}
)

func TestRulesOnBothSidesOfTheirLimits(t *testing.T) {
	for _, row := range examples {
		m := fitting()
		row.set(&m)
		v := verdictOf(t, row.rule, m)
		assert.Equal(t, row.want, v.answer, "%s, %s: %s", row.rule, row.name, v.because)
	}
}

// noUnknown are rules about what the club itself says: silence means that it has
// said nothing.
var noUnknown = []string{"ready", "held", "promise"}

// Every rule has an example that passes, one that does not, and one in which
// something is not known, and without the rule some example ends otherwise: the
// boat then fits, or fits without its condition.
func TestNoRuleCanBeLeftOut(t *testing.T) {
	for i, r := range rules {
		t.Run(r.name, func(t *testing.T) {
			seen, matters := map[answer]bool{}, false
			for _, row := range examples {
				if row.rule != r.name {
					continue
				}
				m := fitting()
				row.set(&m)
				seen[row.want] = true
				verdicts := weigh(m)
				with := outcome(verdicts)
				verdicts[i].answer = fits
				matters = matters || outcome(verdicts) != with
			}
			assert.True(t, matters, "nothing changes without it")
			assert.True(t, seen[fits] || slices.Contains(noUnknown, r.name), "no example passes")
			assert.True(t, seen[not] || seen[fitsIf], "no example is on the other side")
			assert.True(t, seen[asks] || slices.Contains(noUnknown, r.name), "no example is unknown")
		})
	}
}

// outcome is the worst answer of all.
func outcome(verdicts []verdict) answer {
	worst := fits
	for _, v := range verdicts {
		for _, a := range []answer{fitsIf, asks, not} {
			if v.answer == a && slices.Index([]answer{fits, fitsIf, asks, not}, a) > slices.Index([]answer{fits, fitsIf, asks, not}, worst) {
				worst = a
			}
		}
	}
	return worst
}

// unrated is a boat without a maker's rating, of that depth.
func unrated(of boat.Type, depthMM int) func(*match) {
	return func(m *match) {
		m.craft.facts.RatedLoadG, m.craft.facts.RatedSource = 0, ""
		m.craft.facts.Type, m.craft.facts.DepthMM = of, depthMM
	}
}

// The worked canoe of 4.60 × 0.80 m: 100 kg sink it by 100 / (10 · 0.61 · 3.68) cm.
// With the coefficient of 0.68 that books give a canoe it would be 4.0; ours errs
// to the deep side.
func TestSinkageIsNeverLessThanThePublishedOne(t *testing.T) {
	f := fitting().craft.facts
	mm, known := sinkage(f, 100_000)
	require.True(t, known)
	assert.InDelta(t, 44.5, mm, 0.1)
	assert.Greater(t, mm, 40.0)
	f.Type = boat.Inflatable
	_, known = sinkage(f, 100_000)
	assert.False(t, known, "it has another form")
}

func TestOverhangIsNoticed(t *testing.T) {
	for name, row := range map[string]struct {
		length, vehicle int
		words           string
	}{
		"just under a metre":      {6298, 4300, ""},
		"a metre at each end":     {6300, 4300, "Mark the end so that it is seen"},
		"four feet at each end":   {6738, 4300, "red flag"},
		"the car is not measured": {4600, 0, "Measure how far"},
		"the boat is not":         {0, 4300, "Measure how far"},
	} {
		got := overhang(row.length, row.vehicle)
		if row.words == "" {
			assert.Empty(t, got, name)
		} else {
			assert.Contains(t, got, row.words, name)
		}
	}
}

func closedCockpit(experience string, lengthMM int, features ...boat.Feature) func(*match) {
	return func(m *match) {
		m.craft.facts.Type, m.craft.facts.LengthMM, m.craft.facts.Features = boat.SitInside, lengthMM, features
		m.ask.wish.Experience = experience
	}
}

func verdictOf(t *testing.T, rule string, m match) verdict {
	t.Helper()
	verdicts := weigh(m)
	i := slices.IndexFunc(verdicts, func(v verdict) bool { return v.rule.name == rule })
	require.GreaterOrEqual(t, i, 0, "no rule %q", rule)
	return verdicts[i]
}

// A payload from the form: 4.60 × 0.80 m at the 5 inches that one builder allows
// a tandem canoe, block coefficient 0.42: 1000 × 0.42 × 4.6 × 0.8 × 0.127 = 196.3
// kg of water, less the hull's 19.
func TestPayloadFromTheForm(t *testing.T) {
	m := fitting()
	m.craft.facts.RatedLoadG = 0
	grams, ok := payloadOf(m.craft.facts)
	require.True(t, ok)
	assert.Equal(t, 177_000, grams)
	m.craft.facts.Type = boat.Board
	_, ok = payloadOf(m.craft.facts)
	assert.False(t, ok, "a board has another form")
}

// Whatever is not known, no rule that needs it says that the boat fits.
func TestNothingKnownIsNeverAFit(t *testing.T) {
	m := match{ask: ask{id: "r1", wish: message.Wish{
		Types: []boat.Type{boat.Canoe}, Adults: []message.Paddler{{}}, Needs: []boat.Feature{"wide cockpit"}, Transport: "roof",
	}}, club: fitting().club}
	for _, v := range weigh(m) {
		if slices.Contains([]string{"held", "promise", "quarantine", "floor", "experience"}, v.rule.name) {
			continue // nothing of these was noted, which is what they ask
		}
		assert.NotEqual(t, fits, v.answer, "%s: %s", v.rule.name, v.because)
	}
}

// More load never turns a boat that does not fit into one that does.
func TestMoreLoadNeverHelps(t *testing.T) {
	rank := map[answer]int{fits: 2, asks: 1, not: 0}
	rapid.Check(t, func(t *rapid.T) {
		m := fitting()
		m.craft.facts.RatedLoadG = rapid.SampledFrom([]int{0, 100_000, 200_000, 400_000}).Draw(t, "rated")
		m.craft.facts.RatedSource = rapid.SampledFrom([]string{"plate", "club's estimate"}).Draw(t, "source")
		m.ask.wish.GearG = rapid.IntRange(100, 300_000).Draw(t, "gear")
		before, _ := judgeLoad(m)
		m.ask.wish.GearG += rapid.IntRange(1, 100_000).Draw(t, "more")
		after, _ := judgeLoad(m)
		if rank[after] > rank[before] {
			t.Fatalf("%s became %s", before, after)
		}
	})
}

// No sentence promises what nobody can, and every rule names where it is from.
func TestSentencesPromiseNothing(t *testing.T) {
	texts := slices.Clone(limits)
	for _, r := range rules {
		require.NotEmpty(t, r.source, r.name)
		texts = append(texts, r.source, r.wants, r.yes, r.no, r.ask)
	}
	for _, m := range []match{fitting(), {}} {
		for _, v := range weigh(m) {
			assert.True(t, strings.HasSuffix(v.because, "."), "%s: %q is no sentence", v.rule.name, v.because)
			texts = append(texts, v.because, v.plain())
		}
	}
	for _, row := range examplesOfCarrying {
		m := fitting()
		row.set(&m)
		_, because := judgeCarry(m)
		if strings.Contains(because, "NIOSH") {
			assert.Contains(t, because, "which is for two hands, a level load and good footing, not for a walk or a wet ramp", "what the number does not cover stands beside it")
		}
	}
	assert.Subset(t, sheetOf(fitting()).Notes, limits, "beside the numbers of the sheet")
	texts = append(texts, checkLines(fitting().craft)...)
	for _, text := range texts {
		assert.NotContains(t, strings.ToLower(text), "safe")
	}
}

func TestScoreParts(t *testing.T) {
	now := time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
	for name, row := range map[string]struct {
		set  func(*match)
		part string
		want int64
	}{
		"first choice":                {func(*match) {}, "type", 30},
		"second choice":               {func(m *match) { m.craft.facts.Type = boat.SitInside }, "type", 20},
		"40 % of the rated load":      {func(*match) {}, "load", 40},
		"60 %, the middle's end":      {func(m *match) { m.craft.facts.RatedLoadG = 200_000 }, "load", 40},
		"64 %, four above":            {func(m *match) { m.craft.facts.RatedLoadG = 187_000 }, "load", 32},
		"30 %, five below":            {func(m *match) { m.craft.facts.RatedLoadG = 400_000 }, "load", 30},
		"no rated load":               {func(m *match) { m.craft.facts.RatedLoadG = 0 }, "load", 0},
		"nothing to add":              {func(*match) {}, "work", 10},
		"an hour and a half to add":   {func(m *match) { m.ask.wish.Needs = []boat.Feature{"grip aids can be fitted"} }, "work", 8},
		"six days":                    {func(m *match) { m.ask.made = now.AddDate(0, 0, -6) }, "wait", 0},
		"two weeks":                   {func(m *match) { m.ask.made = now.AddDate(0, 0, -14) }, "wait", 2},
		"more than half a year: cap":  {func(m *match) { m.ask.made = now.AddDate(-2, 0, 0) }, "wait", 30},
		"a clock that went backwards": {func(m *match) { m.ask.made = now.AddDate(0, 0, 9) }, "wait", 0},
	} {
		m := fitting()
		m.ask.made = now
		row.set(&m)
		parts := score(m, now)
		i := slices.IndexFunc(parts, func(p message.ScorePart) bool { return p.Name == row.part })
		assert.Equal(t, row.want, parts[i].Points, "%s: %s", name, parts[i].Words)
	}
}
