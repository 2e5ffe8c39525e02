package postgres_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"refloat.example/pkg/postgres"
	"refloat.example/pkg/postgrestest"
)

var oneTable = fstest.MapFS{"0001_paddle.sql": {Data: []byte(`-- +goose Up
CREATE TABLE shelf.paddle (id int PRIMARY KEY);
CREATE TABLE shelf.forgotten (id int PRIMARY KEY);
GRANT SELECT, INSERT ON shelf.paddle TO refloat_app;
`)}}

// SQLSTATE codes, as in appendix A of the PostgreSQL documentation (from memory).
const (
	insufficientPrivilege = "42501"
	invalidSchemaName     = "3F000"
)

func code(err error) string {
	var refusal *pgconn.PgError
	if errors.As(err, &refusal) {
		return refusal.Code
	}
	return ""
}

func TestMigrate(t *testing.T) {
	db := postgrestest.New(t)
	ctx := t.Context()
	owner, app := db.Open(db.OwnerURL), db.Pool

	t.Run("four runners at once", func(t *testing.T) {
		slow := fstest.MapFS{
			"migrations/0001_one.sql": {Data: []byte("-- +goose Up\nCREATE TABLE rack.one (id int);\nSELECT pg_sleep(0.05);\n")},
			"migrations/0002_two.sql": {Data: []byte("-- +goose Up\nCREATE TABLE rack.two (id int);\n")},
		}
		var runners errgroup.Group
		for range 4 {
			runners.Go(func() error { return postgres.Migrate(ctx, db.OwnerURL, "rack", slow) })
		}
		require.NoError(t, runners.Wait())
		var applied int
		require.NoError(t, owner.QueryRow(ctx, "SELECT count(*) FROM rack.schema_version WHERE version_id > 0").Scan(&applied))
		assert.Equal(t, 2, applied, "each file once")
	})

	t.Run("an index built beside the traffic does not hang the others", func(t *testing.T) {
		index := fstest.MapFS{
			"0001_one.sql": {Data: []byte("-- +goose Up\nCREATE TABLE bay.one (id int);\n")},
			"0002_two.sql": {Data: []byte("-- +goose NO TRANSACTION\n-- +goose Up\nCREATE INDEX CONCURRENTLY one_id ON bay.one (id);\n")},
		}
		ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
		defer cancel()
		var runners errgroup.Group
		for range 4 {
			runners.Go(func() error { return postgres.Migrate(ctx, db.OwnerURL, "bay", index) })
		}
		assert.NoError(t, runners.Wait())
	})

	t.Run("the application may do what was granted and no more", func(t *testing.T) {
		require.NoError(t, postgres.Migrate(ctx, db.OwnerURL, "shelf", oneTable))
		_, err := app.Exec(ctx, "INSERT INTO shelf.paddle VALUES (1)")
		require.NoError(t, err)
		for _, refused := range []string{
			"UPDATE shelf.paddle SET id = 2",
			"DELETE FROM shelf.paddle",
			"TRUNCATE shelf.paddle",
			"SELECT 1 FROM shelf.forgotten",
			"SELECT 1 FROM shelf.schema_version",
			"CREATE TABLE shelf.own (id int)",
			"CREATE TABLE public.own (id int)",
			"CREATE TEMP TABLE own (id int)",
			"CREATE SCHEMA own",
			"CREATE ROLE own",
			"CREATE DATABASE own",
			"DROP TABLE shelf.paddle",
			"SET ROLE refloat_owner",
			"COPY shelf.paddle TO PROGRAM 'true'",
		} {
			_, err := app.Exec(ctx, refused)
			assert.Equal(t, insufficientPrivilege, code(err), "%s: %v", refused, err)
		}
	})

	t.Run("a name without its schema is refused", func(t *testing.T) {
		err := postgres.Migrate(ctx, db.OwnerURL, "loose", fstest.MapFS{"0001_x.sql": {Data: []byte("-- +goose Up\nCREATE TABLE oar (id int);\n")}})
		assert.Equal(t, invalidSchemaName, code(err), "%v", err)
		assert.ErrorContains(t, err, "migrate loose")
	})

	t.Run("a failing file leaves nothing and can be mended", func(t *testing.T) {
		bad := fstest.MapFS{"0001_x.sql": {Data: []byte("-- +goose Up\nCREATE TABLE dock.half (id int);\nSELECT nonsense;\n")}}
		require.Error(t, postgres.Migrate(ctx, db.OwnerURL, "dock", bad))
		good := fstest.MapFS{"0001_x.sql": {Data: []byte("-- +goose Up\nCREATE TABLE dock.half (id int);\n")}}
		assert.NoError(t, postgres.Migrate(ctx, db.OwnerURL, "dock", good))
	})

	t.Run("no files is a mistake", func(t *testing.T) {
		assert.ErrorContains(t, postgres.Migrate(ctx, db.OwnerURL, "none", fstest.MapFS{}), "no .sql files")
	})
}

func TestRolesArePlain(t *testing.T) {
	db := postgrestest.New(t)
	var mighty, able int
	require.NoError(t, db.Pool.QueryRow(t.Context(), `SELECT
		count(*) FILTER (WHERE rolsuper OR rolcreatedb OR rolcreaterole OR rolreplication OR rolbypassrls),
		count(*) FILTER (WHERE rolcanlogin)
		FROM pg_roles WHERE rolname IN ('refloat_owner', 'refloat_app')`).Scan(&mighty, &able))
	assert.Zero(t, mighty)
	assert.Equal(t, 2, able)

	// The database is closed to roles that are not ours.
	stranger := "stranger_" + db.Name
	db.Exec("CREATE ROLE " + stranger + " LOGIN PASSWORD 'x'")
	t.Cleanup(func() { db.Exec("DROP ROLE " + stranger) })
	_, err := postgres.Open(t.Context(), strings.Replace(db.AppURL, "refloat_app:app", stranger+":x", 1), 1)
	assert.Equal(t, insufficientPrivilege, code(err), "%v", err)
	_, err = postgres.Open(t.Context(), "not a url", 1)
	assert.ErrorContains(t, err, "read the database URL")
}

func TestInstantsComeBackInUTC(t *testing.T) {
	db := postgrestest.New(t)
	require.NotEqual(t, time.UTC, time.Local, "TestMain puts the machine into another zone")
	pool := db.Open(db.AppURL + "&application_name=own")
	want := time.Date(2026, time.March, 29, 1, 30, 0, 123456000, time.UTC)
	var at time.Time
	var row []time.Time
	var zone, name string
	require.NoError(t, pool.QueryRow(t.Context(),
		"SELECT $1::timestamptz, ARRAY[$1::timestamptz], current_setting('timezone'), current_setting('application_name')", want).
		Scan(&at, &row, &zone, &name))
	assert.Equal(t, want, at)
	assert.Equal(t, []time.Time{want}, row)
	assert.Equal(t, "UTC", zone)
	assert.Equal(t, "own", name, "what the URL says goes before the default")

	values, err := pgx.CollectRows(must(pool.Query(t.Context(), "SELECT $1::timestamptz AS at", want)), pgx.RowToMap)
	require.NoError(t, err)
	assert.Equal(t, want, values[0]["at"], "untyped reads too")
}

func must(rows pgx.Rows, err error) pgx.Rows {
	if err != nil {
		panic(err)
	}
	return rows
}
