package intake

import (
	"fmt"
	"math"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// begin decides to open a look-over. One person looks a boat over once at a time.
func (b *Boat) begin(c message.BeginLookOver, by people.ID) (message.Body, error) {
	if err := desk.First(desk.GoodID("look", c.Look), isMember(by), b.notDeclined()); err != nil {
		return nil, err
	}
	if b.look(c.Look) != nil {
		return nil, desk.Conflict("look", "a look-over under this id has begun before")
	}
	if slices.ContainsFunc(b.looks, func(l look) bool { return l.inspector == by && !l.finished }) {
		return nil, desk.Conflict("look", "you have a look-over of %s open; finish that one first", b.name)
	}
	return message.LookOverBegun{Boat: c.Boat, Look: c.Look, Inspector: by}, nil
}

// isMember wants somebody with a name behind the order: a look-over is a
// person's word.
func isMember(by people.ID) error {
	if by == "" {
		return fault.New(fault.SignIn, "a look-over is a person's own; sign in as the member who looks")
	}
	return nil
}

// openLook gives the look-over that its inspector may still write to.
func (b *Boat) openLook(id string, by people.ID) (*look, error) {
	l := b.look(id)
	switch {
	case l == nil:
		return nil, desk.Unknown("look", "this boat has no look-over under this id; begin one first")
	case l.inspector != by:
		return nil, fault.New(fault.Forbidden, "this look-over is somebody else's; begin one of your own, so that the two stay independent")
	case l.finished:
		return nil, desk.Conflict("look", "this look-over is finished; begin a new one for what was seen later")
	}
	return l, b.notDeclined()
}

// note decides to add a finding.
func (b *Boat) note(c message.NoteDefect, by people.ID) (message.Body, error) {
	if _, err := b.openLook(c.Look, by); err != nil {
		return nil, err
	}
	if err := b.goodFinding(c); err != nil {
		return nil, err
	}
	if b.finding(c.Finding) != nil {
		return nil, desk.Conflict("finding", "a finding under this id stands in the book already")
	}
	found := message.DefectFound{
		Boat: c.Boat, Finding: c.Finding, Look: c.Look, Place: c.Place, Defect: c.Defect, LengthMM: c.LengthMM,
		Through: c.Through, LoadBearing: c.LoadBearing, Severity: c.Severity, Words: c.Words,
	}
	found.SameAs = b.seenBefore(found)
	return found, nil
}

func (b *Boat) goodFinding(c message.NoteDefect) error {
	return desk.First(
		desk.GoodID("finding", c.Finding),
		goodPlace(c.Place),
		boat.Known("defect", c.Defect, boat.Defects),
		suitsMaterial(c.Defect, c.Place, b.facts.Material),
		desk.Within("length_mm", c.LengthMM, 0, 15_000),
		boat.Known("severity", c.Severity, boat.Severities),
		desk.NotLonger("words", c.Words, desk.MaxWords),
	)
}

func goodPlace(p message.Place) error {
	return desk.First(
		boat.Known("place.zone", p.Zone, boat.Zones),
		boat.Known("place.side", p.Side, boat.Sides),
		boat.Known("place.face", p.Face, boat.Faces),
		boat.Known("place.part", p.Part, boat.Parts),
	)
}

// sight is what two inspectors must agree on for their findings to count as one.
type sight struct {
	place  message.Place
	defect boat.Defect
}

func sightOf(f message.DefectFound) sight { return sight{f.Place, f.Defect} }

// seenBefore gives the finding of another look-over that this one sees again.
// Each is matched once, so that two cracks at one place stay two.
func (b *Boat) seenBefore(found message.DefectFound) string {
	for _, f := range b.findings {
		matched := func(g finding) bool { return !g.withdrawn && g.Look == found.Look && g.SameAs == f.Finding }
		if !f.withdrawn && f.Look != found.Look && sightOf(f.DefectFound) == sightOf(found) && b.first(f) &&
			!slices.ContainsFunc(b.findings, matched) {
			return f.Finding
		}
	}
	return ""
}

// first says whether a finding does not itself see another one again that still
// stands.
func (b *Boat) first(f finding) bool {
	earlier := b.finding(f.SameAs)
	return earlier == nil || earlier.withdrawn
}

// withdraw decides to take a finding back. While the look-over is open nobody but
// its inspector should know of it.
func (b *Boat) withdraw(c message.WithdrawDefect, by people.ID) (message.Body, error) {
	f := b.finding(c.Finding)
	if f == nil {
		return nil, desk.Unknown("finding", "this boat has no finding under this id")
	}
	if err := b.mayWithdraw(b.look(f.Look), by); err != nil {
		return nil, err
	}
	if f.withdrawn {
		return nil, desk.Conflict("finding", "this finding has been withdrawn before")
	}
	if err := desk.Needed("why", c.Why, "say why the finding was a mistake"); err != nil {
		return nil, err
	}
	return message.DefectWithdrawn{Boat: c.Boat, Finding: c.Finding, Why: c.Why}, nil
}

// mayWithdraw decides who may take a finding back: its inspector, and once the
// look-over is finished everybody but the giver, who gains by it.
func (b *Boat) mayWithdraw(l *look, by people.ID) error {
	switch {
	case l.inspector == by:
		return nil
	case !l.finished:
		return fault.New(fault.Forbidden, "this look-over is not finished; only its inspector may change it")
	}
	return b.mayDeal(by)
}

// finish decides to close a look-over.
func (b *Boat) finish(c message.FinishLookOver, by people.ID) (message.Body, error) {
	l, err := b.openLook(c.Look, by)
	if err != nil {
		return nil, err
	}
	if err := desk.First(desk.Within("water_ml", c.WaterML, 0, 1_000_000), goodUnseen(c.CouldNotSee), desk.Within("grade", int(c.Grade), 1, 5)); err != nil {
		return nil, err
	}
	estimate, err := b.estimate(l)
	if err != nil {
		return nil, err
	}
	return message.LookOverFinished{
		Boat: c.Boat, Look: c.Look, Inspector: by, WaterML: c.WaterML, CouldNotSee: c.CouldNotSee,
		Provisional: len(c.CouldNotSee) > 0, Grade: c.Grade, Findings: len(b.listOf(l.id)), Estimate: estimate,
	}, nil
}

func goodUnseen(parts []boat.Part) error {
	for i, part := range parts {
		field := fmt.Sprintf("could_not_see[%d]", i)
		if err := boat.Known(field, part, boat.Parts); err != nil {
			return err
		}
		if slices.Contains(parts[:i], part) {
			return fault.Field(field, "stands twice")
		}
	}
	return nil
}

// listOf gives the findings of a look-over that still stand.
func (b *Boat) listOf(lookID string) []sight {
	var list []sight
	for _, f := range b.findings {
		if f.Look == lookID && !f.withdrawn {
			list = append(list, sightOf(f.DefectFound))
		}
	}
	return list
}

// estimate gives what two people together probably missed, when the look-over is
// the second one to be finished, and by another person; otherwise nil. A boat
// has one such estimate: later look-overs see it repaired, or know too much.
func (b *Boat) estimate(second *look) (*message.MissedEstimate, error) {
	if slices.ContainsFunc(b.looks, func(l look) bool { return l.estimated }) {
		return nil, nil
	}
	i := slices.IndexFunc(b.looks, func(l look) bool { return l.finished && l.inspector != second.inspector })
	if i < 0 {
		return nil, nil
	}
	return estimateFrom(b.listOf(b.looks[i].id), b.listOf(second.id))
}

func estimateFrom(first, second []sight) (*message.MissedEstimate, error) {
	both := inCommon(first, second)
	e, err := defects.SecondLook(int64(len(first)), int64(len(second)), int64(both))
	if err != nil {
		return nil, err
	}
	said := &message.MissedEstimate{
		First: len(first), Second: len(second), Both: both,
		MissedMilli: milli(e.Missed), HighMilli: milli(e.High), Shown: e.Shown(),
	}
	if !said.Shown {
		said.Reason = fmt.Sprintf("only %d found by both; with fewer than %d the numbers carry no weight", both, defects.EnoughInCommon)
	}
	return said, nil
}

// inCommon counts what stands on both lists.
func inCommon(first, second []sight) int {
	left := map[sight]int{}
	for _, s := range first {
		left[s]++
	}
	both := 0
	for _, s := range second {
		if left[s] > 0 {
			left[s]--
			both++
		}
	}
	return both
}

// milli gives thousandths, because events hold no floats.
func milli(x float64) int { return int(math.Round(x * 1000)) }
