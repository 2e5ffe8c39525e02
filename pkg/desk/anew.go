package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/postgres"
)

// Rebuilding says how a room's tables are filled anew.
type Rebuilding struct {
	// OwnerURL is the database as the owner of the tables sees it: tables are made
	// and exchanged by their owner, and filled by the application.
	OwnerURL string
	// Batch is how many events are applied in one transaction; 0 means 1000.
	Batch int
	// Progress is told now and then how far it is; it may be nil.
	Progress func(Progress)
}

// Progress says how far a rebuild is.
type Progress struct {
	Position, Last int64
	Rate           float64       // events a second since it began
	Left           time.Duration // at that rate
	Waits          bool          // all is filled, and somebody still reads the old tables
}

const (
	ordinaryBatch = 1000
	// swapFor is how long the exchange of the tables waits for those who are
	// reading; whoever comes meanwhile waits behind it for as long. It is shorter
	// than the time after which PostgreSQL looks for a deadlock (1 s), so that the
	// exchange is what gives way.
	swapFor = 200 * time.Millisecond
	// swapAgain is the pause before the exchange is tried again, and swapTries how
	// often: about ten minutes, longer than a backup of a club's book reads.
	swapAgain = 300 * time.Millisecond
	swapTries = 1200
)

// Rebuild fills tables beside the room's live ones from the book, in batches with
// a cursor of their own, and puts them in the live ones' place in one short
// transaction under the live cursor's lock. Until then everybody reads the live
// tables, which go on following the book; an error or a crash leaves them alone.
func (d *Desk) Rebuild(ctx context.Context, how Rebuilding) (err error) {
	if how.Batch == 0 {
		how.Batch = ordinaryBatch
	}
	owner, err := pgx.Connect(ctx, how.OwnerURL)
	if err != nil {
		return fmt.Errorf("connecting as the owner of the tables: %w", err)
	}
	defer func() { _ = owner.Close(context.WithoutCancel(ctx)) }()
	var alone bool
	err = owner.QueryRow(ctx, `SELECT pg_try_advisory_lock(hashtextextended($1, 0))`, "refloat/"+d.Room+"/rebuild").Scan(&alone)
	if err == nil && !alone {
		err = fmt.Errorf("the tables of the %s room are being filled anew already", d.Room)
	}
	if err != nil {
		return err
	}
	r := &rebuild{Rebuilding: how, d: d, owner: owner, schema: anew(d.Room), begun: time.Now()}
	if err := r.lay(ctx); err != nil {
		return fmt.Errorf("making tables beside those of the %s room: %w", d.Room, err)
	}
	defer func() {
		_, dropped := owner.Exec(context.WithoutCancel(ctx), `DROP SCHEMA IF EXISTS `+r.schema+` CASCADE; SELECT pg_advisory_unlock_all()`)
		err = errors.Join(err, dropped)
	}()
	return r.fillAndSwap(ctx)
}

// anew names the schema beside a room's own.
func anew(room string) string { return room + "_anew" }

type rebuild struct {
	Rebuilding
	d      *Desk
	owner  *pgx.Conn
	schema string
	begun  time.Time
	at     int64 // the last position applied
}

// lay makes empty tables beside the live ones, with the same columns, defaults,
// constraints, indexes and rights under the same names: a later migration finds
// what an earlier one made.
func (r *rebuild) lay(ctx context.Context) error {
	live := r.d.Room
	statements := []string{
		`DROP SCHEMA IF EXISTS ` + r.schema + ` CASCADE`, // of an attempt that was cut off
		`CREATE SCHEMA ` + r.schema,
		`GRANT USAGE ON SCHEMA ` + r.schema + ` TO ` + postgres.App,
	}
	for _, table := range append([]string{"cursor", "stopped", "passed_over"}, r.d.Tables()...) {
		statements = append(statements, `CREATE TABLE `+r.schema+`.`+table+` (LIKE `+live+`.`+table+` INCLUDING ALL EXCLUDING INDEXES)`)
		for _, query := range []string{likeConstraints, likeIndexes, likeGrants} {
			rows, err := r.owner.Query(ctx, query, live, table, r.schema)
			if err != nil {
				return err
			}
			more, err := pgx.CollectRows(rows, pgx.RowTo[string])
			if err != nil {
				return err
			}
			for _, statement := range more {
				statements = append(statements, r.d.redirect(statement, r.schema))
			}
		}
	}
	statements = append(statements, fmt.Sprintf(`INSERT INTO %s.cursor (name, position) VALUES ('%s', 0)`, r.schema, tablesCursor))
	return pgx.BeginFunc(ctx, r.owner, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, strings.Join(statements, ";\n"))
		return err
	})
}

// These give statements that make, for a table of another schema, what a live one
// has. The table's own name in them is redirected afterwards.
const (
	likeConstraints = `
		SELECT format('ALTER TABLE %I.%I ADD CONSTRAINT %I %s', $3::text, relname, conname, pg_get_constraintdef(c.oid))
		FROM pg_constraint c JOIN pg_class t ON t.oid = conrelid JOIN pg_namespace n ON n.oid = relnamespace
		WHERE nspname = $1 AND relname = $2 AND contype IN ('p', 'u', 'x', 'f') ORDER BY contype = 'f', conname`
	likeIndexes = `
		SELECT replace(pg_get_indexdef(indexrelid), format(' ON %I.%I ', nspname, relname), format(' ON %I.%I ', $3::text, relname))
		FROM pg_index i JOIN pg_class t ON t.oid = indrelid JOIN pg_namespace n ON n.oid = relnamespace
		WHERE nspname = $1 AND relname = $2 AND NOT EXISTS (SELECT FROM pg_constraint WHERE conindid = indexrelid) ORDER BY indexrelid`
	likeGrants = `
		SELECT format('GRANT %s ON %I.%I TO %I', string_agg(privilege_type, ', '), $3::text, relname, rolname)
		FROM pg_class t JOIN pg_namespace n ON n.oid = relnamespace, aclexplode(relacl) JOIN pg_roles r ON r.oid = grantee
		WHERE nspname = $1 AND relname = $2 AND grantee <> relowner GROUP BY relname, rolname ORDER BY rolname`
)

// fillAndSwap fills the tables up to where the book ends, and exchanges them
// for the live ones when little has come meanwhile.
func (r *rebuild) fillAndSwap(ctx context.Context) error {
	for try := 0; ; try++ {
		if err := r.fill(ctx); err != nil {
			return err
		}
		swapped, err := r.swap(ctx)
		if swapped || err != nil {
			return err
		}
		if try == swapTries {
			return fmt.Errorf("the new tables of the %s room are filled, and cannot take the place of the old ones: somebody has read those for long (a backup, perhaps); try again when that is over", r.d.Room)
		}
		r.tell(r.at, true)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(swapAgain):
		}
	}
}

// fill applies events until the book has no more.
func (r *rebuild) fill(ctx context.Context) error {
	for {
		events, err := r.d.Log.After(ctx, r.at, r.Batch)
		if err != nil || len(events) == 0 {
			return err
		}
		if _, err := r.d.take(ctx, r.d.Pool, r.schema, events); err != nil {
			return err
		}
		r.at = events[len(events)-1].Position
		head, err := r.d.Log.Head(ctx)
		if err != nil {
			return err
		}
		r.tell(head.Position, false)
	}
}

func (r *rebuild) tell(last int64, waits bool) {
	if r.Progress == nil {
		return
	}
	p := Progress{Position: r.at, Last: last, Waits: waits, Rate: float64(r.at) / max(time.Since(r.begun).Seconds(), 1e-9)}
	p.Left = time.Duration(float64(last-r.at) / p.Rate * float64(time.Second))
	r.Progress(p)
}

// swap puts the filled tables into the place of the live ones, unless too much
// was written meanwhile or somebody reads the live ones for long.
func (r *rebuild) swap(ctx context.Context) (swapped bool, err error) {
	for _, table := range r.d.Tables() {
		// New tables have no statistics, and the first readers would get bad plans.
		if _, err := r.owner.Exec(ctx, `ANALYZE `+r.schema+`.`+table); err != nil {
			return false, err
		}
	}
	var at int64
	err = pgx.BeginFunc(ctx, r.owner, func(tx pgx.Tx) error {
		at, err = r.swapIn(ctx, tx)
		return err
	})
	var refused *pgconn.PgError
	switch {
	case err == nil:
		r.d.heard.reached(at)
		return true, nil
	case errors.Is(err, errBehind), errors.As(err, &refused) && refused.Code == lockNotAvailable:
		return false, nil
	}
	return false, err
}

// lockNotAvailable is PostgreSQL's code for a lock that was not got in time.
const lockNotAvailable = "55P03"

// errBehind says that the live tables are ahead by more than a batch.
var errBehind = errors.New("the live tables are far ahead")

// swapIn exchanges the tables inside a transaction and gives the position at which
// the new ones stand.
func (r *rebuild) swapIn(ctx context.Context, tx pgx.Tx) (at int64, err error) {
	if _, err := tx.Exec(ctx, fmt.Sprintf(`SET LOCAL lock_timeout = '%dms'`, swapFor.Milliseconds())); err != nil {
		return 0, err
	}
	// The cursor's lock keeps a running room from applying events meanwhile.
	var live int64
	err = tx.QueryRow(ctx, `SELECT position FROM `+r.d.Room+`.cursor WHERE name = $1 FOR UPDATE`, tablesCursor).Scan(&live)
	if err != nil {
		return 0, err
	}
	if at, err = r.catchUp(ctx, tx, live); err != nil {
		return 0, err
	}
	tables := r.d.Tables()
	exchange := fmt.Sprintf(`DELETE FROM %[1]s.passed_over WHERE part = '%[3]s'; INSERT INTO %[1]s.passed_over SELECT * FROM %[2]s.passed_over; DROP TABLE %[1]s.%[4]s`,
		r.d.Room, r.schema, tablesCursor, strings.Join(tables, ", "+r.d.Room+"."))
	for _, table := range tables {
		exchange += fmt.Sprintf("; ALTER TABLE %s.%s SET SCHEMA %s", r.schema, table, r.d.Room)
	}
	if _, err := tx.Exec(ctx, exchange); err != nil {
		return 0, err
	}
	return at, r.d.moveCursor(ctx, tx, r.d.Room, at)
}

// catchUp applies what the live tables have taken in since the last batch, and
// gives where the new tables then stand.
func (r *rebuild) catchUp(ctx context.Context, tx pgx.Tx, live int64) (int64, error) {
	if live <= r.at {
		return r.at, nil
	}
	if live-r.at > ordinaryBatch {
		return 0, errBehind
	}
	events, err := r.d.Log.After(ctx, r.at, int(live-r.at))
	if err != nil {
		return 0, err
	}
	return r.d.take(ctx, tx, r.schema, events)
}

// rebuilding gives how far a rebuild of a room is, nil when there is none. A
// rebuild that was killed is told like one that runs, until the next.
func rebuilding(ctx context.Context, pool *pgxpool.Pool, room string) (*int64, error) {
	var there bool
	err := pool.QueryRow(ctx, `SELECT to_regclass($1) IS NOT NULL`, anew(room)+".cursor").Scan(&there)
	if err != nil || !there {
		return nil, err
	}
	var at int64
	err = pool.QueryRow(ctx, `SELECT position FROM `+anew(room)+`.cursor WHERE name = $1`, tablesCursor).Scan(&at)
	if errors.Is(err, pgx.ErrNoRows) || missingTable(err) {
		return nil, nil // it ended between the two questions
	}
	return &at, err
}

// missingTable says whether a statement named a table that is not there.
func missingTable(err error) bool {
	var refused *pgconn.PgError
	return errors.As(err, &refused) && (refused.Code == "42P01" || refused.Code == "3F000")
}
