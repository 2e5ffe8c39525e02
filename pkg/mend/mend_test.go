package mend

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
)

func TestTheTableIsWhole(t *testing.T) {
	for _, m := range boat.Materials {
		for _, method := range Methods {
			r := rowOf(m, method)
			assert.NotEmpty(t, r.words, "%s, %s", m, method)
			if r.suits {
				assert.Positive(t, r.minutes, "%s, %s", m, method)
				assert.True(t, strings.HasSuffix(r.words, ".") || strings.HasSuffix(r.words, ")."), "%s, %s: sentences", m, method)
			} else {
				assert.False(t, strings.HasSuffix(r.words, "."), "%s, %s: a half sentence that follows “because”", m, method)
			}
		}
	}
	for broken, why := range map[string]string{
		"wood | weld": "2 parts, not 7", "stone | weld | fails | - | 0 | guides | no": "no material", "any | pray | suits | - | 1 | guides | x": "no method",
		"any | weld | may | - | 1 | guides | x": "neither", "any | weld | suits | luck | 1 | guides | x": "no skill",
		"any | weld | suits | - | long | guides | x": "invalid syntax", "any | weld | suits | - | 1 | hearsay | x": "no mark",
	} {
		_, _, _, err := readRow(broken)
		assert.ErrorContains(t, err, why)
	}
	assert.Panics(t, func() { mustRead("# a remark\n\nwood | weld\n") })
}

// Published repair guides, drawn together: polyethylene is welded with the same
// polymer from both sides and not by a bead laid over a crack; epoxy alone does
// not hold on it; cross-linked polyethylene cannot be welded; PVC is never flamed
// (from memory); brittle plastic is retired.
func TestWhatEveryGuideSays(t *testing.T) {
	crack := Finding{Part: "hull", Defect: "crack", Severity: boat.Watch}
	brittle := Finding{Part: "hull", Defect: "brittleness", Severity: boat.DoNotUse}
	for _, row := range []struct {
		method   string
		f        Finding
		m        boat.Material
		suits    bool
		says     string
		mark     Mark
		unmarked bool
	}{
		{"weld", crack, boat.Rotomoulded, true, "same polymer", Guides, false},
		{"weld", crack, boat.Rotomoulded, true, "the other side", Guides, false},
		{"weld", crack, boat.Rotomoulded, true, "melt the parent", Guides, false},
		{"weld", crack, boat.Rotomoulded, true, "only laid over a crack peels off", Guides, false},
		{"laminate", crack, boat.Rotomoulded, false, "resin alone does not hold on polyethylene", Guides, false},
		{"weld", crack, boat.CrossLinked, false, "cannot be welded", Guides, false},
		{"weld", crack, boat.PVC, false, "never flamed", Memory, false},
		{"weld", brittle, boat.Rotomoulded, false, "retire the boat", Guides, false},
		{"laminate", brittle, boat.ABSSandwich, false, "retire the boat", Guides, false},
		{"scarf", brittle, boat.Wood, true, "twelve to one", Guides, false},
		{LeaveAndWatch, brittle, boat.Rotomoulded, false, "cannot be left", Practice, false},
		{"fill", Finding{Part: "hull number"}, boat.Rotomoulded, false, "33 CFR 181.35", Memory, false},
	} {
		a := ForMethod(row.method, row.f, row.m)
		assert.Equal(t, row.suits, a.Suits, "%s on %s", row.method, row.m)
		assert.Contains(t, a.Words, row.says)
		assert.Equal(t, row.mark, a.Mark)
	}
	assert.False(t, ForMethod("pray", crack, boat.Wood).Suits)
}

func TestAdviceComesInOrderAndHardPlacesTakeLonger(t *testing.T) {
	crack := Finding{Part: "hull", Defect: "crack", Severity: boat.DoNotUse}
	assert.Equal(t, []string{"weld", "patch", "fill", "replace part", "re-bed fitting", Scrap}, MayDo(crack, boat.Rotomoulded))
	assert.Equal(t, Scrap, Advise(Finding{Part: "deck", Defect: "brittleness", Severity: boat.DoNotUse}, boat.Rotomoulded)[0].Method)
	assert.Equal(t, "replace part", Advise(Finding{Part: "bungee", Defect: "perished", Severity: boat.Use}, boat.Rotomoulded)[0].Method)
	assert.Equal(t, LeaveAndWatch, Advise(Finding{Part: "keel line", Defect: "abrasion", Severity: boat.Watch}, boat.Rotomoulded)[0].Method)
	assert.Len(t, Advise(crack, boat.Rotomoulded), len(Methods), "what fails is named, too")

	// A fitting can be of any material; a rim that is moulded in cannot.
	yoke, rim := Finding{Part: "yoke", Defect: "crack"}, Finding{Part: "hatch rim", Defect: "crack"}
	assert.True(t, ForMethod("laminate", yoke, boat.Rotomoulded).Unsure)
	assert.False(t, ForMethod("laminate", rim, boat.Rotomoulded).Suits)
	assert.True(t, ForMethod("laminate", rim, boat.Composite).Suits)
	assert.True(t, ForMethod("weld", yoke, boat.Wood).Unsure)
	for _, m := range []boat.Material{boat.PVC, boat.ABSSandwich} {
		assert.False(t, ForMethod("weld", yoke, m).Suits, "heat on a fitting reaches the hull: %s", m)
	}

	edge := crack
	edge.Part = "chine"
	flat, hard := ForMethod("weld", crack, boat.Rotomoulded), ForMethod("weld", edge, boat.Rotomoulded)
	assert.Empty(t, flat.Hard)
	assert.Equal(t, "an edge", hard.Hard)
	assert.Greater(t, hard.Minutes, flat.Minutes)
	assert.Equal(t, HotWork, hard.Skill)
	assert.Equal(t, Laminating, ForMethod("laminate", crack, boat.Composite).Skill)
	assert.Empty(t, ForMethod("replace part", crack, boat.Rotomoulded).Skill)
}

// A trade chart of hot-gas temperatures; DVS 2203-1 for the factors and the
// temperatures of ignition from memory: 20 MPa of polyethylene give a weld of 16
// for short and 8 for lasting load.
func TestWelds(t *testing.T) {
	air := map[string][2]int{}
	for _, w := range Welds {
		air[w.Plastic] = [2]int{w.Celsius, w.Ignites}
		assert.True(t, w.Ignites == 0 || w.Celsius < w.Ignites, "%s: the chart's air does not set it on fire", w.Plastic)
	}
	assert.Equal(t, map[string][2]int{"high-density polyethylene": {300, 350}, "low-density or soft polyethylene": {270, 350}, "polypropylene": {300, 0}, "ABS": {350, 416}}, air)
	short, lasting := WeldStrength(20)
	assert.InDelta(t, 16, short, 1e-9)
	assert.InDelta(t, 8, lasting, 1e-9)
}

func TestWhichTestsABoatNeeds(t *testing.T) {
	// Common practice; that a boat without working flotation is not let out is in
	// the published repair guides.
	on := func(p boat.Part, load bool) []Finding { return []Finding{{Part: p, LoadBearing: load}} }
	for name, row := range map[string]struct {
		boat Boat
		want string
	}{
		"a sit-on-top":              {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded}, "leak"},
		"a sit-inside":              {Boat{Type: boat.SitInside, Material: boat.Rotomoulded}, "leak flotation"},
		"a wooden canoe":            {Boat{Type: boat.Canoe, Material: boat.Wood}, "leak"},
		"a metal canoe":             {Boat{Type: boat.Canoe, Material: boat.Aluminium}, "leak flotation"},
		"a composite canoe":         {Boat{Type: boat.Canoe, Material: boat.Composite}, "leak flotation"},
		"a rigid board":             {Boat{Type: boat.Board, Material: boat.Composite}, "leak"},
		"a board that is blown up":  {Boat{Type: boat.Board, Material: boat.PVC}, "pressure"},
		"an inflatable":             {Boat{Type: boat.Inflatable, Material: boat.PVC}, "pressure"},
		"a new valve":               {Boat{Type: boat.Board, Material: boat.PVC, Mended: on("valve", false)}, "pressure valves"},
		"a seat was mended":         {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded, Mended: on("seat", false)}, "leak fittings"},
		"a hull crack under load":   {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded, Mended: on("hull", true)}, "leak load"},
		"a seat mount under load":   {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded, Mended: on("seat mount", true)}, "leak load fittings"},
		"a hull number was left":    {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded, Mended: on("hull number", false)}, "leak"},
		"foam found loose":          {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded, Found: on("foam pillar", false)}, "leak flotation"},
		"foam found loose, wrongly": {Boat{Type: boat.SitOnTop, Material: boat.Rotomoulded}, "leak"},
	} {
		var got []string
		for _, n := range Needed(row.boat) {
			got = append(got, string(n.Test))
			assert.NotEmpty(t, n.Because)
			assert.NotEmpty(t, n.Mark)
		}
		assert.Equal(t, row.want, strings.Join(got, " "), name)
	}
	var waivable []Test
	for _, test := range Tests {
		trial := TrialOf(test)
		assert.Equal(t, test, trial.Test)
		assert.True(t, len(trial.How) > 0 && len(trial.Cautions) > 0 && trial.Passes != "" && trial.Mark != "", test)
		if Waivable(test) {
			waivable = append(waivable, test)
		}
	}
	assert.Equal(t, []Test{Fittings, Valves}, waivable)
}

// everyJob gives a work sheet of every method that suits every material and type.
func everyJob() []Job {
	var jobs []Job
	for _, m := range boat.Materials {
		for _, of := range boat.Types {
			j := Job{Type: of, Material: m, MassG: 25_000, Tests: Needed(Boat{Type: of, Material: m, Mended: []Finding{{Part: "seat mount", LoadBearing: true}, {Part: "valve"}}})}
			for _, part := range boat.Parts {
				f := Finding{Part: part, Defect: "crack", Severity: boat.MendBefore}
				for _, method := range MayDo(f, m) {
					j.Works = append(j.Works, Work{ID: fmt.Sprint("w", len(j.Works)), Method: method, Findings: []Place{{f, "crack: " + string(part)}}})
				}
			}
			jobs = append(jobs, j)
		}
	}
	return jobs
}

func TestEveryStepCanBeDoneInTheOrderOfTheSheet(t *testing.T) {
	for _, j := range everyJob() {
		steps, seen := Sheet(j), map[string]bool{}
		for _, s := range steps {
			for _, before := range s.After {
				require.True(t, seen[before], "%s comes after %s, which is not before it", s.ID, before)
			}
			require.False(t, seen[s.ID], "%s stands twice", s.ID)
			seen[s.ID] = true
			assert.True(t, s.Title != "" && len(s.Do) > 0 && len(s.Ask) > 0 && s.Mark != "", s.ID)
			assert.True(t, s.Wait != nil || s.Minutes > 0, "%s takes time", s.ID)
			if s.Work != "" {
				assert.True(t, len(s.Tools) > 0 && len(s.Parts) > 0 && len(s.Cautions) > 0, "%s: %s", s.ID, s.Title)
			}
		}
		place := func(part string) int {
			return slices.IndexFunc(steps, func(s Step) bool { return strings.HasPrefix(s.ID, part) })
		}
		assert.True(t, place(Drain) < place(Clean) && place(Clean) < place(LookAgain) && place(LookAgain) < place("mend-") && place("mend-") < place("test-"))
	}
	assert.Empty(t, Sheet(Job{Type: boat.Canoe, Material: boat.Wood}), "nothing planned, nothing to do")
	assert.Empty(t, Sheet(Job{Works: []Work{{ID: "w", Method: LeaveAndWatch}}}))
}

func TestTheSheetOfAWeldAndASeat(t *testing.T) {
	crack := Place{Finding{Part: "scupper", Defect: "crack", Severity: boat.MendBefore}, "crack: scupper"}
	seat := Place{Finding{Part: "seat", Defect: "worn", Severity: boat.MendBefore}, "worn: seat"}
	j := Job{
		Type: boat.SitOnTop, Material: boat.Rotomoulded, Tests: []Need{{Leak, "its shell keeps the water out", Practice}},
		Works:  []Work{{ID: "b", Method: "replace part", Findings: []Place{seat}}, {ID: "a", Method: "weld", Findings: []Place{crack}, Words: "from inside first"}},
		Ticked: map[string]bool{Drain: true, Clean: true},
	}
	steps := Sheet(j)
	var order []string
	for _, s := range steps {
		order = append(order, s.ID)
	}
	assert.Equal(t, []string{Drain, Clean, LookAgain, "mend-a", "wait-a", "mend-b", Protect, "test-leak"}, order)
	assert.True(t, steps[2].Open(steps) && !steps[2].Done)
	assert.False(t, steps[3].Open(steps), "nobody welds before the second look")
	assert.Equal(t, HotWork, steps[3].Skill)
	assert.Contains(t, steps[3].Hard, "the end of a tube")
	assert.Contains(t, steps[3].Do[1], "from inside first")
	assert.Equal(t, []string{LookAgain, "wait-a"}, steps[5].After, "a seat goes in when the weld has cooled")
	j.Works[1].Done, j.Passed = true, map[Test]bool{Leak: true}
	steps = Sheet(j)
	assert.True(t, steps[3].Done && steps[7].Done)
}

// banned is advice that no text gives: a sentence that speaks of both things has
// to say that it is not done. (The dangers are on every label; the list is the
// club's own.)
var banned = []struct {
	name   string
	both   [2]*regexp.Regexp
	unless *regexp.Regexp
}{
	{"heating PVC", words(`PVC|vinyl`, `heat|flame|torch|hot[- ]air|weld|burn`), words2(`never|not|no `)},
	{"welding in a closed room", words(`weld|hot[- ]air|solvent|resin|adhesive|styrene|isocyanate|indoors`, `closed (room|space|garage|shed)|shut the (door|window)|doors? (closed|shut)|indoors`), words2(`never|not `)},
	{"solvents near flame", words(`solvent|acetone|thinner|ketone|adhesive`, `flame|torch|hot[- ]air|spark|weld`), words2(`never|\bno\b|away|not `)},
	{"a person first", words(`test|tri(al|es)|load`, `(sit|get|climb|step|paddle)s? (in|into|on)\b|with a person|person aboard|somebody aboard`), words2(`never|nobody|not `)},
	{"standing under a boat", words(`under (the|a) (loaded )?boat|under it`, `stand|reach|lie|crawl|look`), words2(`nobody|never|not `)},
	{"a bead over a crack", words(`bead`, `over`), words2(`peels|never|not `)},
	{"another mix ratio", words(`mix ratio`, `change|more|less`), words2(`never|not `)},
	{"more than the maker's pressure", words(`pump|pressure`, `above|over|beyond|more than`), words2(`never|not `)},
	{"burning plastic", words(`burn`, `it|plastic|polyethylene|PVC|ABS|resin`), words2(`never|not |melt|sticks|flame`)},
}

func words(one, other string) [2]*regexp.Regexp {
	return [2]*regexp.Regexp{regexp.MustCompile(`(?i)` + one), regexp.MustCompile(`(?i)` + other)}
}

func words2(unless string) *regexp.Regexp { return regexp.MustCompile(`(?i)` + unless) }

// advises names the banned advice that a text gives.
func advises(text string) []string {
	var found []string
	for _, sentence := range regexp.MustCompile(`[.!?](\s|$)`).Split(text, -1) {
		for _, b := range banned {
			if b.both[0].MatchString(sentence) && b.both[1].MatchString(sentence) && !b.unless.MatchString(sentence) {
				found = append(found, b.name)
			}
		}
	}
	return found
}

func TestNoTextGivesBannedAdvice(t *testing.T) {
	var list []string
	for _, rows := range table {
		for _, r := range rows {
			list = append(list, r.words)
		}
	}
	for _, j := range everyJob() {
		for _, s := range Sheet(j) {
			list = append(list, slices.Concat([]string{s.Title, s.Hard}, s.Do, s.Cautions, s.Ask)...)
		}
	}
	for _, test := range Tests {
		trial := TrialOf(test)
		list = append(list, slices.Concat(trial.How, trial.Cautions, []string{trial.Passes})...)
	}
	for _, m := range boat.Materials {
		list = append(list, Disposal(m))
	}
	texts := map[string]bool{}
	for _, text := range list {
		texts[text] = true
	}
	require.Greater(t, len(texts), 200)
	for text := range texts {
		assert.Empty(t, advises(text), text)
	}
	// Heat never comes into a job on an inflatable.
	for _, j := range everyJob() {
		for _, s := range Sheet(j) {
			if j.Material == boat.PVC && s.Work != "" {
				assert.NotEqual(t, HotWork, ForMethod(j.Works[0].Method, j.Works[0].Findings[0].Finding, boat.PVC).Skill)
				assert.NotContains(t, s.Tools, "hot-air tool with welding nozzle", s.Title)
			}
		}
	}
}

func TestTheListFindsBannedAdvice(t *testing.T) {
	for text, name := range map[string]string{
		"Warm the PVC with a torch until it is soft.":        "heating PVC",
		"Weld in a closed room, out of the wind.":            "welding in a closed room",
		"Wipe with acetone just before the flame.":           "solvents near flame",
		"Test it: get in and paddle along the shore.":        "a person first",
		"Crawl under the boat and look for drips.":           "standing under a boat",
		"Lay a bead over the crack.":                         "a bead over a crack",
		"In the cold, change the mix ratio a little.":        "another mix ratio",
		"Pump a little above the rated pressure to be sure.": "more than the maker's pressure",
		"Burn the polyethylene in a drum.":                   "burning plastic",
	} {
		assert.Contains(t, advises(text), name, text)
	}
}
