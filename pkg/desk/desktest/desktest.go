// Package desktest starts rooms for a test: a real database of the test's own, a
// real bus inside the process, the book with its writer and relay, and the rooms
// that the test names. It also has the checks that every room's tests make: who
// may give an order, bad input field by field, and a rebuild.
package desktest

import (
	"context"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo"
	"refloat.example/pkg/postgrestest"
	"refloat.example/pkg/vault"
)

// Room is a room to start: its name, its migrations, and how it is made.
type Room struct {
	Name       string
	Migrations fs.FS
	New        func(desk.Kit) *desk.Desk
}

// Club is a club with the rooms of one test.
type Club struct {
	desk.Client
	DB    *postgrestest.DB
	Log   *ledger.Log
	Vault *vault.Vault
	Clock *clock.Manual
	Rooms map[string]*desk.Desk

	t    testing.TB
	seen int64
}

// Today is the day, UTC, on which a club starts.
var Today = clock.MustDate("2026-04-01")

// Start starts a club whose clock stands at noon UTC of Today.
func Start(t testing.TB, rooms ...Room) *Club {
	t.Helper()
	ctx := t.Context()
	migrations := []postgrestest.Migration{{Schema: ledger.Schema, Files: ledger.Migrations()}, {Schema: vault.Schema, Files: vault.Migrations}, {Schema: photo.Schema, Files: photo.Migrations}}
	names := []string{bus.Relay, bus.Operator}
	for _, r := range rooms {
		migrations = append(migrations, postgrestest.Migration{Schema: r.Name, Files: r.Migrations})
		names = append(names, r.Name)
	}
	c := &Club{DB: postgrestest.New(t, migrations...), Clock: clock.NewManual(Today.Time().Add(12 * time.Hour)), Rooms: map[string]*desk.Desk{}, t: t}
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelWarn}))

	server, err := bus.StartEmbedded(ctx, filepath.Join(t.TempDir(), "bus"), names, log)
	require.NoError(t, err)
	t.Cleanup(func() { _ = server.Stop(context.Background()) })
	connect := func(name string) *bus.Conn {
		conn, err := bus.Connect(ctx, name, server.Access(name), log)
		require.NoError(t, err)
		t.Cleanup(conn.Close)
		return conn
	}
	c.Vault = openVault(t, c.DB)
	c.Log = ledger.NewLog(c.DB.Pool, connect(bus.Relay), c.Clock, log)
	require.NoError(t, c.Log.CheckStream(ctx, 1))
	c.Client = desk.Client{Conn: connect(bus.Operator)}

	group := lifecycle.New(log)
	writer, relay := c.Log.Parts(1)
	group.Add("writer", writer)
	group.Add("relay", relay)
	for _, r := range rooms {
		d := r.New(desk.Kit{Log: c.Log, Pool: c.DB.Pool, Bus: connect(r.Name), Vault: c.Vault, Clock: c.Clock, Slog: log})
		c.Rooms[r.Name] = d
		group.Add(r.Name, d)
	}
	require.NoError(t, group.Start(ctx))
	t.Cleanup(func() {
		stopping, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		if err := group.Stop(stopping); err != nil {
			t.Errorf("stopping the club: %v", err)
		}
	})
	return c
}

func openVault(t testing.TB, db *postgrestest.DB) *vault.Vault {
	path := filepath.Join(t.TempDir(), "master.key")
	v, err := vault.Open(t.Context(), db.Pool, path)
	require.NoError(t, err)
	return v
}

// Member puts a member with roles into the book, without the people room, and
// gives the actor.
func (c *Club) Member(roles ...people.Role) people.Actor {
	c.t.Helper()
	id := people.ID(ID())
	for _, role := range roles {
		c.Say("people.person/"+string(id), "", message.RoleGiven{Person: id, Role: role})
	}
	return people.Member(id)
}

// Link puts a private link into the book, without the people room, and gives its
// holder.
func (c *Club) Link(person people.ID, purpose people.Purpose, subject string) people.Actor {
	c.t.Helper()
	link := ID()
	c.Say("people.link/"+link, "", message.LinkGiven{Link: link, Person: person, Purpose: purpose, Subject: subject, Until: c.Clock.Now().Add(24 * time.Hour)})
	return people.Actor{Link: link}
}

// Say writes another room's event, as if that room had said it, and gives it as
// it stands in the book.
func (c *Club) Say(stream string, of string, body message.Body) message.Event {
	c.t.Helper()
	event, err := ledger.Event(stream, boat.ID(of), body)
	require.NoError(c.t, err)
	key := ID()
	receipt, err := c.Log.Append(c.t.Context(), ledger.Append{Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: "room/test", Events: []ledger.New{event}})
	require.NoError(c.t, err)
	c.seen = receipt.Position()
	written, err := c.Log.Event(c.t.Context(), c.seen)
	require.NoError(c.t, err)
	return written
}

// Set sets one of the club's settings, without the people room.
func (c *Club) Set(name, value string) {
	c.t.Helper()
	c.Say(message.Club, "", message.SettingChanged{Name: name, Value: value})
}

// Do gives a command as somebody and expects it to be taken.
func (c *Club) Do(by people.Actor, command desk.Commanded) message.Reply {
	c.t.Helper()
	reply, err := c.Try(by, command)
	require.NoError(c.t, err)
	return reply
}

// Try gives a command as somebody; the sender has read everything so far.
func (c *Club) Try(by people.Actor, command desk.Commanded) (message.Reply, error) {
	reply, err := c.Client.Do(c.t.Context(), desk.Asking{By: by, Key: ID(), Seen: c.seen}, command)
	c.seen = max(c.seen, reply.Position)
	return reply, err
}

// Ask asks a question as somebody and expects an answer.
func Ask[A any](c *Club, by people.Actor, question desk.Commanded) A {
	c.t.Helper()
	answer, err := desk.Ask[A](c.t.Context(), c.Client, desk.Asking{By: by, Seen: c.seen}, question)
	require.NoError(c.t, err)
	return answer
}

// Settle waits until every room has heard what stands in the book, reactions
// included, and nothing new is said.
func (c *Club) Settle() {
	c.t.Helper()
	require.Eventually(c.t, func() bool {
		head, err := c.Log.Head(c.t.Context())
		require.NoError(c.t, err)
		for _, d := range c.Rooms {
			at, err := d.Settled(c.t.Context())
			require.NoError(c.t, err)
			if at < head.Position {
				return false
			}
		}
		// A reaction to the head may have said something since it was read.
		now, err := c.Log.Head(c.t.Context())
		require.NoError(c.t, err)
		c.seen = head.Position
		return now.Position == head.Position
	}, time.Minute, 5*time.Millisecond, "the rooms do not come to rest")
}

// Restart stops a room and starts it again: what it does from time to time it
// does at once.
func (c *Club) Restart(room string) {
	c.t.Helper()
	require.NoError(c.t, c.Rooms[room].Stop(c.t.Context()))
	require.NoError(c.t, c.Rooms[room].Start(c.t.Context()))
}

// Bodies gives the payloads of a stream, decoded.
func (c *Club) Bodies(stream string) []message.Body {
	c.t.Helper()
	events, err := c.Log.Stream(c.t.Context(), stream)
	require.NoError(c.t, err)
	bodies := make([]message.Body, len(events))
	for i, e := range events {
		bodies[i], err = message.Decode(e)
		require.NoError(c.t, err)
	}
	return bodies
}

// RebuildIsTheSame rebuilds a room's tables and checks that each is the same as
// before, row for row.
func (c *Club) RebuildIsTheSame(room string) {
	c.t.Helper()
	c.Settle()
	d := c.Rooms[room]
	before := map[string]string{}
	for _, table := range d.Tables() {
		before[table] = c.DB.Dump(room + "." + table)
	}
	require.NoError(c.t, desk.Rebuild(c.t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL}, d))
	for table, was := range before {
		require.Equal(c.t, was, c.DB.Dump(room+"."+table), "the table %s.%s", room, table)
	}
}

// ID makes an id.
func ID() string { return uuid.Must(uuid.NewV7()).String() }

// Operator is whoever works at the machine itself.
var Operator = people.Service(desk.AtMachine)
