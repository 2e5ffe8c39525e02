package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

const skipDetail = `refloat status names a room that has stopped, and the event at which. With the room's name and the event's
position this command lets it go on. The event stays in the book; the room's tables then lack what it says, and so do the sums,
lists and papers that are made from them, until a program that can read it fills them anew (refloat rebuild ROOM). An event at
which the room has not stopped is not skipped. --part=reactions is for a room that cannot react to an event: what it would have
said in the book is then never said.`

// skip lets a room go on without an event.
func skip(ctx context.Context, args []string, c console) int {
	order := message.AllowSkip{Part: message.TablesPart}
	cfg, words, err := readConfig("skip", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.StringVar(&order.Why, "why", "", "the reason, which stands in the book; name nobody")
		f.StringVar(&order.Part, "part", order.Part, "tables or reactions")
	})
	if err == nil {
		err = skipWords(words, &order)
	}
	if err != nil {
		return usage(c, err)
	}
	a, err := attach(ctx, cfg, c)
	if err != nil {
		return c.complain(err)
	}
	err = a.skip(ctx, order)
	if err := errors.Join(err, a.detach()); err != nil {
		return c.complain(err)
	}
	fmt.Fprintf(c.out, "The %s room may go on without event %d.\n", order.Room, order.Position)
	return exitOK
}

// skipWords reads the room and the position, which may stand before the flags.
func skipWords(words []string, order *message.AllowSkip) (err error) {
	if len(words) != 2 || !slices.Contains(allRooms, words[0]) {
		return errors.New("name the room and the position of the event, as refloat status shows them")
	}
	order.Room = words[0]
	if order.Position, err = strconv.ParseInt(words[1], 10, 64); err != nil {
		return fmt.Errorf("%q is no position of an event", words[1])
	}
	return nil
}

// skip gives the order for an event at which the room really stands.
func (a *attached) skip(ctx context.Context, order message.AllowSkip) error {
	s, err := desk.StandingOf(ctx, a.pool, order.Room)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(s.Stopped, func(stop message.Stop) bool { return stop.Part == order.Part && stop.Position == order.Position })
	if i < 0 {
		return fmt.Errorf("the %s of the %s room have not stopped at event %d; refloat status shows where each room stands", order.Part, order.Room, order.Position)
	}
	order.Event = s.Stopped[i].Event
	_, err = a.client.Do(ctx, desk.Asking{By: people.Service(desk.AtMachine), Key: uuid.NewString()}, order)
	return err
}
