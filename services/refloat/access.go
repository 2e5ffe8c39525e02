package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"syscall"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/postgres"
)

// notice is what a running process leaves in its data folder, for the operator's
// other commands: how to reach its private database and bus. It holds passwords
// and is readable by its owner only.
type notice struct {
	Pid      int             `json:"pid"`
	Page     string          `json:"page"`
	Watch    string          `json:"watch,omitempty"` // where health and figures are
	Database postgres.Access `json:"database"`
	Bus      bus.Access      `json:"bus"` // the operator's
	// Settings are those that differ from their standard, for a backup.
	Settings map[string]string `json:"settings,omitempty"`
}

func noticePath(c config) string { return filepath.Join(c.Data, "running.json") }

func (n notice) post(c config) error {
	raw, err := json.Marshal(n)
	if err != nil {
		return err
	}
	making := noticePath(c) + ".making"
	if err := os.WriteFile(making, raw, 0o600); err != nil {
		return fmt.Errorf("telling other commands that this one runs: %w", err)
	}
	return os.Rename(making, noticePath(c))
}

// readNotice gives the notice of a process that still runs; ok is false when
// none does.
func readNotice(c config) (n notice, ok bool) {
	raw, err := os.ReadFile(noticePath(c))
	if err != nil || json.Unmarshal(raw, &n) != nil {
		return n, false
	}
	return n, syscall.Kill(n.Pid, 0) == nil
}

// outsideBus gives a room's way into the operator's NATS.
func outsideBus(c config, room string) (bus.Access, error) {
	access := bus.Access{URL: c.NATSURL}
	if c.NATSCreds != "" {
		access.Credentials = filepath.Join(c.NATSCreds, room+".creds")
	} else {
		raw, err := os.ReadFile(c.NATSUsers)
		if err != nil {
			return access, fmt.Errorf("REFLOAT_NATS_USERS: %w", err)
		}
		var passwords map[string]string
		if err := json.Unmarshal(raw, &passwords); err != nil {
			return access, fmt.Errorf("REFLOAT_NATS_USERS: %s: %w", c.NATSUsers, err)
		}
		password, ok := passwords[room]
		if !ok {
			return access, fmt.Errorf("REFLOAT_NATS_USERS: %s has no password for %q", c.NATSUsers, room)
		}
		access.User, access.Password = room, password
	}
	if c.NATSCA == "" {
		return access, nil
	}
	pem, err := os.ReadFile(c.NATSCA)
	if err != nil {
		return access, fmt.Errorf("REFLOAT_NATS_CA: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return access, fmt.Errorf("REFLOAT_NATS_CA: %s holds no certificate", c.NATSCA)
	}
	access.TLS = &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
	return access, nil
}

// foundation is the database and the bus that a process stands on.
type foundation struct {
	database postgres.Access
	cluster  *postgres.Cluster // nil with an outside database
	embedded *bus.Embedded     // nil with an outside NATS
	bus      func(room string) (bus.Access, error)
}

// remote gives the operator's way in for other processes of this machine.
func (f *foundation) remote() (bus.Access, error) {
	if f.embedded != nil {
		return f.embedded.Remote(bus.Operator), nil
	}
	return f.bus(bus.Operator)
}

// privateFolder is where the private database of a data folder lies.
func privateFolder(cfg config) string { return filepath.Join(cfg.Data, "postgres") }

// startPrivate starts the private database of a data folder and makes its roles
// ready. A cluster that it gives has to be stopped, with an error too.
func startPrivate(ctx context.Context, cfg config, log *slog.Logger) (*postgres.Cluster, postgres.Access, error) {
	cluster, err := postgres.StartCluster(ctx, postgres.ClusterConfig{Dir: privateFolder(cfg), BinDir: cfg.PostgresBin, Log: log, Durable: true})
	if err != nil {
		return nil, postgres.Access{}, err
	}
	access, err := cluster.Prepare(ctx)
	return cluster, access, err
}

// layFoundation starts what is private and finds what is not. What it started
// is stopped again by stop, also after an error.
func layFoundation(ctx context.Context, p *program) (f *foundation, err error) {
	f = &foundation{database: postgres.Access{OwnerURL: p.cfg.OwnerURL, AppURL: p.cfg.DatabaseURL}}
	p.foundation = f
	if p.cfg.DatabaseURL == "" {
		if f.cluster, f.database, err = startPrivate(ctx, p.cfg, p.log); err != nil {
			return f, err
		}
	}
	if p.cfg.NATSURL != "" {
		f.bus = func(room string) (bus.Access, error) { return outsideBus(p.cfg, room) }
		return f, nil
	}
	f.embedded, err = bus.StartEmbedded(ctx, filepath.Join(p.cfg.Data, "bus"), busNames(), p.log)
	if err != nil {
		return f, err
	}
	f.bus = func(room string) (bus.Access, error) { return f.embedded.Access(room), nil }
	return f, nil
}

// stop ends what was started, the bus first.
func (f *foundation) stop(ctx context.Context) error {
	var err error
	if f.embedded != nil {
		err = f.embedded.Stop(ctx)
	}
	if f.cluster != nil {
		if stopErr := f.cluster.Stop(ctx); err == nil {
			err = stopErr
		}
	}
	return err
}
