package ledger

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/postgrestest"
)

func TestMain(m *testing.M) {
	if url := os.Getenv(childURL); url != "" {
		beChild(url) // see kill_test.go; it ends by being killed
	}
	if folder := os.Getenv(childBus); folder != "" {
		beBus(folder) // likewise
	}
	os.Exit(m.Run())
}

var (
	schema = postgrestest.Migration{Schema: Schema, Files: Migrations()}
	quiet  = slog.New(slog.DiscardHandler)
	noon   = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
)

// A book is a database with an empty book and a clock. When the test ends, the
// book is read from end to end and has to be sound.
type book struct {
	*Reader
	t     testing.TB
	db    *postgrestest.DB
	clock *clock.Manual
}

func newBook(t testing.TB) *book {
	t.Helper()
	b := openBook(t, postgrestest.New(t, schema))
	t.Cleanup(b.sound)
	return b
}

func openBook(t testing.TB, db *postgrestest.DB) *book {
	return &book{Reader: NewReader(db.Pool), t: t, db: db, clock: clock.NewManual(noon)}
}

func (b *book) sound() {
	b.t.Helper()
	found, err := b.Verify(context.Background())
	require.NoError(b.t, err)
	require.Nil(b.t, found.Finding)
}

// all gives every event of the book.
func (b *book) all() []Row {
	b.t.Helper()
	rows, err := collect(b.pool.Query(context.Background(), `SELECT `+columns+` FROM ledger.event ORDER BY position`, inBinary))
	require.NoError(b.t, err)
	return rows
}

func (b *book) dial(ctx context.Context) (*pgx.Conn, error) { return pgx.Connect(ctx, b.db.AppURL) }

// leader is a writer that leads in a goroutine of its own.
type leader struct {
	*Writer
	cancel context.CancelFunc
	ended  chan error
}

// lead starts a writer and waits until it leads.
func (b *book) lead() *leader { return b.leadWith(NewWriter(b.dial, b.clock, quiet)) }

func (b *book) leadWith(w *Writer) *leader {
	b.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	l := &leader{w, cancel, make(chan error, 1)}
	led := make(chan struct{})
	go func() { l.ended <- w.Lead(ctx, func() { close(led) }) }()
	b.t.Cleanup(func() { _ = l.stop() }) // tests that care have looked
	select {
	case <-led:
	case err := <-l.ended:
		require.NoError(b.t, err)
	case <-time.After(10 * time.Second):
		require.Fail(b.t, "the writer does not come to lead")
	}
	return l
}

// stop ends a leader and gives what Lead gave.
func (l *leader) stop() error {
	l.cancel()
	err := <-l.ended
	l.ended <- err // to be stopped again
	return err
}

// hand is a writer that a test leads itself, batch by batch.
type hand struct {
	*Writer
	t testing.TB
}

func (b *book) hand() *hand { return b.handWith(b.dial) }

func (b *book) handWith(connect func(context.Context) (*pgx.Conn, error)) *hand {
	b.t.Helper()
	h := &hand{NewWriter(connect, b.clock, quiet), b.t}
	require.NoError(b.t, h.takeLock(b.t.Context()))
	b.t.Cleanup(h.leave)
	return h
}

// write writes one batch; every append has to have exactly one answer.
func (h *hand) write(appends ...Append) ([]outcome, error) {
	h.t.Helper()
	batch := make([]*waiting, len(appends))
	for i, a := range appends {
		require.NoError(h.t, a.check())
		batch[i] = &waiting{h.t.Context(), a, make(chan outcome, 2)}
	}
	err := h.Writer.write(h.t.Context(), batch)
	answers := make([]outcome, len(batch))
	for i, item := range batch {
		require.Len(h.t, item.answer, 1, "append %d (%s) has to be answered once", i, appends[i].Key)
		answers[i] = <-item.answer
	}
	return answers, err
}

// one writes one append that has to be taken.
func (h *hand) one(a Append) Receipt {
	h.t.Helper()
	answers, err := h.write(a)
	require.NoError(h.t, err)
	require.NoError(h.t, answers[0].err)
	return answers[0].receipt
}

// note is an append of one event to a boat's stream, which has to be at the
// version expected unless that is AnyVersion.
func note(boat string, expected int64, key, words string) Append {
	stream := "intake.boat/" + boat
	data, err := message.Canonical(map[string]string{"words": words})
	if err != nil {
		panic(err)
	}
	a := Append{
		Key: key, Digest: DigestOf([]byte(words)), Actor: "member/m1", Cause: "c1", Correlation: "r1",
		Events: []New{{Stream: stream, Boat: "b-1", Kind: "intake.noted", Schema: 1, Data: string(data)}},
	}
	if expected != AnyVersion {
		a.Expect = []Expected{{stream, expected}}
	}
	return a
}

var keys atomic.Int64

// key makes a request key.
func key() string { return fmt.Sprintf("key-%d", keys.Add(1)) }

// fill writes n events to three streams and gives the rows.
func (b *book) fill(n int) []Row {
	b.t.Helper()
	h := b.hand()
	defer h.leave()
	for i := range n {
		b.clock.Advance(time.Second)
		a := note(fmt.Sprint("b", i%3), AnyVersion, key(), fmt.Sprint("crack number ", i))
		a.Events[0].Data = strings.TrimSuffix(a.Events[0].Data, "}") + `,"zone":"amid"}` // so that there is an order of keys
		h.one(a)
	}
	return b.all()
}

func TestAnAppendStandsInTheBookAsItWasGiven(t *testing.T) {
	b := newBook(t)
	a := note("b1", 0, "k1", "a gouge <amidships> & a dent")
	a.HappenedAt = noon.Add(-48*time.Hour + 1234*time.Nanosecond)
	receipt := b.hand().one(a)
	rows := b.all()
	require.Len(t, rows, 1)
	row := rows[0]
	id, err := uuid.Parse(row.ID)
	require.NoError(t, err)
	assert.EqualValues(t, 7, id.Version())
	assert.Equal(t, receipt.Events[0].ID, row.ID)
	assert.EqualValues(t, 1, receipt.Position())
	assert.False(t, receipt.Repeated)
	assert.Equal(t, a.Events[0].Data, string(row.Data))
	assert.Equal(t, noon.Add(-48*time.Hour+time.Microsecond), row.HappenedAt, "to the microsecond")
	assert.Equal(t, noon, row.RecordedAt)
	assert.Equal(t, []string{"intake.boat/b1", "intake.noted", "b-1", "member/m1", "c1", "r1", "k1"},
		[]string{row.Stream, string(row.Kind), string(row.Boat), row.Actor, row.Cause, row.Correlation, row.RequestKey})
	assert.Equal(t, a.Digest, row.RequestDigest)
	assert.Equal(t, Genesis[:], row.PrevHash)
}
