// Package lifecycle starts the parts of a program in order and stops them in
// reverse.
//
// It promises that whatever was started is stopped, also when a later part
// fails to start, that every error names its part, and that a part which ends
// by itself ends the whole. It does not restart parts: a Loop restarts its own
// function, anything bigger is the service manager's business.
package lifecycle

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"
)

// Part is something that runs between Start and Stop.
type Part interface {
	// Start returns when the part works. The context bounds the start, not the
	// life of the part.
	Start(ctx context.Context) error
	// Stop returns when the part has ended, or with an error when the context
	// ends first. It is called once, and only after a Start that succeeded.
	Stop(ctx context.Context) error
}

// Mortal is a Part that can end by itself.
type Mortal interface {
	Part
	// Done is closed when the part has ended; valid after Start.
	Done() <-chan struct{}
	// Err says why it ended by itself.
	Err() error
}

// Group is a row of named parts. The zero value is not ready: use New. It is
// for one goroutine.
type Group struct {
	log     *slog.Logger
	parts   []named
	started int
}

type named struct {
	Part
	name string
}

// New makes an empty group; what it does is logged.
func New(log *slog.Logger) *Group { return &Group{log: log} }

// Add puts a part at the end of the row. Only before Start.
func (g *Group) Add(name string, p Part) { g.parts = append(g.parts, named{p, name}) }

// Start starts the parts in the order in which they were added. When one
// fails, nothing has been stopped yet: call Stop, as Run does.
func (g *Group) Start(ctx context.Context) error {
	for _, p := range g.parts {
		begin := time.Now()
		if err := p.Start(ctx); err != nil {
			return fmt.Errorf("start %s: %w", p.name, err)
		}
		g.started++
		g.log.Debug("started", "part", p.name, "took", time.Since(begin))
	}
	return nil
}

// Stop stops what was started, the last first. Each part gets its turn, also
// after an error or when the context has ended; the errors are joined.
func (g *Group) Stop(ctx context.Context) error {
	var errs []error
	for ; g.started > 0; g.started-- {
		p := g.parts[g.started-1]
		if err := p.Stop(ctx); err != nil {
			errs = append(errs, fmt.Errorf("stop %s: %w", p.name, err))
		}
		g.log.Debug("stopped", "part", p.name)
	}
	return errors.Join(errs...)
}

// Wait returns nil when the context ends, and an error that names the part
// when a Mortal part ends before. Only after Start.
func (g *Group) Wait(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ends := make(chan error)
	for _, p := range g.parts[:g.started] {
		if mortal, ok := p.Part.(Mortal); ok {
			go watch(ctx, p.name, mortal, ends)
		}
	}
	select {
	case <-ctx.Done():
		return nil
	case err := <-ends:
		return err
	}
}

func watch(ctx context.Context, name string, m Mortal, ends chan<- error) {
	select {
	case <-ctx.Done():
		return
	case <-m.Done():
	}
	select {
	case <-ctx.Done():
	case ends <- fmt.Errorf("%s ended by itself: %w", name, errOr(m.Err(), errors.New("no reason given"))):
	}
}

func errOr(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}
