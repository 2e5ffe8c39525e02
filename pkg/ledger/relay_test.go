package ledger

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/message"
)

// startOpenBus starts a bus that lets a test do what no room may: delete streams.
// A server started again in the same folder finds what was there.
func startOpenBus(t *testing.T, folder string) *server.Server {
	t.Helper()
	srv, err := server.NewServer(&server.Options{Host: "127.0.0.1", Port: server.RANDOM_PORT, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true})
	require.NoError(t, err)
	srv.Start()
	require.True(t, srv.ReadyForConnections(10*time.Second))
	t.Cleanup(func() { srv.Shutdown(); srv.WaitForShutdown() })
	return srv
}

// relayScene is a book with a bus, and a relay for it.
type relayScene struct {
	*book
	conn *bus.Conn
	*relayer
}

func newRelayScene(t *testing.T) *relayScene {
	t.Helper()
	b := newBook(t)
	srv := startOpenBus(t, t.TempDir())
	conn, err := bus.Connect(t.Context(), bus.Relay, bus.Access{URL: srv.ClientURL()}, quiet)
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	return &relayScene{b, conn, b.relayerOver(conn)}
}

func (b *book) relayerOver(conn *bus.Conn) *relayer {
	return &relayer{reader: b.Reader, conn: conn, replicas: 1, connect: b.dial, written: NewSignal(), log: quiet}
}

// running is a relay at work.
type running struct {
	cancel context.CancelFunc
	ended  chan error
}

func relay(r *relayer) *running {
	ctx, cancel := context.WithCancel(context.Background())
	run := &running{cancel, make(chan error, 1)}
	go func() { run.ended <- r.lead(ctx) }()
	return run
}

func (r *running) stop() error { r.cancel(); return <-r.ended }

func (s *relayScene) streamIs(position int64) {
	s.t.Helper()
	require.Eventually(s.t, func() bool {
		last, err := s.conn.BookLast(s.t.Context())
		return err == nil && last == position
	}, time.Minute, 2*time.Millisecond, "the stream does not come to %d", position)
}

// streamIsTheBook reads the stream from its beginning and holds each event against
// the book, byte for byte.
func (s *relayScene) streamIsTheBook() {
	s.t.Helper()
	rows := s.all()
	ctx, cancel := context.WithTimeout(s.t.Context(), 10*time.Second)
	defer cancel()
	var got []message.Event
	err := s.conn.Follow(ctx, 0, func(_ context.Context, events []message.Event) error {
		if got = append(got, events...); len(got) == len(rows) {
			cancel()
		}
		return nil
	})
	require.NoError(s.t, err)
	require.Len(s.t, got, len(rows))
	for i, row := range rows {
		require.Equal(s.t, row.Event, got[i])
		back := Row{Event: got[i], RequestPart: row.RequestPart, RequestDigest: row.RequestDigest}
		require.Equal(s.t, row.Hash, hashOf(&back), "who has it from the stream can check it")
	}
	last, err := s.conn.BookLast(s.t.Context())
	require.NoError(s.t, err)
	require.EqualValues(s.t, len(rows), last, "nothing twice")
}

func TestTheStreamBecomesTheBook(t *testing.T) {
	s := newRelayScene(t)
	s.fill(700) // more than one batch of the relay's
	h := s.hand()
	h.one(note("b1", AnyVersion, key(), "<b> & \u2028 'quotes' \\ ö 😀"))
	run := relay(s.relayer)
	s.streamIs(701)
	h.one(note("b1", AnyVersion, key(), "one more"))
	s.streamIs(702)
	require.NoError(t, run.stop())
	s.streamIsTheBook()
}

// Guard: EnsureBook gives the stream's own end as the cursor.
func TestAWipedStreamIsFilledAgain(t *testing.T) {
	for _, name := range []string{"while the relay is away", "while the relay rests", "and made anew while the relay rests"} {
		t.Run(name, func(t *testing.T) {
			s := newRelayScene(t)
			s.fill(20)
			run := relay(s.relayer)
			s.streamIs(20)
			if strings.HasSuffix(name, "away") {
				require.NoError(t, run.stop())
			}
			require.NoError(t, s.conn.JetStream().DeleteStream(t.Context(), bus.BookStream))
			if strings.HasPrefix(name, "and made anew") {
				_, err := s.conn.EnsureBook(t.Context(), 1)
				require.NoError(t, err)
			}
			if strings.HasSuffix(name, "rests") {
				// Guard: lookAround. Nothing is written that would tell the relay.
				assert.ErrorContains(t, <-run.ended, "stream")
			}
			run = relay(s.relayer)
			s.streamIs(20)
			require.NoError(t, run.stop())
			s.streamIsTheBook()
		})
	}
}

// Guard: sameBook, both of its comparisons.
func TestAStreamThatIsNotTheBooksIsRefused(t *testing.T) {
	for name, written := range map[string]int{"a book restored from an older copy": 0, "and written on since": 10} {
		t.Run(name, func(t *testing.T) {
			s := newRelayScene(t)
			s.fill(12)
			run := relay(s.relayer)
			s.streamIs(12)
			require.NoError(t, run.stop())

			old := openBook(t, newBook(t).db) // an empty book, and then another one
			old.fill(5 + written)
			r := old.relayerOver(s.conn)
			err := r.lead(t.Context())
			require.ErrorIs(t, err, ErrAhead)
			assert.Contains(t, err.Error(), "restored from an older copy")
			assert.Contains(t, err.Error(), "delete the stream's folder", "it says what to do")
			log := NewLog(old.db.Pool, s.conn, old.clock, quiet)
			assert.ErrorIs(t, log.CheckStream(t.Context(), 1), ErrAhead)
			s.streamIs(12) // nothing was added
			same := NewLog(s.db.Pool, s.conn, s.clock, quiet)
			assert.NoError(t, same.CheckStream(t.Context(), 1))
		})
	}
}

// Guard: the expected sequence in bus.Publish. A relay dies between publishing and
// whatever comes next, again and again, and two relays overlap (one lost its lock
// without noticing): no gap, nothing twice.
func TestARelayThatDiesLeavesNoGapAndNothingTwice(t *testing.T) {
	s := newRelayScene(t)
	_, err := s.conn.EnsureBook(t.Context(), 1)
	require.NoError(t, err)
	h := s.hand()
	var relays sync.WaitGroup
	for round := range 8 {
		for range 25 {
			h.one(note(fmt.Sprint("b", round), AnyVersion, key(), "x"))
		}
		for range 2 {
			relays.Go(func() {
				ctx, cancel := context.WithCancel(t.Context())
				defer cancel()
				cursor, err := s.conn.EnsureBook(ctx, 1)
				if !assert.NoError(t, err) {
					return
				}
				events, err := s.After(ctx, cursor, 5+round)
				if assert.NoError(t, err) && len(events) > 0 {
					_ = s.conn.Publish(ctx, events) // one of two is refused, or some of its events
				}
			})
		}
		relays.Wait()
	}
	run := relay(s.relayer)
	s.streamIs(200)
	require.NoError(t, run.stop())
	s.streamIsTheBook()
}

// Guard: Nats-Expected-Last-Sequence alone; no message ids help.
func TestPublishingBehindTheEndOrBeforeItIsRefused(t *testing.T) {
	s := newRelayScene(t)
	s.fill(6)
	_, err := s.conn.EnsureBook(t.Context(), 1)
	require.NoError(t, err)
	events, err := s.After(t.Context(), 0, 10)
	require.NoError(t, err)
	require.NoError(t, s.conn.Publish(t.Context(), events[:3]))
	assert.Error(t, s.conn.Publish(t.Context(), events[4:]), "4 is missing")
	other := events[2]
	other.ID = "01985a3e-7c00-7000-8000-000000000009"
	assert.Error(t, s.conn.Publish(t.Context(), []message.Event{other}), "3 stands there")
	require.NoError(t, s.conn.Publish(t.Context(), events[3:]))
	s.streamIsTheBook()
}

// Guard: relayLock.
func TestOneRelayWorks(t *testing.T) {
	s := newRelayScene(t)
	s.fill(3)
	first := relay(s.relayer)
	s.streamIs(3)
	second := *s.relayer
	other := relay(&second)
	var holders int
	require.NoError(t, s.pool.QueryRow(t.Context(), `SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND granted
		AND objid = $1 AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`, uint32(relayLock&0xffffffff)).Scan(&holders))
	assert.Equal(t, 1, holders)
	require.NoError(t, first.stop())
	s.hand().one(note("b1", AnyVersion, key(), "x"))
	s.streamIs(4)
	require.NoError(t, other.stop())
}

// The whole of it in one process, over the embedded bus with its permissions: what
// is appended is heard by a room.
func TestARoomHearsWhatIsAppended(t *testing.T) {
	b := newBook(t)
	srv := startBus(t, "repair")
	p := b.start(srv)
	require.NoError(t, p.CheckStream(t.Context(), 1))
	room := connect(t, srv, "repair")
	heard := make(chan message.Event, 100)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- room.Follow(ctx, 0, func(_ context.Context, events []message.Event) error {
			for _, e := range events {
				heard <- e
			}
			return nil
		})
	}()
	for i := range int64(20) {
		_, err := p.Append(t.Context(), note("b1", i, key(), "x"))
		require.NoError(t, err)
		select {
		case e := <-heard:
			require.Equal(t, i+1, e.Position)
		case err := <-ended:
			require.NoError(t, err)
		case <-time.After(10 * time.Second):
			require.Fail(t, "nothing is heard")
		}
	}
	cancel()
	require.NoError(t, <-ended)
}

// A bus that is stopped and started again with its folder, or without it.
func TestTheStreamOutlivesTheBus(t *testing.T) {
	b := newBook(t)
	rows := b.fill(8)
	folder := filepath.Join(t.TempDir(), "bus")
	for _, folder := range []string{folder, folder, filepath.Join(t.TempDir(), "other")} {
		srv := startOpenBus(t, folder)
		conn, err := bus.Connect(t.Context(), bus.Relay, bus.Access{URL: srv.ClientURL()}, quiet)
		require.NoError(t, err)
		s := &relayScene{b, conn, b.relayerOver(conn)}
		run := relay(s.relayer)
		s.streamIs(int64(len(rows)))
		require.NoError(t, run.stop())
		s.streamIsTheBook()
		conn.Close()
		srv.Shutdown()
		srv.WaitForShutdown()
	}
	_, err := b.Event(t.Context(), 99)
	require.Error(t, err)
	require.False(t, errors.Is(err, ErrAhead))
}
