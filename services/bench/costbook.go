package main

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/vault"
	"refloat.example/services/treasury"
)

const (
	bookEvents = 2000
	// bookLimit is what the slowest twentieth of the answers has to stay below.
	bookLimit = 50.0 // milliseconds
	bookBoat  = boat.ID("bench")
)

// benchBook measures how long a treasurer waits for the cost book of a boat with a
// long life to open: asked over the bus, the newest page of entries with what the
// accounts came to before it and come to in all, beside the bare read of the whole
// book's events from the table.
func benchBook(ctx context.Context, s *session) error {
	return inScene(ctx, s, measureBook)
}

func measureBook(ctx context.Context, s *session, sc *scene) error {
	requests := 400
	if s.quick {
		requests = 100
	}
	stop, client, err := openTreasury(ctx, s, sc)
	if err != nil {
		return err
	}
	defer stop()
	ask := func() error {
		book, err := desk.Ask[message.BoatBook](ctx, client, desk.Asking{By: people.Service(desk.AtMachine)}, message.CostBook{Boat: bookBoat})
		if err == nil {
			err = wholeBook(book)
		}
		return err
	}
	read := func() error {
		rows, err := sc.pool.Query(ctx, `SELECT * FROM ledger.event WHERE stream = $1 ORDER BY version`, message.TreasuryBoat(bookBoat))
		if err != nil {
			return err
		}
		n := 0
		for rows.Next() {
			rows.RawValues()
			n++
		}
		if n != bookEvents {
			return fmt.Errorf("%d events were read, not %d", n, bookEvents)
		}
		return rows.Err()
	}
	medians, err := s.inTurn(ctx,
		func(context.Context) (float64, error) { return slowTwentieth(requests, ask) },
		func(context.Context) (float64, error) { return slowTwentieth(requests, read) })
	if err != nil {
		return err
	}
	size := fmt.Sprintf("%d entries", bookEvents)
	err = s.report(result{Bench: "book/open-p95", Ours: medians[0], Reference: medians[1], Against: "a bare SELECT of its events", Unit: "ms", Better: lower, Note: size})
	if err != nil {
		return err
	}
	return s.report(result{Bench: "book/open-limit", Ours: medians[0], Reference: bookLimit, Against: "the limit for the slowest twentieth", Unit: "ms", Better: lower, Demand: 1, Note: size})
}

// wholeBook checks that the room has heard every entry, and that the page carries
// the sums of those that it does not show.
func wholeBook(b message.BoatBook) error {
	if b.Count != bookEvents || b.Page != b.Pages || len(b.Entries) == 0 {
		return fmt.Errorf("the book has %d entries on %d pages, not %d", b.Count, b.Pages, bookEvents)
	}
	want := int64(0)
	for i := range bookEvents {
		want += bookCost(i)
	}
	for _, l := range b.Balances {
		if l.Account == "boat:parts" && l.Amount.Minor == want {
			return nil
		}
	}
	return fmt.Errorf("the parts do not come to %d minor units: %v", want, b.Balances)
}

// bookCost is what an entry of the book is about, in minor units.
func bookCost(i int) int64 { return int64(100 + i) }

// openTreasury starts the room over a bus inside the process, with a boat whose
// book has many entries.
func openTreasury(ctx context.Context, s *session, sc *scene) (stop func(), client desk.Client, err error) {
	if err := postgres.Migrate(ctx, sc.access.OwnerURL, vault.Schema, vault.Migrations); err != nil {
		return nil, client, err
	}
	if err := postgres.Migrate(ctx, sc.access.OwnerURL, treasury.Name, treasury.Migrations()); err != nil {
		return nil, client, err
	}
	quiet := slog.New(slog.DiscardHandler)
	keys, err := vault.Open(ctx, sc.pool, filepath.Join(s.scratch, "master.key"))
	if err != nil {
		return nil, client, err
	}
	server, err := bus.StartEmbedded(ctx, filepath.Join(s.scratch, "bus"), []string{bus.Relay, bus.Operator, treasury.Name}, quiet)
	if err != nil {
		return nil, client, err
	}
	conns := map[string]*bus.Conn{}
	for _, name := range []string{bus.Relay, bus.Operator, treasury.Name} {
		if conns[name], err = bus.Connect(ctx, name, server.Access(name), quiet); err != nil {
			return nil, client, err
		}
	}
	book := ledger.NewLog(sc.pool, conns[bus.Relay], clock.System{}, quiet)
	group := lifecycle.New(quiet)
	writer, relay := book.Parts(1)
	group.Add("writer", writer)
	group.Add("relay", relay)
	group.Add(treasury.Name, treasury.New(treasury.Config{})(desk.Kit{Log: book, Pool: sc.pool, Bus: conns[treasury.Name], Vault: keys, Clock: clock.System{}, Slog: quiet}))
	if err := group.Start(ctx); err != nil {
		return nil, client, err
	}
	stop = func() {
		stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		_ = group.Stop(stopping)
		for _, c := range conns {
			c.Close()
		}
		_ = server.Stop(stopping)
	}
	if err := fillBook(ctx, book); err != nil {
		stop()
		return nil, client, err
	}
	client = desk.Client{Conn: conns[bus.Operator]}
	// The room has to have heard of the boat and of every entry.
	for wait := time.Now().Add(30 * time.Second); time.Now().Before(wait); time.Sleep(50 * time.Millisecond) {
		var b message.BoatBook
		b, err = desk.Ask[message.BoatBook](ctx, client, desk.Asking{By: people.Service(desk.AtMachine)}, message.CostBook{Boat: bookBoat})
		if err == nil {
			err = wholeBook(b)
		}
		if err == nil {
			return stop, client, nil
		}
	}
	stop()
	return nil, client, err
}

// fillBook writes the boat and its entries.
func fillBook(ctx context.Context, book *ledger.Log) error {
	logged := message.BoatLogged{Boat: bookBoat, Name: "Heron", Taking: message.Gift, Giver: "giver", Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Wood}}
	if err := appendAll(ctx, book, message.IntakeBoat(bookBoat), logged); err != nil {
		return err
	}
	on := clock.NewDate(2026, time.April, 1)
	for first := 0; first < bookEvents; first += 100 {
		var bodies []message.Body
		for i := first; i < first+100; i++ {
			amount := money.Of(bookCost(i), "USD")
			bodies = append(bodies, message.EntryPosted{Boat: bookBoat, Entry: fmt.Sprintf("part-%d", i), On: on, Words: "welding rod of the same polymer", Lines: []message.EntryLine{
				{Account: "boat:parts", Amount: amount}, {Account: "cash", Amount: amount.Neg()},
			}})
		}
		if err := appendAll(ctx, book, message.TreasuryBoat(bookBoat), bodies...); err != nil {
			return err
		}
	}
	return nil
}

func appendAll(ctx context.Context, book *ledger.Log, stream string, bodies ...message.Body) error {
	a := ledger.Append{Key: "bench/" + stream, Actor: "room/bench"}
	if e, ok := bodies[0].(message.EntryPosted); ok {
		a.Key = "bench/" + e.Entry
	}
	a.Digest = ledger.DigestOf([]byte(a.Key))
	for _, body := range bodies {
		event, err := ledger.Event(stream, bookBoat, body)
		if err != nil {
			return err
		}
		a.Events = append(a.Events, event)
	}
	_, err := book.Append(ctx, a)
	return err
}
