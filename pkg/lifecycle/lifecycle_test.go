package lifecycle

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

var errBroken = errors.New("broken")

// hooks makes a part of two functions; either may be nil.
type hooks struct {
	onStart, onStop func(ctx context.Context) error
}

var _ Part = hooks{}

func (h hooks) Start(ctx context.Context) error { return callIfSet(ctx, h.onStart) }
func (h hooks) Stop(ctx context.Context) error  { return callIfSet(ctx, h.onStop) }

func callIfSet(ctx context.Context, f func(context.Context) error) error {
	if f == nil {
		return nil
	}
	return f(ctx)
}

// run does with a group what a program does: it starts it, waits, and stops it
// within patience, whatever came before.
func run(ctx context.Context, g *Group, patience time.Duration) error {
	err := g.Start(ctx)
	if err == nil {
		err = g.Wait(ctx)
	}
	stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), patience)
	defer cancel()
	return errors.Join(err, g.Stop(stopping))
}

// diary notes what happens to parts, in order.
type diary []string

// part is one that notes its start and stop, and fails as told.
func (d *diary) part(name string, startErr, stopErr error) Part {
	return hooks{
		onStart: func(context.Context) error { *d = append(*d, "start "+name); return startErr },
		onStop:  func(context.Context) error { *d = append(*d, "stop "+name); return stopErr },
	}
}

func TestPartsStartInOrderAndStopInReverse(t *testing.T) {
	var d diary
	g := New(quiet())
	g.Add("hull", d.part("hull", nil, nil))
	g.Add("deck", d.part("deck", nil, errBroken))
	g.Add("seat", d.part("seat", nil, nil))
	require.NoError(t, g.Start(t.Context()))
	err := g.Stop(t.Context())
	assert.ErrorIs(t, err, errBroken)
	assert.ErrorContains(t, err, "stop deck")
	assert.Equal(t, diary{"start hull", "start deck", "start seat", "stop seat", "stop deck", "stop hull"}, d)
	assert.NoError(t, g.Stop(t.Context()), "a second stop finds nothing to do")
}

func TestAFailedStartStopsWhatWasStarted(t *testing.T) {
	var d diary
	g := New(quiet())
	g.Add("hull", d.part("hull", nil, nil))
	g.Add("deck", d.part("deck", errBroken, nil))
	g.Add("seat", d.part("seat", nil, nil))
	err := run(t.Context(), g, time.Second)
	assert.ErrorIs(t, err, errBroken)
	assert.ErrorContains(t, err, "start deck")
	assert.Equal(t, diary{"start hull", "start deck", "stop hull"}, d)
}

func TestRunEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var stopCtx error
	g := New(quiet())
	g.Add("hull", hooks{
		onStart: func(context.Context) error { cancel(); return nil },
		onStop:  func(ctx context.Context) error { stopCtx = ctx.Err(); return nil },
	})
	assert.NoError(t, run(ctx, g, time.Second))
	assert.NoError(t, stopCtx, "the order to end leaves time to stop")
}

func TestStopIsBoundedByItsPatience(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		var d diary
		g := New(quiet())
		g.Add("hull", d.part("hull", nil, nil))
		g.Add("stuck", hooks{onStop: func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() }})
		begin := time.Now()
		err := run(ctx, g, 7*time.Second)
		assert.ErrorIs(t, err, context.DeadlineExceeded)
		assert.ErrorContains(t, err, "stop stuck")
		assert.Equal(t, 7*time.Second, time.Since(begin))
		assert.Contains(t, d, "stop hull", "the others still get their turn")
	})
}

// mayfly is a part that ends by itself.
type mayfly struct {
	hooks
	done chan struct{}
	err  error
}

var _ Mortal = (*mayfly)(nil)

func (m *mayfly) Done() <-chan struct{} { return m.done }
func (m *mayfly) Err() error            { return m.err }

func TestAPartThatEndsByItselfEndsTheWhole(t *testing.T) {
	for name, cause := range map[string]error{"with a reason": errBroken, "without": nil} {
		t.Run(name, func(t *testing.T) {
			var d diary
			g := New(quiet())
			g.Add("hull", d.part("hull", nil, nil))
			m := &mayfly{done: make(chan struct{}), err: cause}
			m.onStart = func(context.Context) error { close(m.done); return nil }
			g.Add("mayfly", m)
			err := run(t.Context(), g, time.Second)
			assert.ErrorContains(t, err, "mayfly ended by itself")
			if cause != nil {
				assert.ErrorIs(t, err, cause)
			}
			assert.Equal(t, diary{"start hull", "stop hull"}, d)
		})
	}
}

func TestALoopIsRunAgainWithGrowingPauses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log bytes.Buffer
		begin := time.Now()
		var at []time.Duration
		l := NewLoop("tide", slog.New(slog.NewTextHandler(&log, nil)), func(context.Context) error {
			at = append(at, time.Since(begin))
			if len(at) == 2 {
				panic("on the rocks")
			}
			return errBroken
		})
		require.NoError(t, l.Start(t.Context()))
		time.Sleep(55 * time.Second)
		require.NoError(t, l.Stop(t.Context()))
		// 0.1 s doubled: 0.1, 0.2, ... 25.6, and from there 30 s.
		want := []time.Duration{0, 100, 300, 700, 1500, 3100, 6300, 12700, 25500, 51100}
		for i := range want {
			want[i] *= time.Millisecond
		}
		assert.Equal(t, want, at)
		assert.Contains(t, log.String(), "part=tide")
		assert.Contains(t, log.String(), "on the rocks")
	})
}

func TestPausesHaveACeilingAndBeginAnewAfterACalmTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var pauses []time.Duration
		var last time.Time
		calls := 0
		l := NewLoop("tide", quiet(), func(ctx context.Context) error {
			if !last.IsZero() {
				pauses = append(pauses, time.Since(last))
			}
			calls++
			if calls == 12 {
				sleep(ctx, 2*time.Minute) // works for a while
			}
			last = time.Now()
			return errBroken
		})
		require.NoError(t, l.Start(t.Context()))
		time.Sleep(10 * time.Minute)
		require.NoError(t, l.Stop(t.Context()))
		assert.Equal(t, 30*time.Second, pauses[9])
		assert.Equal(t, 100*time.Millisecond, pauses[11])
	})
}

func TestALoopStopsWithANamedCause(t *testing.T) {
	starting, cancel := context.WithCancel(t.Context())
	running, cause := make(chan struct{}), make(chan error, 1)
	l := NewLoop("tide", quiet(), func(ctx context.Context) error {
		close(running)
		<-ctx.Done()
		cause <- context.Cause(ctx)
		return ctx.Err()
	})
	require.NoError(t, l.Start(starting))
	cancel() // the start is over: this must not end the loop
	<-running
	require.NoError(t, l.Stop(t.Context()))
	assert.Equal(t, ErrStopped, <-cause)
}

func TestALoopThatDoesNotListenIsNamed(t *testing.T) {
	free := make(chan struct{})
	l := NewLoop("deaf", quiet(), func(context.Context) error { <-free; return nil })
	require.NoError(t, l.Start(t.Context()))
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	err := l.Stop(ended)
	assert.ErrorContains(t, err, "deaf is still running")
	close(free)
	<-l.ended
}

func TestALoopThatHasDoneItsWorkEnds(t *testing.T) {
	calls := 0
	l := NewLoop("once", quiet(), func(context.Context) error { calls++; return nil })
	require.NoError(t, l.Start(t.Context()))
	<-l.ended
	assert.Equal(t, 1, calls)
	assert.NoError(t, l.Stop(t.Context()))
}
