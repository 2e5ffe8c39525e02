package ledger

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

// Guard: the bounded queue in Writer.enqueue.
func TestAFullQueueIsBusyAtOnce(t *testing.T) {
	b := newBook(t)
	w := NewWriter(b.dial, b.clock, quiet)
	w.queue = make(chan *waiting, 2)
	w.setLeading(true)
	answers := make(chan error, 2)
	for i := range 2 {
		go func() {
			_, err := w.Append(t.Context(), note(fmt.Sprint("b", i), 0, key(), "waits"))
			answers <- err
		}()
	}
	require.Eventually(t, func() bool { return len(w.queue) == 2 }, 5*time.Second, time.Millisecond)
	_, err := w.Append(t.Context(), note("b9", 0, "refused", "too much"))
	assert.True(t, fault.Is(err, fault.Busy), "%v", err)
	b.leadWith(w)
	require.NoError(t, <-answers)
	require.NoError(t, <-answers)
	assert.Len(t, b.all(), 2, "what was refused was not written")
}

// Guard: gathered.take. What nobody waits for any more is not written later.
func TestAnAppendWhoseCallerHasGoneIsNotWritten(t *testing.T) {
	b := newBook(t)
	w := NewWriter(b.dial, b.clock, quiet)
	w.setLeading(true)
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error, 1)
	go func() {
		_, err := w.Append(ctx, note("b1", 0, key(), "too late"))
		gone <- err
	}()
	require.Eventually(t, func() bool { return len(w.queue) == 1 }, 5*time.Second, time.Millisecond)
	cancel()
	assert.True(t, fault.Is(<-gone, fault.Unavailable))
	l := b.leadWith(w)
	_, err := l.Append(t.Context(), note("b2", 0, key(), "in time"))
	require.NoError(t, err)
	assert.Len(t, b.all(), 1)
}

// Guard: setLeading and the draining of the queue in Writer.leave.
func TestAWriterThatStopsAnswersEverybody(t *testing.T) {
	b := newBook(t)
	l := b.lead()
	var all sync.WaitGroup
	var acked sync.Map
	begun := make(chan struct{}, 1000)
	for i := range 8 {
		all.Go(func() {
			for n := range int64(1000) {
				k := key()
				_, err := l.Append(context.Background(), note(fmt.Sprint("b", i), n, k, "x"))
				if err != nil {
					assert.True(t, fault.Is(err, fault.Unavailable), "%v", err)
					return
				}
				acked.Store(k, true)
				select {
				case begun <- struct{}{}:
				default:
				}
			}
		})
	}
	for range 50 {
		<-begun
	}
	require.NoError(t, l.stop())
	all.Wait() // nobody hangs
	_, err := l.Append(context.Background(), note("b1", AnyVersion, key(), "x"))
	assert.True(t, fault.Is(err, fault.Unavailable), "nobody leads")
	for _, row := range b.all() {
		acked.Delete(row.RequestKey)
	}
	acked.Range(func(k, _ any) bool { return assert.Fail(t, "acknowledged and not there", "%v", k) })
}
