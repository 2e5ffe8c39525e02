package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/pgxpool"
)

// sessionDefaults hold for every session whose URL does not say otherwise.
// There is no statement_timeout: each query is bounded by its context.
var sessionDefaults = map[string]string{
	"application_name": "refloat",
	"timezone":         "UTC",
	// A transaction that was forgotten open holds locks and keeps old rows.
	"idle_in_transaction_session_timeout": "60s",
	// A client that vanished must not keep its locks while its query runs.
	"client_connection_check_interval": "10s",
}

// Open makes a pool of at most max connections and waits until one of them
// answers. Instants are read back in UTC.
func Open(ctx context.Context, url string, max int) (*pgxpool.Pool, error) {
	cfg, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("read the database URL: %w", err)
	}
	applyDefaults(cfg.ConnConfig)
	cfg.MaxConns = int32(max)
	cfg.MaxConnIdleTime = 5 * time.Minute
	cfg.MaxConnLifetime = time.Hour
	cfg.MaxConnLifetimeJitter = 5 * time.Minute
	cfg.AfterConnect = readInstantsInUTC
	pool, err := pgxpool.NewWithConfig(ctx, cfg)
	if err != nil {
		return nil, fmt.Errorf("open the database: %w", err)
	}
	if err := pool.Ping(ctx); err != nil {
		pool.Close()
		return nil, fmt.Errorf("open the database: %w", err)
	}
	return pool, nil
}

func applyDefaults(cfg *pgx.ConnConfig) {
	if cfg.ConnectTimeout == 0 {
		cfg.ConnectTimeout = 5 * time.Second
	}
	for name, value := range sessionDefaults {
		if _, said := cfg.RuntimeParams[name]; !said {
			cfg.RuntimeParams[name] = value
		}
	}
}

// readInstantsInUTC overrules pgx, which hands instants out in the machine's
// local zone.
func readInstantsInUTC(_ context.Context, conn *pgx.Conn) error {
	instant := &pgtype.Type{Name: "timestamptz", OID: pgtype.TimestamptzOID, Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC}}
	conn.TypeMap().RegisterType(instant)
	conn.TypeMap().RegisterType(&pgtype.Type{Name: "_timestamptz", OID: pgtype.TimestamptzArrayOID, Codec: &pgtype.ArrayCodec{ElementType: instant}})
	return nil
}
