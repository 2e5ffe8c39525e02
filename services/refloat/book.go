package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"os"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
)

// opened is the database as an operator's command sees it, whether a running
// process holds it, an outside server does, or this command started it.
type opened struct {
	database postgres.Access
	cluster  *postgres.Cluster
	pool     *pgxpool.Pool
}

// openBook finds the database.
func openBook(ctx context.Context, cfg config, log *slog.Logger) (*opened, error) {
	b := &opened{database: postgres.Access{OwnerURL: cfg.OwnerURL, AppURL: cfg.DatabaseURL}}
	if err := b.find(ctx, cfg, log); err != nil {
		b.close()
		return nil, err
	}
	pool, err := postgres.Open(ctx, b.database.AppURL, 4)
	if err != nil {
		b.close()
		return nil, err
	}
	b.pool = pool
	return b, nil
}

func (b *opened) find(ctx context.Context, cfg config, log *slog.Logger) (err error) {
	if cfg.DatabaseURL != "" {
		return nil
	}
	if n, running := readNotice(cfg); running {
		b.database = n.Database
		return nil
	}
	if _, err := os.Stat(privateFolder(cfg)); err != nil {
		return fmt.Errorf("there is no book in %s (set REFLOAT_DATA or --data): %w", cfg.Data, err)
	}
	b.cluster, b.database, err = startPrivate(ctx, cfg, log)
	return err
}

func (b *opened) reader() *ledger.Reader { return ledger.NewReader(b.pool) }

func (b *opened) close() {
	if b.pool != nil {
		b.pool.Close()
	}
	if b.cluster != nil {
		ctx, cancel := context.WithTimeout(context.Background(), stopFor)
		defer cancel()
		_ = b.cluster.Stop(ctx) // the next start recovers from anything left
	}
}

func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// stamp is how folders are named after an instant.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T150405Z") }

// stampLong is how instants are printed, in UTC.
func stampLong(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05Z") }
