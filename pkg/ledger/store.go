package ledger

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"refloat.example/pkg/message"
)

//go:embed migrations/*.sql
var migrations embed.FS

// Schema is the database schema that the book lives in.
const Schema = "ledger"

// Migrations gives the book's own migrations, for postgres.Migrate.
func Migrations() fs.FS {
	sub, err := fs.Sub(migrations, "migrations")
	if err != nil {
		panic(err) // the folder is compiled in
	}
	return sub
}

// Head is where the book ends.
type Head struct {
	Position   int64
	Hash       []byte
	RecordedAt time.Time
	Epoch      int64
}

// querier is a pool, a connection or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

func readHead(ctx context.Context, db querier) (Head, error) {
	var h Head
	err := db.QueryRow(ctx, `SELECT position, hash, recorded_at, epoch FROM ledger.head`).
		Scan(&h.Position, &h.Hash, &h.RecordedAt, &h.Epoch)
	if err != nil {
		return Head{}, fmt.Errorf("reading the head of the book: %w", err)
	}
	h.RecordedAt = h.RecordedAt.UTC()
	return h, nil
}

const columns = `position, id, stream, version, kind, schema, boat, happened_at, recorded_at,
	actor, cause, correlation, request_key, request_part, request_digest, data, prev_hash, hash`

// collect gathers the rows of a query that was made with inBinary.
func collect(rows pgx.Rows, err error) ([]Row, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Row
	for reader := new(rowReader); rows.Next(); {
		row, err := reader.scan(rows)
		if err != nil {
			return nil, err
		}
		all = append(all, row.own())
	}
	return all, rows.Err()
}

// streamVersions gives the versions of those streams that have any event.
func streamVersions(ctx context.Context, db querier, streams []string) (map[string]int64, error) {
	rows, err := db.Query(ctx, `
		SELECT s, (SELECT e.version FROM ledger.event e WHERE e.stream = s ORDER BY e.version DESC LIMIT 1)
		FROM unnest($1::text[]) AS s`, streams)
	if err != nil {
		return nil, fmt.Errorf("reading stream versions: %w", err)
	}
	versions := make(map[string]int64, len(streams))
	var stream string
	var version *int64
	_, err = pgx.ForEachRow(rows, []any{&stream, &version}, func() error {
		if version != nil {
			versions[stream] = *version
		}
		return nil
	})
	return versions, err
}

// tryLock takes a session lock if nobody has it.
func tryLock(ctx context.Context, conn *pgx.Conn, lock int64) (mine bool, err error) {
	err = conn.QueryRow(ctx, `SELECT pg_try_advisory_lock($1)`, lock).Scan(&mine)
	return mine, err
}

// lockPoll is the time between two tries for a lock.
const lockPoll = 100 * time.Millisecond

// waitForLock takes a session lock, asking again and again: a statement that
// waits inside the server would keep a snapshot for as long, and the head row's
// old versions could not be cleared away.
func waitForLock(ctx context.Context, conn *pgx.Conn, lock int64) error {
	for {
		mine, err := tryLock(ctx, conn, lock)
		if mine || err != nil {
			return err
		}
		if !rest(ctx, lockPoll) {
			return ctx.Err()
		}
	}
}

// hangUp ends a connection, and with it its session's locks, without waiting
// long for a server that does not answer.
func hangUp(conn *pgx.Conn) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	_ = conn.Close(ctx) // what cannot be closed is closed already
}

// byKey gives the rows that a request key brought, in order.
func byKey(ctx context.Context, db querier, key string) ([]Row, error) {
	return collect(db.Query(ctx, `SELECT `+columns+` FROM ledger.event WHERE request_key = $1 ORDER BY request_part`, inBinary, key))
}

// byKeys is byKey for many keys in one trip.
func byKeys(ctx context.Context, db querier, keys []string) (map[string][]Row, error) {
	rows, err := collect(db.Query(ctx, `SELECT `+columns+` FROM ledger.event WHERE request_key = ANY ($1) ORDER BY request_key, request_part`, inBinary, keys))
	if err != nil {
		return nil, fmt.Errorf("looking for request keys: %w", err)
	}
	found := map[string][]Row{}
	for _, row := range rows {
		found[row.RequestKey] = append(found[row.RequestKey], row)
	}
	return found, nil
}

// fence makes every statement of an earlier writer miss the head from now on,
// waiting for one that is still running, and gives the head as it then is.
func fence(ctx context.Context, conn *pgx.Conn) (Head, error) {
	var h Head
	err := conn.QueryRow(ctx, `UPDATE ledger.head SET epoch = epoch + 1 RETURNING position, hash, recorded_at, epoch`).
		Scan(&h.Position, &h.Hash, &h.RecordedAt, &h.Epoch)
	if err != nil {
		return Head{}, fmt.Errorf("fencing the head of the book: %w", err)
	}
	h.RecordedAt = h.RecordedAt.UTC()
	return h, nil
}

// refusedByServer says that PostgreSQL answered with an error, so that the
// statement certainly wrote nothing. Any other error leaves it open.
func refusedByServer(err error) (*pgconn.PgError, bool) {
	var answer *pgconn.PgError
	if !errors.As(err, &answer) {
		return nil, false
	}
	// A session that is ended from outside (FATAL, class 57) may hear of it after
	// its commit.
	return answer, answer.SeverityUnlocalized == "ERROR" && !strings.HasPrefix(answer.Code, "57")
}

const uniqueViolation = "23505"

// asSaid gives the public names of rows.
func asSaid(rows []Row) []message.Said {
	said := make([]message.Said, len(rows))
	for i, r := range rows {
		said[i] = message.Said{Position: r.Position, ID: r.ID, Stream: r.Stream, Version: r.Version, Kind: r.Kind}
	}
	return said
}
