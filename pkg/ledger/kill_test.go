package ledger

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/postgrestest"
)

// childURL tells this test binary, run again, to write into that book until it is
// killed.
const childURL = "REFLOAT_TEST_LEDGER_CHILD"

// rounds is how often things are killed: a few times, or many with
// REFLOAT_LONG=1 in the environment.
func rounds(few, many int) int {
	if os.Getenv("REFLOAT_LONG") != "" {
		return many
	}
	return few
}

// beChild leads, appends from several goroutines and says on standard output what
// it begins and what was acknowledged.
func beChild(url string) {
	w := NewWriter(func(ctx context.Context) (*pgx.Conn, error) { return pgx.Connect(ctx, url) }, clock.System{}, quiet)
	ctx := context.Background()
	err := w.Lead(ctx, func() {
		for i := range 8 {
			go func() {
				for n := 0; ; n++ {
					k := fmt.Sprintf("%d-%d-%d", os.Getpid(), i, n)
					say("begun", k, 0)
					receipt, err := w.Append(ctx, note(fmt.Sprint("b", i%3), AnyVersion, k, "x"))
					if err != nil {
						fmt.Fprintln(os.Stderr, err)
						os.Exit(1)
					}
					say("acked", k, receipt.Position())
				}
			}()
		}
	})
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// say writes a line at once: nothing may be lost in a buffer of the child's.
func say(what, key string, position int64) {
	fmt.Fprintf(os.Stdout, "%s %s %d\n", what, key, position)
}

// tally is what was begun and what was acknowledged, noted outside.
type tally struct {
	mu    sync.Mutex
	begun map[string]bool
	acked map[string]int64
}

func newTally() *tally { return &tally{begun: map[string]bool{}, acked: map[string]int64{}} }

func (n *tally) begin(key string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.begun[key] = true
}

func (n *tally) ack(key string, position int64) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.acked[key] = position
}

func (n *tally) count() int {
	n.mu.Lock()
	defer n.mu.Unlock()
	return len(n.acked)
}

// check: what was acknowledged stands there; what stands there was begun.
func (n *tally) check(t *testing.T, rows []Row) {
	t.Helper()
	stored := map[string]int64{}
	for _, row := range rows {
		stored[row.RequestKey] = row.Position
		require.True(t, n.begun[row.RequestKey], "%s was never begun", row.RequestKey)
	}
	require.Len(t, stored, len(rows), "nothing is doubled")
	for key, position := range n.acked {
		require.Equal(t, position, stored[key], "%s was acknowledged", key)
	}
}

// Guard: callers are answered behind the commit (Writer.commit), never before.
func TestAcknowledgedAppendsSurviveTheDeathOfTheirProcess(t *testing.T) {
	b := newBook(t)
	n := newTally()
	for round := range rounds(3, 200) {
		n.outlive(t, b.db.AppURL, 20+13*round%50)
		b.sound()
	}
	n.check(t, b.all())
	head, err := b.Head(t.Context())
	require.NoError(t, err)
	rows := b.all()
	assert.Equal(t, rows[len(rows)-1].Hash, head.Hash)
	assert.EqualValues(t, len(rows)+1, b.hand().one(note("b9", 0, key(), "life goes on")).Position())
}

// outlive starts a child and kills it when so many appends were acknowledged.
func (n *tally) outlive(t *testing.T, url string, after int) {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childURL+"="+url)
	var complaint bytes.Buffer
	child.Stderr = &complaint
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	acked := 0
	for lines := bufio.NewScanner(out); lines.Scan(); {
		var what, key string
		var position int64
		if _, err := fmt.Sscan(lines.Text(), &what, &key, &position); err != nil {
			continue // the last line may be cut off: it was not acknowledged
		}
		switch what {
		case "begun":
			n.begin(key)
		case "acked":
			n.ack(key, position)
			if acked++; acked == after {
				require.NoError(t, child.Process.Kill())
			}
		}
	}
	_ = child.Wait() // killed, as ordered
	require.GreaterOrEqual(t, acked, after, "%s", complaint.String())
}

// Guards: Writer.resolve, and PostgreSQL's own care for the disk. The writer
// lives on while its server is killed and started again under load; callers wait,
// and every one of them is answered for certain.
func TestAcknowledgedAppendsSurviveTheDeathOfPostgreSQL(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a durable server of its own")
	}
	cluster := postgrestest.NewCluster(t)
	db := cluster.NewDatabase(schema)
	b := openBook(t, db)
	n := newTally()
	w := NewWriter(b.dial, clock.System{}, quiet)
	leading, end := context.WithCancel(t.Context())
	defer end()
	var lead, writing sync.WaitGroup
	lead.Go(func() {
		for leading.Err() == nil { // as lifecycle.Loop does it
			_ = w.Lead(leading, func() {})
			rest(leading, time.Millisecond)
		}
	})
	stop := make(chan struct{})
	for i := range 8 {
		writing.Go(func() {
			for at := 0; ; at++ {
				select {
				case <-stop:
					return
				default:
					n.persist(t, w, fmt.Sprintf("%d-%d", i, at), i)
				}
			}
		})
	}
	for round := range rounds(3, 200) {
		target := n.count() + 40 + 17*round%60
		require.Eventually(t, func() bool { return n.count() >= target }, 30*time.Second, time.Millisecond)
		switch round % 3 {
		case 0: // as a power cut of its processes
			cluster.Kill()
			cluster.Start()
		case 1: // its immediate shutdown, in the middle of a batch
			cluster.Cut()
			cluster.Start()
		case 2: // one of its processes: the server ends all sessions and recovers by itself
			require.Eventually(t, func() bool {
				pid, err := b.writerPid(t.Context())
				return err == nil && syscall.Kill(pid, syscall.SIGKILL) == nil
			}, time.Minute, time.Millisecond)
		}
	}
	target := n.count() + 20
	require.Eventually(t, func() bool { return n.count() >= target }, 30*time.Second, time.Millisecond, "life goes on")
	close(stop)
	writing.Wait()
	end()
	lead.Wait()

	b = openBook(t, &postgrestest.DB{Pool: db.Open(db.AppURL), AppURL: db.AppURL})
	b.sound()
	n.check(t, b.all())
}

// writerPid is the process that serves the writer's session.
func (b *book) writerPid(ctx context.Context) (pid int, err error) {
	conn, err := b.dial(ctx) // the pool may not have noticed the last death
	if err != nil {
		return 0, err
	}
	defer hangUp(conn)
	err = conn.QueryRow(ctx, `SELECT pid FROM pg_locks WHERE locktype = 'advisory' AND granted AND objid = $1
		AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`, uint32(writerLock&0xffffffff)).Scan(&pid)
	return pid, err
}

// persist appends until the answer is certain.
func (n *tally) persist(t *testing.T, w *Writer, key string, i int) {
	n.persistWith(t, w.Append, key, i)
}

func (n *tally) persistWith(t *testing.T, append func(context.Context, Append) (Receipt, error), key string, i int) {
	n.begin(key)
	for {
		receipt, err := append(context.Background(), note(fmt.Sprint("b", i%3), AnyVersion, key, "x"))
		if err == nil {
			n.ack(key, receipt.Position())
			return
		}
		if !fault.Is(err, fault.Unavailable) || !rest(t.Context(), time.Millisecond) {
			assert.NoError(t, err)
			return
		}
	}
}
