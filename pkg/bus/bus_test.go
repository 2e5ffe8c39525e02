package bus

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"refloat.example/pkg/fault"
)

var quiet = slog.New(slog.DiscardHandler)

func startServer(t *testing.T, rooms ...string) *Embedded {
	t.Helper()
	server, err := StartEmbedded(t.Context(), filepath.Join(t.TempDir(), "bus"), rooms, quiet)
	require.NoError(t, err)
	t.Cleanup(func() { _ = server.Stop(context.Background()) })
	return server
}

func connect(t *testing.T, server *Embedded, room string) *Conn {
	t.Helper()
	conn, err := Connect(t.Context(), room, server.Access(room), quiet)
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	return conn
}

// echo answers with the subject and what was said.
func echo(_ context.Context, subject string, data []byte) []byte {
	return append([]byte(subject+" "), data...)
}

func TestARequestIsAnswered(t *testing.T) {
	server := startServer(t, "intake", Operator)
	intake, operator := connect(t, server, "intake"), connect(t, server, Operator)
	_, err := intake.Serve(Do("intake.>"), "intake", echo)
	require.NoError(t, err)
	reply, err := operator.Request(t.Context(), Do("intake.log-boat"), []byte("b1"))
	require.NoError(t, err)
	assert.Equal(t, "do.intake.log-boat b1", string(reply))
	assert.True(t, operator.nc.IsConnected())

	remote, err := Connect(t.Context(), Operator, server.Remote(Operator), quiet)
	require.NoError(t, err)
	defer remote.Close()
	reply, err = remote.Request(t.Context(), Do("intake.log-boat"), []byte("b2"))
	require.NoError(t, err, "over the network of this machine")
	assert.Equal(t, "do.intake.log-boat b2", string(reply))
}

// Guard: the case for ErrNoResponders in Request. The context would last an hour.
func TestARoomThatIsDownIsUnavailableAtOnce(t *testing.T) {
	server := startServer(t, "intake", Operator)
	operator := connect(t, server, Operator)
	ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
	defer cancel()
	_, err := operator.Request(ctx, Do("intake.log-boat"), nil)
	assert.True(t, fault.Is(err, fault.Unavailable), "%v", err)
	assert.ErrorIs(t, err, nats.ErrNoResponders)
	assert.ErrorContains(t, err, "not running")

	intake := connect(t, server, "intake")
	service, err := intake.Serve(Do("intake.>"), "intake", echo)
	require.NoError(t, err)
	_, err = operator.Request(ctx, Do("intake.log-boat"), nil)
	require.NoError(t, err)
	require.NoError(t, service.Stop(ctx))
	_, err = operator.Request(ctx, Do("intake.log-boat"), nil)
	assert.ErrorIs(t, err, nats.ErrNoResponders, "a room that was stopped is down as well")
}

func TestARoomThatDoesNotAnswerIsToldApart(t *testing.T) {
	server := startServer(t, "intake", Operator)
	intake, operator := connect(t, server, "intake"), connect(t, server, Operator)
	_, err := intake.Serve(Do("intake.>"), "intake", func(ctx context.Context, _ string, _ []byte) []byte {
		<-ctx.Done()
		return nil
	})
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	_, err = operator.Request(ctx, Do("intake.log-boat"), nil)
	assert.True(t, fault.Is(err, fault.Unavailable), "%v", err)
	assert.ErrorContains(t, err, "does not answer")
}

// Guard: the case for ErrMaxPayload. It is no use to try that again.
func TestWhatIsTooLargeIsInvalid(t *testing.T) {
	server := startServer(t, Operator)
	_, err := connect(t, server, Operator).Request(t.Context(), Do("intake.log-boat"), make([]byte, MaxPayload+1))
	assert.True(t, fault.Is(err, fault.Invalid), "%v", err)
}

// Guard: Drain in Service.Stop. Requests that have arrived are answered, and
// those in other hands go on.
func TestAServiceThatStopsAnswersWhatHasArrived(t *testing.T) {
	server := startServer(t, "intake", Operator)
	intake, operator := connect(t, server, "intake"), connect(t, server, Operator)
	const asked = 3 * maxServing
	begun, goOn := make(chan struct{}, asked), make(chan struct{})
	service, err := intake.Serve(Do("intake.>"), "intake", func(context.Context, string, []byte) []byte {
		begun <- struct{}{}
		<-goOn
		return []byte("done")
	})
	require.NoError(t, err)
	var all sync.WaitGroup
	for range asked {
		all.Go(func() {
			reply, err := operator.Request(t.Context(), Do("intake.log-boat"), nil)
			assert.NoError(t, err)
			assert.Equal(t, "done", string(reply))
		})
	}
	for range maxServing {
		<-begun
	}
	require.Eventually(t, func() bool { // the others wait in the subscription, but for one in its hand
		pending, _, err := service.sub.Pending()
		return err == nil && pending >= asked-maxServing-1
	}, 5*time.Second, time.Millisecond)
	assert.Empty(t, begun, "no more than that at a time")
	stopped := make(chan error, 1)
	go func() { stopped <- service.Stop(t.Context()) }()
	close(goOn)
	require.NoError(t, <-stopped)
	all.Wait()
	require.NoError(t, service.Stop(t.Context()), "again")
}

// Guard: Service.Stop ends the handlers' context when its own has ended.
func TestStoppingDoesNotWaitForEver(t *testing.T) {
	server := startServer(t, "intake", Operator)
	intake, operator := connect(t, server, "intake"), connect(t, server, Operator)
	begun, ended := make(chan struct{}), make(chan struct{})
	service, err := intake.Serve(Do("intake.>"), "intake", func(ctx context.Context, _ string, _ []byte) []byte {
		close(begun)
		<-ctx.Done()
		close(ended)
		return nil
	})
	require.NoError(t, err)
	go func() { _, _ = operator.Request(t.Context(), Do("intake.log-boat"), nil) }()
	<-begun
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	assert.ErrorIs(t, service.Stop(ctx), context.Canceled)
	<-ended
}

// heard gives a connection whose refusals by the server can be waited for.
func heard(t *testing.T, server *Embedded, room string) (*nats.Conn, <-chan error) {
	t.Helper()
	refused := make(chan error, 10)
	access := server.Remote(room)
	nc, err := nats.Connect(access.URL, nats.UserInfo(access.User, access.Password), nats.CustomInboxPrefix(inbox(room)),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { refused <- err }))
	require.NoError(t, err)
	t.Cleanup(nc.Close)
	return nc, refused
}

// Guard: each line of Permissions.
func TestNobodySaysOrHearsWhatIsNotTheirs(t *testing.T) {
	server := startServer(t, "intake", "repair", Web, Relay, Operator)
	relay := connect(t, server, Relay)
	_, err := relay.EnsureBook(t.Context(), 1)
	require.NoError(t, err)
	for name, row := range map[string]struct {
		who, publish, subscribe string
		allowed                 bool
	}{
		"a room hears its commands":              {"repair", "", "do.repair.>", true},
		"a room hears its questions":             {"repair", "", "ask.repair.>", true},
		"a room hears another's commands":        {"repair", "", "do.intake.>", false},
		"a room hears all commands":              {"repair", "", "do.>", false},
		"a room hears everything":                {"repair", "", ">", false},
		"a room hears another's questions":       {"repair", "", "ask.intake.>", false},
		"a room hears another's replies":         {"repair", "", "_INBOX_intake.>", false},
		"a room hears appends":                   {"repair", "", Append, false},
		"a room hears events past the stream":    {"repair", "", "event.>", false},
		"a room commands another":                {"repair", "do.intake.log-boat", "", false},
		"a room commands itself":                 {"repair", "do.repair.plan-work", "", false},
		"a room asks another":                    {"repair", "ask.treasury.year-totals", "", false},
		"a room says another's event":            {"repair", "event.intake.boat-logged", "", false},
		"a room says its own past the book":      {"repair", "event.repair.work-planned", "", false},
		"a room appends past its process":        {"repair", Append, "", false},
		"a room answers what nobody asked":       {"repair", "_INBOX_web.1", "", false},
		"a room deletes the stream":              {"repair", "$JS.API.STREAM.DELETE.BOOK", "", false},
		"a room empties the stream":              {"repair", "$JS.API.STREAM.PURGE.BOOK", "", false},
		"a room makes a stream":                  {"repair", "$JS.API.STREAM.CREATE.OTHER", "", false},
		"a room changes the stream":              {"repair", "$JS.API.STREAM.UPDATE.BOOK", "", false},
		"a room reads the stream":                {"repair", "$JS.API.CONSUMER.CREATE.BOOK.x", "", true},
		"the pages command":                      {Web, "do.intake.log-boat", "", true},
		"the pages ask":                          {Web, "ask.treasury.year-totals", "", true},
		"the pages hear commands":                {Web, "", "do.intake.>", false},
		"the pages hear another's replies":       {Web, "", "_INBOX_operator.>", false},
		"the pages append":                       {Web, Append, "", false},
		"the pages say events":                   {Web, "event.intake.boat-logged", "", false},
		"the operator commands":                  {Operator, "do.intake.log-boat", "", true},
		"the operator appends":                   {Operator, Append, "", false},
		"the relay says events":                  {Relay, "event.intake.boat-logged.toy", "", true},
		"the relay hears appends":                {Relay, "", Append, true},
		"the relay appends for its process":      {Relay, Append, "", true},
		"the relay commands":                     {Relay, "do.intake.log-boat", "", false},
		"the relay hears commands":               {Relay, "", "do.intake.>", false},
		"the relay deletes the stream":           {Relay, "$JS.API.STREAM.DELETE.BOOK", "", false},
		"the relay takes events from the stream": {Relay, "$JS.API.STREAM.MSG.DELETE.BOOK", "", false},
	} {
		t.Run(name, func(t *testing.T) {
			nc, refused := heard(t, server, row.who)
			if row.subscribe != "" {
				_, err := nc.SubscribeSync(row.subscribe)
				require.NoError(t, err)
			} else {
				require.NoError(t, nc.Publish(row.publish, []byte("{}")))
			}
			require.NoError(t, nc.Flush()) // the refusal, if there is one, comes before the server's pong
			if row.allowed {
				assert.Empty(t, refused)
				return
			}
			select {
			case err := <-refused:
				assert.ErrorIs(t, err, nats.ErrPermissionViolation)
			case <-time.After(5 * time.Second):
				assert.Fail(t, "it was not refused")
			}
		})
	}
}

// A room may answer one request once, to whoever asked, and nothing further.
func TestOnlyOneReplyIsAllowed(t *testing.T) {
	server := startServer(t, "intake", Operator)
	operator := connect(t, server, Operator)
	nc, refused := heard(t, server, "intake")
	_, err := nc.Subscribe(Do("intake.>"), func(m *nats.Msg) {
		_ = m.Respond([]byte("one"))
		_ = m.Respond([]byte("two"))
	})
	require.NoError(t, err)
	require.NoError(t, nc.Flush())
	reply, err := operator.Request(t.Context(), Do("intake.log-boat"), nil)
	require.NoError(t, err)
	assert.Equal(t, "one", string(reply))
	assert.ErrorIs(t, <-refused, nats.ErrPermissionViolation)
}

func TestAWrongPasswordIsRefused(t *testing.T) {
	server := startServer(t, "intake")
	access := server.Remote("intake")
	access.Password = "guess"
	_, err := nats.Connect(access.URL, nats.UserInfo(access.User, access.Password))
	assert.True(t, errors.Is(err, nats.ErrAuthorization), "%v", err)
	_, err = nats.Connect(access.URL)
	assert.True(t, errors.Is(err, nats.ErrAuthorization), "%v", err)
	assert.True(t, strings.HasPrefix(access.URL, "nats://127.0.0.1:"), "only this machine reaches it: %s", access.URL)
}

func TestNothingIsLeftRunning(t *testing.T) {
	before := goleak.IgnoreCurrent()
	server, err := StartEmbedded(t.Context(), filepath.Join(t.TempDir(), "bus"), []string{"intake", Relay}, quiet)
	require.NoError(t, err)
	intake, err := Connect(t.Context(), "intake", server.Access("intake"), quiet)
	require.NoError(t, err)
	service, err := intake.Serve(Do("intake.>"), "intake", echo)
	require.NoError(t, err)
	require.NoError(t, service.Stop(t.Context()))
	intake.Close()
	require.NoError(t, server.Stop(t.Context()))
	goleak.VerifyNone(t, before)
}
