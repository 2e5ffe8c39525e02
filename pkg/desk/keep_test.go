package desk_test

import (
	"context"
	"fmt"
	"testing"
	"testing/fstest"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
)

// A room that keeps a document a boat, the positions of its events, and counts in
// the database how often the row was written.
var keptMigrations = fstest.MapFS{"migrations/00002_kept.sql": {Data: []byte(`-- +goose Up
CREATE TABLE repair.doc (boat text PRIMARY KEY, positions text NOT NULL);
CREATE TABLE repair.written (times int NOT NULL);
INSERT INTO repair.written VALUES (0);
-- +goose StatementBegin
CREATE FUNCTION repair.note() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS $$
BEGIN UPDATE repair.written SET times = times + 1; RETURN NEW; END $$;
-- +goose StatementEnd
CREATE TRIGGER note BEFORE INSERT ON repair.doc FOR EACH ROW EXECUTE FUNCTION repair.note();
GRANT SELECT, INSERT, UPDATE, DELETE ON repair.doc TO refloat_app;
`)}}

func keepingRoom(kit desk.Kit) *desk.Desk {
	d := desk.New("repair", kit, "doc")
	d.Projects(func(ctx context.Context, tx pgx.Tx, e message.Event, _ message.Body) error {
		if e.Boat == "bad" {
			return fmt.Errorf("a toy fault")
		}
		positions, err := desk.Document[string](ctx, tx, string(e.Boat), `SELECT positions FROM repair.doc WHERE boat = $1`, e.Boat)
		if err != nil {
			return err
		}
		positions += fmt.Sprintf("%d,", e.Position)
		return desk.Keep(ctx, tx, string(e.Boat), positions, `INSERT INTO repair.doc VALUES ($1, $2) ON CONFLICT (boat) DO UPDATE SET positions = excluded.positions`, e.Boat, positions)
	})
	return d
}

// Whatever the batches, a document ends the same; in a long batch it is written
// once for many events.
func TestADocumentIsWrittenOnceABatch(t *testing.T) {
	c := desktest.Start(t, desktest.Room{Name: "repair", Migrations: desk.Migrations("repair", keptMigrations), New: keepingRoom})
	room := c.Rooms["repair"]
	require.NoError(t, room.Stop(t.Context()))
	for i := range 40 {
		find(c, boat.ID(fmt.Sprint("b", i%2)))
	}
	book, err := c.Log.After(t.Context(), 0, 100)
	require.NoError(t, err)
	require.NoError(t, desk.ApplyBatch(room, t.Context(), book))
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.doc"))
	assert.Equal(t, "(2)", c.DB.Dump("repair.written"), "each once")
	for _, batch := range []int{1, 7} {
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: batch}, room))
		assert.Equal(t, wanted(t, c), c.DB.Dump("repair.doc"), "batches of %d", batch)
	}
}

// A batch that cannot be taken as a whole is taken event by event. What its documents
// had become in memory was not written, and does not count.
func TestADocumentOfABatchThatFailedIsReadAgain(t *testing.T) {
	c := desktest.Start(t, desktest.Room{Name: "repair", Migrations: desk.Migrations("repair", keptMigrations), New: keepingRoom})
	for _, b := range []boat.ID{"b0", "b1", "b0", "bad", "b0"} {
		find(c, b)
	}
	bad, err := c.Log.Event(t.Context(), 4)
	require.NoError(t, err)
	awaitStop(t, c, "repair")
	allowSkip(c, "repair", message.TablesPart, bad)
	c.Restart("repair")
	c.Settle()
	const want = "(\"\",\"6,\")\n(b0,\"1,3,5,\")\n(b1,\"2,\")"
	assert.Equal(t, want, c.DB.Dump("repair.doc"))
	for _, batch := range []int{1, 2, 5, 100} {
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: batch}, c.Rooms["repair"]))
		assert.Equal(t, want, c.DB.Dump("repair.doc"), "batches of %d", batch)
	}
}
