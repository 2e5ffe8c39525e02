package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// boatCommand answers `refloat boat history NAME-OR-ID`.
func boatCommand(ctx context.Context, args []string, c console) int {
	var known, about clock.Date
	cfg, words, err := readConfig("boat", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.Func("known-on", "only what was written by the end of that day", dayInto(&known))
		f.Func("about", "only what was so by the end of that day", dayInto(&about))
	})
	if err == nil && (len(words) < 2 || words[0] != "history") {
		err = errors.New("say: refloat boat history NAME-OR-ID")
	}
	if err != nil {
		return usage(c, err)
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	events, err := boatAsOf(ctx, b.reader(), strings.Join(words[1:], " "), known, about)
	if err != nil {
		return c.complain(err)
	}
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "POSITION\tWHAT\tWAS SO\tWRITTEN\tBY")
	for _, e := range events {
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\n", e.Position, e.Kind, stampLong(e.HappenedAt), stampLong(e.RecordedAt), e.Actor)
	}
	if err := w.Flush(); err != nil {
		return c.complain(err)
	}
	return exitOK
}

func dayInto(day *clock.Date) func(string) error {
	return func(value string) (err error) {
		*day, err = clock.ParseDate(value)
		return err
	}
}

// boatAsOf gives the events of a boat that were written by the end of one day and
// were so by the end of another; a day that is not stated sets no limit.
func boatAsOf(ctx context.Context, book *ledger.Reader, nameOrID string, known, about clock.Date) ([]message.Event, error) {
	ids, err := boatsNamed(ctx, book, nameOrID)
	if err != nil {
		return nil, err
	}
	var knownBy, aboutBy time.Time
	if !known.IsZero() {
		knownBy = known.End()
	}
	if !about.IsZero() {
		aboutBy = about.End()
	}
	var events []message.Event
	for _, id := range ids {
		of, err := book.BoatAsOf(ctx, id, knownBy, aboutBy)
		if err != nil {
			return nil, err
		}
		events = append(events, of...)
	}
	return events, nil
}

// boatsNamed finds a boat by id or by name. A boat that came back has an entry for
// each time, all of one name.
func boatsNamed(ctx context.Context, book *ledger.Reader, nameOrID string) (ids []boat.ID, err error) {
	events, err := book.Boat(ctx, boat.ID(nameOrID))
	if err != nil || len(events) > 0 {
		return []boat.ID{boat.ID(nameOrID)}, err
	}
	err = book.Each(ctx, 0, 0, func(e message.Event) error {
		if e.Kind != (message.BoatLogged{}).Kind() {
			return nil
		}
		body, err := message.Decode(e)
		if logged, ok := body.(message.BoatLogged); ok && strings.EqualFold(logged.Name, nameOrID) {
			ids = append(ids, logged.Boat)
		}
		return err
	})
	if err == nil && len(ids) == 0 {
		err = fault.New(fault.Unknown, "the book knows no boat %q", nameOrID)
	}
	return ids, err
}
