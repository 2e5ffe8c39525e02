package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/vault"
	"refloat.example/services/web"
)

// poolSize bounds the connections of one process; PostgreSQL's own default
// allows 100 in all.
const poolSize = 24

// A program is Refloat at work in one process. Tests start one like main does.
type program struct {
	cfg        config
	log        *slog.Logger
	foundation *foundation
	pool       *pgxpool.Pool
	vault      *vault.Vault
	book       *ledger.Log
	conns      []*bus.Conn
	group      *lifecycle.Group
	site       *web.Site // nil when another process serves the pages
	watching
}

func newProgram(cfg config, log *slog.Logger) *program {
	return &program{cfg: cfg, log: log, group: lifecycle.New(log)}
}

// start brings everything up in order. What was started is stopped by stop, also
// after an error.
func (p *program) start(ctx context.Context) error {
	if err := os.MkdirAll(p.cfg.Data, 0o755); err != nil { //nolint:gosec // the user of PostgreSQL passes through
		return fmt.Errorf("making the data folder: %w", err)
	}
	if _, err := layFoundation(ctx, p); err != nil {
		return err
	}
	if err := migrateAll(ctx, p.foundation.database.OwnerURL); err != nil {
		return err
	}
	if err := p.startWatching(ctx); err != nil {
		return err
	}
	if err := p.openBook(ctx); err != nil {
		return err
	}
	if err := p.addRooms(ctx); err != nil {
		return err
	}
	p.addWatcher()
	if err := p.group.Start(ctx); err != nil {
		return err
	}
	return p.announce()
}

// openBook opens the database, the vault and the book.
func (p *program) openBook(ctx context.Context) (err error) {
	if p.pool, err = postgres.Open(ctx, p.foundation.database.AppURL, poolSize); err != nil {
		return err
	}
	if p.vault, err = openVault(ctx, p.cfg, p.pool); err != nil {
		return err
	}
	if p.relay, err = p.connect(ctx, bus.Relay); err != nil {
		return err
	}
	p.book = ledger.NewLog(p.pool, p.relay, clock.System{}, p.log)
	p.book.Watch(p.figures)
	if err := p.book.CheckStream(ctx, p.cfg.NATSReplicas); err != nil {
		return err
	}
	if err := p.book.CheckPublished(ctx, p.cfg.Checkpoints); err != nil {
		return err
	}
	// The first to start is the last to stop: it seals what the others still wrote.
	p.group.Add("sealer of the book", p.book.Sealer(p.cfg.Keys, p.cfg.Checkpoints))
	writer, relay := p.book.Parts(p.cfg.NATSReplicas)
	p.group.Add("keys", lifecycle.NewLoop("keys", p.log, p.vault.Follow))
	p.group.Add("writer of the book", writer)
	p.group.Add("relay of the book", relay)
	return nil
}

func openVault(ctx context.Context, cfg config, pool *pgxpool.Pool) (*vault.Vault, error) {
	if err := os.MkdirAll(cfg.Keys, 0o700); err != nil {
		return nil, fmt.Errorf("making the key folder: %w", err)
	}
	return vault.Open(ctx, pool, filepath.Join(cfg.Keys, masterFile))
}

// connect opens a room's connection to the bus.
func (p *program) connect(ctx context.Context, room string) (*bus.Conn, error) {
	access, err := p.foundation.bus(room)
	if err != nil {
		return nil, err
	}
	conn, err := bus.Connect(ctx, room, access, p.log)
	if err == nil {
		p.conns = append(p.conns, conn)
	}
	return conn, err
}

// kit is what a room of this process is given.
func (p *program) kit(ctx context.Context, room string) (desk.Kit, error) {
	conn, err := p.connect(ctx, room)
	return desk.Kit{Log: p.book, Pool: p.pool, Bus: conn, Vault: p.vault, Clock: clock.System{}, Slog: p.log, Figures: p.figures}, err
}

// page gives the address of the pages, if this process serves them.
func (p *program) page() string {
	if p.site == nil {
		return ""
	}
	return "http://" + p.site.Addr()
}

// announce lets the operator's other commands find this process.
func (p *program) announce() error {
	access, err := p.foundation.remote()
	if err != nil {
		return err
	}
	return notice{Pid: os.Getpid(), Page: p.page(), Watch: p.watchAddress(), Database: p.foundation.database, Bus: access, Settings: p.cfg.given}.post(p.cfg)
}

// stopFor is how long everything may take to stop.
const stopFor = 15 * time.Second

// stop ends everything in reverse.
func (p *program) stop() error {
	ctx, cancel := context.WithTimeout(context.Background(), stopFor)
	defer cancel()
	errs := []error{p.group.Stop(ctx), p.stopTraces(ctx)}
	for _, conn := range p.conns {
		conn.Close()
	}
	if p.pool != nil {
		p.pool.Close()
	}
	if p.foundation != nil {
		errs = append(errs, p.foundation.stop(ctx))
	}
	if n, ok := readNotice(p.cfg); ok && n.Pid == os.Getpid() {
		errs = append(errs, os.Remove(noticePath(p.cfg)))
	}
	return errors.Join(errs...)
}
