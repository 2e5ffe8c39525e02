package main

import (
	"context"
	"fmt"
	"io/fs"
	"slices"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/photo"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/vault"
	"refloat.example/services/intake"
	"refloat.example/services/matching"
	"refloat.example/services/people"
	"refloat.example/services/repair"
	"refloat.example/services/treasury"
	"refloat.example/services/valuation"
	"refloat.example/services/web"
)

// A room of the program: its name, its tables, and how it is made.
type room struct {
	name       string
	migrations func() fs.FS
	make       func(cfg config, kit desk.Kit) (roomPart, error)
}

// roomPart is a room at work.
type roomPart interface {
	lifecycle.Part
	// Position is how far the room's tables have come in this process.
	Position() int64
	// Lost says what keeps the room from working, but for being late; "" when
	// nothing does.
	Lost() string
	Itself() *desk.Desk
}

// roomTable lists the rooms in the order in which they start.
var roomTable = []room{
	{people.Name, people.Migrations, makePeople},
	{intake.Name, intake.Migrations, plain(intake.New)},
	{repair.Name, repair.Migrations, plain(repair.New)},
	{valuation.Name, valuation.Migrations, plain(valuation.New)},
	{matching.Name, matching.Migrations, plain(matching.New)},
	{treasury.Name, treasury.Migrations, makeTreasury},
	{web.Name, web.Migrations, makeWeb},
}

// plain is for rooms that need nothing but the kit.
func plain(make func(desk.Kit) *desk.Desk) func(config, desk.Kit) (roomPart, error) {
	return func(_ config, kit desk.Kit) (roomPart, error) { return make(kit), nil }
}

func makePeople(cfg config, kit desk.Kit) (roomPart, error) {
	sender, err := mailSender(cfg)
	if err != nil {
		return nil, err
	}
	return people.New(people.Config{BaseURL: cfg.BaseURL, Mail: sender})(kit), nil
}

func makeTreasury(cfg config, kit desk.Kit) (roomPart, error) {
	return treasury.New(treasury.Config{BaseURL: cfg.BaseURL})(kit), nil
}

func makeWeb(cfg config, kit desk.Kit) (roomPart, error) {
	return web.New(web.Config{Listen: cfg.Listen, BaseURL: cfg.BaseURL, Demo: cfg.Demo != ""}, kit)
}

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
		made, err := r.make(p.cfg, kit)
		if err != nil {
			return fmt.Errorf("the %s room: %w", r.name, err)
		}
		if site, ok := made.(*web.Site); ok {
			p.site = site
		}
		p.group.Add("the "+r.name+" room", made)
		p.rooms = append(p.rooms, tended{r.name, made})
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
	if err := postgres.Migrate(ctx, ownerURL, photo.Schema, photo.Migrations); err != nil {
		return err
	}
	for _, r := range roomTable {
		if err := postgres.Migrate(ctx, ownerURL, r.name, r.migrations()); err != nil {
			return fmt.Errorf("the %s room: %w", r.name, err)
		}
	}
	return nil
}
