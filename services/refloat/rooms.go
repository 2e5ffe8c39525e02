package main

import (
	"context"
	"fmt"
	"io/fs"
	"slices"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/vault"
)

// A room of the program: its name, its tables, and how it is made.
type room struct {
	name       string
	migrations func() fs.FS
	make       func(p *program) func(desk.Kit) *desk.Desk
}

// roomTable lists the rooms in the order in which they start.
var roomTable = []room{}

// webRoom is the name of the pages' room, which has a server beside its desk.
const webRoom = "web"

// allRooms names every room.
var allRooms = roomNames()

func roomNames() []string {
	var names []string
	for _, r := range roomTable {
		names = append(names, r.name)
	}
	return names
}

// addRooms makes the rooms that this process runs.
func (p *program) addRooms(ctx context.Context) error {
	for _, r := range roomTable {
		if !slices.Contains(p.cfg.Rooms, r.name) {
			continue
		}
		kit, err := p.kit(ctx, r.name)
		if err != nil {
			return err
		}
		d := r.make(p)(kit)
		p.desks[r.name] = d
		p.group.Add("the "+r.name+" room", d)
	}
	return nil
}

// migrateAll brings every schema up to date.
func migrateAll(ctx context.Context, ownerURL string) error {
	if err := postgres.Migrate(ctx, ownerURL, ledger.Schema, ledger.Migrations()); err != nil {
		return err
	}
	if err := postgres.Migrate(ctx, ownerURL, vault.Schema, vault.Migrations); err != nil {
		return err
	}
	for _, r := range roomTable {
		if err := postgres.Migrate(ctx, ownerURL, r.name, r.migrations()); err != nil {
			return fmt.Errorf("the %s room: %w", r.name, err)
		}
	}
	return nil
}
