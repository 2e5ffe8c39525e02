package guide

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
)

// The combinations are every type by every material of the trade's own lists:
// one that is neither built nor said not to be fails.
func TestEveryCombinationIsBuiltOrSaysWhyNot(t *testing.T) {
	for _, of := range boat.Types {
		for _, m := range boat.Materials {
			name := fmt.Sprintf("%s of %s", of, m)
			g := For(of, m)
			if g.NotBuilt != "" {
				continue
			}
			ofType, ofMaterial := 0, 0
			for _, p := range g.Points {
				if len(p.types) < 4 {
					ofType++
				}
				if len(p.materials) < 6 {
					ofMaterial++
				}
			}
			assert.GreaterOrEqual(t, len(g.Points), 8, "%s: too little to call it a guide; add points, or a line to notbuilt.txt", name)
			assert.GreaterOrEqual(t, ofType, 1, "%s: nothing of this type alone", name)
			assert.GreaterOrEqual(t, ofMaterial, 2, "%s: nothing of this material alone", name)
		}
	}
}

// Which of them the club needs at least: the boats that clubs take in.
func TestTheCommonCombinationsAreBuilt(t *testing.T) {
	for _, m := range rigid() {
		assert.Empty(t, For(boat.Canoe, m).NotBuilt, m)
		assert.Empty(t, For(boat.SitInside, m).NotBuilt, m)
	}
	for _, of := range []boat.Type{boat.Board, boat.Inflatable, boat.InflatableCanoe} {
		assert.Empty(t, For(of, boat.PVC).NotBuilt, of)
	}
	assert.NotEmpty(t, For(boat.Inflatable, boat.Aluminium).NotBuilt)
	assert.NotEmpty(t, For(boat.Inflatable, boat.Aluminium).Points, "what holds for any boat is asked all the same")
}

// Published repair guides, drawn together: where each material of each type
// fails first. A row that a change of the data loses fails.
func TestWhereBoatsFailFirst(t *testing.T) {
	for _, row := range []struct {
		of    boat.Type
		m     boat.Material
		part  boat.Part
		kind  boat.Defect
		place boat.Zone
	}{
		{boat.SitOnTop, boat.Rotomoulded, "scupper", "crack", "amid"},
		{boat.SitOnTop, boat.Rotomoulded, "hatch rim", "crack", "forward"},
		{boat.SitOnTop, boat.CrossLinked, "keel line", "crack", "amid"},
		{boat.SitInside, boat.Rotomoulded, "hull", "abrasion", "amid"},
		{boat.SitInside, boat.Rotomoulded, "seat mount", "crack", "amid"},
		{boat.SitInside, boat.Rotomoulded, "stem", "abrasion", "bow"},
		{boat.SitInside, boat.Rotomoulded, "deck", "brittleness", "amid"},
		{boat.SitInside, boat.Rotomoulded, "drain plug", "crack", "stern"},
		{boat.SitInside, boat.Composite, "seam", "split seam", "stern"},
		{boat.SitInside, boat.Composite, "bulkhead", "leaking", "aft"},
		{boat.Canoe, boat.ABSSandwich, "hull", "crack", "amid"},
		{boat.Canoe, boat.ABSSandwich, "stem", "abrasion", "stern"},
		{boat.Canoe, boat.Composite, "hull", "crazing", "bow"},
		{boat.Canoe, boat.Composite, "hull", "soft spot", "amid"},
		{boat.Canoe, boat.Wood, "gunwale", "rot", "bow"},
		{boat.Canoe, boat.Wood, "rib", "crack", "amid"},
		{boat.Canoe, boat.Wood, "hull", "loose", "amid"},
		{boat.Canoe, boat.Aluminium, "rivet", "leaking", "amid"},
		{boat.Canoe, boat.Aluminium, "chine", "dent", "amid"},
		{boat.Canoe, boat.Aluminium, "hull", "corrosion", "amid"},
		{boat.Board, boat.PVC, "fin box", "leaking", "stern"},
		{boat.Board, boat.PVC, "hull", "delamination", "amid"},
		{boat.Inflatable, boat.PVC, "seam", "split seam", "amid"},
		{boat.InflatableCanoe, boat.PVC, "valve", "leaking", "stern"},
		{boat.Board, boat.Composite, "deck pad", "loose", "amid"},
		{boat.SitOnTop, boat.Rotomoulded, "bungee", "perished", "aft"},
		{boat.Canoe, boat.Rotomoulded, "flotation", "missing", "bow"},
		{boat.SitOnTop, boat.Composite, "hull number", "altered", "stern"},
	} {
		found := false
		for _, p := range For(row.of, row.m).Points {
			found = found || p.Part == row.part && contains(p.Kinds, row.kind) && contains(p.Zones, row.place)
		}
		assert.True(t, found, "%s of %s: %s at the %s, %s", row.of, row.m, row.kind, row.part, row.place)
	}
}

func contains[W comparable](list []W, want W) bool {
	for _, w := range list {
		if w == want {
			return true
		}
	}
	return false
}

func TestEachPointIsWhole(t *testing.T) {
	for _, of := range boat.Types {
		for _, m := range boat.Materials {
			for _, p := range For(of, m).Points {
				assert.NotEmpty(t, p.Kinds, "%s: no kind is left for %s", p.ID, m)
				for _, kind := range p.Kinds {
					assert.Empty(t, Impossible(kind, p.Part, m), p.ID)
				}
			}
		}
	}
	for _, p := range points {
		assert.NotEmpty(t, p.Mark, p.ID)
		assert.NotContains(t, p.Look+p.Where+p.Why+p.How, "safe", "%s: nothing is promised", p.ID)
		for _, text := range []string{p.Why, p.How} {
			assert.True(t, strings.HasSuffix(text, "."), "%s: full sentences", p.ID)
		}
		found, ok := Find(p.ID)
		assert.True(t, ok)
		assert.Equal(t, p.Look, found.Look)
	}
	_, ok := Find("nonsense")
	assert.False(t, ok)
}

// A cross-linked hull is not welded, so its cracks are asked for by another point.
func TestMaterialsThatLookAlikeAreAskedApart(t *testing.T) {
	_, weldable := For(boat.SitOnTop, boat.Rotomoulded).Point("pe-keel-crack")
	_, crossLinked := For(boat.SitOnTop, boat.CrossLinked).Point("xl-crack")
	assert.True(t, weldable)
	assert.True(t, crossLinked)
	_, mixed := For(boat.SitOnTop, boat.CrossLinked).Point("pe-keel-crack")
	assert.False(t, mixed)
}

func TestWhatIsLeftToAnswer(t *testing.T) {
	g := For(boat.Canoe, boat.Rotomoulded)
	answers := map[string]Answer{g.Points[0].ID: CouldNotBe, g.Points[1].ID: NotSeen, g.Points[2].ID: Seen, "elsewhere": CouldNotBe}
	assert.Len(t, g.Unanswered(answers), len(g.Points)-3)
	unseen := g.Unseen(answers)
	require.Len(t, unseen, 1)
	assert.Equal(t, g.Points[0].ID, unseen[0].ID)
}

const good = `point: a
types: canoe
materials: rigid
look: l
where: w
why: y
how: h
test: press
place: hull; bow; port; outside
kinds: crack
mark: practice`

func TestDataThatIsWrongIsRefused(t *testing.T) {
	list, err := readPoints(good)
	require.NoError(t, err)
	assert.Equal(t, "common practice, no source", list[0].Mark)
	assert.NotContains(t, list[0].materials, boat.PVC)
	for name, row := range map[string]struct{ from, to, says string }{
		"a type nobody knows": {"canoe", "raft", `"raft"`},
		"no reason":           {"why: y\n", "", "why is missing"},
		"an empty mark":       {"mark: practice", "mark: ", "mark is missing"},
		"a field twice":       {"how: h", "how: h\nhow: i", "twice"},
		"a field of its own":  {"how: h", "wow: h", "no such field"},
		"half a place":        {"hull; bow; port; outside", "hull; bow", "part, zones"},
		"no such part":        {"hull; bow", "mast; bow", "mast"},
		"no such zone":        {"hull; bow", "hull; top", "top"},
		"no such side":        {"port; ", "left; ", "left"},
		"no such face":        {"outside", "under", "under"},
		"no such test":        {"press", "kick", "kick"},
		"no such kind":        {"crack", "ghost", "ghost"},
		"a point twice":       {"mark: practice", "mark: practice\n\n" + good, "stands twice"},
		"no such material":    {"rigid", "stone", "stone"},
	} {
		_, err := readPoints(strings.Replace(good, row.from, row.to, 1))
		assert.ErrorContains(t, err, row.says, name)
	}
	for _, line := range []string{"canoe; rigid", "raft; rigid; no", "canoe; stone; no"} {
		_, err := readNotBuilt(line)
		assert.Error(t, err, line)
	}
}

// What lifting tells and what not: common practice, no source. The page must say
// that little water is no evidence against a crack that does not go through.
func TestTheLiftTestSaysWhatItIsEvidenceOf(t *testing.T) {
	for name, row := range map[string]struct {
		test LiftTest
		says []string
		not  string
	}{
		"little water after rain": {LiftTest{Lay: RainedOn, WaterML: 300, StatedG: 20_000, WeighsG: 20_500},
			[]string{"evidence against a hole", "none against a crack that does not go through", "about what the maker states"}, "evidence of nothing"},
		"no water from the lake":  {LiftTest{Lay: FromWater, StatedG: 20_000}, []string{"No water ran out", "evidence against a hole", "was not weighed"}, ""},
		"dry, and stored dry":     {LiftTest{Lay: DryStored}, []string{"evidence of nothing", "mass is not known"}, "against a hole"},
		"nobody knows how it lay": {LiftTest{Lay: UnknownLay, WaterML: 1000}, []string{"evidence of nothing"}, "against a hole"},
		"much water, stored dry":  {LiftTest{Lay: DryStored, WaterML: 1001}, []string{"1.0 litres", "lay dry"}, "against a hole"},
		"much water after rain":   {LiftTest{Lay: RainedOn, WaterML: 9000}, []string{"9.0 litres", "so would a hole"}, "against a hole"},
		"ten per cent more":       {LiftTest{Lay: RainedOn, StatedG: 20_000, WeighsG: 22_000}, []string{"about what the maker states"}, ""},
		"more than ten per cent":  {LiftTest{Lay: RainedOn, StatedG: 20_000, WeighsG: 22_001}, []string{"2.0 kg more", "20.0 kg"}, ""},
		"it felt heavy":           {LiftTest{Lay: RainedOn, StatedG: 20_000, Feels: Heavier}, []string{"Weigh it"}, ""},
	} {
		said := strings.Join(row.test.Says(), " ")
		for _, want := range row.says {
			assert.Contains(t, said, want, name)
		}
		if row.not != "" {
			assert.NotContains(t, said, row.not, name)
		}
	}
}

func TestAGambleIsSaidOfEveryMaterial(t *testing.T) {
	said := map[string]bool{}
	for _, m := range boat.Materials {
		assert.Contains(t, Gamble(m), "gamble", m)
		assert.NotEmpty(t, hides(m), m)
		said[hides(m)] = true
	}
	assert.Len(t, said, len(boat.Materials)-1, "the two polyethylenes hide the same")
}
