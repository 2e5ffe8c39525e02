package defects

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
)

func sight(id string, zone boat.Zone, side boat.Side, part boat.Part, kind boat.Defect, length int) Sight {
	return Sight{id, zone, side, "outside", part, kind, length}
}

// What two people call one finding: common practice, no source.
func TestWhichSightsAreProbablyOneFinding(t *testing.T) {
	mine := sight("a", "bow", "port", "hull", "crack", 40)
	for name, row := range map[string]struct {
		theirs Sight
		paired bool
	}{
		"word for word":                  {sight("b", "bow", "port", "hull", "crack", 40), true},
		"another length":                 {sight("b", "bow", "port", "hull", "crack", 70), true},
		"the next zone":                  {sight("b", "forward", "port", "hull", "crack", 40), true},
		"two zones on":                   {sight("b", "amid", "port", "hull", "crack", 40), false},
		"the centreline":                 {sight("b", "bow", "centreline", "hull", "crack", 40), true},
		"the other side":                 {sight("b", "bow", "starboard", "hull", "crack", 40), false},
		"called the stem":                {sight("b", "bow", "port", "stem", "crack", 40), true},
		"on the deck":                    {sight("b", "bow", "port", "deck", "crack", 40), false},
		"called a split seam":            {sight("b", "bow", "port", "hull", "split seam", 40), true},
		"called an abrasion":             {sight("b", "bow", "port", "hull", "abrasion", 40), false},
		"all of it a little off":         {sight("b", "forward", "centreline", "stem", "hole", 40), false},
		"another, five times as long":    {sight("b", "bow", "centreline", "stem", "hole", 400), false},
		"seen from inside":               {Sight{"b", "bow", "port", "inside", "hull", "crack", 40}, true},
		"no length noted":                {sight("b", "bow", "port", "hull", "crack", 0), true},
		"a hull that leaks there":        {sight("b", "bow", "port", "hull", "leaking", 0), true},
		"a fitting with the same defect": {sight("b", "bow", "port", "carry toggle", "crack", 40), false},
	} {
		pairs := Propose([]Sight{mine}, []Sight{row.theirs})
		assert.Equal(t, row.paired, len(pairs) == 1, name)
		if row.paired {
			assert.Equal(t, name == "word for word" || name == "another length" || name == "no length noted", pairs[0].Exact, name)
		}
	}
}

func TestTheLikeliestComesFirst(t *testing.T) {
	first := []Sight{sight("a1", "bow", "port", "hull", "crack", 40), sight("a2", "forward", "port", "hull", "crack", 40)}
	second := []Sight{sight("b1", "forward", "port", "hull", "crack", 40)}
	assert.Equal(t, []Pair{{"a2", "b1", true}}, Propose(first, second))
	second = append(second, sight("b2", "bow", "centreline", "stem", "crack", 0))
	assert.Equal(t, []Pair{{"a2", "b1", true}, {"a1", "b2", false}}, Propose(first, second))
}

// Each is paired once, what is the same word for word is never left lying beside
// its twin, and who looked first does not matter to how many pairs there are of
// one kind.
func TestWhatAlwaysHoldsOfPairs(t *testing.T) {
	draw := func(t *rapid.T, name string) []Sight {
		return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Sight {
			return sight(rapid.StringMatching(`[a-z]{8}`).Draw(t, "id"), rapid.SampledFrom(boat.Zones).Draw(t, "zone"), rapid.SampledFrom(boat.Sides).Draw(t, "side"),
				rapid.SampledFrom(boat.Parts[:6]).Draw(t, "part"), rapid.SampledFrom(boat.Defects[:4]).Draw(t, "kind"), rapid.IntRange(0, 200).Draw(t, "length"))
		}), 0, 12).Draw(t, name)
	}
	rapid.Check(t, func(t *rapid.T) {
		first, second := draw(t, "first"), draw(t, "second")
		pairs := Propose(first, second)
		seen := map[string]bool{}
		for _, p := range pairs {
			if seen["1"+p.First] || seen["2"+p.Second] {
				t.Fatalf("%v stands twice", p)
			}
			seen["1"+p.First], seen["2"+p.Second] = true, true
		}
		for _, a := range first {
			for _, b := range second {
				if a.spot() == b.spot() && a.LengthMM == b.LengthMM && !seen["1"+a.ID] && !seen["2"+b.ID] {
					t.Fatalf("%v and %v are the same and left alone", a, b)
				}
			}
		}
	})
}
