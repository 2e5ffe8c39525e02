package repair

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"refloat.example/pkg/cure"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// job is the boat's work as its work sheet sees it: what is planned, and what was
// finished since the sheet last began anew.
func (b *bench) job(h *hull) mend.Job {
	j := mend.Job{Type: h.kind, Material: h.material, MassG: h.facts.MassG, Tests: b.needed(h), Passed: map[mend.Test]bool{}, Ticked: b.ticked}
	for _, w := range b.works {
		if w.done && w.lap != b.lap {
			continue
		}
		left := b.left(w, h)
		if w.done {
			left = w.findings
		}
		if on := h.places(left); len(on) > 0 {
			j.Works = append(j.Works, mend.Work{ID: w.id, Method: w.method, Words: w.words, Minutes: w.minutes, Findings: on, Done: w.done})
		}
	}
	slices.SortFunc(j.Works, func(a, c mend.Work) int { return cmp.Compare(a.ID, c.ID) })
	for _, n := range j.Tests {
		j.Passed[n.Test] = b.lacks(n) == ""
	}
	return j
}

// places gives findings with the words that name them.
func (h *hull) places(ids []string) []mend.Place {
	var list []mend.Place
	for _, id := range ids {
		if f := h.find(id); f != nil && f.withdrawn == "" {
			list = append(list, mend.Place{Finding: f.toMend(), Words: f.words()})
		}
	}
	return list
}

// doStep decides to tick a step of the work sheet. No body means that it is ticked
// already.
func (b *bench) doStep(h *hull, c message.DoStep) (message.Body, error) {
	if err := desk.First(h.isHere(b), desk.GoodID("step", c.Step)); err != nil {
		return nil, err
	}
	steps := mend.Sheet(b.job(h))
	i := slices.IndexFunc(steps, func(s mend.Step) bool { return s.ID == c.Step })
	switch {
	case i < 0:
		return nil, desk.Unknown("step", "the work sheet of %s has no such step now", h.name)
	case steps[i].Work != "":
		return nil, desk.Conflict("step", "this step is done by finishing the work that it is for")
	case steps[i].Test != "":
		return nil, desk.Conflict("step", "this step is done by recording the test")
	case steps[i].Done:
		return nil, nil
	case !steps[i].Open(steps):
		return nil, desk.Conflict("step", "something before this step is not done yet")
	}
	return message.StepDone{Boat: c.Boat, Step: c.Step}, nil
}

// Bounds on timers: thirty days, and shops that a person can stand in, in °C.
const (
	mostWait             = 30 * 24 * 60
	coldestShop, hotShop = -20, 50
)

// setTimer decides to begin to wait.
func (b *bench) setTimer(h *hull, c message.SetTimer, who people.ID, now time.Time) (message.Body, error) {
	err := desk.First(
		h.isHere(b),
		desk.GoodID("timer", c.Timer),
		desk.Needed("what", c.What, "say what waits"),
		desk.OneLine("what", c.What, desk.MaxLine),
		desk.Within("minutes", c.Minutes, 1, mostWait),
		desk.Within("at_celsius", c.AtCelsius, coldestShop, hotShop),
		desk.Within("celsius", c.Celsius, coldestShop, hotShop),
	)
	switch {
	case err != nil:
		return nil, err
	case b.timers[c.Timer] != nil:
		return nil, desk.Conflict("timer", "a timer under this id is set already")
	case who == "":
		return nil, fault.New(fault.SignIn, "a timer tells whoever set it; sign in as the member who waits")
	}
	wait, rule := waiting(c)
	if c.Cures && c.Celsius < cure.TooCold {
		rule += fmt.Sprintf("; below %d °C ordinary epoxy may never cure: warm the work", cure.TooCold)
	}
	if wait > 10*mostWait*time.Minute {
		return nil, fault.Field("celsius", "is so cold that the rule says nothing; warm the work")
	}
	return message.TimerSet{Boat: c.Boat, Timer: c.Timer, What: c.What, Until: now.Add(wait).Truncate(time.Second).UTC(), Who: who, Rule: rule}, nil
}

// waiting gives the time to wait and how it came about.
func waiting(c message.SetTimer) (time.Duration, string) {
	known := time.Duration(c.Minutes) * time.Minute
	if !c.Cures {
		return known, "the time that was stated"
	}
	wait := cure.Wait(known, float64(c.AtCelsius), float64(c.Celsius))
	return wait, fmt.Sprintf("%s at %d °C by the label, %s at %d °C by the %s", inHours(known), c.AtCelsius, inHours(wait), c.Celsius, cure.Rule)
}

func inHours(d time.Duration) string {
	if d < time.Hour {
		return fmt.Sprintf("%d min", int(d.Minutes()))
	}
	if d%time.Hour == 0 {
		return fmt.Sprintf("%d h", int(d.Hours()))
	}
	return fmt.Sprintf("%d h %d min", int(d.Hours()), int(d.Minutes())%60)
}

// endTimer decides to stop waiting. No body means that nobody waits any more.
func (b *bench) endTimer(c message.EndTimer) (message.Body, error) {
	t := b.timers[c.Timer]
	if t == nil {
		return nil, desk.Unknown("timer", "there is no timer under this id")
	}
	if t.ended {
		return nil, nil
	}
	return message.TimerEnded{Boat: c.Boat, Timer: c.Timer}, nil
}

func (s *service) doStep(ctx context.Context, o desk.Order[message.DoStep]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) { return b.doStep(h, o.Command) })
}

func (s *service) setTimer(ctx context.Context, o desk.Order[message.SetTimer]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(h *hull, b *bench) (message.Body, error) {
		return b.setTimer(h, o.Command, o.Actor.Person, o.Now)
	})
}

func (s *service) endTimer(ctx context.Context, o desk.Order[message.EndTimer]) (desk.Decision, error) {
	return s.on(ctx, o.Command.Boat, func(_ *hull, b *bench) (message.Body, error) { return b.endTimer(o.Command) })
}

// ringEvery is how often the room looks for timers that are over.
const ringEvery = 5 * time.Second

// ring says of each timer that is over that it is, once. Whoever set it gets a
// letter from the people room.
func (s *service) ring(ctx context.Context) error {
	over, err := s.overdue(ctx, s.Clock.Now())
	if err != nil {
		return err
	}
	for _, t := range over {
		// A conflict means that somebody wrote about the boat; the next look tries again.
		if err := s.ringOne(ctx, t); err != nil && !fault.Is(err, fault.Conflict) {
			return err
		}
	}
	return nil
}

func (s *service) ringOne(ctx context.Context, t dueTimer) error {
	b, at, err := desk.Load[bench](ctx, s.Log, message.RepairBoat(t.boat))
	if err != nil {
		return err
	}
	set := b.timers[t.timer]
	if set == nil || set.rang || set.ended {
		return nil
	}
	d, err := desk.SayAt(at, t.boat, message.TimerRang{Boat: t.boat, Timer: t.timer, Who: set.who})
	if err != nil {
		return err
	}
	key := Name + "/ring/" + t.timer
	_, err = s.Log.Append(ctx, ledger.Append{
		Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: people.Service(Name).String(), Expect: d.Expect, Events: d.Events,
	})
	return err
}
