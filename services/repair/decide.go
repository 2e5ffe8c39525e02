package repair

import (
	"fmt"
	"reflect"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// maxMinutes bounds what one piece of work is expected to take.
const maxMinutes = 30_000

// plan decides what is to be done about findings. A finding that is planned
// already moves to the new plan.
func (b *bench) plan(h *hull, c message.PlanWork, club money.Currency) (message.Body, error) {
	err := desk.First(
		h.isHere(b),
		desk.GoodID("work", c.Work),
		b.goodFindings(h, c.Findings),
		boat.Known("method", c.Method, mend.Methods),
		desk.Within("minutes", c.Minutes, 0, maxMinutes),
		desk.ClubMoney("cost", c.Cost, club),
		desk.NotLonger("words", c.Words, desk.MaxWords),
	)
	if err == nil && b.works[c.Work] != nil {
		err = desk.Conflict("work", "work under this id is planned already")
	}
	if err != nil {
		return nil, err
	}
	findings := h.withTwins(c.Findings, b.open)
	for _, id := range findings {
		if err := suits(c.Method, *h.find(id), h.material); err != nil {
			return nil, err
		}
	}
	return message.WorkPlanned{Boat: c.Boat, Work: c.Work, Findings: findings, Method: c.Method, Minutes: c.Minutes, Cost: c.Cost, Words: c.Words}, nil
}

// goodFindings wants findings of the boat that are open, each once.
func (b *bench) goodFindings(h *hull, ids []string) error {
	if len(ids) == 0 {
		return fault.Field("findings", "name at least one finding")
	}
	for i, id := range ids {
		field := fmt.Sprintf("findings[%d]", i)
		f := h.find(id)
		switch {
		case f == nil:
			return desk.Unknown(field, "%s has no finding under this id", h.name)
		case slices.Contains(ids[:i], id):
			return fault.Field(field, "stands twice")
		case f.withdrawn != "":
			return desk.Conflict(field, "the %s was withdrawn as a mistake", f.words())
		case !b.open(*f):
			return desk.Conflict(field, "the %s is ended already", f.words())
		}
	}
	return nil
}

// finish decides that planned work is done. has are the skills of whoever signs
// it.
func (b *bench) finish(h *hull, c message.FinishWork, has craft) (message.Body, error) {
	w := b.works[c.Work]
	if err := h.isHere(b); err != nil {
		return nil, err
	}
	switch {
	case w == nil:
		return nil, desk.Unknown("work", "no work under this id is planned for %s", h.name)
	case w.done:
		return nil, desk.Conflict("work", "this work is finished already")
	case w.method == mend.Scrap:
		return nil, desk.Conflict("work", "scrapping ends the boat: retire it, or plan another method")
	}
	left := b.left(w, h)
	if len(left) == 0 {
		return nil, desk.Conflict("work", "nothing is left of this work: its findings were planned anew or withdrawn")
	}
	if err := desk.Needed("words", c.Words, "say what was done, in the words that the next household will read"); err != nil {
		return nil, err
	}
	if skill := h.skillFor(w); !has.can(skill) {
		return nil, fault.New(fault.Forbidden, "this is %s, and you are not signed off for it: whoever is, looks at the work and finishes it", skill)
	}
	return message.WorkFinished{Boat: c.Boat, Work: c.Work, Findings: left, Words: c.Words}, nil
}

// record decides what a test shows. A failed one reopens the findings that it
// names, or else everything mended since a test of the kind was last passed.
func (b *bench) record(h *hull, c message.RecordTest, tester people.ID, today clock.Date) ([]message.Body, error) {
	err := desk.First(
		h.isHere(b),
		desk.GoodID("test", c.Test),
		boat.Known("what", c.What, mend.Tests),
		desk.Needed("reading", c.Reading, "write what was read: how much water, how long, which load"),
		desk.Past("on", c.On, today),
		goodNumbers(h, c),
		b.goodReopened(h, c),
	)
	if err == nil && slices.ContainsFunc(b.trials, func(t trial) bool { return t.id == c.Test }) {
		err = desk.Conflict("test", "a test under this id is recorded already")
	}
	if err != nil {
		return nil, err
	}
	reopened := b.reopened(h, c)
	numbers := c.TestNumbers
	if c.What == mend.Load {
		numbers.LoadPercent = h.shareOfRated(numbers.LoadG)
	}
	said := []message.Body{message.TestRecorded{
		Boat: c.Boat, Test: c.Test, What: c.What, Reading: c.Reading, TestNumbers: numbers, Passed: c.Passed, Tester: tester, On: c.On, Findings: reopened,
	}}
	for _, id := range reopened {
		said = append(said, message.FindingReopened{Boat: c.Boat, Finding: id, Test: c.Test})
	}
	return said, nil
}

// goodReopened wants findings that were ended, and only with a failed test.
func (b *bench) goodReopened(h *hull, c message.RecordTest) error {
	if c.Passed && len(c.Findings) > 0 {
		return fault.Field("findings", "a test that was passed reopens nothing; leave this empty")
	}
	for i, id := range c.Findings {
		field := fmt.Sprintf("findings[%d]", i)
		f := h.find(id)
		switch {
		case f == nil:
			return desk.Unknown(field, "%s has no finding under this id", h.name)
		case slices.Contains(c.Findings[:i], id):
			return fault.Field(field, "stands twice")
		case f.withdrawn != "":
			return desk.Conflict(field, "the %s was withdrawn as a mistake", f.words())
		case b.open(*f):
			return desk.Conflict(field, "the %s is open anyway; leave it out", f.words())
		}
	}
	return nil
}

func (b *bench) reopened(h *hull, c message.RecordTest) []string {
	ended := func(f finding) bool { return f.withdrawn == "" && !b.open(f) }
	if c.Passed {
		return nil
	}
	if len(c.Findings) > 0 {
		return h.withTwins(c.Findings, ended)
	}
	var all []string
	since := b.lastPassed(c.What)
	for _, f := range h.findings {
		if ended(f) && b.ends[f.id].mended && b.ends[f.id].at > since {
			all = append(all, f.id)
		}
	}
	return all
}

// lastPassed gives when a test of a kind was last passed; 0 when it never was.
func (b *bench) lastPassed(what message.TestKind) int64 {
	var at int64
	for _, t := range b.trials {
		if t.what == what && t.passed {
			at = t.at
		}
	}
	return at
}

// declare decides that the boat may be placed. Saying the same again is nothing
// to say.
func (b *bench) declare(h *hull, c message.DeclareReady) (message.Body, error) {
	if err := desk.First(h.isHere(b), desk.Within("grade", int(c.Grade), 1, 5)); err != nil {
		return nil, err
	}
	if c.Grade == 1 {
		return nil, fault.Field("grade", "1 is for a boat that is good for parts only; retire it instead")
	}
	if missing := b.missing(h); len(missing) > 0 {
		return nil, desk.Conflict("boat", "%s is not ready. Missing: %s", h.name, sentence(missing))
	}
	ready := message.BoatReady{Boat: c.Boat, Grade: c.Grade, Disclosure: b.disclosure(h)}
	if b.ready != nil && reflect.DeepEqual(*b.ready, ready) {
		return nil, nil
	}
	return ready, nil
}

// missing says what keeps the boat from going out.
func (b *bench) missing(h *hull) []string {
	var missing []string
	if !h.received {
		missing = append(missing, "possession and the signed transfer, which make it the club's")
	}
	for _, f := range h.findings {
		switch {
		case !b.open(f):
		case b.plans[f.id] != "":
			missing = append(missing, fmt.Sprintf("the end of the work that is planned (%s) for the %s", b.works[b.plans[f.id]].method, f.words()))
		case f.forbids():
			missing = append(missing, fmt.Sprintf("work on the %s: %s", f.words(), f.severity))
		}
	}
	return append(missing, b.untested(h)...)
}

// disclosure gives one line a finding, in the order in which they were noted.
func (b *bench) disclosure(h *hull) []message.DisclosedFinding {
	lines := []message.DisclosedFinding{}
	for _, f := range h.findings {
		lines = append(lines, message.DisclosedFinding{Finding: f.id, Place: f.place, Defect: f.defect, End: b.endOf(h, f)})
	}
	return lines
}

// endOf says how a finding ended, to the next household. What was tried and did
// not hold is told, too.
func (b *bench) endOf(h *hull, f finding) string {
	if f.withdrawn != "" {
		return "Withdrawn as a mistake: " + f.withdrawn
	}
	end, tries := "", b.tries[f.id]
	for i, t := range tries {
		if t.failed {
			end += t.words + " (a test showed that this did not hold). "
		} else if i == len(tries)-1 {
			end += t.words
		}
	}
	if _, ended := b.ends[f.id]; !ended {
		end += b.leftAs(f)
	}
	if h.seenBefore(f) {
		end += " (Two people saw it.)"
	}
	return end
}

// leftAs says that a finding was left.
func (b *bench) leftAs(f finding) string {
	if f.severity == boat.Watch {
		return "Left as it was found: keep an eye on it."
	}
	return "Left as it was found: it does not hinder use."
}

// retire decides that the boat ends as parts.
func (b *bench) retire(h *hull, c message.RetireBoat) (message.Body, error) {
	err := desk.First(
		h.isHere(b),
		desk.Needed("reason", c.Reason, "say why mending does not pay or cannot be trusted"),
		desk.Needed("disposal", c.Disposal, "say what becomes of the hull and of its parts"),
	)
	if err != nil {
		return nil, err
	}
	return message.BoatRetired{Boat: c.Boat, Reason: c.Reason, Disposal: c.Disposal}, nil
}
