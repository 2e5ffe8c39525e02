package intake

import (
	"fmt"
	"math"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/guide"
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
	if slices.ContainsFunc(b.looks, func(l look) bool { return l.inspector == by && l.finished == 0 }) {
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
	case l.finished > 0:
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
		suitsMaterial(c.Defect, c.Place.Part, b.facts.Material),
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

// seenBefore gives the finding of another look-over that this one sees again,
// word for word. Each is matched once, so that two cracks at one place stay two.
// It is the tool's own matching, until a person confirms it (match.go).
func (b *Boat) seenBefore(found message.DefectFound) string {
	for _, f := range b.findings {
		matched := func(g finding) bool { return !g.withdrawn && g.Look == found.Look && g.SameAs == f.Finding }
		if !f.withdrawn && f.Look != found.Look && f.Place == found.Place && f.Defect == found.Defect && b.first(f) &&
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
	case l.finished == 0:
		return fault.New(fault.Forbidden, "this look-over is not finished; only its inspector may change it")
	}
	return b.mayDeal(by)
}

// suitsMaterial refuses a defect that the place cannot have: a finding that
// contradicts its material is a slip of the hand, and the repair that follows
// from it would be wrong.
func suitsMaterial(d boat.Defect, part boat.Part, m boat.Material) error {
	if why := guide.Impossible(d, part, m); why != "" {
		return fault.Field("defect", "%s", why)
	}
	return nil
}

// answer decides to note answers to points of the guide. What was answered so
// before is not said again.
func (b *Boat) answer(c message.AnswerPoints, by people.ID) (message.Body, error) {
	l, err := b.openLook(c.Look, by)
	if err != nil {
		return nil, err
	}
	said := message.PointsAnswered{Boat: c.Boat, Look: c.Look, Edition: guide.Edition}
	asked := b.guide()
	for i, a := range c.Answers {
		field := fmt.Sprintf("answers[%d]", i)
		if err := goodAnswer(field, a, c.Answers[:i], asked); err != nil {
			return nil, err
		}
		if l.answers[a.Point] != a.Answer {
			said.Answers = append(said.Answers, a)
		}
	}
	if len(said.Answers) == 0 {
		return nil, nil
	}
	return said, nil
}

func goodAnswer(field string, a message.PointAnswer, before []message.PointAnswer, asked guide.Guide) error {
	if _, ok := asked.Point(a.Point); !ok {
		return fault.Field(field+".point", "the guide for %s of %s has no such point", asked.Type.WithArticle(), asked.Material)
	}
	if slices.ContainsFunc(before, func(other message.PointAnswer) bool { return other.Point == a.Point }) {
		return fault.Field(field+".point", "is answered twice")
	}
	return boat.Known(field+".answer", a.Answer, guide.Answers)
}

// finish decides to close a look-over. A point that was not answered counts like
// one that could not be seen: nobody says that it is in order.
func (b *Boat) finish(c message.FinishLookOver, by people.ID) (message.Body, error) {
	l, err := b.openLook(c.Look, by)
	if err != nil {
		return nil, err
	}
	if err := desk.First(goodEnd(c), b.allNoted(l)); err != nil {
		return nil, err
	}
	asked := b.guide()
	said := message.LookOverFinished{
		Boat: c.Boat, Look: c.Look, Inspector: by, WaterML: c.WaterML, CouldNotSee: c.CouldNotSee, Grade: c.Grade,
		Findings: len(b.standing(l.id)), Edition: guide.Edition, Asked: len(asked.Points), Hampered: c.Hampered,
		Unseen: pointIDs(asked.Unseen(l.answers)), Open: pointIDs(asked.Unanswered(l.answers)),
	}
	said.CouldNotSee = withParts(c.CouldNotSee, asked.Unseen(l.answers))
	said.Provisional = len(said.CouldNotSee)+len(said.Hampered)+len(said.Unseen)+len(said.Open) > 0
	if c.Lay != "" {
		said.Lift = &message.LiftTest{Lay: c.Lay, WeighsG: c.WeighsG, Feels: c.Feels, StatedG: b.facts.MassG}
	}
	said.Estimate, err = b.estimate(l, b.sameness())
	return said, err
}

// withParts adds the parts of points that could not be seen.
func withParts(parts []boat.Part, unseen []guide.Point) []boat.Part {
	all := slices.Clone(parts)
	for _, p := range unseen {
		if !slices.Contains(all, p.Part) {
			all = append(all, p.Part)
		}
	}
	return all
}

func pointIDs(points []guide.Point) []string {
	var ids []string
	for _, p := range points {
		ids = append(ids, p.ID)
	}
	return ids
}

func goodEnd(c message.FinishLookOver) error {
	return desk.First(
		desk.Within("water_ml", c.WaterML, 0, 1_000_000),
		eachOnce("could_not_see", c.CouldNotSee, boat.Parts),
		eachOnce("hampered", c.Hampered, guide.Hampered),
		desk.Within("grade", int(c.Grade), 1, 5),
		goodLift(c),
	)
}

// goodLift wants to know how the boat lay before it was lifted: without that the
// test says nothing.
func goodLift(c message.FinishLookOver) error {
	if c.Lay == "" && (c.WeighsG != 0 || c.Feels != "") {
		return fault.Field("lay", "say how the boat lay before it was lifted; without that the test says nothing")
	}
	if c.Lay == "" {
		return nil
	}
	err := desk.First(boat.Known("lay", c.Lay, guide.Storages), desk.WithinOrUnknown("weighs_g", c.WeighsG, 1000, 300_000))
	if err == nil && c.Feels != "" {
		err = boat.Known("feels", c.Feels, guide.Hefts)
	}
	return err
}

// eachOnce wants words of a list, each at most once.
func eachOnce[W ~string](name string, words, known []W) error {
	for i, word := range words {
		field := fmt.Sprintf("%s[%d]", name, i)
		if err := boat.Known(field, word, known); err != nil {
			return err
		}
		if slices.Contains(words[:i], word) {
			return fault.Field(field, "stands twice")
		}
	}
	return nil
}

// allNoted wants a finding for each trouble that was seen: the answer alone tells
// the workshop nothing.
func (b *Boat) allNoted(l *look) error {
	for _, p := range b.guide().Points {
		if l.answers[p.ID] == guide.Seen && !b.noted(l.id, p.Part) {
			return desk.Conflict("look", "you answered %q to the point on the %s (%s), and noted no finding there; note it, or answer otherwise", guide.Seen, p.Part, p.Where)
		}
	}
	return nil
}

// estimate gives what all who looked probably missed, when somebody finishes who
// knew no list; otherwise nil. A boat has one such estimate that carries weight:
// later look-overs see it repaired, or know too much. One that carries none is
// followed by another, with all earlier lists together as the first.
func (b *Boat) estimate(last *look, s same) (*message.MissedEstimate, error) {
	if slices.ContainsFunc(b.looks, func(l look) bool { return l.id != last.id && l.estimate != nil && l.estimate.Shown }) {
		return nil, nil
	}
	earlier := b.before(last)
	if len(earlier) == 0 {
		return nil, nil
	}
	ids := make([]string, len(earlier))
	for i, l := range earlier {
		ids[i] = l.id
	}
	first, second := s.roots(b.standing(ids...)), s.roots(b.standing(last.id))
	both := 0
	for root := range second {
		if first[root] {
			both++
		}
	}
	return estimateFrom(len(first), len(second), both, len(earlier)+1)
}

func estimateFrom(first, second, both, looks int) (*message.MissedEstimate, error) {
	e, err := defects.SecondLook(int64(first), int64(second), int64(both))
	if err != nil {
		return nil, err
	}
	said := &message.MissedEstimate{
		First: first, Second: second, Both: both, MissedMilli: milli(e.Missed), LowMilli: milli(e.Low), HighMilli: milli(e.High),
		Shown: e.Shown(), Reason: e.Reason(), Looks: looks, LookAgain: e.LookAgain(),
	}
	if !said.Shown {
		said.Reason = fmt.Sprintf("only %d found by both; with fewer than %d the numbers carry no weight", both, defects.EnoughInCommon)
	}
	return said, nil
}

// milli gives thousandths, because events hold no floats.
func milli(x float64) int { return int(math.Round(x * 1000)) }
