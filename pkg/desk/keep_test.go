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
		positions, ok := desk.Kept[string](tx, string(e.Boat))
		if !ok {
			err := tx.QueryRow(ctx, `SELECT positions FROM repair.doc WHERE boat = $1`, e.Boat).Scan(&positions)
			if err != nil && err != pgx.ErrNoRows {
				return err
			}
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
	assert.LessOrEqual(t, len(c.DB.Dump("repair.written")), len("(9)"), "two documents, not forty statements")
	assert.Equal(t, "(3)", c.DB.Dump("repair.written"), "the first before the second is asked for, then each once")
	for _, batch := range []int{1, 7} {
		require.NoError(t, room.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: batch}))
		assert.Equal(t, wanted(t, c), c.DB.Dump("repair.doc"), "batches of %d", batch)
	}
}
