package lifecycle

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"
)

const (
	firstPause = 100 * time.Millisecond
	// longestPause is how long a part stays away at most after its cause of
	// failure has gone.
	longestPause = 30 * time.Second
	// calm is how long a run must last for the pauses to begin anew.
	calm = time.Minute
)

// ErrStopped is the cause of the context that a Loop's function sees when the
// loop is stopped, to tell it from a deadline.
var ErrStopped = errors.New("stopped")

// Loop is a part that keeps a function running in a goroutine of its own. When
// the function fails or panics that is logged and it is called again, after a
// pause that doubles from 0.1 s to 30 s; when it returns nil the loop has done
// its work and ends.
type Loop struct {
	name   string
	log    *slog.Logger
	run    func(ctx context.Context) error
	cancel context.CancelCauseFunc
	ended  chan struct{}
}

var _ Part = (*Loop)(nil)

// NewLoop makes a loop that is not started yet. run has to return soon after
// its context ends.
func NewLoop(name string, log *slog.Logger, run func(ctx context.Context) error) *Loop {
	return &Loop{name: name, log: log, run: run}
}

// Start starts the goroutine. It keeps the context's values, not its end.
func (l *Loop) Start(ctx context.Context) error {
	ctx, l.cancel = context.WithCancelCause(context.WithoutCancel(ctx))
	l.ended = make(chan struct{})
	go l.supervise(ctx)
	return nil
}

// Stop ends the function's context and waits for the function to return.
func (l *Loop) Stop(ctx context.Context) error {
	l.cancel(ErrStopped)
	select {
	case <-l.ended:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("%s is still running: %w", l.name, ctx.Err())
	}
}

func (l *Loop) supervise(ctx context.Context) {
	defer close(l.ended)
	for pause := firstPause; ; pause = min(2*pause, longestPause) {
		begin := time.Now()
		err := l.once(ctx)
		if err == nil || ctx.Err() != nil {
			return
		}
		if time.Since(begin) >= calm {
			pause = firstPause
		}
		l.log.Error("will be run again", "part", l.name, "pause", pause, "err", err)
		if !sleep(ctx, pause) {
			return
		}
	}
}

// once calls the function and turns a panic into an error: one loop's mistake
// must not end the others.
func (l *Loop) once(ctx context.Context) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	return l.run(ctx)
}

// sleep says whether the pause passed before the context ended.
func sleep(ctx context.Context, pause time.Duration) bool {
	timer := time.NewTimer(pause)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}
