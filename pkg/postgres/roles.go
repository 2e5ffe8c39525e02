package postgres

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"time"

	"github.com/jackc/pgx/v5"
)

const (
	// Super is the superuser of a private cluster. It prepares, nothing else.
	Super = "postgres"
	// Owner is the role that owns every schema and runs the migrations.
	Owner = "refloat_owner"
	// App is the role of the running application. It owns nothing: what it may
	// do, the migrations grant.
	App = "refloat_app"
	// Database is the name of the database in a private cluster.
	Database = "refloat"
)

// Access is how the program reaches its database, a private one or one that
// the operator gave (REFLOAT_DATABASE_OWNER_URL, REFLOAT_DATABASE_URL). The
// URLs hold passwords: never log them.
type Access struct {
	OwnerURL string
	AppURL   string
}

// Prepare makes the two roles and the database, or sets them right when they
// are there. superURL is that of a superuser. Several processes may prepare
// one cluster at the same time.
//
// An operator who keeps the superuser to himself does the same by hand. The
// names of the roles are fixed, because migrations grant to them; a role with
// another name has to be a member of one of them.
func Prepare(ctx context.Context, superURL string, passwords Passwords) error {
	return withConn(ctx, superURL, func(conn *pgx.Conn) error {
		return underLock(ctx, conn, "prepare", func() error {
			if err := makeRole(ctx, conn, Owner, passwords.Owner); err != nil {
				return err
			}
			if err := makeRole(ctx, conn, App, passwords.App); err != nil {
				return err
			}
			return makeDatabase(ctx, conn, Database)
		})
	})
}

// makeRole makes a role that may sign in and nothing more.
func makeRole(ctx context.Context, conn *pgx.Conn, name, password string) error {
	verb := "ALTER"
	if there, err := exists(ctx, conn, "SELECT 1 FROM pg_roles WHERE rolname = $1", name); err != nil {
		return err
	} else if !there {
		verb = "CREATE"
	}
	// Roles take no parameters: the server quotes the password for us.
	var statement string
	err := conn.QueryRow(ctx, `SELECT format('%s ROLE %I LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS PASSWORD %L',
		$1::text, $2::text, $3::text)`, verb, name, password).Scan(&statement)
	if err != nil {
		return fmt.Errorf("prepare the role %s: %w", name, err)
	}
	if _, err := conn.Exec(ctx, statement); err != nil {
		return fmt.Errorf("prepare the role %s: %w", name, err)
	}
	return nil
}

func makeDatabase(ctx context.Context, conn *pgx.Conn, name string) error {
	there, err := exists(ctx, conn, "SELECT 1 FROM pg_database WHERE datname = $1", name)
	if err != nil {
		return err
	}
	if !there {
		if _, err := conn.Exec(ctx, "CREATE DATABASE "+quote(name)+" OWNER "+Owner); err != nil {
			return fmt.Errorf("make the database %s: %w", name, err)
		}
	}
	return CloseDatabase(ctx, conn, name)
}

// CloseDatabase takes from a database what PostgreSQL gives to everybody, and
// lets the application connect. A copy of a database does not inherit this.
func CloseDatabase(ctx context.Context, super *pgx.Conn, name string) error {
	_, err := super.Exec(ctx, fmt.Sprintf(
		"REVOKE ALL ON DATABASE %[1]s FROM PUBLIC; GRANT CONNECT ON DATABASE %[1]s TO %[2]s", quote(name), App))
	if err != nil {
		return fmt.Errorf("close the database %s to others: %w", name, err)
	}
	return nil
}

func exists(ctx context.Context, conn *pgx.Conn, query, name string) (bool, error) {
	var one int
	err := conn.QueryRow(ctx, query, name).Scan(&one)
	if errors.Is(err, pgx.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("look for %s: %w", name, err)
	}
	return true, nil
}

// withConn runs f with a connection of its own.
func withConn(ctx context.Context, url string, f func(*pgx.Conn) error) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return fmt.Errorf("connect to the database: %w", err)
	}
	err = f(conn)
	// A cancelled context must not keep the connection, and its lock, open.
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	return errors.Join(err, conn.Close(closing))
}

// underLock runs f while no other session of this database holds the lock of
// that name. It asks again and again instead of waiting in the server: a
// waiting statement keeps a snapshot, and CREATE INDEX CONCURRENTLY in the
// session that holds the lock would wait for that snapshot for ever.
func underLock(ctx context.Context, conn *pgx.Conn, name string, f func() error) error {
	key := lockKey(name)
	for {
		var mine bool
		if err := conn.QueryRow(ctx, "SELECT pg_try_advisory_lock($1)", key).Scan(&mine); err != nil {
			return fmt.Errorf("take the lock %s: %w", name, err)
		}
		if mine {
			break
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("another process keeps the lock %s: %w", name, ctx.Err())
		case <-time.After(20 * time.Millisecond):
		}
	}
	err := f()
	_, unlockErr := conn.Exec(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock($1)", key)
	return errors.Join(err, unlockErr)
}

// lockKey turns a name into the number that advisory locks want.
func lockKey(name string) int64 {
	h := fnv.New64a()
	_, _ = h.Write([]byte("refloat/" + name)) // a hash never fails
	return int64(h.Sum64())
}

func quote(name string) string { return pgx.Identifier{name}.Sanitize() }
