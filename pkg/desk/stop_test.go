package desk_test

import (
	"context"
	"fmt"
	"io/fs"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// A room that lists what is put right, and cannot take the words "poison" (its
// statement is refused), "panic" (it panics) and "react" (it cannot react). mended
// makes it a program that can.
type fragile struct{ mended bool }

func (f *fragile) migrations(room string) fs.FS {
	return desk.Migrations(room, fstest.MapFS{"migrations/00002_words.sql": {Data: []byte(`-- +goose Up
CREATE TABLE ` + room + `.words (position bigint PRIMARY KEY, why text NOT NULL CHECK (why <> 'poison'));
GRANT SELECT, INSERT, UPDATE, DELETE ON ` + room + `.words TO refloat_app;
`)}})
}

func (f *fragile) room(name string, sound bool) desktest.Room {
	return desktest.Room{Name: name, Migrations: f.migrations(name), New: func(kit desk.Kit) *desk.Desk {
		d := desk.New(name, kit, "words")
		d.Projects(func(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
			b, ok := body.(message.FactsCorrected)
			if !ok {
				return nil
			}
			if b.Why == "panic" && !sound && !f.mended {
				panic("a toy panic")
			}
			if b.Why == "poison" && (sound || f.mended) {
				b.Why = "poison, taken"
			}
			return desk.Exec(ctx, tx)(`INSERT INTO `+name+`.words VALUES ($1, $2)`, e.Position, b.Why)
		})
		d.Reacts(func(_ context.Context, _ message.Event, body message.Body) error {
			if b, ok := body.(message.FactsCorrected); ok && b.Why == "react" && !sound && !f.mended {
				return fmt.Errorf("a toy fault")
			}
			return nil
		})
		return d
	}}
}

func startFragile(t *testing.T) (*desktest.Club, *fragile) {
	f := &fragile{}
	return desktest.Start(t, f.room("repair", false), f.room("intake", true)), f
}

func correct(c *desktest.Club, why string) message.Event {
	return c.Say("intake.boat/b1", "b1", message.FactsCorrected{Boat: "b1", Why: why})
}

func allowSkip(c *desktest.Club, room, part string, of message.Event) {
	c.Say(message.Skips(room), "", message.SkipAllowed{Room: room, Part: part, Position: of.Position, Event: string(of.Kind), Why: "a test"})
}

func awaitStop(t *testing.T, c *desktest.Club, room string) message.Stop {
	t.Helper()
	var s message.Standing
	require.Eventually(t, func() bool {
		var err error
		s, err = c.Rooms[room].Standing(context.Background())
		require.NoError(t, err)
		return len(s.Stopped) > 0
	}, time.Minute, 5*time.Millisecond)
	return s.Stopped[0]
}

// One event that one room cannot take: that room says which, what stands before it
// is there, and the other rooms go on.
func TestAnEventThatCannotBeTakenStopsItsRoomAlone(t *testing.T) {
	for _, why := range []string{"poison", "panic"} {
		t.Run(why, func(t *testing.T) {
			c, f := startFragile(t)
			correct(c, "first")
			bad := correct(c, why)
			last := correct(c, "last")
			stop := awaitStop(t, c, "repair")
			assert.Equal(t, message.TablesPart, stop.Part)
			assert.Equal(t, bad.Position, stop.Position)
			assert.Equal(t, "intake.facts-corrected", stop.Event)
			assert.Contains(t, stop.Error, fmt.Sprintf("the repair tables stop at event %d (intake.facts-corrected)", bad.Position))
			assert.Equal(t, c.Clock.Now(), stop.Since)
			assert.Equal(t, "(1,first)", c.DB.Dump("repair.words"))
			require.NoError(t, c.Rooms["intake"].Heard(t.Context(), last.Position))
			assert.Contains(t, c.DB.Dump("intake.words"), "(3,last)")

			err := c.Rooms["repair"].Heard(t.Context(), last.Position)
			assert.ErrorContains(t, err, "cannot take event 2 of the book", "whoever waits is told")

			// A mended program goes on by itself.
			f.mended = true
			c.Restart("repair")
			c.Settle()
			s, err := c.Rooms["repair"].Standing(t.Context())
			require.NoError(t, err)
			assert.Empty(t, s.Stopped)
			assert.Empty(t, s.PassedOver)
			assert.Contains(t, c.DB.Dump("repair.words"), "(3,last)")
		})
	}
}

// What an administrator allowed is passed over, by the live tables and by new ones
// alike, and is told from then on. Rights that the event gives are not lost.
func TestASkippedEventIsLeftOutUntilTheProgramIsMended(t *testing.T) {
	c, f := startFragile(t)
	bad := correct(c, "poison")
	correct(c, "last")
	awaitStop(t, c, "repair")
	allowSkip(c, "repair", message.ReactionsPart, bad)
	allowSkip(c, "intake", message.TablesPart, bad)
	var done []string
	require.ErrorContains(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Progress: func(p desk.Progress) {
		if p.Done {
			done = append(done, p.Room)
		}
	}}, c.Rooms["repair"], c.Rooms["intake"]),
		"new tables for the repair room cannot take event 1 (intake.facts-corrected), so the old ones stay")
	assert.Equal(t, []string{"intake"}, done, "a room that can take it has its new tables")
	assert.NotEmpty(t, awaitStop(t, c, "repair"), "skips for others change nothing")

	allowSkip(c, "repair", message.TablesPart, bad)
	c.Restart("repair")
	c.Settle()
	s, err := c.Rooms["repair"].Standing(t.Context())
	require.NoError(t, err)
	assert.Empty(t, s.Stopped)
	require.Len(t, s.PassedOver, 1)
	assert.Equal(t, bad.Position, s.PassedOver[0].Position)
	assert.Equal(t, "(2,last)", c.DB.Dump("repair.words"))
	for _, batch := range []int{1, 7, 1000} {
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: batch}, c.Rooms["repair"]))
		assert.Equal(t, "(2,last)", c.DB.Dump("repair.words"))
	}
	s, err = c.Rooms["repair"].Standing(t.Context())
	require.NoError(t, err)
	require.Len(t, s.PassedOver, 1, "new tables lack it too, and say so")

	f.mended = true
	require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL}, c.Rooms["repair"]))
	assert.Equal(t, "(1,\"poison, taken\")\n(2,last)", c.DB.Dump("repair.words"))
	s, err = c.Rooms["repair"].Standing(t.Context())
	require.NoError(t, err)
	assert.Empty(t, s.PassedOver)
	assert.Contains(t, c.DB.Dump("intake.words"), "poison, taken", "who can take an event takes it, whatever was allowed")
}

func TestAReactionThatCannotBeDoneIsNamedAndSkipped(t *testing.T) {
	c, _ := startFragile(t)
	bad := correct(c, "react")
	last := correct(c, "last")
	stop := awaitStop(t, c, "repair")
	assert.Equal(t, message.ReactionsPart, stop.Part)
	assert.Equal(t, bad.Position, stop.Position)
	assert.ErrorContains(t, fmt.Errorf("%s", stop.Error), "cannot react to event 1 (intake.facts-corrected): a toy fault")
	require.NoError(t, c.Rooms["repair"].Heard(t.Context(), last.Position), "the tables go on")
	allowSkip(c, "repair", message.ReactionsPart, bad)
	c.Restart("repair")
	c.Settle()
	s, err := c.Rooms["repair"].Standing(t.Context())
	require.NoError(t, err)
	assert.Empty(t, s.Stopped)
	require.Len(t, s.PassedOver, 1)
	assert.Equal(t, message.ReactionsPart, s.PassedOver[0].Part)
	require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL}, c.Rooms["repair"]))
	s, err = c.Rooms["repair"].Standing(t.Context())
	require.NoError(t, err)
	assert.Len(t, s.PassedOver, 1, "new tables do not make up for what was never said")
}

// Guard: passing, which tells an event that cannot be taken from a database that
// went away. A skip that stands must not be used because a connection broke.
func TestALostConnectionIsNoReasonToSkip(t *testing.T) {
	c, f := startFragile(t)
	f.mended = true
	require.NoError(t, c.Rooms["repair"].Stop(t.Context()))
	good := correct(c, "first")
	allowSkip(c, "repair", message.TablesPart, good)
	book, err := c.Log.After(t.Context(), 0, 1)
	require.NoError(t, err)
	c.DB.Exec(`
		CREATE FUNCTION repair.hang_up() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS $$
		BEGIN PERFORM pg_terminate_backend(pg_backend_pid()); RETURN NEW; END $$;
		CREATE TRIGGER hang_up BEFORE INSERT ON repair.words FOR EACH ROW EXECUTE FUNCTION repair.hang_up()`)
	require.Error(t, desk.ApplyBatch(c.Rooms["repair"], t.Context(), book))
	assert.Contains(t, c.DB.Dump("repair.cursor"), "(tables,0)")
	assert.Empty(t, c.DB.Dump("repair.passed_over"))
	assert.Empty(t, c.DB.Dump("repair.stopped"))
	c.DB.Exec(`DROP TRIGGER hang_up ON repair.words`)
	require.NoError(t, desk.ApplyBatch(c.Rooms["repair"], t.Context(), book))
	assert.Equal(t, "(1,first)", c.DB.Dump("repair.words"))
}

// Guard: the row lock on the cursor in takeTogether. Another instance has the
// cursor and moves it while this one waits.
func TestABatchWaitsForAnotherInstance(t *testing.T) {
	c := startTrail(t)
	room := c.Rooms["repair"]
	require.NoError(t, room.Stop(t.Context()))
	e := find(c, "b1")
	other, err := c.DB.Pool.Begin(t.Context())
	require.NoError(t, err)
	for _, sql := range []string{
		`SELECT position FROM repair.cursor WHERE name = 'tables' FOR UPDATE`,
		`INSERT INTO repair.trail VALUES ('b1', '1,')`, `UPDATE repair.cursor SET position = 1 WHERE name = 'tables'`,
	} {
		_, err := other.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	applied := make(chan error, 1)
	go func() { applied <- desk.ApplyBatch(room, context.Background(), []message.Event{e}) }()
	require.Eventually(t, func() bool {
		return c.DB.Dump(`(SELECT 1 FROM pg_locks WHERE NOT granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
			UNION ALL SELECT 1 FROM pg_locks l JOIN pg_stat_activity a USING (pid) WHERE NOT granted AND a.datname = current_database())`) != ""
	}, time.Minute, 5*time.Millisecond, "it waits")
	require.NoError(t, other.Commit(t.Context()))
	require.NoError(t, <-applied)
	assert.Equal(t, `(b1,"1,")`, c.DB.Dump("repair.trail"))
}

// Who may ask a room how it stands, and that it answers while it is stopped.
func TestHowARoomStandsIsForOverseers(t *testing.T) {
	c, _ := startFragile(t)
	admin := c.Member(people.Administrator)
	c.Settle()
	bad := correct(c, "poison")
	awaitStop(t, c, "repair")
	ask := func(by people.Actor) (message.Standing, error) {
		return desk.Ask[message.Standing](t.Context(), c.Client, desk.Asking{By: by}, message.AskStanding{Room: "repair"})
	}
	s, err := ask(admin)
	require.NoError(t, err)
	assert.Equal(t, bad.Position-1, s.Tables)
	require.Len(t, s.Stopped, 1)
	for _, by := range []people.Actor{people.Service(desk.Pages), {}, {Link: "x"}} {
		_, err := ask(by)
		assert.Contains(t, []fault.Kind{fault.SignIn, fault.Forbidden}, fault.Of(err).Kind)
	}
}
