package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
)

// Rebuilding says how the tables of rooms are filled anew.
type Rebuilding struct {
	// OwnerURL is the database as the owner of the tables sees it: tables are made
	// and exchanged by their owner, and filled by the application.
	OwnerURL string
	// Batch is how many events are applied in one transaction; 0 means 2000.
	Batch int
	// Progress is told now and then how far it is, once at a time; it may be nil.
	Progress func(Progress)
}

// Progress says how far a rebuild is.
type Progress struct {
	Room           string // whose tables it is about; empty while those of all rooms are filled
	Position, Last int64
	Rate           float64       // events a second since it began
	Left           time.Duration // at that rate
	Waits          bool          // all is filled, and somebody still reads the old tables
	Done           bool          // the new tables are in the old ones' place
}

const (
	ordinaryBatch = 2000
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

// Rebuild fills tables beside the live ones of rooms from the book, in batches with a
// cursor of their own, and puts them in the live ones' place, for each room in one short
// transaction under the live cursor's lock. Until then everybody reads the live tables,
// which go on following the book; an error or a crash leaves them alone.
//
// The book is read once for all rooms, which take each batch side by side. A room that
// cannot take an event is left out from there on; the error names it.
func Rebuild(ctx context.Context, how Rebuilding, rooms ...*Desk) (err error) {
	how.Batch = cmp.Or(how.Batch, ordinaryBatch)
	a := &rebuilds{Rebuilding: how, begun: time.Now()}
	defer func() {
		for _, r := range a.rooms {
			r.end(ctx)
			if r.err != nil {
				err = errors.Join(err, fmt.Errorf("filling the tables of the %s room anew: %w", r.d.Room, r.err))
			}
		}
	}()
	for _, d := range rooms {
		a.rooms = append(a.rooms, &rebuild{rebuilds: a, d: d, schema: anew(d.Room), known: &memory{whole: true}})
	}
	a.each(func(r *rebuild) error { return r.begin(ctx) })
	if err := a.fill(ctx); err != nil {
		return err
	}
	a.each(func(r *rebuild) error { return r.fillAndSwap(ctx) })
	return nil
}

// rebuilds is what the rooms of a rebuild have in common.
type rebuilds struct {
	Rebuilding
	rooms   []*rebuild
	begun   time.Time
	telling sync.Mutex
}

// each does something for every room that has no error yet, side by side, and says how
// many those were.
func (a *rebuilds) each(do func(*rebuild) error) (going int) {
	var all sync.WaitGroup
	for _, r := range a.rooms {
		if r.err == nil {
			going++
			all.Go(func() { r.err = do(r) })
		}
	}
	all.Wait()
	return going
}

// rebuild is that of one room.
type rebuild struct {
	*rebuilds
	d      *Desk
	schema string
	owner  *pgx.Conn
	app    *pgx.Conn
	known  *memory
	laid   bool
	at     int64 // the last position applied
	err    error
}

// begin connects and makes the empty tables.
func (r *rebuild) begin(ctx context.Context) (err error) {
	if r.owner, err = pgx.Connect(ctx, r.OwnerURL); err != nil {
		return fmt.Errorf("connecting as the owner of the tables: %w", err)
	}
	var alone bool
	err = r.owner.QueryRow(ctx, `SELECT pg_try_advisory_lock(hashtextextended($1, 0))`, "refloat/"+r.d.Room+"/rebuild").Scan(&alone)
	if err == nil && !alone {
		err = fmt.Errorf("the tables of the %s room are being filled anew already", r.d.Room)
	}
	if err != nil {
		return err
	}
	if r.app, err = pgx.ConnectConfig(ctx, r.d.Pool.Config().ConnConfig.Copy()); err != nil {
		return fmt.Errorf("connecting to fill tables: %w", err)
	}
	// What a crash takes of tables that are not in use yet is filled again.
	if _, err = r.app.Exec(ctx, `SET synchronous_commit = off`); err != nil {
		return err
	}
	if err := r.lay(ctx); err != nil {
		return fmt.Errorf("making tables beside those of the %s room: %w", r.d.Room, err)
	}
	r.laid = true
	return nil
}

// end takes away what is left beside the live tables.
func (r *rebuild) end(ctx context.Context) {
	ctx = context.WithoutCancel(ctx)
	if r.laid {
		_, err := r.owner.Exec(ctx, `DROP SCHEMA IF EXISTS `+r.schema+` CASCADE; SELECT pg_advisory_unlock_all()`)
		r.err = errors.Join(r.err, err)
	}
	for _, conn := range []*pgx.Conn{r.app, r.owner} {
		if conn != nil {
			_ = conn.Close(ctx)
		}
	}
}

// anew names the schema beside a room's own.
func anew(room string) string { return room + "_anew" }

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
		if err := r.fillRest(ctx); err != nil {
			return err
		}
		swapped, err := r.swap(ctx)
		if err != nil {
			return err
		}
		if swapped {
			r.tell(Progress{Room: r.d.Room, Position: r.at, Last: r.at, Done: true})
			return nil
		}
		if try == swapTries {
			return fmt.Errorf("the new tables of the %s room are filled, and cannot take the place of the old ones: somebody has read those for long (a backup, perhaps); try again when that is over", r.d.Room)
		}
		r.tell(Progress{Room: r.d.Room, Position: r.at, Last: r.at, Waits: true})
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(swapAgain):
		}
	}
}

// fill applies the book to the tables of all rooms, batch by batch, as far as it goes
// now. While the rooms take one batch the next is read.
func (a *rebuilds) fill(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	batches, reading := make(chan []read), make(chan error, 1)
	book := a.rooms[0].d.Log
	go func() {
		defer close(batches)
		reading <- readBatches(ctx, book, a.Batch, batches)
	}()
	for events := range batches {
		if a.each(func(r *rebuild) error { return r.take(ctx, events) }) == 0 {
			return nil // what stopped them is said of each
		}
		head, err := book.Head(ctx)
		if err != nil {
			return err
		}
		a.tell(Progress{Position: events[len(events)-1].Position, Last: head.Position})
	}
	return <-reading
}

func readBatches(ctx context.Context, book *ledger.Log, most int, to chan<- []read) error {
	for at := int64(0); ; {
		events, err := book.After(ctx, at, most)
		if err != nil || len(events) == 0 {
			return err
		}
		at = events[len(events)-1].Position
		select {
		case to <- readAll(events):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func (r *rebuild) take(ctx context.Context, events []read) error {
	if _, err := r.d.take(ctx, r.app, r.schema, events, r.known); err != nil {
		return err
	}
	r.at = events[len(events)-1].Position
	return nil
}

// fillRest applies what has come since, until the book has no more.
func (r *rebuild) fillRest(ctx context.Context) error {
	for {
		events, err := r.d.Log.After(ctx, r.at, r.Batch)
		if err != nil || len(events) == 0 {
			return err
		}
		if err := r.take(ctx, readAll(events)); err != nil {
			return err
		}
	}
}

func (a *rebuilds) tell(p Progress) {
	if a.Progress == nil {
		return
	}
	p.Rate = float64(p.Position) / max(time.Since(a.begun).Seconds(), 1e-9)
	p.Left = time.Duration(float64(p.Last-p.Position) / p.Rate * float64(time.Second))
	a.telling.Lock()
	defer a.telling.Unlock()
	a.Progress(p)
}

// swap puts the filled tables into the place of the live ones, unless too much
// was written meanwhile or somebody reads the live ones for long.
func (r *rebuild) swap(ctx context.Context) (swapped bool, err error) {
	// New tables have no statistics, and the first readers would get bad plans.
	if _, err := r.owner.Exec(ctx, `ANALYZE `+r.schema+`.`+strings.Join(r.d.Tables(), `, `+r.schema+`.`)); err != nil {
		return false, err
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
	// Its own memory: this transaction may come to nothing.
	return r.d.take(ctx, tx, r.schema, readAll(events), nil)
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
