package repair

import (
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mend"
)

// toMend is a finding as package mend sees it.
func (f finding) toMend() mend.Finding {
	return mend.Finding{Part: f.place.Part, Defect: f.defect, Severity: f.severity, LoadBearing: f.loadBearing}
}

// suits refuses a method that does not suit a finding. The fault names method.
func suits(method string, f finding, material boat.Material) error {
	a := mend.ForMethod(method, f.toMend(), material)
	if a.Suits {
		return nil
	}
	what := string(material)
	if method == mend.LeaveAndWatch || !f.place.Part.OfHull() {
		what = "the " + f.words()
	}
	return fault.Field("method", "%s does not suit %s: %s (%s). What may do: %s", method, what, a.Words, a.Mark, strings.Join(mend.MayDo(f.toMend(), material), ", "))
}

// skillFor gives what whoever finishes the work must be signed off for; empty:
// nothing.
func (h *hull) skillFor(w *work) mend.Skill {
	for _, id := range w.findings {
		if f := h.find(id); f != nil {
			if skill := mend.ForMethod(w.method, f.toMend(), h.material).Skill; skill != "" {
				return skill
			}
		}
	}
	return ""
}
