package desk

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"io/fs"
	"log/slog"
	"regexp"
	"strings"
	"sync/atomic"
	"testing/fstest"
	"text/template"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/vault"
	"refloat.example/pkg/watch"
)

// Kit is what every room is given.
type Kit struct {
	Log   *ledger.Log
	Pool  *pgxpool.Pool // the application role's
	Bus   *bus.Conn     // the room's own connection
	Vault *vault.Vault
	Clock clock.Clock
	Slog  *slog.Logger
	// Figures measure the room's work; nil measures nothing.
	Figures *watch.Figures
}

// Project changes the room's tables for one event. It runs inside the
// transaction that also moves the cursor, and may use nothing but the event, the
// tables and the vault.
//
// Its statements name tables with their schema ("intake.person"): while the
// tables are filled anew the same statements go to others beside them. Statements
// that give no rows are sent together with those that follow, so that Exec tells
// neither how many rows it changed nor whether it will fail; when a batch fails
// its events are applied again, one by one.
type Project func(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error

// An Executor runs one statement of a projection.
type Executor func(sql string, args ...any) error

// Exec gives the Executor of the transaction in which a Project runs.
func Exec(ctx context.Context, tx pgx.Tx) Executor {
	return func(sql string, args ...any) error {
		_, err := tx.Exec(ctx, sql, args...)
		return err
	}
}

// React answers another room's event, usually by Desk.SayAnew. It may be called
// again for the same event after a crash and must then come to the same.
type React func(ctx context.Context, e message.Event, body message.Body) error

// A Desk is one room at work.
type Desk struct {
	Kit
	Room string

	tables    []string // the room's own tables, emptied by a rebuild
	project   Project
	react     React
	ticks     []tick
	commands  map[string]handler
	questions map[string]handler
	heard     *progress
	services  []*bus.Service
	loops     []*loop
	open      atomic.Bool    // the counter takes orders
	besides   *regexp.Regexp // finds the room's read tables in a statement
}

// handler answers the data of one command or question.
type handler func(ctx context.Context, data []byte) (any, error)

// New makes a desk for a room. tables are the room's read tables, without the
// schema; Rebuild empties them.
func New(room string, kit Kit, tables ...string) *Desk {
	d := &Desk{Kit: kit, Room: room, tables: tables, commands: map[string]handler{}, questions: map[string]handler{}, heard: newProgress()}
	d.besides = regexp.MustCompile(`\b` + room + `\.(` + strings.Join(d.Tables(), "|") + `)\b`)
	answerAs(d, message.AskStanding{Room: room}.Verb(), overseers, func(ctx context.Context, _ Caller, _ message.AskStanding) (message.Standing, error) {
		return d.Standing(ctx)
	})
	return d
}

// Itself is the desk of a room that has more than a desk.
func (d *Desk) Itself() *Desk { return d }

// Projects sets how the room's tables follow the book.
func (d *Desk) Projects(p Project) { d.project = p }

// Reacts sets how the room answers other rooms' events.
func (d *Desk) Reacts(r React) { d.react = r }

//go:embed migrations/*.tmpl
var deskTables embed.FS

// Migrations gives a room's migrations together with those that every room has,
// whose numbers (00001, 00035) a room's own files leave free.
func Migrations(room string, own fs.FS) fs.FS {
	all := fstest.MapFS{}
	for _, t := range template.Must(template.ParseFS(deskTables, "migrations/*.tmpl")).Templates() {
		var sql bytes.Buffer
		if err := t.Execute(&sql, room); err != nil {
			panic(err) // the template is compiled in
		}
		all[strings.TrimSuffix(t.Name(), ".tmpl")] = &fstest.MapFile{Data: sql.Bytes()}
	}
	own, err := fs.Sub(own, "migrations")
	if err != nil {
		panic(err)
	}
	names, err := fs.Glob(own, "*.sql")
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		data, err := fs.ReadFile(own, name)
		if err != nil {
			panic(err)
		}
		all[name] = &fstest.MapFile{Data: data}
	}
	return all
}

// tick is something the room does every so often, in one process at a time.
type tick struct {
	name  string
	every time.Duration
	run   func(ctx context.Context) error
}

// Every lets run happen every so often, at most in one process at a time. It
// must come to nothing when there is nothing to do.
func (d *Desk) Every(every time.Duration, name string, run func(ctx context.Context) error) {
	d.ticks = append(d.ticks, tick{name, every, run})
}

// Start opens the room: its tables follow the book, its reactions run, and then
// it takes orders.
func (d *Desk) Start(ctx context.Context) error {
	position, err := d.cursor(ctx, tablesCursor)
	if err != nil {
		return fmt.Errorf("the %s room has no tables yet (run refloat migrate): %w", d.Room, err)
	}
	d.heard.reached(position)
	d.run("tables", d.followTables)
	if d.react != nil {
		d.run("reactions", d.followReactions)
	}
	for _, t := range d.ticks {
		d.run(t.name, func(ctx context.Context) error { return d.keepTicking(ctx, t) })
	}
	if err := d.listen(); err != nil {
		return err
	}
	d.open.Store(true)
	return nil
}

// Lost says what keeps the room from working, but for being late; "" when nothing
// does.
func (d *Desk) Lost() string {
	switch {
	case !d.open.Load():
		return "it is not open"
	case !d.Bus.Up():
		return "it has no connection to the bus"
	}
	return d.heard.stop()
}

// Stop closes the counter first, then ends what runs behind it.
func (d *Desk) Stop(ctx context.Context) error {
	d.open.Store(false)
	var firstErr error
	keep := func(err error) {
		if firstErr == nil {
			firstErr = err
		}
	}
	for _, s := range d.services {
		keep(s.Stop(ctx))
	}
	for _, l := range d.loops {
		keep(l.Stop(ctx))
	}
	d.services, d.loops = nil, nil
	return firstErr
}
