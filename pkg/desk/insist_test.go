package desk_test

import (
	"context"
	"encoding/json"
	"log/slog"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Guard: readBook. The room's connection to the stream is gone, as while a cluster
// chooses another leader; its tables follow the book all the same, each event once.
func TestTablesFollowTheBookWhileTheStreamIsSilent(t *testing.T) {
	c := startTrail(t)
	find(c, "heron")
	c.Settle()
	c.Rooms["repair"].Bus.Close()
	for range 300 {
		find(c, "heron")
	}
	last := find(c, "teal")
	require.Eventually(t, func() bool { return c.Rooms["repair"].Position() >= last.Position }, time.Minute, 10*time.Millisecond)
	assert.Equal(t, wanted(t, c), c.DB.Dump("repair.trail"))
}

// halls is a bus for the rooms of these tests.
func halls(t *testing.T) func(name string) *bus.Conn {
	t.Helper()
	quiet := slog.New(slog.DiscardHandler)
	server, err := bus.StartEmbedded(t.Context(), filepath.Join(t.TempDir(), "bus"), []string{"intake", bus.Operator}, quiet)
	require.NoError(t, err)
	t.Cleanup(func() { _ = server.Stop(context.Background()) })
	return func(name string) *bus.Conn {
		conn, err := bus.Connect(t.Context(), name, server.Access(name), quiet)
		require.NoError(t, err)
		t.Cleanup(conn.Close)
		return conn
	}
}

func answerOf(t *testing.T, what any) []byte {
	t.Helper()
	data, err := json.Marshal(what)
	require.NoError(t, err)
	wire, err := json.Marshal(desk.Wire{Data: data})
	require.NoError(t, err)
	return wire
}

// Guard: the second ask in insist. The instance that took the order dies with it;
// another one answers, long before the order would be given up.
func TestAnOrderOutlivesTheInstanceThatTookIt(t *testing.T) {
	connect := halls(t)
	dying, living := connect("intake"), connect("intake")
	answer := answerOf(t, message.Reply{Position: 7})
	_, err := dying.Serve(bus.Do("intake.>"), "intake", func(context.Context, string, []byte) []byte {
		_, err := living.Serve(bus.Do("intake.>"), "intake", func(context.Context, string, []byte) []byte { return answer })
		assert.NoError(t, err)
		dying.Close()
		return nil
	})
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), 8*time.Second)
	defer cancel()
	reply, err := desk.Client{Conn: connect(bus.Operator)}.DoRaw(ctx, desk.Asking{By: desktest.Operator, Key: "k"}, "intake.log-boat", json.RawMessage(`{}`))
	require.NoError(t, err)
	assert.Equal(t, int64(7), reply.Position)
}

// A question that does something is asked once, whoever does not answer.
func TestAQuestionThatDoesSomethingIsAskedOnce(t *testing.T) {
	connect := halls(t)
	var asked atomic.Int64
	_, err := connect("intake").Serve(bus.Ask("intake.>"), "intake", func(ctx context.Context, _ string, _ []byte) []byte {
		asked.Add(1)
		<-ctx.Done()
		return nil
	})
	require.NoError(t, err)
	for _, only := range []desk.Commanded{message.AskSignIn{}, message.RedeemSignIn{}} {
		assert.Implements(t, (*interface{ OnlyOnce() })(nil), only)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
	defer cancel()
	_, err = desk.Ask[message.SignedIn](ctx, desk.Client{Conn: connect(bus.Operator)}, desk.Asking{By: desktest.Operator}, onlyOnce{})
	assert.True(t, fault.Is(err, fault.Unavailable))
	assert.Equal(t, int64(1), asked.Load())
}

type onlyOnce struct{}

func (onlyOnce) Verb() string { return "intake.redeem" }
func (onlyOnce) OnlyOnce()    {}
