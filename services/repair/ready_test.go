package repair

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
)

// mendedKayak is the story of a kayak that is ready to be declared so.
func mendedKayak() []message.Body {
	return []message.Body{
		planned("w1", "weld", "f1", "g1"), done("w1", "f1", "g1"),
		tested("leak", true), tested("load", true), tested("flotation", true),
	}
}

func TestWhatIsMissing(t *testing.T) {
	gift := kayak()
	gift.received = false
	for name, row := range map[string]struct {
		hull *hull
		said []message.Body
		want []string // a part of each line; none: ready
	}{
		"ready": {kayak(), mendedKayak(), nil},
		"nothing done": {kayak(), nil, []string{
			"crack on the keel line (stern, centreline, outside): mend before use", ": do not use", "a leak test, because", "a flotation test, because"}},
		"not the club's yet":         {gift, mendedKayak(), []string{"possession"}},
		"work that is not finished":  {kayak(), append(mendedKayak(), planned("w2", "fill", "f2")), []string{"the work that is planned (fill) for the abrasion on the deck"}},
		"leaving needs no new tests": {kayak(), append(mendedKayak(), planned("w2", "leave and watch", "f2"), done("w2", "f2")), nil},
		"work after the tests": {kayak(), append(mendedKayak(), planned("w2", "fill", "f2"), done("w2", "f2")), []string{
			"a leak test after the last work", "a load test after the last work", "a flotation test after the last work"}},
		"a failed test":          {kayak(), append(mendedKayak(), tested("leak", false)), []string{"the leak test was failed"}},
		"passed after a fail":    {kayak(), append(mendedKayak(), tested("leak", false), tested("leak", true)), nil},
		"failed before work":     {kayak(), append([]message.Body{tested("leak", false)}, mendedKayak()...), nil},
		"reopened by a test":     {kayak(), append(mendedKayak(), message.FindingReopened{Finding: "f1"}), []string{"mend before use"}},
		"one of the two is open": {kayak(), append([]message.Body{planned("w1", "weld", "f1"), done("w1", "f1")}, mendedKayak()[2:]...), []string{"do not use"}},
	} {
		t.Run(name, func(t *testing.T) {
			b := benchAfter(row.said...)
			missing := b.missing(row.hull)
			require.Len(t, missing, len(row.want), "%q", missing)
			for i, part := range row.want {
				assert.Contains(t, missing[i], part)
			}
			body, err := b.declare(row.hull, message.DeclareReady{Boat: "b1", Grade: 3})
			if len(row.want) == 0 {
				require.NoError(t, err)
				assert.IsType(t, message.BoatReady{}, body)
				return
			}
			faulttest.Want(t, err, fault.Conflict, "boat")
			for _, part := range row.want {
				assert.Contains(t, err.Error(), part)
			}
		})
	}
}

func TestTheDisclosureSaysHowEachFindingEnded(t *testing.T) {
	h := kayak()
	h.findings = append(h.findings, finding{id: "f3", severity: boat.Use}, finding{id: "f4", severity: boat.DoNotUse, withdrawn: "it was mud"})
	lines := benchAfter(mendedKayak()...).disclosure(h)
	assert.Equal(t, []string{
		"done as w1", "Left as it was found: keep an eye on it.", "done as w1 (Two people saw it.)",
		"Left as it was found: it does not hinder use.", "Withdrawn as a mistake: it was mud",
	}, []string{lines[0].End, lines[1].End, lines[2].End, lines[3].End, lines[4].End})
	assert.Equal(t, h.findings[0].place, lines[0].Place)
	assert.Equal(t, h.findings[0].defect, lines[0].Defect)
}

func TestTheDisclosureNeverDropsAFinding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, said := &hull{}, []message.Body{}
		for i := range rapid.IntRange(0, 12).Draw(t, "findings") {
			f := finding{id: fmt.Sprint("f", i), severity: rapid.SampledFrom(boat.Severities).Draw(t, "severity")}
			if i > 0 && rapid.Bool().Draw(t, "seen before") {
				f.sameAs = fmt.Sprint("f", rapid.IntRange(0, i-1).Draw(t, "as"))
			}
			if rapid.Bool().Draw(t, "withdrawn") {
				f.withdrawn = "mud"
			}
			if rapid.Bool().Draw(t, "mended") {
				said = append(said, planned("w"+f.id, "weld", f.id), done("w"+f.id, f.id))
			}
			h.findings = append(h.findings, f)
		}
		lines := benchAfter(said...).disclosure(h)
		if len(lines) != len(h.findings) {
			t.Fatalf("%d lines for %d findings", len(lines), len(h.findings))
		}
		for i, line := range lines {
			if line.Finding != h.findings[i].id || line.End == "" {
				t.Fatalf("line %d is %+v", i, line)
			}
		}
	})
}

func TestReadyIsSaidOnceUntilSomethingChanges(t *testing.T) {
	c := message.DeclareReady{Boat: "b1", Grade: 4}
	body, err := benchAfter(mendedKayak()...).declare(kayak(), c)
	require.NoError(t, err)
	said := append(mendedKayak(), body)
	body, err = benchAfter(said...).declare(kayak(), c)
	require.NoError(t, err)
	assert.Nil(t, body)
	for name, doubt := range map[string][]message.Body{
		"a failed test": {tested("leak", false), tested("leak", true)},
		"new work":      {planned("w2", "fill", "f1"), done("w2", "f1"), tested("leak", true), tested("load", true), tested("flotation", true)},
		"reopened":      {tested("leak", false), message.FindingReopened{Finding: "f1"}, planned("w2", "weld", "f1"), message.WorkFinished{Work: "w2", Findings: []string{"f1"}, Words: "done as w1"}, tested("leak", true), tested("load", true), tested("flotation", true)},
	} {
		body, err = benchAfter(append(said, doubt...)...).declare(kayak(), c)
		require.NoError(t, err, name)
		assert.NotNil(t, body, name)
	}
	body, err = benchAfter(said...).declare(kayak(), message.DeclareReady{Boat: "b1", Grade: 3})
	require.NoError(t, err)
	assert.NotNil(t, body, "another grade")
	_, err = benchAfter(said...).declare(kayak(), message.DeclareReady{Boat: "b1", Grade: 1})
	faulttest.Want(t, err, fault.Invalid, "grade")
}
