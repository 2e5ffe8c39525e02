package desk

import (
	"context"
	"errors"
	"time"

	"github.com/nats-io/nats.go"
)

const (
	// askAgain is how long a client waits before it gives an order once more: the
	// instance that took it may have died. Whoever answers first counts; rooms know
	// a repeated order by its key.
	askAgain = 2 * time.Second
	// nobodyFor is how long nobody may listen before the room counts as down: while
	// a bus changes hands its rooms are away for a moment.
	nobodyFor   = time.Second
	nobodyPause = 50 * time.Millisecond
)

// once is an order that must not be given twice: it has no key, and does something.
type once interface{ OnlyOnce() }

// insist asks until somebody answers or ctx ends.
func (c Client) insist(ctx context.Context, subject string, order []byte) ([]byte, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // nobody waits for the others
	type reply struct {
		data []byte
		err  error
	}
	replies := make(chan reply, answerFor/askAgain+1)
	open := 0
	ask := func() {
		open++
		go func() {
			data, err := c.askPatiently(ctx, subject, order)
			replies <- reply{data, err}
		}()
	}
	ask()
	again := time.NewTicker(askAgain)
	defer again.Stop()
	for {
		select {
		case r := <-replies:
			if open--; r.err == nil || open == 0 {
				return r.data, r.err
			}
		case <-again.C:
			if open < cap(replies) {
				ask()
			}
		}
	}
}

// askPatiently asks once, and again for a moment while nobody listens.
func (c Client) askPatiently(ctx context.Context, subject string, order []byte) ([]byte, error) {
	for begin := time.Now(); ; {
		data, err := c.Conn.Request(ctx, subject, order)
		if !errors.Is(err, nats.ErrNoResponders) || time.Since(begin) >= nobodyFor {
			return data, err
		}
		select {
		case <-ctx.Done():
			return nil, err
		case <-time.After(nobodyPause):
		}
	}
}
