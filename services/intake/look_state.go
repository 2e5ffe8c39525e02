package intake

import (
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// look is one look-over.
type look struct {
	id        string
	inspector people.ID
	answers   map[string]guide.Answer // to points of the guide
	// finished is its place in the order in which look-overs were finished, from
	// 1; 0 while it is open.
	finished    int
	provisional bool
	hampered    []string
	hidden      []boat.Part
	unseen      int // points that could not be seen, or were not answered
	estimate    *message.MissedEstimate
}

// finding is one thing that a look-over found.
type finding struct {
	message.DefectFound
	withdrawn bool
}

// foldLook follows look-overs.
func (b *Boat) foldLook(body message.Body) {
	switch e := body.(type) {
	case message.LookOverBegun:
		b.looks = append(b.looks, look{id: e.Look, inspector: e.Inspector, answers: map[string]guide.Answer{}})
	case message.PointsAnswered:
		if l := b.look(e.Look); l != nil {
			for _, a := range e.Answers {
				l.answers[a.Point] = a.Answer
			}
		}
	case message.DefectFound:
		b.findings = append(b.findings, finding{DefectFound: e})
	case message.DefectWithdrawn:
		if f := b.finding(e.Finding); f != nil {
			f.withdrawn = true
		}
	case message.LookOverFinished:
		b.foldFinished(e)
	case message.FindingsMatched:
		b.foldMatched(e)
	case message.AgreementMade:
		if b.agreements == nil {
			b.agreements = map[string]message.AgreementMade{}
		}
		b.agreements[e.Agreement] = e
	case message.PriceOffered:
		b.price = &e.Price
	case message.BoatAccepted:
		b.price = &e.Price
	}
}

func (b *Boat) foldFinished(e message.LookOverFinished) {
	l := b.look(e.Look)
	if l == nil {
		return
	}
	l.finished = len(b.finishedLooks()) + 1
	l.provisional, l.hampered, l.hidden, l.unseen, l.estimate = e.Provisional, e.Hampered, e.CouldNotSee, len(e.Unseen)+len(e.Open), e.Estimate
}

// foldMatched puts what a person confirmed in the place of the tool's matching.
func (b *Boat) foldMatched(e message.FindingsMatched) {
	l := b.look(e.Look)
	if l == nil {
		return
	}
	for i, f := range b.findings {
		if f.Look == e.Look || b.finishedBefore(f.Look, l) && b.lookOf(f.SameAs) == e.Look {
			b.findings[i].SameAs = ""
		}
	}
	for _, p := range e.Pairs {
		if f := b.finding(p.Finding); f != nil {
			f.SameAs = p.SameAs
		}
	}
	l.estimate = e.Estimate
}

// look gives a look-over of the boat, or nil.
func (b *Boat) look(id string) *look {
	i := slices.IndexFunc(b.looks, func(l look) bool { return l.id == id })
	if i < 0 {
		return nil
	}
	return &b.looks[i]
}

// finding gives a finding of the boat, or nil.
func (b *Boat) finding(id string) *finding {
	i := slices.IndexFunc(b.findings, func(f finding) bool { return f.Finding == id })
	if i < 0 {
		return nil
	}
	return &b.findings[i]
}

// lookOf gives the look-over in which a finding was noted.
func (b *Boat) lookOf(finding string) string {
	if f := b.finding(finding); f != nil {
		return f.Look
	}
	return ""
}

// finishedLooks gives the look-overs that are finished, in that order.
func (b *Boat) finishedLooks() []look {
	done := slices.DeleteFunc(slices.Clone(b.looks), func(l look) bool { return l.finished == 0 })
	slices.SortFunc(done, func(a, b look) int { return a.finished - b.finished })
	return done
}

// lookedOver says whether a look-over is finished.
func (b *Boat) lookedOver() bool { return len(b.finishedLooks()) > 0 }

// seenWhole says whether somebody could see all of the boat.
func (b *Boat) seenWhole() bool {
	return slices.ContainsFunc(b.finishedLooks(), func(l look) bool { return !l.provisional })
}

// before gives the look-overs on which an estimate with this one rests: those
// that other people finished earlier. None where its inspector has finished one
// before, and so knows a list.
func (b *Boat) before(l *look) []look {
	var earlier []look
	for _, other := range b.finishedLooks() {
		if l.finished != 0 && other.finished >= l.finished {
			break
		}
		if other.inspector == l.inspector {
			return nil
		}
		earlier = append(earlier, other)
	}
	return earlier
}

// standing gives the findings of some look-overs that still stand.
func (b *Boat) standing(looks ...string) []finding {
	var list []finding
	for _, f := range b.findings {
		if !f.withdrawn && slices.Contains(looks, f.Look) {
			list = append(list, f)
		}
	}
	return list
}

// same follows findings to the one that stands for all that are the same.
type same map[string]string

func (s same) root(id string) string {
	for s[id] != "" && s[id] != id {
		id = s[id]
	}
	return id
}

func (s same) join(a, b string) {
	if a, b = s.root(a), s.root(b); a != b {
		s[a] = b
	}
}

// sameness joins what was matched, withdrawn findings included: two that are the
// same as a third are the same as each other.
func (b *Boat) sameness() same {
	s := same{}
	for _, f := range b.findings {
		if f.SameAs != "" {
			s.join(f.Finding, f.SameAs)
		}
	}
	return s
}

// roots gives what some findings stand for, each once.
func (s same) roots(list []finding) map[string]bool {
	roots := map[string]bool{}
	for _, f := range list {
		roots[s.root(f.Finding)] = true
	}
	return roots
}

func sightOf(f message.DefectFound) defects.Sight {
	return defects.Sight{ID: f.Finding, Zone: f.Place.Zone, Side: f.Place.Side, Face: f.Place.Face, Part: f.Place.Part, Kind: f.Defect, LengthMM: f.LengthMM}
}

// guide gives what is to be looked for on the boat.
func (b *Boat) guide() guide.Guide { return guide.For(b.facts.Type, b.facts.Material) }

// noted says whether a look-over has a finding on a part.
func (b *Boat) noted(lookID string, part boat.Part) bool {
	return slices.ContainsFunc(b.standing(lookID), func(f finding) bool { return f.Place.Part == part })
}
