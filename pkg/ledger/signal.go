package ledger

// A Signal wakes one waiter. Setting it again before it was seen changes nothing:
// the waiter looks at the table anyway.
type Signal struct{ c chan struct{} }

// NewSignal makes a signal that is not set.
func NewSignal() *Signal { return &Signal{make(chan struct{}, 1)} }

// Set wakes the waiter, now or when it next waits.
func (s *Signal) Set() {
	select {
	case s.c <- struct{}{}:
	default:
	}
}

// C is what the waiter waits on.
func (s *Signal) C() <-chan struct{} { return s.c }
