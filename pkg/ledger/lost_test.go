package ledger

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

// How a wire is cut at the next thing that is sent.
const (
	whole  = iota
	before // the server does not get it
	behind // the server has answered, the answer is lost
	during // the server has it and is at work
)

// cutter makes connections that can be cut.
type cutter struct {
	url  string
	next atomic.Int32
	skip atomic.Int32 // so many things are sent before the cut
	cuts atomic.Int32
	sent chan struct{} // one for each cut
}

func (b *book) cutter() *cutter { return &cutter{url: b.db.AppURL, sent: make(chan struct{}, 10)} }

func (c *cutter) dial(ctx context.Context) (*pgx.Conn, error) {
	cfg, err := pgx.ParseConfig(c.url)
	if err != nil {
		return nil, err
	}
	cfg.DialFunc = func(ctx context.Context, network, address string) (net.Conn, error) {
		conn, err := new(net.Dialer).DialContext(ctx, network, address)
		return &wire{conn, c}, err
	}
	return pgx.ConnectConfig(ctx, cfg)
}

type wire struct {
	net.Conn
	*cutter
}

var errCut = errors.New("the wire was cut")

// cancelRequest is how a message to cancel a statement begins (PostgreSQL 15
// documentation, 55.7). pgx sends one, on a connection of its own, for what it
// gave up; a network that cuts a wire will not let it pass.
const cancelRequest = "\x00\x00\x00\x10\x04\xd2\x16\x2e"

func (w *wire) Write(p []byte) (int, error) {
	if strings.HasPrefix(string(p), cancelRequest) {
		return 0, errCut
	}
	if w.next.Load() == whole || w.skip.Add(-1) >= 0 {
		return w.Conn.Write(p)
	}
	how := w.next.Swap(whole)
	w.cuts.Add(1)
	defer func() { _ = w.Close(); w.sent <- struct{}{} }()
	if how == before {
		return 0, errCut
	}
	n, err := w.Conn.Write(p)
	if how == behind {
		_ = w.SetReadDeadline(time.Now().Add(10 * time.Second))
		_, err = w.Read(make([]byte, 1))
	}
	return n, errors.Join(err, errCut)
}

// Guard: Writer.look. Were the batch taken for written when it is not, it would be
// lost; were it taken for not written when it is, its callers would hear that they
// had been here before.
func TestALostConnectionLeavesNobodyInTheDark(t *testing.T) {
	for name, row := range map[string]struct {
		how      int32
		standing int // events in the book when the writer connects again
	}{"before the statement": {before, 1}, "behind the commit": {behind, 3}} {
		t.Run(name, func(t *testing.T) {
			b := newBook(t)
			c := b.cutter()
			var standing []int
			h := b.handWith(func(ctx context.Context) (*pgx.Conn, error) {
				standing = append(standing, len(b.all()))
				return c.dial(ctx)
			})
			// Statements are prepared and the version is known: the batch sends one
			// look for the key k3, and then what it writes.
			_, err := h.write(note("b1", 0, "k1", "warm"), note("b1", 7, "k0", "stale"))
			require.NoError(t, err)
			c.skip.Store(1)
			epoch := h.head.Epoch
			c.next.Store(row.how)
			answers, err := h.write(note("b1", 1, "k2", "good"), note("b1", 9, "k3", "stale"), note("b1", 1, "k2", "good"),
				note("b1", 1, "k2", "other"), note("b1", 2, "k4", "good"))
			require.NoError(t, err, "it goes on leading")
			require.EqualValues(t, 1, c.cuts.Load())
			require.Equal(t, []int{0, row.standing}, standing)
			assert.Greater(t, h.head.Epoch, epoch, "the old statement is fenced off")
			assert.NoError(t, answers[0].err)
			assert.False(t, answers[0].receipt.Repeated)
			assert.EqualValues(t, 2, answers[0].receipt.Position())
			assert.True(t, fault.Is(answers[1].err, fault.Conflict))
			require.NoError(t, answers[2].err)
			assert.True(t, answers[2].receipt.Repeated)
			assert.True(t, fault.Is(answers[3].err, fault.Conflict))
			assert.NoError(t, answers[4].err)
			assert.Len(t, b.all(), 3)
			assert.EqualValues(t, 4, h.one(note("b1", 3, "k5", "after")).Position())
		})
	}
}

// The same, at each thing that a batch sends: reading versions, looking up keys,
// writing.
func TestAConnectionLostAnywhereInABatch(t *testing.T) {
	for nth := range 6 {
		for _, how := range []int32{before, behind} {
			t.Run(fmt.Sprintf("at %d, how %d", nth, how), func(t *testing.T) {
				b := newBook(t)
				c := b.cutter()
				h := b.handWith(c.dial)
				h.one(note("b1", 0, "k1", "warm"))
				clear(h.versions)
				c.skip.Store(int32(nth))
				c.next.Store(how)
				answers, err := h.write(note("b1", 1, "k2", "good"), note("b1", 1, "k1", "warm"), note("b2", 5, "k3", "stale"),
					note("b2", AnyVersion, "k1", "warm"), note("b2", AnyVersion, "k4", "good"))
				require.NoError(t, err)
				require.EqualValues(t, 1, c.cuts.Load())
				assert.NoError(t, answers[0].err)
				assert.NoError(t, answers[1].err)
				assert.True(t, answers[1].receipt.Repeated)
				assert.True(t, fault.Is(answers[2].err, fault.Conflict))
				assert.NoError(t, answers[3].err)
				assert.True(t, answers[3].receipt.Repeated)
				assert.NoError(t, answers[4].err)
				assert.Len(t, b.all(), 3)
			})
		}
	}
}

// Guard: the fence in Writer.look waits for a statement that still runs. The head row is held by
// somebody, the writer's statement waits behind it, the wire is cut: the server
// goes on with the statement, and nobody is answered before that is over.
func TestAStatementThatOutlivesItsConnectionIsWaitedFor(t *testing.T) {
	b := newBook(t)
	c := b.cutter()
	h := b.handWith(c.dial)
	h.one(note("b1", 0, "k1", "warm"))

	holder, err := b.pool.Begin(t.Context())
	require.NoError(t, err)
	_, err = holder.Exec(t.Context(), `UPDATE ledger.head SET epoch = epoch`)
	require.NoError(t, err)
	c.next.Store(during)
	go func() {
		<-c.sent
		// Two wait for the row now: the statement and the fence.
		for n := 0; n < 2 && t.Context().Err() == nil; {
			_ = b.pool.QueryRow(t.Context(), `SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND datname = current_database()`).Scan(&n)
		}
		_ = holder.Rollback(t.Context())
	}()
	answers, err := h.write(note("b1", 1, "k2", "good"))
	if errors.Is(err, errLed) {
		// The old session had not ended within a second: this writer steps down,
		// having said for certain what became of the batch.
		h.leave()
		h = b.hand()
	} else {
		require.NoError(t, err)
	}
	require.NoError(t, answers[0].err, "nobody is answered before what became of it is certain")
	assert.False(t, answers[0].receipt.Repeated)
	assert.EqualValues(t, 2, answers[0].receipt.Position())
	assert.Len(t, b.all(), 2)
}

// Guard: the compare-and-set in insert. A writer that lost its lock without
// noticing writes nothing, forks nothing, and answers for certain.
func TestAZombieWriterForksNothing(t *testing.T) {
	b := newBook(t)
	zombie := b.hand()
	zombie.one(note("b1", 0, "k1", "mine"))
	b.db.Exec(`SELECT pg_terminate_backend($1)`, zombie.conn.PgConn().PID())
	heir := b.hand() // gets the lock once the session has ended
	heir.one(note("b1", 1, "k2", "the heir's"))

	answers, err := zombie.write(note("b1", 1, "k3", "the zombie's"))
	assert.ErrorIs(t, err, errLed)
	assert.True(t, fault.Is(answers[0].err, fault.Unavailable), "%v", answers[0].err)

	// The zombie's look moved the epoch; the heir notices and goes on.
	assert.EqualValues(t, 3, heir.one(note("b1", 2, "k4", "the heir's")).Position())
	rows := b.all()
	require.Len(t, rows, 3)
	for _, row := range rows {
		assert.NotEqual(t, "k3", row.RequestKey)
	}
}

// The same with a zombie whose connection works: somebody else moved the head.
func TestAWriterWhoseHeadWasMovedReadsItAgain(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	h.one(note("b1", 0, "k1", "mine"))
	stale := h.head
	b.db.Exec(`UPDATE ledger.head SET epoch = epoch + 1`)
	assert.EqualValues(t, 2, h.one(note("b1", 1, "k2", "mine again")).Position())
	moved, err := h.pen.insert(t.Context(), stale, b.all()[1:])
	require.NoError(t, err)
	assert.False(t, moved)
	moved, err = h.pen.insert(t.Context(), Head{h.head.Position, stale.Hash, h.head.RecordedAt, h.head.Epoch}, b.all()[1:])
	require.NoError(t, err)
	assert.False(t, moved, "the hash has to be right")
	moved, err = h.pen.insert(t.Context(), Head{h.head.Position, h.head.Hash, h.head.RecordedAt, h.head.Epoch - 1}, b.all()[1:])
	require.NoError(t, err)
	assert.False(t, moved, "the epoch has to be right")
}

// A writer that cannot reach its database at all gives up in time and says that
// nothing is certain.
func TestAWriterWithoutADatabaseStepsDown(t *testing.T) {
	b := newBook(t)
	c := b.cutter()
	ctx, giveUp := context.WithCancel(t.Context())
	var refused atomic.Bool
	h := b.handWith(func(ctx context.Context) (*pgx.Conn, error) {
		if refused.Load() {
			giveUp()
			return nil, errCut
		}
		return c.dial(ctx)
	})
	h.one(note("b1", 0, "k1", "warm"))
	refused.Store(true)
	c.next.Store(behind)
	item := &waiting{ctx, note("b1", 1, "k2", "good"), make(chan outcome, 2)}
	err := h.attempt(ctx, []*waiting{item}, hopeful)
	assert.ErrorIs(t, err, errCut)
	require.Len(t, item.answer, 1)
	assert.True(t, fault.Is((<-item.answer).err, fault.Unavailable))

	refused.Store(false)
	require.NoError(t, h.takeLock(t.Context()))
	again := h.one(note("b1", 1, "k2", "good"))
	assert.True(t, again.Repeated, "it was written, and asking again is safe")
}
