package ledger

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// What a caller asks of a stream, and what it hears.
type (
	asked struct {
		stream, key string // key "": the stream is read
		expected    int64
		other       bool // the key is used for something else
	}
	heard struct {
		what    string // "written", "repeated", "conflict", "misused", "unknown", "read"
		version int64  // of the event, or the one that a conflict names
		keys    []string
	}
)

// streamModel is what a stream ought to be: the keys of its appends, in order. An
// append of which nobody heard whether it was written may have been, or not.
var streamModel = (&porcupine.NondeterministicModel{
	Partition: func(history []porcupine.Operation) [][]porcupine.Operation {
		parts := map[string][]porcupine.Operation{}
		for _, o := range history {
			name := o.Input.(asked).stream
			parts[name] = append(parts[name], o)
		}
		var all [][]porcupine.Operation
		for _, part := range parts {
			all = append(all, part)
		}
		return all
	},
	Init:  func() []any { return []any{[]string(nil)} },
	Equal: func(a, b any) bool { return slices.Equal(a.([]string), b.([]string)) },
	Step:  func(state, in, out any) []any { return stepStream(state.([]string), in.(asked), out.(heard)) },
}).ToModel()

func stepStream(keys []string, in asked, out heard) []any {
	same := []any{keys}
	n := int64(len(keys))
	fits := in.expected == AnyVersion || in.expected == n
	known := in.key != "" && slices.Contains(keys, in.key)
	written := func() any { return append(keys[:n:n], in.key) }
	switch {
	case out.what == "read" && slices.Equal(keys, out.keys),
		out.what == "misused" && known && in.other,
		out.what == "repeated" && known && !in.other && keys[out.version-1] == in.key,
		out.what == "conflict" && !known && !fits && out.version == n:
		return same
	case out.what == "written" && !known && fits && out.version == n+1:
		return []any{written()}
	case out.what == "unknown" && !known && fits:
		return []any{keys, written()}
	case out.what == "unknown":
		return same
	}
	return nil
}

// A model that takes everything would prove nothing.
func TestTheModelRefusesWhatIsWrong(t *testing.T) {
	keys := []string{"a", "b"}
	for name, row := range map[string]struct {
		in   asked
		out  heard
		want int
	}{
		"written":                {asked{"s", "c", 2, false}, heard{"written", 3, nil}, 1},
		"written at a gap":       {asked{"s", "c", 2, false}, heard{"written", 4, nil}, 0},
		"a lost update":          {asked{"s", "c", 1, false}, heard{"written", 3, nil}, 0},
		"written twice":          {asked{"s", "b", 2, false}, heard{"written", 3, nil}, 0},
		"a conflict":             {asked{"s", "c", 1, false}, heard{"conflict", 2, nil}, 1},
		"an old version named":   {asked{"s", "c", 0, false}, heard{"conflict", 1, nil}, 0},
		"a conflict for nothing": {asked{"s", "c", 2, false}, heard{"conflict", 2, nil}, 0},
		"a retry refused":        {asked{"s", "b", 1, false}, heard{"conflict", 2, nil}, 0},
		"a retry":                {asked{"s", "b", 1, false}, heard{"repeated", 2, nil}, 1},
		"another's answer":       {asked{"s", "b", 1, false}, heard{"repeated", 1, nil}, 0},
		"misuse":                 {asked{"s", "b", 1, true}, heard{"misused", 0, nil}, 1},
		"misuse answered":        {asked{"s", "b", 1, true}, heard{"repeated", 2, nil}, 0},
		"nobody knows":           {asked{"s", "c", 2, false}, heard{"unknown", 0, nil}, 2},
		"nobody knows, stale":    {asked{"s", "c", 1, false}, heard{"unknown", 0, nil}, 1},
		"read":                   {asked{stream: "s"}, heard{"read", 0, keys}, 1},
		"a stale read":           {asked{stream: "s"}, heard{"read", 0, keys[:1]}, 0},
	} {
		t.Run(name, func(t *testing.T) { assert.Len(t, stepStream(keys, row.in, row.out), row.want) })
	}
}

// recorder notes what callers ask and hear, as porcupine wants it.
type recorder struct {
	*book
	w   *Writer
	mu  sync.Mutex
	ops []porcupine.Operation
}

func (r *recorder) note(client int, called time.Duration, in asked, out heard) {
	returned := int64(time.Since(origin))
	if out.what == "unknown" {
		returned = math.MaxInt64 // it may still come to pass
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.ops = append(r.ops, porcupine.Operation{ClientId: client, Input: in, Call: int64(called), Output: out, Return: returned})
}

// append asks until the answer is certain, noting each attempt.
func (r *recorder) append(t *testing.T, client int, in asked, a Append) heard {
	for {
		called := time.Since(origin)
		receipt, err := r.w.Append(context.Background(), a)
		out := hear(receipt, err)
		if out.what == "" {
			assert.NoError(t, err)
			return out
		}
		if out.what != "unknown" || errors.Unwrap(err) != nil { // else nobody led: it was not even tried
			r.note(client, called, in, out)
		}
		if out.what != "unknown" || !rest(t.Context(), time.Millisecond) {
			return out
		}
	}
}

func hear(receipt Receipt, err error) heard {
	switch {
	case err == nil && receipt.Repeated:
		return heard{what: "repeated", version: receipt.Events[0].Version}
	case err == nil:
		return heard{what: "written", version: receipt.Events[0].Version}
	case fault.Is(err, fault.Unavailable):
		return heard{what: "unknown"}
	}
	if named := atVersion.FindStringSubmatch(err.Error()); named != nil {
		version, _ := strconv.ParseInt(named[2], 10, 64) // digits, as matched
		return heard{what: "conflict", version: version}
	}
	if fault.Is(err, fault.Conflict) {
		return heard{what: "misused"}
	}
	return heard{}
}

func (r *recorder) read(t *testing.T, client int, stream string) heard {
	called := time.Since(origin)
	events, err := r.Stream(t.Context(), stream)
	require.NoError(t, err)
	out := heard{what: "read"}
	for _, e := range events {
		out.keys = append(out.keys, e.RequestKey)
	}
	r.note(client, called, asked{stream: stream}, out)
	return out
}

// work is one client: it appends with the version it has seen, a stale one or none,
// repeats itself, misuses a key, and reads.
func (r *recorder) work(t *testing.T, client, each, streams int) {
	rng := rand.New(rand.NewPCG(uint64(client), 11))
	seen := map[string]int64{}
	var last asked
	for range each {
		in := asked{stream: fmt.Sprint("intake.boat/hot", rng.IntN(streams)), key: key()}
		in.expected = seen[in.stream]
		switch rng.IntN(10) {
		case 0:
			in.expected = AnyVersion
		case 1:
			in = last
		case 2:
			in = last
			in.other = true
		case 3, 4:
			seen[in.stream] = int64(len(r.read(t, client, in.stream).keys))
			continue
		}
		if in.key == "" {
			continue
		}
		words := "x"
		if in.other {
			words = "something else"
		}
		a := note(in.stream[len("intake.boat/"):], in.expected, in.key, words)
		if out := r.append(t, client, in, a); out.what == "written" || out.what == "conflict" {
			seen[in.stream] = out.version
		}
		if !in.other {
			last = in
		}
	}
}

// Guards: the comparison of versions, the positions and versions counted under the
// compare-and-set, callers answered only after the commit, Writer.resolve, and the
// constraint on request keys. The writer's session is ended again and again on the
// server's side while clients write, repeat themselves and read; porcupine looks for
// an order of all of it that a stream could have had.
func TestHistoriesWithKilledConnectionsAreLinearizable(t *testing.T) {
	b := newBook(t)
	r := &recorder{book: b, w: NewWriter(b.dial, clock.System{}, quiet)}
	leading, end := context.WithCancel(t.Context())
	var lead, work, killing sync.WaitGroup
	lead.Go(func() {
		for leading.Err() == nil { // as lifecycle.Loop does it
			_ = r.w.Lead(leading, func() {})
			rest(leading, time.Millisecond)
		}
	})
	clients, each := 12, rounds(150, 1500)
	for c := range clients {
		work.Go(func() { r.work(t, c, each, 8) })
	}
	kills := 0
	done := make(chan struct{})
	killing.Go(func() {
		for {
			select {
			case <-done:
				return
			case <-time.After(20 * time.Millisecond):
				kills += b.killWriter(t)
			}
		}
	})
	work.Wait()
	close(done)
	killing.Wait()
	end()
	lead.Wait()
	require.Positive(t, kills)
	if least := rounds(1500, 15_000); len(r.ops) < least {
		require.Fail(t, "too little was done", "%d operations", len(r.ops))
	}
	t.Logf("%d operations, %d connections killed", len(r.ops), kills)
	require.Equal(t, porcupine.Ok, porcupine.CheckOperationsTimeout(streamModel, r.ops, 3*time.Minute))
}

// killWriter ends the session that holds the writer's lock, and says how many it
// found.
func (b *book) killWriter(t *testing.T) (n int) {
	conn, err := pgx.Connect(t.Context(), b.db.SuperURL)
	require.NoError(t, err)
	defer func() { _ = conn.Close(context.Background()) }()
	err = conn.QueryRow(t.Context(), `SELECT count(pg_terminate_backend(pid)) FROM pg_locks WHERE locktype = 'advisory' AND granted
		AND objid = $1 AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`, uint32(writerLock&0xffffffff)).Scan(&n)
	require.NoError(t, err)
	return n
}
