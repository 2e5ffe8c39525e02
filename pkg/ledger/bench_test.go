package ledger

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/postgrestest"
)

// words makes an event's data about 400 bytes long.
const words = "a crack of 42 mm along the keel line, aft of the seat mount, seen from inside and from outside after cleaning; " +
	"white edges, no play when pressed; the scupper beside it is sound. Found by lamp light in the shed, to be looked at again by day. " +
	"The drain plug is missing and the deck line is perished; both are on the list of parts for this boat already, with the toggles."

// BenchmarkAppend measures durable, chained appends of one event each, callers
// waiting for their answers, against a server that keeps its promises to the disk.
func BenchmarkAppend(b *testing.B) {
	db := postgrestest.NewCluster(b).NewDatabase(schema)
	book := openBook(b, db)
	w := NewWriter(book.dial, clock.System{}, slog.New(slog.DiscardHandler))
	book.leadWith(w)
	for _, callers := range []int{1, 16, 64} {
		b.Run(fmt.Sprint(callers, "-callers"), func(b *testing.B) {
			var next atomic.Int64
			var all sync.WaitGroup
			b.ResetTimer()
			begun := time.Now()
			for range callers {
				all.Go(func() {
					for next.Add(1) <= int64(b.N) {
						k := key()
						_, err := w.Append(context.Background(), note(k, 0, k, words))
						if err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			all.Wait()
			b.ReportMetric(float64(b.N)/time.Since(begun).Seconds(), "events/s")
		})
	}
}

// BenchmarkVerify reads and checks a book of 100,000 events; BenchmarkRead only
// reads the same columns, which is the floor.
func BenchmarkVerify(b *testing.B) {
	const events = 100_000
	book := openBook(b, postgrestest.New(b, schema))
	h := book.hand()
	for at := 0; at < events; at += MaxEvents {
		a := note(fmt.Sprint("b", at), AnyVersion, key(), words)
		for len(a.Events) < MaxEvents {
			a.Events = append(a.Events, a.Events[0])
		}
		h.one(a)
	}
	perSecond := func(b *testing.B) {
		b.ReportMetric(events*float64(b.N)/b.Elapsed().Seconds(), "events/s")
	}
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			rows, err := book.pool.Query(b.Context(), `SELECT `+columns+` FROM ledger.event ORDER BY position`)
			require.NoError(b, err)
			n := 0
			for rows.Next() {
				n += len(rows.RawValues())
			}
			require.NoError(b, rows.Err())
			require.NotZero(b, n)
		}
		perSecond(b)
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			found, err := book.Verify(b.Context())
			require.NoError(b, err)
			require.True(b, found.OK)
		}
		perSecond(b)
	})
}

func BenchmarkHash(b *testing.B) {
	a := note("b1", 0, "k", words)
	row := Row{RequestDigest: a.Digest}
	row.Data, row.PrevHash, row.ID, row.Stream = []byte(a.Events[0].Data), Genesis[:], "01985a3e-7c00-7000-8000-000000000001", "intake.boat/b1"
	c := newChainer()
	for b.Loop() {
		c.hash(&row)
	}
}

func BenchmarkCheck(b *testing.B) {
	a := note("b1", 0, "k", words)
	for b.Loop() {
		if err := a.check(); err != nil {
			b.Fatal(err)
		}
	}
}
