package desk_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// The trail of a boat holds the position of each event about it, in the order in
// which they were applied: whatever is applied twice, too late or not at all shows.
var trailMigrations = fstest.MapFS{"migrations/00002_trail.sql": {Data: []byte(`-- +goose Up
CREATE TABLE repair.trail (boat text PRIMARY KEY, positions text NOT NULL);
GRANT SELECT, INSERT, UPDATE, DELETE ON repair.trail TO refloat_app;
`)}}

func trailRoom(kit desk.Kit) *desk.Desk {
	d := desk.New("repair", kit, "trail")
	d.Projects(func(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
		if b, ok := body.(message.DefectWithdrawn); ok && b.Why == "unreadable" {
			return fmt.Errorf("a toy fault")
		}
		_, err := tx.Exec(ctx, `INSERT INTO repair.trail VALUES ($1, $2) ON CONFLICT (boat) DO UPDATE SET positions = trail.positions || excluded.positions`,
			e.Boat, fmt.Sprintf("%d,", e.Position))
		return err
	})
	d.Reacts(func(ctx context.Context, e message.Event, body message.Body) error {
		b, ok := body.(message.DefectWithdrawn)
		if !ok {
			return nil
		}
		var say desk.Decision
		if err := say.Say("repair.boat/"+string(b.Boat), b.Boat, message.WorkFinished{Boat: b.Boat, Work: b.Finding, Words: "not needed"}); err != nil {
			return err
		}
		return d.Say(ctx, e, "withdrawn", say)
	})
	return d
}

func startTrail(t *testing.T) *desktest.Club {
	return desktest.Start(t, desktest.Room{Name: "repair", Migrations: desk.Migrations("repair", trailMigrations), New: trailRoom})
}

// find says that a finding was made, which the toy room does not react to.
func find(c *desktest.Club, of boat.ID) message.Event {
	return c.Say("intake.boat/"+string(of), string(of), message.FactsCorrected{Boat: of, Why: "measured again"})
}

// wanted is the trail as the book says it.
func wanted(t *testing.T, c *desktest.Club) string {
	t.Helper()
	trail := map[string]string{}
	require.NoError(t, c.Log.Each(t.Context(), 0, 0, func(e message.Event) error {
		trail[string(e.Boat)] += fmt.Sprintf("%d,", e.Position)
		return nil
	}))
	var lines []string
	for of, positions := range trail {
		lines = append(lines, fmt.Sprintf("(%s,%q)", of, positions))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// Guards: the comparison with the cursor in applyBatch, and its gap check. A room
// whose stream is stopped is handed the book in pieces that overlap, come again,
// come too early, and come from long ago.
func TestTablesTakeEachEventOnceAndInOrder(t *testing.T) {
	c := startTrail(t)
	room := c.Rooms["repair"]
	require.NoError(t, room.Stop(t.Context()))
	for i := range 40 {
		find(c, boat.ID(fmt.Sprint("b", i%3)))
	}
	book, err := c.Log.After(t.Context(), 0, 100)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(20260401, 9))
	taken, refused := 0, 0
	for at := 0; at < len(book); {
		from := max(0, at-6+rng.IntN(10))
		to := min(len(book), from+1+rng.IntN(8))
		if from >= to {
			continue
		}
		err := desk.ApplyBatch(room, t.Context(), book[from:to])
		if from > at {
			require.ErrorContains(t, err, fmt.Sprintf("stand at %d and are given event %d", at, from+1))
			refused++
			continue
		}
		require.NoError(t, err)
		taken++
		at = max(at, to)
	}
	assert.Positive(t, refused)
	assert.Greater(t, taken, 5)
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"))
	require.NoError(t, desk.ApplyBatch(room, t.Context(), book))
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"), "all of it again")
}

func TestABatchOutOfOrderIsRefusedAsAWhole(t *testing.T) {
	c := startTrail(t)
	room := c.Rooms["repair"]
	require.NoError(t, room.Stop(t.Context()))
	first, second, third := find(c, "b1"), find(c, "b1"), find(c, "b1")
	require.Error(t, desk.ApplyBatch(room, t.Context(), []message.Event{first, third, second}))
	assert.Empty(t, c.DB.Dump("repair.trail"))
	require.NoError(t, desk.ApplyBatch(room, t.Context(), []message.Event{first, second, third}))
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"))
}

// Guard: one transaction for the tables and the cursor. The last event of a batch
// cannot be applied: what stands before it is, and the room says where it stops.
func TestTablesAndCursorMoveTogether(t *testing.T) {
	c := startTrail(t)
	room := c.Rooms["repair"]
	require.NoError(t, room.Stop(t.Context()))
	good := find(c, "b1")
	bad := c.Say("intake.boat/b1", "b1", message.DefectWithdrawn{Boat: "b1", Finding: "f1", Why: "unreadable"})
	err := desk.ApplyBatch(room, t.Context(), []message.Event{good, bad})
	assert.ErrorContains(t, err, "stop at event 2 (intake.defect-withdrawn): a toy fault")
	assert.Equal(t, `(b1,"1,")`, c.DB.Dump("repair.trail"))
	assert.Contains(t, c.DB.Dump("repair.cursor"), "(tables,1)")
}

// Guard: the lock on the cursor row in applyBatch. Two instances of one room share
// its tables. That a reaction is said once is held by its request key; the session
// lock around the reactions only saves the work.
func TestTwoInstancesOfARoomShareItsTables(t *testing.T) {
	c := startTrail(t)
	second := trailRoom(c.Rooms["repair"].Kit)
	require.NoError(t, second.Start(t.Context()))
	defer func() { require.NoError(t, second.Stop(context.Background())) }()
	for i := range 60 {
		of := boat.ID(fmt.Sprint("b", i%3))
		if i%4 == 0 {
			c.Say("intake.boat/"+string(of), string(of), message.DefectWithdrawn{Boat: of, Finding: "f1", Why: "it was dirt"})
			continue
		}
		find(c, of)
	}
	c.Settle()
	head, err := c.Log.Head(t.Context())
	require.NoError(t, err)
	assert.EqualValues(t, 75, head.Position, "each of the 15 reactions is said once")
	require.NoError(t, second.Heard(t.Context(), head.Position))
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"))

	// The reactions are one instance's; when it stops, the other goes on.
	require.NoError(t, c.Rooms["repair"].Stop(t.Context()))
	c.Say("intake.boat/b1", "b1", message.DefectWithdrawn{Boat: "b1", Finding: "f2", Why: "it was dirt"})
	c.Settle()
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"))
	require.NoError(t, c.Rooms["repair"].Start(t.Context()))
	c.RebuildIsTheSame("repair")
}

// A rebuild while events arrive and both instances apply them.
func TestARebuildUnderWayDisturbsNobody(t *testing.T) {
	c := startTrail(t)
	second := trailRoom(c.Rooms["repair"].Kit)
	require.NoError(t, second.Start(t.Context()))
	defer func() { require.NoError(t, second.Stop(context.Background())) }()
	var saying sync.WaitGroup
	saying.Go(func() {
		for i := range 60 {
			find(c, boat.ID(fmt.Sprint("b", i%3)))
		}
	})
	for _, batch := range []int{0, 1, 7, 1000, 3} {
		var last desk.Progress
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.DB.OwnerURL, Batch: batch, Progress: func(p desk.Progress) { last = p }}, second))
		assert.LessOrEqual(t, last.Position, last.Last)
		assert.LessOrEqual(t, last.Last, int64(60))
	}
	saying.Wait()
	c.Settle()
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"))
}

// The roster and the settings follow the book like any table.
func TestTheRosterFollowsTheBook(t *testing.T) {
	c := startTrail(t)
	member := c.Member(people.Repairer, people.Steward)
	c.Say("people.person/x", "", message.RoleTaken{Person: member.Person, Role: people.Steward})
	c.Link("p2", people.OwnPapers, "p2")
	c.Link("p3", people.OwnRequest, "r1")
	c.Say("people.person/p3", "", message.PersonErased{Person: "p3", Why: "asked"})
	c.Say("people.club/club", "", message.SettingChanged{Name: "currency", Value: "CAD"})
	c.Say("people.club/club", "", message.SettingChanged{Name: "currency", Value: "EUR"})
	c.Say("valuation.boat/b1", "b1", message.CeilingSet{Boat: "b1", Ceiling: money.Of(1, "USD"), Status: "ok"})
	c.Settle()
	assert.Equal(t, fmt.Sprintf("(%s,repairer)", member.Person), c.DB.Dump("repair.roster_role"))
	assert.Contains(t, c.DB.Dump("repair.roster_link"), ",p2,own-papers,p2,")
	assert.NotContains(t, c.DB.Dump("repair.roster_link"), "p3")
	assert.Equal(t, "(currency,EUR)", c.DB.Dump("repair.club_setting"))
	c.RebuildIsTheSame("repair")
}
