// Package clock hands out time, so that nothing else asks the machine for it.
//
// Instants are truncated to the microsecond, because that is what PostgreSQL
// keeps; a value that comes back from the database then equals the one that
// was sent.
package clock

import (
	"sync"
	"time"
)

// Clock tells the time. Implementations are safe for concurrent use.
type Clock interface {
	Now() time.Time
}

// System is the machine's clock, in UTC, to the microsecond.
type System struct{}

// Now gives the present instant.
func (System) Now() time.Time { return time.Now().UTC().Truncate(time.Microsecond) }

// Manual is a clock that tests move by hand.
type Manual struct {
	mu  sync.Mutex
	now time.Time
}

// NewManual starts a manual clock at an instant.
func NewManual(at time.Time) *Manual { return &Manual{now: at.UTC().Truncate(time.Microsecond)} }

// Now gives the instant that was last set.
func (m *Manual) Now() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.now
}

// Advance moves the clock, backwards too: clocks do that.
func (m *Manual) Advance(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.now = m.now.Add(d)
}
