package desk_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// A room whose tables have everything that a table of ours may have: names of its
// own for constraints and indexes, a default, a check, a foreign key, rights that
// differ from table to table. Its projection reads before it writes.
var shapedMigrations = fstest.MapFS{"migrations/00002_shaped.sql": {Data: []byte(`-- +goose Up
CREATE TABLE repair.hull (
    boat  text CONSTRAINT one_hull_each PRIMARY KEY,
    count int  NOT NULL DEFAULT 0 CONSTRAINT never_below CHECK (count >= 0),
    last  bigint GENERATED ALWAYS AS (count * 2) STORED
);
CREATE INDEX by_count ON repair.hull (count DESC) WHERE count > 1;
CREATE TABLE repair.step (
    boat     text   NOT NULL CONSTRAINT of_a_hull REFERENCES repair.hull (boat),
    position bigint NOT NULL,
    CONSTRAINT one_step UNIQUE (boat, position)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON repair.hull TO refloat_app;
GRANT SELECT, INSERT ON repair.step TO refloat_app;
`)}}

func shapedRoom(kit desk.Kit) *desk.Desk {
	d := desk.New("repair", kit, "hull", "step")
	d.Projects(func(ctx context.Context, tx pgx.Tx, e message.Event, _ message.Body) error {
		if e.Boat == "" {
			return nil
		}
		var count int
		err := tx.QueryRow(ctx, `SELECT count FROM repair.hull WHERE boat = $1 FOR UPDATE`, e.Boat).Scan(&count)
		if err != nil && err != pgx.ErrNoRows {
			return err
		}
		exec := desk.Exec(ctx, tx)
		if err := exec(`INSERT INTO repair.hull (boat, count) VALUES ($1, $2) ON CONFLICT (boat) DO UPDATE SET count = $2`, e.Boat, count+1); err != nil {
			return err
		}
		return exec(`INSERT INTO repair.step VALUES ($1, $2)`, e.Boat, e.Position)
	})
	return d
}

func shapedMigrationsOf() fs.FS { return desk.Migrations("repair", shapedMigrations) }

func startShaped(t *testing.T) *desktest.Club {
	return desktest.Start(t, desktest.Room{Name: "repair", Migrations: shapedMigrationsOf(), New: shapedRoom})
}

// shape is everything about the tables of a schema but their rows.
func shape(c *desktest.Club, schema string) string {
	var parts []string
	for _, query := range []string{
		`(SELECT table_name, column_name, ordinal_position, data_type, column_default, is_nullable, generation_expression FROM information_schema.columns WHERE table_schema = '` + schema + `')`,
		`(SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = '` + schema + `')`,
		`(SELECT conrelid::regclass, conname, pg_get_constraintdef(oid) FROM pg_constraint WHERE connamespace = '` + schema + `'::regnamespace)`,
		`(SELECT relname, privilege_type, grantee::regrole FROM pg_class, aclexplode(relacl) WHERE relnamespace = '` + schema + `'::regnamespace AND relkind = 'r')`,
	} {
		parts = append(parts, c.DB.Dump(query))
	}
	return strings.Join(parts, "\n\n")
}

func hashOf(c *desktest.Club, tables ...string) string {
	sum := sha256.New()
	for _, table := range tables {
		fmt.Fprintf(sum, "%s\n%s\n", table, c.DB.Dump(table))
	}
	return fmt.Sprintf("%x", sum.Sum(nil))
}

// Tables that were filled anew are the live ones bit for bit at the same position,
// however many events a batch has, and in everything else too.
func TestNewTablesAreLikeTheOldOnes(t *testing.T) {
	c := startShaped(t)
	for i := range 41 {
		find(c, boat.ID(fmt.Sprint("b", i%5)))
	}
	c.Member(people.Repairer)
	c.Settle()
	tables := []string{"repair.hull", "repair.step", "repair.roster_role", "repair.cursor"}
	rows, form := hashOf(c, tables...), shape(c, "repair")
	require.Contains(t, form, "by_count", "what is compared is there")
	require.Contains(t, form, "never_below")
	for _, batch := range []int{1, 7, 1000} {
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: batch}, c.Rooms["repair"]))
		assert.Equal(t, rows, hashOf(c, tables...), "batches of %d", batch)
		assert.Equal(t, form, shape(c, "repair"), "batches of %d", batch)
	}
	assert.Empty(t, c.DB.Dump(`(SELECT 1 FROM pg_namespace WHERE nspname = 'repair_anew')`), "nothing is left beside them")
	find(c, "b1")
	c.Settle()
	assert.Contains(t, c.DB.Dump("repair.hull"), "(b1,9,18)", "the room goes on with the new tables")
}

// While tables are filled and exchanged, everybody finds whole tables: no fault, no
// empty one, and nothing of a position from which the room had gone on.
func TestARebuildIsNoGapInService(t *testing.T) {
	c := startShaped(t)
	const before = 30
	for range before {
		find(c, "b1")
	}
	c.Settle()
	done := make(chan struct{})
	var reading sync.WaitGroup
	for range 4 {
		reading.Go(func() {
			seen := before
			for {
				var count, steps int
				err := c.DB.Pool.QueryRow(context.Background(), `SELECT count, (SELECT count(*) FROM repair.step) FROM repair.hull WHERE boat = 'b1'`).Scan(&count, &steps)
				if !assert.NoError(t, err) || !assert.Equal(t, count, steps) || !assert.GreaterOrEqual(t, count, seen) {
					return
				}
				seen = count
				select {
				case <-done:
					return
				default:
				}
			}
		})
	}
	for range 6 {
		find(c, "b1")
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: 3}, c.Rooms["repair"]))
	}
	close(done)
	reading.Wait()
	c.Settle()
	assert.Contains(t, c.DB.Dump("repair.hull"), fmt.Sprintf("(b1,%d,", before+6))
}

// Somebody reads a table for long. The exchange waits for them, and lets others
// through meanwhile.
func TestTheExchangeWaitsForReaders(t *testing.T) {
	c := startShaped(t)
	find(c, "b1")
	c.Settle()
	long, err := c.DB.Pool.Begin(t.Context())
	require.NoError(t, err)
	_, err = long.Exec(t.Context(), `SELECT * FROM repair.hull`)
	require.NoError(t, err)
	waits := make(chan struct{})
	rebuilt := make(chan error, 1)
	go func() {
		var once sync.Once
		rebuilt <- desk.Rebuild(context.Background(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Progress: func(p desk.Progress) {
			if p.Waits {
				once.Do(func() { close(waits) })
			}
		}}, c.Rooms["repair"])
	}()
	<-waits
	begun := time.Now()
	find(c, "b1")
	c.Settle()
	assert.Contains(t, c.DB.Dump("repair.hull"), "(b1,2,4)", "others read and the room goes on")
	assert.Less(t, time.Since(begun), 10*time.Second)
	require.NoError(t, long.Rollback(t.Context()))
	require.NoError(t, <-rebuilt)
	assert.Contains(t, c.DB.Dump("repair.hull"), "(b1,2,4)")
}

// Guard: the cursor's lock in the exchange. A batch of the running room that is
// under way is waited for and taken in.
func TestTheExchangeTakesInWhatIsUnderWay(t *testing.T) {
	c := startShaped(t)
	room := c.Rooms["repair"]
	require.NoError(t, room.Stop(t.Context()))
	find(c, "b1")
	book, err := c.Log.After(t.Context(), 0, 10)
	require.NoError(t, err)
	require.NoError(t, desk.ApplyBatch(room, t.Context(), book))

	// Another instance of the room applies the next event, by hand.
	other, err := c.DB.Pool.Begin(t.Context())
	require.NoError(t, err)
	for _, sql := range []string{
		`SELECT position FROM repair.cursor WHERE name = 'tables' FOR UPDATE`,
		`UPDATE repair.hull SET count = 2 WHERE boat = 'b1'`, `INSERT INTO repair.step VALUES ('b1', 2)`,
		`UPDATE repair.cursor SET position = 2 WHERE name = 'tables'`,
	} {
		_, err := other.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	waits := make(chan struct{})
	rebuilt := make(chan error, 1)
	go func() {
		var once sync.Once
		rebuilt <- desk.Rebuild(context.Background(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Progress: func(p desk.Progress) {
			if p.Waits {
				once.Do(func() { close(waits) })
			}
		}}, room)
	}()
	<-waits
	find(c, "b1") // the event that the other instance has applied already
	require.NoError(t, other.Commit(t.Context()))
	require.NoError(t, <-rebuilt)
	assert.Equal(t, "(b1,2,4)", c.DB.Dump("repair.hull"))
	assert.Equal(t, "(b1,1)\n(b1,2)", c.DB.Dump("repair.step"))
	assert.Contains(t, c.DB.Dump("repair.cursor"), "(tables,2)")
}

// A rebuild that ends early leaves the live tables as they are, and what it left
// behind does not hinder the next.
func TestARebuildThatIsCutOffChangesNothing(t *testing.T) {
	c := startShaped(t)
	for range 9 {
		find(c, "b1")
	}
	c.Settle()
	before := hashOf(c, "repair.hull", "repair.step", "repair.cursor")
	ctx, cancel := context.WithCancel(t.Context())
	err := desk.Rebuild(ctx, desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: 2, Progress: func(p desk.Progress) {
		if p.Position >= 4 {
			cancel()
		}
	}}, c.Rooms["repair"])
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, before, hashOf(c, "repair.hull", "repair.step", "repair.cursor"))
	_, err = c.DB.Open(c.DB.OwnerURL).Exec(t.Context(), `CREATE SCHEMA repair_anew; CREATE TABLE repair_anew.hull (boat text)`) // as after kill -9
	require.NoError(t, err)
	c.RebuildIsTheSame("repair")
}

func TestOneRebuildOfARoomAtATime(t *testing.T) {
	c := startShaped(t)
	find(c, "b1")
	c.Settle()
	var second error
	err := desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Progress: func(desk.Progress) {
		second = desk.Rebuild(context.Background(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL}, c.Rooms["repair"])
	}}, c.Rooms["repair"])
	require.NoError(t, err)
	assert.ErrorContains(t, second, "filled anew already")
}

func TestProgressSaysHowFastAndHowLong(t *testing.T) {
	c := startShaped(t)
	for range 20 {
		find(c, "b1")
	}
	c.Settle()
	var told []desk.Progress
	require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: 5, Progress: func(p desk.Progress) {
		if p.Done {
			return
		}
		told = append(told, p)
		s, err := c.Rooms["repair"].Standing(context.Background())
		assert.NoError(t, err)
		if assert.NotNil(t, s.Rebuilding) {
			assert.Equal(t, p.Position, *s.Rebuilding, "status says it too")
		}
	}}, c.Rooms["repair"]))
	require.Len(t, told, 4)
	for i, p := range told {
		assert.EqualValues(t, 5*(i+1), p.Position)
		assert.EqualValues(t, 20, p.Last)
		assert.Positive(t, p.Rate)
		assert.InDelta(t, float64(20-p.Position)/p.Rate, p.Left.Seconds(), 1e-6)
	}
	s, err := c.Rooms["repair"].Standing(t.Context())
	require.NoError(t, err)
	assert.Nil(t, s.Rebuilding)
}
