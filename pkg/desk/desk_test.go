package desk_test

import (
	"context"
	"io/fs"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// The toy room takes one order, keeps one table and reacts to one event, so that
// the desk is tested without any trade in it.
var toyMigrations = fstest.MapFS{"migrations/00002_price.sql": {Data: []byte(`-- +goose Up
CREATE TABLE intake.price (boat text PRIMARY KEY, minor bigint NOT NULL, version bigint NOT NULL);
GRANT SELECT, INSERT, UPDATE, DELETE ON intake.price TO refloat_app;
`)}}

type prices struct{ Said int }

func (p *prices) Fold(message.Event, message.Body) { p.Said++ }

func toyRoom(kit desk.Kit) *desk.Desk {
	d := desk.New("intake", kit, "price")
	desk.Take(d, desk.Allow{Roles: []people.Role{people.Steward}}, func(ctx context.Context, o desk.Order[message.OfferPrice]) (desk.Decision, error) {
		var decision desk.Decision
		stream := "intake.boat/" + string(o.Command.Boat)
		_, at, err := desk.Load[prices](ctx, d.Log, stream)
		if err != nil {
			return decision, err
		}
		if o.Command.Price.Minor < 0 {
			return decision, fault.Field("price", "must not be negative")
		}
		decision.Expect = []ledger.Expected{at}
		return decision, decision.Say(stream, o.Command.Boat, message.PriceOffered{Boat: o.Command.Boat, Price: o.Command.Price})
	})
	d.Projects(func(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
		if b, ok := body.(message.PriceOffered); ok {
			_, err := tx.Exec(ctx, `INSERT INTO intake.price VALUES ($1, $2, $3) ON CONFLICT (boat) DO UPDATE SET minor = $2, version = $3`,
				b.Boat, b.Price.Minor, e.Version)
			return err
		}
		return nil
	})
	d.Reacts(func(ctx context.Context, e message.Event, body message.Body) error {
		if b, ok := body.(message.CeilingSet); ok {
			var say desk.Decision
			if err := say.Say("intake.boat/"+string(b.Boat), b.Boat, message.PriceOffered{Boat: b.Boat, Price: b.Ceiling}); err != nil {
				return err
			}
			return d.Say(ctx, e, "ceiling", say)
		}
		return nil
	})
	return d
}

func startToy(t *testing.T) *desktest.Club {
	return desktest.Start(t, desktest.Room{Name: "intake", Migrations: toyMigrationsOf(), New: toyRoom})
}

func toyMigrationsOf() fs.FS { return desk.Migrations("intake", toyMigrations) }

func offer(of boat.ID, minor int64) message.OfferPrice {
	return message.OfferPrice{Boat: of, Price: money.Of(minor, "USD")}
}

func TestAnOrderIsWrittenAndShown(t *testing.T) {
	c := startToy(t)
	steward := c.Member(people.Steward)
	reply := c.Do(steward, offer("b1", 500))
	require.Len(t, reply.Events, 1)
	require.NoError(t, c.Rooms["intake"].Heard(t.Context(), reply.Position))
	assert.Equal(t, "(b1,500,1)", c.DB.Dump("intake.price"))
	c.RebuildIsTheSame("intake")
}

func TestOrdersAreRefusedWithAReason(t *testing.T) {
	c := startToy(t)
	steward, coordinator := c.Member(people.Steward), c.Member(people.Coordinator)
	for name, row := range map[string]struct {
		by   people.Actor
		what desk.Commanded
		want fault.Kind
	}{
		"nobody signed in":    {people.Actor{}, offer("b1", 1), fault.SignIn},
		"another role":        {coordinator, offer("b1", 1), fault.Forbidden},
		"a link nobody made":  {people.Actor{Link: "x"}, offer("b1", 1), fault.SignIn},
		"the pages by itself": {people.Service(desk.Pages), offer("b1", 1), fault.SignIn},
		"another room":        {people.Service("repair"), offer("b1", 1), fault.Forbidden},
		"a bad value":         {steward, offer("b1", -1), fault.Invalid},
		"an unknown order":    {steward, message.AcceptBoat{Boat: "b1"}, fault.Unknown},
		"a room that is down": {steward, message.PlanWork{Boat: "b1"}, fault.Unavailable},
	} {
		_, err := c.Try(row.by, row.what)
		assert.Equal(t, row.want, fault.Of(err).Kind, "%s: %v", name, err)
	}
	assert.Empty(t, c.Bodies("intake.boat/b1"), "nothing was half written")
}

func TestTheSameKeyIsAnsweredLikeTheFirstTime(t *testing.T) {
	c := startToy(t)
	steward := c.Member(people.Steward)
	asking := desk.Asking{By: steward, Key: "one-intent", Seen: 1}
	first, err := c.Client.Do(t.Context(), asking, offer("b1", 500))
	require.NoError(t, err)
	second, err := c.Client.Do(t.Context(), asking, offer("b1", 500))
	require.NoError(t, err)
	assert.True(t, second.Repeated)
	assert.Equal(t, first.Events, second.Events)
	_, err = c.Client.Do(t.Context(), asking, offer("b1", 501))
	assert.True(t, fault.Is(err, fault.Conflict), "the same key for something else: %v", err)
	assert.Len(t, c.Bodies("intake.boat/b1"), 1)
}

func TestManyWhoWriteTheSameStreamAllGetThrough(t *testing.T) {
	c := startToy(t)
	steward := c.Member(people.Steward)
	var all sync.WaitGroup
	for i := range 6 {
		all.Go(func() {
			_, err := c.Client.Do(t.Context(), desk.Asking{By: steward, Key: desktest.ID(), Seen: 1}, offer("b1", int64(i)))
			assert.NoError(t, err)
		})
	}
	all.Wait()
	assert.Len(t, c.Bodies("intake.boat/b1"), 6)
}

func TestAReactionIsSaidOnce(t *testing.T) {
	c := startToy(t)
	c.Say("valuation.boat/b1", "b1", message.CeilingSet{Boat: "b1", Ceiling: money.Of(700, "USD"), Status: "ok"})
	c.Settle()
	assert.Len(t, c.Bodies("intake.boat/b1"), 1)
	// The cursor is lost, as after a crash between saying and moving it.
	c.DB.Exec(`UPDATE intake.cursor SET position = 0 WHERE name = 'reactions'`)
	require.NoError(t, c.Rooms["intake"].Stop(t.Context()))
	require.NoError(t, c.Rooms["intake"].Start(t.Context()))
	c.Settle()
	assert.Len(t, c.Bodies("intake.boat/b1"), 1)
}

func TestAMistypedFieldIsNamedAsTheSenderWroteIt(t *testing.T) {
	c := startToy(t)
	steward := c.Member(people.Steward)
	for data, want := range map[string]string{
		`{"boat":"b1","price":{"minor":"ten","currency":"USD"}}`: "price.minor",
		`{"boat":7}`:             "boat",
		`{"boat":"b1","sail":1}`: "sail",
	} {
		_, err := c.Client.DoRaw(t.Context(), desk.Asking{By: steward, Key: desktest.ID(), Seen: 1}, "intake.offer-price", []byte(data))
		assert.Equal(t, want, fault.Of(err).Field, "%s: %v", data, err)
	}
}
