package treasury

import (
	"context"
	"fmt"
	"slices"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// remindEvery is how often the room looks for what falls due soon.
const remindEvery = time.Hour

// mostReminded bounds the things of which one mail is about, so that the event stays
// small; what is left follows with the next look.
const mostReminded = 200

// reminders is what the stream of reminders adds up to.
type reminders struct{ of map[string]bool }

// Fold adds an event.
func (r *reminders) Fold(_ message.Event, body message.Body) {
	if b, ok := body.(message.DeadlinesNear); ok {
		if r.of == nil {
			r.of = map[string]bool{}
		}
		for _, d := range b.Deadlines {
			r.of[d.Key] = true
		}
	}
}

// near gives what falls due within so many days and was not reminded of, the next first.
// That a paper is kept until a day asks nobody to do anything, nor that a donor has the
// paper once it stands. What falls due of a gift is the same thing before its paper stands
// and after; earlier reminders told them apart by the serial, and are not said again.
func (r *reminders) near(clocks []message.Clock, today clock.Date, days int) []message.Deadline {
	var list []message.Deadline
	for _, c := range clocks {
		done := c.What == keptUpTo || c.What == donorHasIt && c.Serial != ""
		thing := c
		thing.Serial = ""
		if c.Due.Before(today) || c.Due.After(today.AddDays(days)) || done || r.of[thing.Key()] || r.of[c.Key()] {
			continue
		}
		list = append(list, message.Deadline{Key: thing.Key(), Due: c.Due, Boat: c.Boat, Serial: c.Serial})
	}
	slices.SortStableFunc(list, func(a, b message.Deadline) int { return a.Due.Compare(b.Due) })
	return list[:min(len(list), mostReminded)]
}

// remind says what falls due soon, once. Whoever is to be told is the people room's matter.
func (s *service) remind(ctx context.Context) error {
	days, err := s.SettingWhole(ctx, "remind-days")
	if err != nil || days == 0 {
		return err
	}
	today := clock.DateOf(s.Clock.Now())
	clocks, err := s.due(ctx, today)
	if err != nil {
		return err
	}
	r, at, err := desk.Load[reminders](ctx, s.Log, message.TreasuryReminders)
	if err != nil {
		return err
	}
	list := r.near(clocks, today, days)
	if len(list) == 0 {
		return nil
	}
	d, err := desk.SayAt(at, "", message.DeadlinesNear{First: list[0].Due, Deadlines: list})
	if err != nil {
		return err
	}
	key := fmt.Sprintf("%s/remind/%d", Name, at.Version+1)
	_, err = s.Log.Append(ctx, ledger.Append{
		Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: people.Service(Name).String(), Expect: d.Expect, Events: d.Events,
	})
	if fault.Is(err, fault.Conflict) {
		return nil // another process said it; the next look tells
	}
	return err
}
