package ledger

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/lifecycle"
)

// A history is what callers saw: when they asked, when they were answered, and
// what. It can be checked against the book for linearizability of conditional
// appends: a simple case, because the book itself gives the one order.
type history struct {
	mu  sync.Mutex
	ops []op
}

type op struct {
	called, returned time.Duration // on the monotonic clock of this process
	append           Append
	receipt          Receipt
	err              error
}

var origin = time.Now()

// do calls append and notes what comes of it.
func (h *history) do(ctx context.Context, append func(context.Context, Append) (Receipt, error), a Append) (Receipt, error) {
	called := time.Since(origin)
	receipt, err := append(ctx, a)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ops = slices.Insert(h.ops, len(h.ops), op{called, time.Since(origin), a, receipt, err})
	return receipt, err
}

// acked gives the appends that were answered with a receipt for the first time,
// by position.
func (h *history) acked() []op {
	acked := slices.DeleteFunc(slices.Clone(h.ops), func(o op) bool { return o.err != nil || o.receipt.Repeated })
	slices.SortFunc(acked, func(a, b op) int { return cmp.Compare(a.receipt.Position(), b.receipt.Position()) })
	return acked
}

// check holds the history against the book: every acknowledged append stands
// where its receipt says, once; nothing stands there that nobody asked for; an
// append that was answered before another was begun stands before it; a conflict
// names a version that its stream had while the append was on its way.
func (h *history) check(t *testing.T, rows []Row) {
	t.Helper()
	stored := map[string]Row{}
	for i, row := range rows {
		require.EqualValues(t, i+1, row.Position, "positions have no gaps")
		_, twice := stored[row.RequestKey]
		require.False(t, twice, "%s stands twice in the book", row.RequestKey)
		stored[row.RequestKey] = row
	}
	asked := map[string]bool{}
	for _, o := range h.ops {
		asked[o.append.Key] = true
		if o.err == nil {
			row := stored[o.append.Key]
			require.Equal(t, row.Position, o.receipt.Position(), "%s is acknowledged", o.append.Key)
			require.Equal(t, row.Hash, rows[row.Position-1].Hash)
		}
	}
	for key := range stored {
		require.True(t, asked[key], "nobody asked for %s", key)
	}
	h.checkOrder(t)
	h.checkVersions(t, stored)
}

func (h *history) checkOrder(t *testing.T) {
	t.Helper()
	var latestCall time.Duration
	for _, o := range h.acked() {
		require.GreaterOrEqual(t, o.returned, latestCall, "position %d was answered before one below it was asked for", o.receipt.Position())
		latestCall = max(latestCall, o.called)
	}
}

var atVersion = regexp.MustCompile(`(\S+) is at version (\d+)`)

func (h *history) checkVersions(t *testing.T, stored map[string]Row) {
	t.Helper()
	called := map[string]time.Duration{} // "stream version" by when it was first asked for
	for _, o := range h.ops {
		if row, ok := stored[o.append.Key]; ok {
			name := fmt.Sprint(row.Stream, row.Version)
			if at, again := called[name]; !again || o.called < at {
				called[name] = o.called
			}
		}
	}
	acked := h.acked()
	for _, o := range h.ops {
		if o.err == nil && !o.receipt.Repeated && len(o.append.Expect) > 0 {
			require.Equal(t, o.append.Expect[0].Version+1, o.receipt.Events[0].Version, "the version it rests on was the stream's")
		}
		named := atVersion.FindStringSubmatch(fmt.Sprint(o.err))
		if named == nil {
			continue
		}
		version, err := strconv.ParseInt(named[2], 10, 64)
		require.NoError(t, err)
		if version > 0 {
			at, existed := called[fmt.Sprint(named[1], version)]
			require.True(t, existed && at <= o.returned, "%v: there was no such version yet", o.err)
		}
		for _, a := range acked {
			if e := a.receipt.Events[0]; e.Stream == named[1] && a.returned < o.called {
				require.LessOrEqual(t, e.Version, version, "%v: an older version is named", o.err)
			}
		}
	}
}

// load writes from several callers to a few hot streams: good, stale, repeated
// and unconditional appends.
func (h *history) load(t *testing.T, callers, each int, appends ...func(context.Context, Append) (Receipt, error)) {
	var all sync.WaitGroup
	for c := range callers {
		all.Go(func() {
			rng := rand.New(rand.NewPCG(uint64(c), 7))
			seen := map[string]int64{}
			var last Append
			for range each {
				boat := fmt.Sprint("hot", rng.IntN(3))
				a := note(boat, seen[boat], key(), "x")
				switch rng.IntN(10) {
				case 0:
					a = last
				case 1:
					a.Expect = nil
				}
				if a.Key == "" {
					continue
				}
				last = a
				receipt, err := h.do(t.Context(), appends[rng.IntN(len(appends))], a)
				if err == nil {
					seen[boat] = max(seen[boat], receipt.Events[0].Version)
				} else if named := atVersion.FindStringSubmatch(err.Error()); named != nil {
					seen[boat], _ = strconv.ParseInt(named[2], 10, 64)
				}
			}
		})
	}
	all.Wait()
}

// Guards: the comparison of versions, the counting of positions under the
// compare-and-set in insert, and that callers are answered only after it.
func TestConditionalAppendsAreLinearizable(t *testing.T) {
	b := newBook(t)
	l := b.lead()
	var h history
	h.load(t, 12, 150, l.Append)
	h.check(t, b.all())
	assert.Greater(t, len(h.acked()), 100)
}

// Guard: position++ in Writer.add under the compare-and-set of insert: commit
// order is position order. A reader that asks for what lies behind the last
// position it saw gets every event once.
func TestReadersByPositionNeverSkip(t *testing.T) {
	b := newBook(t)
	l := b.lead()
	var writing, reading sync.WaitGroup
	const callers, each = 8, 60
	for i := range callers {
		writing.Go(func() {
			for n := range int64(each) {
				_, err := l.Append(t.Context(), note(fmt.Sprint("b", i), n, key(), "x"))
				assert.NoError(t, err)
			}
		})
	}
	for i := range 3 {
		reading.Go(func() {
			for last := int64(0); last < callers*each; {
				events, err := b.After(t.Context(), last, 1+i*20)
				if !assert.NoError(t, err) {
					return
				}
				for _, e := range events {
					if !assert.Equal(t, last+1, e.Position) {
						return
					}
					last = e.Position
				}
			}
		})
	}
	writing.Wait()
	reading.Wait()
}

// process is a log as one of several processes has it.
type process struct {
	*Log
	group *lifecycle.Group
}

// startBus starts a bus for the rooms named, and the relay.
func startBus(t testing.TB, rooms ...string) *bus.Embedded {
	t.Helper()
	server, err := bus.StartEmbedded(t.Context(), filepath.Join(t.TempDir(), "bus"), append(rooms, bus.Relay), quiet)
	require.NoError(t, err)
	t.Cleanup(func() { _ = server.Stop(context.Background()) })
	return server
}

func connect(t testing.TB, server *bus.Embedded, room string) *bus.Conn {
	t.Helper()
	conn, err := bus.Connect(t.Context(), room, server.Access(room), quiet)
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	return conn
}

// start starts a process: its writer and its relay are candidates.
func (b *book) start(server *bus.Embedded) *process {
	b.t.Helper()
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError}))
	p := &process{NewLog(b.db.Open(b.db.AppURL), connect(b.t, server, bus.Relay), b.clock, log), lifecycle.New(quiet)}
	writer, relay := p.Parts(1)
	p.group.Add("writer", writer)
	p.group.Add("relay", relay)
	require.NoError(b.t, p.group.Start(context.Background()))
	b.t.Cleanup(p.stop)
	return p
}

func (p *process) stop() {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	_ = p.group.Stop(ctx)
}

// Guard: Log.appendElsewhere and the writer's lock. Two processes write; the one
// that leads stops on the way, and the other takes over.
func TestTwoProcessesKeepOneOrder(t *testing.T) {
	b := newBook(t)
	server := startBus(t)
	first := b.start(server)
	require.Eventually(t, first.leading.Load, 5*time.Second, time.Millisecond)
	second := b.start(server)
	var h history
	h.load(t, 8, 40, first.Append, second.Append)
	assert.True(t, first.leading.Load())
	assert.False(t, second.leading.Load(), "one leads")

	var stopping sync.WaitGroup
	stopping.Go(first.stop)
	h.load(t, 8, 40, first.Append, second.Append)
	stopping.Wait()
	require.Eventually(t, second.leading.Load, time.Minute, time.Millisecond, "the other takes over")
	h.load(t, 8, 10, first.Append, second.Append)
	for _, o := range h.ops {
		if o.err != nil {
			require.True(t, fault.Is(o.err, fault.Conflict), "%v", o.err)
		}
	}
	h.check(t, b.all())
}

// Guard: MaxBytes against bus.MaxPayload, and SetEscapeHTML in appendElsewhere.
func TestTheLargestAppendTravels(t *testing.T) {
	b := newBook(t)
	server := startBus(t)
	first := b.start(server)
	require.Eventually(t, first.leading.Load, 5*time.Second, time.Millisecond)
	second := b.start(server)
	for _, words := range []string{strings.Repeat("<", 1<<20-100), strings.Repeat(`"`, 1<<19-100)} {
		large := note("b1", AnyVersion, key(), words)
		large.Events = append(large.Events, large.Events[0])
		receipt, err := second.Append(t.Context(), large)
		require.NoError(t, err)
		events, err := b.After(t.Context(), receipt.Position()-1, 1)
		require.NoError(t, err)
		assert.True(t, large.Events[1].Data == string(events[0].Data), "as it was")
	}
	many := note("b2", AnyVersion, key(), "x")
	many.Events[0].Stream += strings.Repeat("y", 270)
	for len(many.Events) < MaxEvents {
		many.Events = append(many.Events, many.Events[0])
	}
	receipt, err := second.Append(t.Context(), many)
	require.NoError(t, err)
	assert.Len(t, receipt.Events, MaxEvents)
}

func TestWhatIsNotAnAppendIsInvalid(t *testing.T) {
	l := &Log{log: quiet}
	assert.Contains(t, string(l.serve(t.Context(), bus.Append, []byte("{"))), `"kind":"invalid"`)
}

// Guard: waitForLock asks again instead of waiting in the server.
func TestWhoWaitsToLeadHoldsNoSnapshot(t *testing.T) {
	b := newBook(t)
	l := b.lead()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	w := NewWriter(b.dial, b.clock, quiet)
	go func() { ended <- w.Lead(ctx, func() {}) }()
	waiting := func(column string) (n int) {
		require.NoError(t, b.pool.QueryRow(ctx, `SELECT count(`+column+`) FROM pg_stat_activity WHERE query LIKE '%pg_try_advisory_lock%'
			AND datname = current_database() AND pid <> pg_backend_pid() AND state = 'idle' OR query LIKE 'SELECT pg_advisory_lock%'`).Scan(&n))
		return n
	}
	require.Eventually(t, func() bool { return waiting("*") > 0 }, 5*time.Second, time.Millisecond)
	assert.Zero(t, waiting("backend_xmin"))
	cancel()
	require.NoError(t, <-ended)
	require.NoError(t, l.stop())
}
