package web

import (
	"strconv"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// historyPage is every event about a boat, or what was known of it on one day about
// another.
type historyPage struct {
	Frame
	Boat   *Boat
	Lines  []Line
	Hidden int // lines of look-overs that are not open to the viewer yet
	AsOf   asOf
	Wrong  string // what is wrong with the days that were asked for
	Then   *then
	Life   []turn
	Line   timeLine
}

// asOf is a question in both times: what was written down by the end of one day
// about what was so by the end of another. A day that is not stated sets no limit.
type asOf struct{ Known, About clock.Date }

// Asked says whether any day was stated.
func (a asOf) Asked() bool { return !a.Known.IsZero() || !a.About.IsZero() }

// limits gives both days as instants.
func (a asOf) limits() (known, about time.Time) {
	if !a.Known.IsZero() {
		known = a.Known.End()
	}
	if !a.About.IsZero() {
		about = a.About.End()
	}
	return known, about
}

// has says whether a line was written, and was so, in time.
func (a asOf) has(l Line) bool {
	known, about := a.limits()
	return (known.IsZero() || !l.RecordedAt.After(known)) && (about.IsZero() || !l.HappenedAt.After(about))
}

// then is what a boat was, as far as was known.
type then struct {
	State State
	Open  int // findings that stood and that the viewer may see
	Value *message.BoatValued
}

func (v *visit) historyPage() error {
	p, err := v.openHistory()
	if err != nil {
		return err
	}
	if p.AsOf.Asked() {
		if p.Then, err = v.thenOf(p.AsOf); err != nil {
			return err
		}
	}
	if v.wantsTable() {
		return writeTable(v, "history-"+v.boat.Name, []string{"position", "what", "who", "when", "written_down", "kind"}, p.Lines, func(l Line) []string {
			return []string{strconv.FormatInt(l.Position, 10), l.Summary, p.People.Actor(l.Actor), l.HappenedAt.UTC().Format(time.RFC3339), l.RecordedAt.UTC().Format(time.RFC3339), string(l.Kind)}
		})
	}
	p.Life = lifeOf(p.Lines)
	p.Line = drawLife(p.Life)
	return v.show("history", p)
}

// openHistory gives the lines about the boat that are asked for and open to the
// viewer, those of its earlier times first.
func (v *visit) openHistory() (historyPage, error) {
	p := historyPage{Frame: v.frame("History of " + v.boat.Name), Boat: v.boat}
	p.AsOf, p.Wrong = v.readAsOf()
	times, err := v.times(v.boat)
	if err != nil {
		return p, err
	}
	for i := range times {
		if err := v.addLines(&p, &times[i]); err != nil {
			return p, err
		}
	}
	return p, nil
}

// addLines adds what is asked for of one of a boat's times in the club.
func (v *visit) addLines(p *historyPage, b *Boat) error {
	lines, err := v.historyOf(v.ctx, b.ID)
	for _, l := range lines {
		switch {
		case !p.AsOf.has(l):
		case l.Look != "" && v.keepsBack(b, l.Look):
			p.Hidden++
		default:
			p.Lines = append(p.Lines, l)
		}
	}
	return err
}

// keepsBack says whether the lines of a look-over are not open to the viewer yet.
func (v *visit) keepsBack(b *Boat, look string) bool { return v.hides(b, look) || v.blindHint(b) }

// readAsOf reads the days from the address.
func (v *visit) readAsOf() (a asOf, wrong string) {
	for name, day := range map[string]*clock.Date{"known": &a.Known, "about": &a.About} {
		text := v.r.URL.Query().Get(name)
		if text == "" {
			continue
		}
		var err error
		if *day, err = clock.ParseDate(text); err != nil {
			return asOf{}, "Write both days as YYYY-MM-DD, or leave them empty. Everything is shown."
		}
	}
	return a, ""
}

// thenOf folds what was known of the boat's present time in the club, from the book
// itself.
func (v *visit) thenOf(a asOf) (*then, error) {
	known, about := a.limits()
	events, err := v.Log.BoatAsOf(v.ctx, v.boat.ID, known, about)
	if err != nil || len(events) == 0 {
		return nil, err
	}
	var b Boat
	for _, e := range events {
		body, err := message.Decode(e)
		if err != nil {
			return nil, err
		}
		b.Fold(e, body)
	}
	t := &then{State: b.State, Value: b.Value()}
	for _, f := range b.Findings {
		if f.Open() && !v.keepsBack(v.boat, f.Look) {
			t.Open++
		}
	}
	return t, nil
}
