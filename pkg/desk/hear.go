package desk

import (
	"context"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"refloat.example/pkg/message"
)

const (
	// silence is how long the stream may say nothing before the room looks into the
	// book itself.
	silence = 500 * time.Millisecond
	// readAtOnce bounds what it then takes at a time.
	readAtOnce = 256
	// hearAgain is the pause before a stream that cannot be followed is tried again.
	hearAgain = time.Second
)

// A listener takes events from two sources, in order and each once.
type listener struct {
	apply func(ctx context.Context, events []message.Event) error

	mu      sync.Mutex
	at      int64     // position up to which everything is applied
	told    time.Time // when the stream last said something
	refused error     // what apply failed with; then it is over
}

// follow hands the events behind a position to apply: from the stream as they
// come, and from the book while the stream is silent although the book goes on. A
// cluster that lost a node takes some seconds to choose another leader; nobody has
// to wait for that. It ends with ctx, or with the error of apply.
func (d *Desk) follow(ctx context.Context, after int64, apply func(ctx context.Context, events []message.Event) error) error {
	l := &listener{apply: apply, at: after, told: time.Now()}
	both, ctx := errgroup.WithContext(ctx)
	both.Go(func() error { return d.hearStream(ctx, l) })
	both.Go(func() error { return d.readBook(ctx, l) })
	return both.Wait()
}

func (d *Desk) hearStream(ctx context.Context, l *listener) error {
	for reason := ""; ; {
		err := d.Bus.Follow(ctx, l.position(), l.hear)
		switch {
		case ctx.Err() != nil:
			return nil
		case l.failure() != nil:
			return l.failure()
		}
		if err != nil && err.Error() != reason { // once, not every second
			reason = err.Error()
			d.Slog.Warn("the event stream cannot be followed at the moment; the book is read instead", "room", d.Room, "err", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(hearAgain):
		}
	}
}

func (d *Desk) readBook(ctx context.Context, l *listener) error {
	look := time.NewTicker(silence)
	defer look.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-look.C:
		}
		for more := l.silent(); more; {
			events, err := d.Log.After(ctx, l.position(), readAtOnce)
			if err != nil || len(events) == 0 {
				break // a database that does not answer is heard of when something is applied
			}
			if err := l.take(ctx, events); err != nil {
				return err
			}
			more = len(events) == readAtOnce
		}
	}
}

// hear takes what the stream says.
func (l *listener) hear(ctx context.Context, events []message.Event) error {
	l.mu.Lock()
	l.told = time.Now()
	l.mu.Unlock()
	return l.take(ctx, events)
}

// take applies what was not applied before.
func (l *listener) take(ctx context.Context, events []message.Event) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.refused != nil {
		return l.refused
	}
	known := 0
	for known < len(events) && events[known].Position <= l.at {
		known++
	}
	if events = events[known:]; len(events) == 0 {
		return nil
	}
	if l.refused = l.apply(ctx, events); l.refused == nil {
		l.at = events[len(events)-1].Position
	}
	return l.refused
}

func (l *listener) position() int64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.at
}

func (l *listener) silent() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return time.Since(l.told) >= silence
}

func (l *listener) failure() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.refused
}
