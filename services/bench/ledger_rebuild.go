package main

import (
	"compress/gzip"
	"context"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"

	"github.com/google/uuid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
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

// recordedBook is a demonstration club whose boats are multiplied for a long book.
const recordedBook = "testdata/ledgers/2026-11-29.jsonl.gz"

// A readRoom is a room as far as its read tables go.
type readRoom struct {
	name       string
	migrations func() fs.FS
	make       func(desk.Kit) (*desk.Desk, error)
}

func plainRoom(name string, migrations func() fs.FS, make func(desk.Kit) *desk.Desk) readRoom {
	return readRoom{name, migrations, func(kit desk.Kit) (*desk.Desk, error) { return make(kit), nil }}
}

var readRooms = []readRoom{
	plainRoom(people.Name, people.Migrations, people.New(people.Config{BaseURL: "http://club.example"})),
	plainRoom(intake.Name, intake.Migrations, intake.New),
	plainRoom(repair.Name, repair.Migrations, repair.New),
	plainRoom(valuation.Name, valuation.Migrations, valuation.New),
	plainRoom(matching.Name, matching.Migrations, matching.New),
	plainRoom(treasury.Name, treasury.Migrations, treasury.New(treasury.Config{BaseURL: "http://club.example"})),
	{web.Name, web.Migrations, func(kit desk.Kit) (*desk.Desk, error) {
		site, err := web.New(web.Config{Listen: "127.0.0.1:0"}, kit)
		if err != nil {
			return nil, err
		}
		return site.Desk, nil
	}},
}

// benchRebuild measures filling the read tables of every room anew beside reading,
// decoding and folding the same events once: the least that any read model costs.
func benchRebuild(ctx context.Context, s *session, sc *scene) error {
	kit, stop, err := sc.kit(ctx, s)
	if err != nil {
		return err
	}
	defer stop()
	copies := 100
	if s.quick {
		copies = 20
	}
	events, err := sc.multiply(ctx, copies)
	if err != nil {
		return err
	}
	rates, err := s.inTurn(ctx,
		perSecond(events, func(ctx context.Context) error { return sc.rebuildAll(ctx, kit) }),
		perSecond(events, func(ctx context.Context) error { return foldOnce(ctx, kit.Log) }))
	if err != nil {
		return err
	}
	return s.report(result{Bench: "ledger/rebuild", Ours: rates[0], Reference: rates[1], Against: fmt.Sprintf("read, decode and fold the same %d events once, into a map", events),
		Unit: "events/s", Better: higher, Demand: 0.5, Note: fmt.Sprintf("the tables of %d rooms, beside the live ones and exchanged for them", len(readRooms))})
}

// kit migrates every room and gives what rooms are made of. Without a bus: these
// rooms are not opened.
func (sc *scene) kit(ctx context.Context, s *session) (kit desk.Kit, stop func(), err error) {
	schemas := []readRoom{{name: vault.Schema, migrations: func() fs.FS { return vault.Migrations }}}
	for _, r := range append(schemas, readRooms...) {
		if err := postgres.Migrate(ctx, sc.access.OwnerURL, r.name, r.migrations()); err != nil {
			return kit, nil, err
		}
	}
	pool, err := postgres.Open(ctx, sc.access.AppURL, 16)
	if err != nil {
		return kit, nil, err
	}
	v, err := vault.Open(ctx, pool, filepath.Join(s.scratch, uuid.NewString(), "master.key"))
	if err != nil {
		pool.Close()
		return kit, nil, err
	}
	log := slog.New(slog.DiscardHandler)
	return desk.Kit{Log: ledger.NewLog(pool, nil, clock.System{}, log), Pool: pool, Vault: v, Clock: clock.System{}, Slog: log}, pool.Close, nil
}

// rebuildAll fills the tables of all rooms.
func (sc *scene) rebuildAll(ctx context.Context, kit desk.Kit) error {
	var rooms []*desk.Desk
	for _, r := range readRooms {
		room, err := r.make(kit)
		if err != nil {
			return err
		}
		rooms = append(rooms, room)
	}
	return desk.Rebuild(ctx, desk.Rebuilding{OwnerURL: sc.access.OwnerURL}, rooms...)
}

// foldOnce is the cheapest read model: how often each kind was said of each boat.
func foldOnce(ctx context.Context, book *ledger.Log) error {
	said := map[string]map[message.Kind]int{}
	return book.Each(ctx, 0, 0, func(e message.Event) error {
		body, err := message.Decode(e)
		if err != nil {
			return err
		}
		of := said[string(e.Boat)]
		if of == nil {
			of = map[message.Kind]int{}
			said[string(e.Boat)] = of
		}
		of[body.Kind()]++
		return nil
	})
}

var uuids = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

// multiply writes the recorded book several times, each time with other ids, and
// gives how many events there are.
func (sc *scene) multiply(ctx context.Context, copies int) (events int, err error) {
	w, stop, err := sc.lead(ctx)
	if err != nil {
		return 0, err
	}
	defer stop()
	file, err := os.Open(recordedBook)
	if err != nil {
		return 0, err
	}
	defer func() { _ = file.Close() }()
	packed, err := gzip.NewReader(file)
	if err != nil {
		return 0, err
	}
	var rows []ledger.New
	err = ledger.EachLine(packed, func(r *ledger.Row) error {
		rows = append(rows, ledger.New{Stream: r.Stream, Boat: r.Boat, Kind: r.Kind, Schema: r.Schema, Data: string(r.Data)})
		return nil
	})
	for n := 0; n < copies && err == nil; n++ {
		for from := 0; from < len(rows) && err == nil; from += 200 {
			a := ledger.Append{Key: uuid.NewString(), Digest: ledger.DigestOf([]byte("copied")), Actor: "room/bench"}
			for _, row := range rows[from:min(from+200, len(rows))] {
				a.Events = append(a.Events, renamed(row, n))
			}
			_, err = w.Append(ctx, a)
		}
		events += len(rows)
	}
	return events, err
}

// renamed gives an event of the same shape about others.
func renamed(row ledger.New, n int) ledger.New {
	other := func(id string) string {
		sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", n, id))
		return uuid.UUID(sum[:16]).String()
	}
	row.Stream = uuids.ReplaceAllStringFunc(row.Stream, other)
	row.Data = uuids.ReplaceAllStringFunc(row.Data, other)
	row.Boat = boat.ID(uuids.ReplaceAllStringFunc(string(row.Boat), other))
	return row
}
