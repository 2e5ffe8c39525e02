package jackets

import (
	"maps"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

func allHold(s Sort) map[string]Answer {
	answers := map[string]Answer{}
	for _, c := range Checks(s) {
		answers[c.ID] = Holds
	}
	return answers
}

// The conditions are those of 33 CFR 175.23, written down here a second time: one
// that the code forgets, or that it has beyond them, fails the test.
var conditions = []struct {
	source string
	word   string // that the sentence has to have
	id     string
	sorts  []Sort
}{
	{"33 CFR 175.21", "approval number", "label", []Sort{Foam, Inflatable}},
	{"33 CFR 175.23(a)", "bent", "hardware", []Sort{Foam, Inflatable}},
	{"33 CFR 175.23(a)(2)", "torn", "straps", []Sort{Foam, Inflatable}},
	{"33 CFR 175.23(a)", "when tugged", "rot", []Sort{Foam, Inflatable}},
	{"33 CFR 175.23(b)", "open seam", "fabric", []Sort{Foam}},
	{"33 CFR 175.23(b)(2)", "full of water", "foam", []Sort{Foam}},
	{"33 CFR 175.23(b)", "missing", "foam-lost", []Sort{Foam}},
	{"33 CFR 175.23(c)", "cartridge", "armed", []Sort{Inflatable}},
	{"33 CFR 175.23(c)", "hold air", "chambers", []Sort{Inflatable}},
	{"33 CFR 175.23(c)", "blocked", "tube", []Sort{Inflatable}},
	{"33 CFR 175.23(c)", "lanyard", "lanyard", []Sort{Inflatable}},
	{"33 CFR 175.23(c)", "indicator", "indicators", []Sort{Inflatable}},
}

func TestEachConditionAloneDecides(t *testing.T) {
	for _, s := range Sorts {
		good, err := Judge(s, allHold(s))
		require.NoError(t, err)
		assert.Equal(t, Verdict{Serviceable: true}, good, "all in order")
		asked := 0
		for _, c := range conditions {
			if _, has := allHold(s)[c.id]; !has {
				assert.NotContains(t, c.sorts, s, c.source)
				continue
			}
			asked++
			require.Contains(t, c.sorts, s, c.source)
			check, ok := FindCheck(c.id)
			require.True(t, ok)
			assert.Equal(t, c.source, check.Source)
			assert.Contains(t, check.Fails, c.word)
			answers := allHold(s)
			answers[c.id] = Fails
			v, err := Judge(s, answers)
			require.NoError(t, err)
			assert.Equal(t, Verdict{Failing: []string{c.id}}, v, "%s: %s, one fails", s, c.source)
			answers[c.id] = CouldNotBeSeen
			v, err = Judge(s, answers)
			require.NoError(t, err)
			assert.Equal(t, Verdict{Unchecked: []string{c.id}}, v, "%s: %s, one could not be checked", s, c.source)
			delete(answers, c.id)
			again, err := Judge(s, answers)
			require.NoError(t, err)
			assert.Equal(t, v, again, "not answered")
		}
		assert.Len(t, Checks(s), asked, "no condition that the rule has not")
	}
}

func TestAnswersThatAreRefused(t *testing.T) {
	_, err := Judge("cork", nil)
	assert.Equal(t, "sort", fault.Of(err).Field)
	extra := allHold(Foam)
	maps.Copy(extra, map[string]Answer{"chambers": Holds})
	_, err = Judge(Foam, extra)
	assert.Equal(t, "answers", fault.Of(err).Field)
	odd := allHold(Foam)
	odd["foam"] = "perhaps"
	_, err = Judge(Foam, odd)
	assert.Equal(t, "answers", fault.Of(err).Field)
}
