// Package postgrestest gives tests real databases, fresh and quickly.
//
// The first call starts a cluster for the test process, which a small watcher
// removes when the process ends, however it ends. With REFLOAT_TEST_DATABASE_URL
// (the URL of a superuser) the databases are made there instead, so that many
// test processes share one cluster. Nothing survives a power cut: tests of
// durability use NewCluster.
package postgrestest

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io/fs"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/postgres"
)

// Setting names the superuser's URL of a cluster to use.
const Setting = "REFLOAT_TEST_DATABASE_URL"

// poolSize is enough for one test; many tests share the server's connections.
const poolSize = 8

// Migration is a schema and the files that make it, as for postgres.Migrate.
type Migration struct {
	Schema string
	Files  fs.FS
}

// DB is a database of one test's own. It goes when the test ends.
type DB struct {
	Name     string
	SuperURL string
	OwnerURL string
	AppURL   string
	// Pool is the application role's.
	Pool *pgxpool.Pool

	t testing.TB
}

// New makes a database with the given schemas. Databases are copied from a
// template, which is migrated once for each set of migrations.
func New(t testing.TB, schemas ...Migration) *DB {
	t.Helper()
	ctx := context.Background()
	super, err := sharedCluster()
	require.NoError(t, err)
	conn, err := pgx.Connect(ctx, super)
	require.NoError(t, err)
	defer func() { _ = conn.Close(ctx) }()
	template, err := ensureTemplate(ctx, conn, super, schemas)
	require.NoError(t, err)
	name := "test_" + strings.ToLower(rand.Text()[:16])
	require.NoError(t, copyDatabase(ctx, conn, template, name))
	t.Cleanup(func() { drop(t, super, name) })
	return open(t, name, super, passwords)
}

func open(t testing.TB, name, super string, p postgres.Passwords) *DB {
	t.Helper()
	db := &DB{
		Name:     name,
		SuperURL: withDatabase(super, name, nil),
		OwnerURL: withDatabase(super, name, url.UserPassword(postgres.Owner, p.Owner)),
		AppURL:   withDatabase(super, name, url.UserPassword(postgres.App, p.App)),
		t:        t,
	}
	db.Pool = db.Open(db.AppURL)
	return db
}

// Open makes a further pool for one of the database's URLs; it is closed when
// the test ends.
func (db *DB) Open(url string) *pgxpool.Pool {
	db.t.Helper()
	pool, err := postgres.Open(context.Background(), url, poolSize)
	require.NoError(db.t, err)
	db.t.Cleanup(pool.Close)
	return pool
}

// Exec runs statements as the superuser, who may do what nobody else may: to
// damage what has to be found damaged, for instance.
func (db *DB) Exec(sql string, args ...any) {
	db.t.Helper()
	db.asSuper(func(ctx context.Context, conn *pgx.Conn) error {
		_, err := conn.Exec(ctx, sql, args...)
		return err
	})
}

// Dump gives all rows of a table as sorted text, to compare tables and to look
// for what must not stand in them.
func (db *DB) Dump(table string) string {
	db.t.Helper()
	var text string
	db.asSuper(func(ctx context.Context, conn *pgx.Conn) error {
		return conn.QueryRow(ctx, `SELECT coalesce(string_agg(r::text, E'\n' ORDER BY r::text), '') FROM `+table+` r`).Scan(&text)
	})
	return text
}

func (db *DB) asSuper(f func(ctx context.Context, conn *pgx.Conn) error) {
	db.t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, db.SuperURL)
	require.NoError(db.t, err)
	defer func() { _ = conn.Close(ctx) }()
	require.NoError(db.t, f(ctx, conn))
}

// passwords are those of the roles in a shared cluster: they protect nothing.
var passwords = postgres.Passwords{Owner: "owner", App: "app"}

// sharedCluster gives the superuser's URL of the cluster that this process
// uses, with the roles in place.
var sharedCluster = sync.OnceValues(func() (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	super := os.Getenv(Setting)
	if super == "" {
		var err error
		if super, err = startOwn(ctx); err != nil {
			return "", err
		}
	}
	return super, postgres.Prepare(ctx, super, passwords)
})

// ensureTemplate makes the template for a set of migrations unless this or
// another process has made it. It gets its name when it is whole.
func ensureTemplate(ctx context.Context, conn *pgx.Conn, super string, schemas []Migration) (string, error) {
	name, err := templateName(schemas)
	if err != nil {
		return "", err
	}
	if there, err := databaseExists(ctx, conn, name); there || err != nil {
		return name, err
	}
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock(hashtext($1))", name); err != nil {
		return "", err
	}
	defer func() { _, _ = conn.Exec(ctx, "SELECT pg_advisory_unlock(hashtext($1))", name) }()
	if there, err := databaseExists(ctx, conn, name); there || err != nil {
		return name, err
	}
	return name, makeTemplate(ctx, conn, super, name, schemas)
}

func makeTemplate(ctx context.Context, conn *pgx.Conn, super, name string, schemas []Migration) error {
	making := name + "_making"
	if _, err := conn.Exec(ctx, "DROP DATABASE IF EXISTS "+making); err != nil {
		return err
	}
	if err := copyDatabase(ctx, conn, "template1", making); err != nil {
		return err
	}
	owner := withDatabase(super, making, url.UserPassword(postgres.Owner, passwords.Owner))
	for _, s := range schemas {
		if err := postgres.Migrate(ctx, owner, s.Schema, s.Files); err != nil {
			return err
		}
	}
	_, err := conn.Exec(ctx, "ALTER DATABASE "+making+" RENAME TO "+name)
	return err
}

// copyDatabase copies files instead of writing every page to the log, which is
// several times quicker for a small template.
func copyDatabase(ctx context.Context, conn *pgx.Conn, from, to string) error {
	_, err := conn.Exec(ctx, fmt.Sprintf("CREATE DATABASE %s TEMPLATE %s STRATEGY file_copy OWNER %s", to, from, postgres.Owner))
	if err != nil {
		return fmt.Errorf("copy the database %s: %w", from, err)
	}
	return postgres.CloseDatabase(ctx, conn, to)
}

func databaseExists(ctx context.Context, conn *pgx.Conn, name string) (there bool, err error) {
	err = conn.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM pg_database WHERE datname = $1)", name).Scan(&there)
	return there, err
}

// templateName is the same for the same schemas and file contents.
func templateName(schemas []Migration) (string, error) {
	sum := sha256.New()
	for _, s := range schemas {
		_, _ = fmt.Fprintf(sum, "schema %q\n", s.Schema)
		if err := hashFiles(sum, s.Files); err != nil {
			return "", fmt.Errorf("read the migrations of %s: %w", s.Schema, err)
		}
	}
	return "template_" + hex.EncodeToString(sum.Sum(nil)[:12]), nil
}

func hashFiles(sum hash.Hash, files fs.FS) error {
	return fs.WalkDir(files, ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := fs.ReadFile(files, path)
		_, _ = fmt.Fprintf(sum, "%q %q\n", path, text)
		return err
	})
}

// withDatabase changes the database, and the user if one is given, of a URL.
func withDatabase(address, database string, user *url.Userinfo) string {
	u, err := url.Parse(address)
	if err != nil {
		panic(fmt.Sprintf("%s is not a URL", Setting)) // the URL itself holds a password
	}
	u.Path = "/" + database
	if user != nil {
		u.User = user
	}
	return u.String()
}

func drop(t testing.TB, super, name string) {
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, super)
	if err != nil {
		t.Errorf("drop the test's database: %v", err)
		return
	}
	_, err = conn.Exec(ctx, "DROP DATABASE IF EXISTS "+name+" WITH (FORCE)")
	if err := errors.Join(err, conn.Close(ctx)); err != nil {
		t.Errorf("drop the test's database: %v", err)
	}
}
