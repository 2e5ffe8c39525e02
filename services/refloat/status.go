package main

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"slices"
	"text/tabwriter"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/watch"
)

// status says where the book ends and how far each room has heard it.
func status(ctx context.Context, args []string, c console) int {
	var table bool
	cfg, rest, err := readConfig("status", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.BoolVar(&table, "table", false, "print lines for people instead of JSON")
	})
	if err != nil || len(rest) > 0 {
		return usage(c, errors.Join(err, tooMany("status", rest)))
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	s, err := b.status(ctx)
	if err != nil {
		return c.complain(err)
	}
	var n notice
	if n, s.Running = readNotice(cfg); s.Running && n.Watch != "" {
		s.Process = askProcess(ctx, n.Watch)
	}
	if table {
		s.print(c.out)
	} else if err := printJSON(c.out, s); err != nil {
		return c.complain(err)
	}
	return exitOK
}

type standing struct {
	Running bool         `json:"running"` // a process holds this data folder
	Events  int64        `json:"events"`
	Head    string       `json:"head"`
	Rooms   []roomStatus `json:"rooms"`
	// Process is what the running process says of itself.
	Process *processStatus `json:"process,omitempty"`
}

type processStatus struct {
	Watch   string         `json:"watch"`             // where it says so
	Problem string         `json:"problem,omitempty"` // why it did not
	Health  *watch.Health  `json:"health,omitempty"`
	Figures []watch.Figure `json:"figures,omitempty"`
}

// askProcess asks a running process for its health and its figures.
func askProcess(ctx context.Context, address string) *processStatus {
	p := &processStatus{Watch: address}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	err := fetch(ctx, address+"/health/ready", &p.Health)
	if err == nil {
		err = fetch(ctx, address+"/figures", &p.Figures)
	}
	if err != nil {
		p.Problem = err.Error()
	}
	return p
}

// fetch reads JSON, whatever the answer's status: one that is not ready says why.
func fetch(ctx context.Context, address string, into any) error {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return err
	}
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer func() { _ = answer.Body.Close() }()
	return json.NewDecoder(io.LimitReader(answer.Body, 4<<20)).Decode(into)
}

// print writes a standing as lines for people.
func (s standing) print(to io.Writer) {
	t := tabwriter.NewWriter(to, 0, 0, 2, ' ', 0)
	defer func() { _ = t.Flush() }()
	fmt.Fprintf(t, "the book ends at\t%d\t%s\n", s.Events, s.Head)
	for _, r := range s.Rooms {
		reacted := ""
		if r.Reactions != nil {
			reacted = fmt.Sprintf("reacted to %d", *r.Reactions)
		}
		fmt.Fprintf(t, "%s\ttables at %d\t%d behind\t%s\n", r.Room, r.Tables, r.Behind, reacted)
		for _, stop := range r.Stopped {
			fmt.Fprintf(t, "%s\t%s stopped at %d\t%s\t%s\n", r.Room, stop.Part, stop.Position, stop.Event, stop.Error)
		}
		for _, stop := range r.PassedOver {
			fmt.Fprintf(t, "%s\t%s lack event %d\t%s\t\n", r.Room, stop.Part, stop.Position, stop.Event)
		}
	}
	if s.Process == nil {
		return
	}
	fmt.Fprintf(t, "\nthe process at\t%s\t%s\n", s.Process.Watch, s.Process.Problem)
	if h := s.Process.Health; h != nil {
		fmt.Fprintf(t, "ready\t%t\t%s\n", h.Ready, h.Why)
		for _, r := range h.Rooms {
			if !r.Ready {
				fmt.Fprintf(t, "%s\tnot ready\t%s\n", r.Room, r.Why)
			}
		}
	}
	for _, f := range s.Process.Figures {
		fmt.Fprintf(t, "%s\t%s\t%s\n", f.Name, f.About, f.Words())
	}
}

type roomStatus struct {
	message.Standing
	Behind int64 `json:"behind"` // events that the read tables have not taken in yet
}

func (b *opened) status(ctx context.Context) (standing, error) {
	head, err := b.reader().Head(ctx)
	if err != nil {
		return standing{}, err
	}
	s := standing{Events: head.Position, Head: hex.EncodeToString(head.Hash)}
	for _, name := range allRooms {
		room, err := desk.StandingOf(ctx, b.pool, name)
		if err != nil {
			return standing{}, fmt.Errorf("the %s room: %w", name, err)
		}
		s.Rooms = append(s.Rooms, roomStatus{room, head.Position - room.Tables})
	}
	return s, nil
}

// rebuild fills the read tables of rooms anew.
func rebuild(ctx context.Context, args []string, c console) int {
	cfg, names, err := readConfig("rebuild", args, c.env, c.problems, nil)
	if err != nil {
		return usage(c, err)
	}
	for _, name := range names {
		if !slices.Contains(allRooms, name) {
			return usage(c, fmt.Errorf("there is no room %q", name))
		}
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	if err := b.rebuildAll(ctx, cfg, c, names...); err != nil {
		return c.complain(err)
	}
	return exitOK
}

// rebuildAll fills the tables of the named rooms, or of all.
func (b *opened) rebuildAll(ctx context.Context, cfg config, c console, names ...string) error {
	v, err := openVault(ctx, cfg, b.pool)
	if err != nil {
		return err
	}
	log := newLog(cfg, c.problems)
	kit := desk.Kit{Log: ledger.NewLog(b.pool, nil, clock.System{}, log), Pool: b.pool, Vault: v, Clock: clock.System{}, Slog: log}
	var rooms []*desk.Desk
	for _, r := range roomTable {
		if len(names) > 0 && !slices.Contains(names, r.name) {
			continue
		}
		made, err := r.make(cfg, kit)
		if err != nil {
			return fmt.Errorf("the %s room: %w", r.name, err)
		}
		rooms = append(rooms, made.Itself())
	}
	told := time.Now()
	return desk.Rebuild(ctx, desk.Rebuilding{OwnerURL: b.database.OwnerURL, Progress: func(p desk.Progress) {
		switch {
		case p.Done:
			fmt.Fprintf(c.out, "The tables of the %s room are filled anew.\n", p.Room)
		case time.Since(told) >= tellEvery:
			told = time.Now()
			fmt.Fprintln(c.problems, progressWords(p))
		}
	}}, rooms...)
}

// tellEvery is how often a rebuild says how far it is.
const tellEvery = time.Second

func progressWords(p desk.Progress) string {
	if p.Waits {
		return p.Room + ": all is filled; waiting for somebody who still reads the old tables"
	}
	return fmt.Sprintf("%d of %d events, %.0f a second, about %s left", p.Position, p.Last, p.Rate, p.Left.Round(time.Second))
}
