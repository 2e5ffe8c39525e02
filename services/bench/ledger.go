package main

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
)

// ledgerParts are what the bench of the book measures, in order. Each has an empty
// book of its own in the same durable cluster.
var ledgerParts = []func(context.Context, *session, *scene) error{
	benchAppend,
	benchVerify,
	benchRebuild,
	benchFollow,
	benchGrowth,
}

func benchLedger(ctx context.Context, s *session) error {
	if err := s.need(ctx, "pgbench:postgresql-contrib"); err != nil {
		return err
	}
	for _, part := range ledgerParts {
		if err := inScene(ctx, s, part); err != nil {
			return err
		}
	}
	return nil
}

// A scene is a PostgreSQL of its own with the settings of a real one, fsync
// included, and an empty book in it.
type scene struct {
	cluster *postgres.Cluster
	access  postgres.Access
	pool    *pgxpool.Pool
}

// inScene runs a part in a scene that lies in the session's scratch folder.
func inScene(ctx context.Context, s *session, part func(context.Context, *session, *scene) error) (err error) {
	if err := makePassable(s.scratch); err != nil {
		return err
	}
	cluster, err := postgres.StartCluster(ctx, postgres.ClusterConfig{
		Dir: filepath.Join(s.scratch, "postgres"), Log: slog.New(slog.DiscardHandler), Durable: true})
	if err != nil {
		return err
	}
	defer func() {
		stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Minute)
		defer cancel()
		if stopErr := cluster.Stop(stopping); err == nil {
			err = stopErr
		}
	}()
	super, err := pgx.Connect(ctx, cluster.URL(postgres.Super, "postgres"))
	if err != nil {
		return err
	}
	defer func() { _ = super.Close(context.WithoutCancel(ctx)) }()
	// A book left by the part before would be measured along.
	if _, err := super.Exec(ctx, "DROP DATABASE IF EXISTS "+postgres.Database); err != nil {
		return err
	}
	sc := &scene{cluster: cluster}
	if sc.access, err = cluster.Prepare(ctx); err != nil {
		return err
	}
	if err := postgres.Migrate(ctx, sc.access.OwnerURL, ledger.Schema, ledger.Migrations()); err != nil {
		return err
	}
	if sc.pool, err = postgres.Open(ctx, sc.access.AppURL, 4); err != nil {
		return err
	}
	defer sc.pool.Close()
	return part(ctx, s, sc)
}

// exec runs statements as the superuser.
func (sc *scene) exec(ctx context.Context, statements ...string) error {
	conn, err := pgx.Connect(ctx, sc.cluster.URL(postgres.Super, postgres.Database))
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	for _, statement := range statements {
		if _, err := conn.PgConn().Exec(ctx, statement).ReadAll(); err != nil {
			return fmt.Errorf("%.60s: %w", statement, err)
		}
	}
	return nil
}
