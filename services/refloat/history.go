package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// boatCommand answers `refloat boat history NAME-OR-ID`.
func boatCommand(ctx context.Context, args []string, c console) int {
	cfg, words, err := readConfig("boat", args, c.env, c.problems, nil)
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
	events, err := boatHistory(ctx, b.reader(), strings.Join(words[1:], " "))
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

// boatHistory finds a boat by id or by name and gives all its events.
func boatHistory(ctx context.Context, book *ledger.Reader, nameOrID string) ([]message.Event, error) {
	events, err := book.Boat(ctx, boat.ID(nameOrID))
	if err != nil || len(events) > 0 {
		return events, err
	}
	// A boat that came back has an entry for each time, all of one name.
	var ids []boat.ID
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
	if err != nil {
		return nil, err
	}
	if len(ids) == 0 {
		return nil, fault.New(fault.Unknown, "the book knows no boat %q", nameOrID)
	}
	for _, id := range ids {
		of, err := book.Boat(ctx, id)
		if err != nil {
			return nil, err
		}
		events = append(events, of...)
	}
	return events, nil
}
