package postgres

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
)

// Migrate brings one schema up to date. files holds numbered goose files
// (0001_what.sql with "-- +goose Up"), at its root or in a folder named
// migrations. The schema is made first and App may use it; its history stands
// in <schema>.schema_version. Several processes may migrate at the same time:
// one works, the others wait and find nothing left to do.
//
// Two rules for the files:
//   - Grants are stated, table by table ("GRANT SELECT, INSERT ON x.y TO
//     refloat_app"): nothing is granted by default, so that a forgotten grant
//     is a refusal and not an open door.
//   - Names are qualified with their schema: the search path is empty, so that
//     what works here also works for the application.
func Migrate(ctx context.Context, ownerURL, schema string, files fs.FS) error {
	files, err := migrationRoot(files)
	if err != nil {
		return fmt.Errorf("migrate %s: %w", schema, err)
	}
	err = withConn(ctx, ownerURL, func(conn *pgx.Conn) error {
		return underLock(ctx, conn, "migrate/"+schema, func() error {
			if err := makeSchema(ctx, conn, schema); err != nil {
				return err
			}
			return runMigrations(ctx, ownerURL, schema, files)
		})
	})
	if err != nil {
		return fmt.Errorf("migrate %s: %w", schema, err)
	}
	return nil
}

// migrationRoot finds the folder with the files. None at all is a mistake of
// the program: a forgotten embed must not pass as "nothing to do".
func migrationRoot(files fs.FS) (fs.FS, error) {
	for _, root := range []string{".", "migrations"} {
		found, err := fs.Glob(files, root+"/*.sql")
		if root == "." {
			found, err = fs.Glob(files, "*.sql")
		}
		if err != nil {
			return nil, err
		}
		if len(found) > 0 {
			return fs.Sub(files, root)
		}
	}
	return nil, errors.New("there are no .sql files")
}

func makeSchema(ctx context.Context, conn *pgx.Conn, schema string) error {
	_, err := conn.Exec(ctx, fmt.Sprintf("CREATE SCHEMA IF NOT EXISTS %[1]s; GRANT USAGE ON SCHEMA %[1]s TO %[2]s", quote(schema), App))
	if err != nil {
		return fmt.Errorf("make the schema: %w", err)
	}
	return nil
}

func runMigrations(ctx context.Context, ownerURL, schema string, files fs.FS) error {
	cfg, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("read the owner's database URL: %w", err)
	}
	applyDefaults(cfg)
	cfg.RuntimeParams["search_path"] = ""
	db := stdlib.OpenDB(*cfg)
	store, err := database.NewStore(database.DialectPostgres, schema+".schema_version")
	if err != nil {
		return errors.Join(err, db.Close())
	}
	provider, err := goose.NewProvider("", db, files, goose.WithStore(store), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return errors.Join(err, db.Close())
	}
	_, err = provider.Up(ctx)
	return errors.Join(err, provider.Close())
}
