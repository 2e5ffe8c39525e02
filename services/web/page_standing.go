package web

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// standingFor is how long the page of the book waits for a room to say how it
// stands.
const standingFor = 2 * time.Second

// roomRow is a room's line on the page of the book.
type roomRow struct {
	message.Standing
	Silent bool  // it did not answer
	Behind int64 // lines of the book that it has not read yet
}

// stopRow is what keeps a part of a room from going on.
type stopRow struct {
	message.Stop
	Room string
	// Means says what it costs to go on without the line.
	Means string
}

// Stops gives what the room has stopped at, with what a skip would mean.
func (r roomRow) Stops() []stopRow {
	var rows []stopRow
	for _, stop := range r.Stopped {
		rows = append(rows, stopRow{stop, r.Room, skipMeans(r.Room, stop.Part)})
	}
	return rows
}

// skipMeans says in a sentence or two what a part of a room lacks after a skip.
func skipMeans(room, part string) string {
	if part == message.ReactionsPart {
		return "What the room would have written in the book because of this line is never written: an entry in a cost book, a link, a letter. Somebody has to see to it by hand."
	}
	switch room {
	case "treasury":
		return "Without the line the cost books, the year's totals and the papers lack what it says of money: they may be wrong, and no total or paper should leave the house, until a mended program has filled the tables anew."
	case "people":
		return "Without the line the club may not find a person, or write to an old address, until a mended program has filled the tables anew. Roles and private links are taken in all the same."
	case "web":
		return "Without the line these pages do not show what it says, until a mended program has filled the tables anew. The rooms decide by tables of their own."
	}
	return "Without the line the room decides as if that had not happened, until a mended program has filled the tables anew."
}

// standings asks all rooms at once how they stand with a book of a length.
func (v *visit) standings(head int64) []roomRow {
	rows := make([]roomRow, len(message.Rooms))
	ctx, cancel := context.WithTimeout(v.ctx, standingFor)
	defer cancel()
	var asking sync.WaitGroup
	for i, room := range message.Rooms {
		asking.Go(func() {
			s, err := v.standing(ctx, room)
			s.Room = room
			rows[i] = roomRow{Standing: s, Silent: err != nil, Behind: max(0, head-s.Tables)}
		})
	}
	asking.Wait()
	return rows
}

// standing asks one room. It is asked without saying how far the viewer has read:
// a room that has stopped could not answer then.
func (v *visit) standing(ctx context.Context, room string) (message.Standing, error) {
	if room == v.Room {
		return v.Standing(ctx)
	}
	return desk.Ask[message.Standing](ctx, v.rooms, desk.Asking{By: v.Who.Actor()}, message.AskStanding{Room: room})
}

// lacking says what the tables of a room do not have that stands in the book, for
// pages whose sums are made from them; empty when nothing is known to be missing.
func (v *visit) lacking(room string) string {
	ctx, cancel := context.WithTimeout(v.ctx, standingFor)
	defer cancel()
	s, err := v.standing(ctx, room)
	if err != nil {
		return "" // the room will not have answered for the page either
	}
	notOfTables := func(stop message.Stop) bool { return stop.Part != message.TablesPart }
	var lines []string
	for _, stop := range slices.DeleteFunc(slices.Concat(s.PassedOver, s.Stopped), notOfTables) {
		lines = append(lines, fmt.Sprintf("line %d", stop.Position))
	}
	return strings.Join(lines, ", ")
}

func standingActs() []act {
	return []act{{
		name: "allow-skip", path: "/book/skip/{room}/{part}/{position}", may: administrators,
		title: "Go on without a line of the book", button: "Go on without it", weighty: true, unread: true,
		done:    "The room may go on without that line. It does so within half a minute.",
		words:   "The line itself stays in the book. Only the room that cannot take it passes over it, and once its program is mended it can take it in after all: whoever looks after the machine runs refloat rebuild.",
		command: func() desk.Commanded { return &message.AllowSkip{} },
		fields: func(v *visit) ([]Section, error) {
			means := skipMeans(v.param("room"), v.param("part"))
			return []Section{{Fields: []Field{text("why", "Why it has to go on without the line").Needed().With(means + " What you write stands in the book for good; name nobody.")}}}, nil
		},
		finish: (*visit).nameSkipped,
		to:     func(*visit, desk.Commanded) string { return "/book" },
	}}
}

// nameSkipped says of what kind the line is at which the room stands, and refuses
// one at which it does not.
func (v *visit) nameSkipped(command desk.Commanded) error {
	skip := command.(*message.AllowSkip)
	s, err := v.standing(v.ctx, skip.Room)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(s.Stopped, func(stop message.Stop) bool { return stop.Part == skip.Part && stop.Position == skip.Position })
	if i < 0 {
		return fault.New(fault.Conflict, "The room has not stopped at this line any more. Look at the page of the book.")
	}
	skip.Event = s.Stopped[i].Event
	return nil
}
