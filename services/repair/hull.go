package repair

import (
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// hull is what other rooms say of a boat.
type hull struct {
	name          string
	kind          boat.Type
	material      boat.Material
	accepted      bool // also when it was declined later
	received      bool
	declined      bool
	departed      bool // handed over or sold
	facts         message.BoatFacts
	worth         worth
	intakeVersion int64     // how far the intake room's stream of the boat was heard
	findings      []finding // in the order in which they were noted
}

// worth is the newest value of a boat of which both figures stand; without a
// value nothing is known.
type worth struct {
	value              string
	currency           money.Currency
	asItLies, repaired int64
}

// shareOfRated gives a load as a share of what the maker rates, in per cent; 0 when
// that is not known.
func (h *hull) shareOfRated(grams int) int {
	if h.facts.RatedLoadG == 0 {
		return 0
	}
	return grams * 100 / h.facts.RatedLoadG
}

// finding is one thing that a look-over found.
type finding struct {
	id          string
	place       message.Place
	defect      boat.Defect
	severity    boat.Severity
	loadBearing bool
	sameAs      string // the finding of an earlier look-over that this one sees again
	withdrawn   string // why it was a mistake; empty while it stands
}

// forbids says whether the boat must not go out while the finding is open.
func (f finding) forbids() bool { return f.severity == boat.MendBefore || f.severity == boat.DoNotUse }

// words names the finding to people.
func (f finding) words() string {
	return fmt.Sprintf("%s on the %s (%s, %s, %s)", f.defect, f.place.Part, f.place.Zone, f.place.Side, f.place.Face)
}

// find gives a finding, or nil.
func (h *hull) find(id string) *finding {
	i := slices.IndexFunc(h.findings, func(f finding) bool { return f.id == id })
	if i < 0 {
		return nil
	}
	return &h.findings[i]
}

// origin gives the first finding of the same thing, withdrawn or not.
func (h *hull) origin(f finding) string {
	for f.sameAs != "" {
		earlier := h.find(f.sameAs)
		if earlier == nil {
			break
		}
		f = *earlier
	}
	return f.id
}

// seenBefore says whether another finding of the same thing stands before this
// one.
func (h *hull) seenBefore(f finding) bool {
	origin := h.origin(f)
	first := slices.IndexFunc(h.findings, func(g finding) bool { return g.withdrawn == "" && h.origin(g) == origin })
	return first >= 0 && h.findings[first].id != f.id
}

// withTwins adds to some findings those that others made of the same things and
// that are in the same state.
func (h *hull) withTwins(ids []string, alike func(finding) bool) []string {
	var all []string
	for _, id := range ids {
		origin := h.origin(*h.find(id))
		for _, f := range h.findings {
			if alike(f) && h.origin(f) == origin && !slices.Contains(all, f.id) {
				all = append(all, f.id)
			}
		}
	}
	return all
}

// isHere wants a boat that the club can work on.
func (h *hull) isHere(b *bench) error {
	switch {
	case h.declined:
		return desk.Conflict("boat", "%s was declined; it is not the club's to work on", h.name)
	case !h.accepted:
		return desk.Conflict("boat", "%s is not accepted yet; accept it before anybody works on it", h.name)
	case h.departed:
		return desk.Conflict("boat", "%s has left the club", h.name)
	case b.retired:
		return desk.Conflict("boat", "%s was retired", h.name)
	}
	return nil
}

// takesBookings wants a boat on which money and hours may be booked: bills come
// late, so having been accepted once is enough.
func (h *hull) takesBookings() error {
	if !h.accepted {
		return desk.Conflict("boat", "%s is not accepted yet; nothing is booked on a boat that is not the club's", h.name)
	}
	return nil
}
