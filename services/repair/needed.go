package repair

import (
	"slices"
	"strings"

	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
)

// needed gives the tests that the boat needs.
func (b *bench) needed(h *hull) []mend.Need {
	of := mend.Boat{Type: h.kind, Material: h.material}
	for _, f := range h.findings {
		if f.withdrawn != "" {
			continue
		}
		of.Found = append(of.Found, f.toMend())
		if b.ends[f.id].mended {
			of.Mended = append(of.Mended, f.toMend())
		}
	}
	return mend.Needed(of)
}

// untested says what is missing of the tests that the boat needs: each must have
// been passed after the last work, and not failed since; or be waived, where it
// may be, since the last work.
func (b *bench) untested(h *hull) []string {
	var missing []string
	for _, n := range b.needed(h) {
		if text := b.lacks(n); text != "" {
			missing = append(missing, text)
		}
	}
	return missing
}

// lacks says what is missing of one test; nothing when it is passed or waived.
func (b *bench) lacks(n mend.Need) string {
	t := b.lastTrial(n.Test)
	switch {
	case b.waived(n.Test) != nil:
		return ""
	case t == nil:
		return "a " + string(n.Test) + " test, because " + n.Because
	case !t.passed:
		return "the " + string(n.Test) + " test was failed; make it again"
	case t.at < b.touched:
		return "a " + string(n.Test) + " test after the last work"
	}
	return ""
}

// waived gives the waiver of a test that still holds: no work and no failed test
// came after it. Nothing waives a test that nobody may do without.
func (b *bench) waived(what message.TestKind) *waiver {
	if !mend.Waivable(what) {
		return nil
	}
	i := slices.IndexFunc(b.waivers, func(w waiver) bool { return w.what == what && w.at > b.touched })
	if i < 0 {
		return nil
	}
	if t := b.lastTrial(what); t != nil && t.at > b.waivers[i].at {
		return nil // somebody made it after all
	}
	return &b.waivers[i]
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
