package main

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
)

// status says where the book ends and how far each room has heard it.
func status(ctx context.Context, args []string, c console) int {
	cfg, rest, err := readConfig("status", args, c.env, c.problems, nil)
	if err != nil || len(rest) > 0 {
		return usage(c, errors.Join(err, tooMany("status", rest)))
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	s, err := b.status(ctx)
	if err == nil {
		_, s.Running = readNotice(cfg)
		err = printJSON(c.out, s)
	}
	if err != nil {
		return c.complain(err)
	}
	return exitOK
}

type standing struct {
	Running bool         `json:"running"` // a process holds this data folder
	Events  int64        `json:"events"`
	Head    string       `json:"head"`
	Rooms   []roomStatus `json:"rooms"`
}

type roomStatus struct {
	Room     string `json:"room"`
	Tables   int64  `json:"tables"` // position that the read tables have come to
	Behind   int64  `json:"behind"`
	Reaction *int64 `json:"reactions,omitempty"` // position reacted to, if the room reacts
}

func (b *opened) status(ctx context.Context) (standing, error) {
	head, err := b.reader().Head(ctx)
	if err != nil {
		return standing{}, err
	}
	s := standing{Events: head.Position, Head: hex.EncodeToString(head.Hash)}
	for _, name := range allRooms {
		room, err := b.roomStatus(ctx, name, head.Position)
		if err != nil {
			return standing{}, fmt.Errorf("the %s room: %w", name, err)
		}
		s.Rooms = append(s.Rooms, room)
	}
	return s, nil
}

func (b *opened) roomStatus(ctx context.Context, name string, head int64) (roomStatus, error) {
	r := roomStatus{Room: name}
	rows, err := b.pool.Query(ctx, `SELECT name, position FROM `+name+`.cursor`)
	if err != nil {
		return r, err
	}
	var cursor string
	var position int64
	_, err = pgx.ForEachRow(rows, []any{&cursor, &position}, func() error {
		if cursor == "tables" {
			r.Tables, r.Behind = position, head-position
		} else {
			at := position
			r.Reaction = &at
		}
		return nil
	})
	return r, err
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
	for _, r := range roomTable {
		if len(names) > 0 && !slices.Contains(names, r.name) {
			continue
		}
		if err := rebuildRoom(ctx, r, cfg, kit, c); err != nil {
			return err
		}
	}
	return nil
}

func rebuildRoom(ctx context.Context, r room, cfg config, kit desk.Kit, c console) error {
	made, err := r.make(cfg, kit)
	if err != nil {
		return err
	}
	err = made.Rebuild(ctx, func(position, last int64) {
		fmt.Fprintf(c.problems, "%s: %d of %d events\n", r.name, position, last)
	})
	if err != nil {
		return fmt.Errorf("rebuilding the %s room: %w", r.name, err)
	}
	fmt.Fprintf(c.out, "The tables of the %s room are filled anew.\n", r.name)
	return nil
}
