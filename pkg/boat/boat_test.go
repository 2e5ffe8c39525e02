package boat_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
)

func TestNoWordStandsTwice(t *testing.T) {
	for name, words := range map[string][]string{
		"types": texts(boat.Types), "materials": texts(boat.Materials), "zones": texts(boat.Zones), "sides": texts(boat.Sides),
		"faces": texts(boat.Faces), "parts": texts(boat.Parts), "defects": texts(boat.Defects), "severities": texts(boat.Severities),
		"features": texts(boat.Features),
	} {
		assert.NotContains(t, words, "", name)
		slices.Sort(words)
		assert.Equal(t, slices.Compact(slices.Clone(words)), words, name)
	}
}

func texts[W ~string](list []W) []string {
	var all []string
	for _, w := range list {
		all = append(all, string(w))
	}
	return all
}

func TestAWordOutsideTheListIsRefusedWithTheChoices(t *testing.T) {
	assert.NoError(t, boat.Known("facts.type", boat.Canoe, boat.Types))
	for word, text := range map[boat.Side]string{
		"":     "choose one of: port, centreline, starboard",
		"left": `"left" is not one of: port, centreline, starboard`,
	} {
		f := fault.Of(boat.Known("place.side", word, boat.Sides))
		assert.Equal(t, fault.Invalid, f.Kind)
		assert.Equal(t, "place.side", f.Field)
		assert.Equal(t, text, f.Text)
	}
}

// Which parts are moulded with the hull: common practice, no source.
func TestWhatIsOfTheHullIsAPart(t *testing.T) {
	of := map[bool][]string{}
	for _, part := range boat.Parts {
		of[part.OfHull()] = append(of[part.OfHull()], string(part))
	}
	assert.Subset(t, of[true], []string{"hull", "deck", "chine", "seam", "rib", "plank"})
	assert.Subset(t, of[false], []string{"seat", "yoke", "gunwale", "hatch", "carry toggle", "rudder", "foam pillar", "rivet"})
	assert.Len(t, of[true], 11, "every word of the hull's own list is a part")
}

func TestTypesStandInASentence(t *testing.T) {
	named := make([]string, len(boat.Types))
	for i, of := range boat.Types {
		named[i] = of.WithArticle()
	}
	assert.Equal(t, []string{
		"a canoe", "a sit-inside kayak", "a sit-on-top kayak", "a board", "an inflatable kayak", "an inflatable canoe",
	}, named)
}
