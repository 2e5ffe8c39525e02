package web

import (
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
)

// estimate gives the newest estimate of a look-over: what a person confirmed goes
// before the tool's own matching.
func (l *Look) Estimate() *message.MissedEstimate {
	switch {
	case l.Matched != nil:
		return l.Matched.Estimate
	case l.Finished != nil:
		return l.Finished.Estimate
	}
	return nil
}

// estimate gives the boat's newest estimate, or nil.
func (b *Boat) estimate() *message.MissedEstimate {
	for _, l := range slices.Backward(b.finishedInOrder()) {
		if e := l.Estimate(); e != nil {
			return e
		}
	}
	return nil
}

// wantsAnother says whether one more person should look, without knowing a list.
func (b *Boat) wantsAnother() bool {
	e := b.estimate()
	return len(b.FinishedLooks()) == 1 || e != nil && e.LookAgain
}

// finishedInOrder gives the finished look-overs in the order in which they were.
func (b *Boat) finishedInOrder() []Look {
	done := b.FinishedLooks()
	slices.SortStableFunc(done, func(a, b Look) int { return a.Place - b.Place })
	return done
}

// matchFinding puts what a person confirmed in the place of the tool's matching.
func (b *Boat) matchFindings(m message.FindingsMatched) {
	l, ok := b.Look(m.Look)
	if !ok {
		return
	}
	for i, f := range b.Findings {
		back, found := b.Finding(f.SameAs)
		if f.Look == m.Look || found && back.Look == m.Look && b.before(f.Look, l) {
			b.Findings[i].SameAs = ""
		}
	}
	for _, p := range m.Pairs {
		if f, ok := b.Finding(p.Finding); ok {
			f.SameAs = p.SameAs
		}
	}
	l.Matched = &m
}

// before says whether a look-over was finished before another.
func (b *Boat) before(look string, than *Look) bool {
	l, ok := b.Look(look)
	return ok && l.Finished != nil && l.Place < than.Place
}

// toMatch gives the look-overs whose findings nobody has confirmed yet to be
// those of earlier ones, or not.
func (b *Boat) toMatch() []Look {
	var list []Look
	for _, l := range b.finishedInOrder() {
		if l.Place > 1 && l.Matched == nil && len(b.sights(l.ID)) > 0 && b.estimable(l) {
			list = append(list, l)
		}
	}
	return list
}

// estimable says whether somebody else looked before.
func (b *Boat) estimable(l Look) bool {
	return slices.ContainsFunc(b.finishedInOrder(), func(o Look) bool { return o.Place < l.Place && o.Inspector != l.Inspector })
}

// sights gives a look-over's findings that stand, for the matching.
func (b *Boat) sights(look string) []defects.Sight {
	var list []defects.Sight
	for _, f := range b.findingsOf(look) {
		if f.Withdrawn == "" {
			list = append(list, defects.Sight{
				ID: f.Finding, Zone: f.Place.Zone, Side: f.Place.Side, Face: f.Place.Face, Part: f.Place.Part, Kind: f.Defect, LengthMM: f.LengthMM,
			})
		}
	}
	return list
}

// matchFields asks of each finding of a look-over which earlier one it is.
func (v *visit) matchFields() ([]Section, error) {
	l, ok := v.boat.Look(v.param("look"))
	if !ok || v.hides(v.boat, l.ID) || l.Finished == nil {
		return nil, fault.New(fault.Unknown, "This boat has no such look-over that is finished.")
	}
	var earlier []defects.Sight
	for _, other := range v.boat.finishedInOrder() {
		if other.Place < l.Place {
			earlier = append(earlier, v.boat.sights(other.ID)...)
		}
	}
	same := v.boat.proposed(l, earlier)
	options := v.boat.sameOptions(earlier)
	section := Section{Legend: "Findings of " + v.directory().Name(l.Inspector)}
	for i, s := range v.boat.sights(l.ID) {
		f, _ := v.boat.Finding(s.ID)
		pick := Field{Name: fmt.Sprintf("pairs[%d].same_as", i), Label: capital(findingWords(f.DefectFound)), Kind: kindPick, Options: options, Hint: f.Words}
		section.Fields = append(section.Fields, preset(fmt.Sprintf("pairs[%d].finding", i), s.ID), pick.Starts(same[s.ID]))
	}
	if len(section.Fields) == 0 {
		section.Words = "This look-over has no finding that stands, so there is nothing to compare. Confirm that."
	}
	return []Section{section}, nil
}

// proposed gives for each finding of a look-over the earlier one that it is, by
// what was confirmed or else by the tool's likeness.
func (b *Boat) proposed(l *Look, earlier []defects.Sight) map[string]string {
	same := map[string]string{}
	if l.Matched != nil {
		for _, p := range l.Matched.Pairs {
			same[p.Finding] = p.SameAs
		}
		return same
	}
	for _, p := range defects.Propose(earlier, b.sights(l.ID)) {
		same[p.Second] = p.First
	}
	return same
}

func (b *Boat) sameOptions(earlier []defects.Sight) []Option {
	options := []Option{{"", "none of the earlier ones: it is new"}}
	for _, s := range earlier {
		f, _ := b.Finding(s.ID)
		label := "the same as: " + findingWords(f.DefectFound)
		if f.Words != "" {
			label += " (" + f.Words + ")"
		}
		options = append(options, Option{s.ID, label})
	}
	return options
}

// saidOf is what a finished look-over says of the boat as a whole, in sentences.
type saidOf struct {
	Lift        []string
	Provisional []string // why; empty: all of it could be seen
	Gamble      string
	Unseen      []string // points that could not be seen
	Open        []string // points that were not answered
	NeitherSaw  []boat.Part
}

func (b *Boat) said(l *Look) saidOf {
	var s saidOf
	end := l.Finished
	if end == nil {
		return s
	}
	if t := end.Lift; t != nil {
		s.Lift = guide.LiftTest{Lay: t.Lay, WeighsG: t.WeighsG, Feels: t.Feels, StatedG: t.StatedG, WaterML: end.WaterML}.Says()
	}
	if !end.Provisional {
		return s
	}
	s.Gamble, s.Unseen, s.Open = guide.Gamble(b.Facts.Material), pointTitles(end.Unseen), pointTitles(end.Open)
	if len(end.Hampered) > 0 {
		s.Provisional = append(s.Provisional, "the boat was "+listed(end.Hampered))
	}
	if len(end.CouldNotSee) > 0 {
		s.Provisional = append(s.Provisional, "could not see "+listed(end.CouldNotSee))
	}
	if n := len(end.Unseen); n > 0 {
		s.Provisional = append(s.Provisional, count(n, "point of the guide could not be seen", "points of the guide could not be seen"))
	}
	if n := len(end.Open); n > 0 {
		s.Provisional = append(s.Provisional, count(n, "point of the guide was not answered", "points of the guide were not answered"))
	}
	return s
}

// seenTwice says which finding of the list another look-over saw again.
func seenTwice(list []marked) map[string][]int {
	number := map[string]int{}
	for _, m := range list {
		number[m.Finding.Finding] = m.Number
	}
	with := map[string][]int{}
	for _, m := range list {
		if n := number[m.SameAs]; n > 0 && m.Withdrawn == "" {
			with[m.Finding.Finding] = append(with[m.Finding.Finding], n)
			with[m.SameAs] = append(with[m.SameAs], m.Number)
		}
	}
	return with
}
