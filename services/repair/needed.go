package repair

import (
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// rule says when a boat needs a test. mended are the findings that were worked
// on.
type rule struct {
	test    message.TestKind
	because string
	mark    mark
	holds   func(h *hull, mended []finding) bool
}

// rules lists why tests are needed, in the order of message.Tests.
var rules = []rule{
	{"leak", "its shell keeps the water out", practice, func(h *hull, _ []finding) bool { return h.material != boat.PVC }},
	{"load", "a part that carries load was worked on", practice, func(_ *hull, mended []finding) bool {
		return slices.ContainsFunc(mended, func(f finding) bool { return f.loadBearing })
	}},
	{"fittings", "a fitting was worked on", practice, func(_ *hull, mended []finding) bool {
		return slices.ContainsFunc(mended, func(f finding) bool { return isFitting(f.place.Part) })
	}},
	{"flotation", "bulkheads, foam or bags keep a sit-inside kayak up when it is full of water", guides, func(h *hull, _ []finding) bool {
		return h.kind == boat.SitInside && h.material != boat.PVC
	}},
	{"flotation", "tanks or foam keep a canoe of this material up when it is full of water", memory, func(h *hull, _ []finding) bool {
		return h.kind == boat.Canoe && (h.material == boat.Composite || h.material == boat.Aluminium)
	}},
	{"flotation", "something was found on what keeps it afloat", guides, func(h *hull, _ []finding) bool {
		return slices.ContainsFunc(h.findings, func(f finding) bool { return f.withdrawn == "" && keepsAfloat(f.place.Part) })
	}},
	{"pressure", "it floats on air", practice, func(h *hull, _ []finding) bool { return h.material == boat.PVC }},
}

func keepsAfloat(p boat.Part) bool {
	return p == "bulkhead" || p == "foam pillar" || p == "flotation"
}

func isFitting(p boat.Part) bool { return !p.OfHull() && !keepsAfloat(p) && p != "hull number" }

// need is a test that a boat needs, with the reasons.
type need struct {
	test    message.TestKind
	because string
}

// needed gives the tests that a boat needs.
func needed(h *hull, mended []finding) []need {
	var needs []need
	for _, r := range rules {
		if !r.holds(h, mended) {
			continue
		}
		if last := len(needs) - 1; last >= 0 && needs[last].test == r.test {
			needs[last].because += "; " + r.because
			continue
		}
		needs = append(needs, need{r.test, r.because})
	}
	return needs
}

// mended gives the findings of a boat that were ended by work on it.
func (b *bench) mended(h *hull) []finding {
	return slices.DeleteFunc(slices.Clone(h.findings), func(f finding) bool { return !b.ends[f.id].mended })
}

// untested says what is missing of the tests that the boat needs: each must have
// been passed after the last work, and not failed since.
func (b *bench) untested(h *hull) []string {
	var missing []string
	for _, n := range needed(h, b.mended(h)) {
		t := b.lastTrial(n.test)
		switch {
		case t == nil:
			missing = append(missing, "a "+string(n.test)+" test, because "+n.because)
		case !t.passed:
			missing = append(missing, "the "+string(n.test)+" test was failed; make it again")
		case t.at < b.touched:
			missing = append(missing, "a "+string(n.test)+" test after the last work")
		}
	}
	return missing
}

// lastTrial gives the newest test of a kind, or nil.
func (b *bench) lastTrial(what message.TestKind) *trial {
	for i := len(b.trials) - 1; i >= 0; i-- {
		if b.trials[i].what == what {
			return &b.trials[i]
		}
	}
	return nil
}

// sentence joins what is missing.
func sentence(missing []string) string { return strings.Join(missing, "; ") }
