package main

import (
	"bytes"
	"context"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A process is a refloat that keeps running.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	out   *watched
	ended chan struct{}
}

func (i *installation) start(args ...string) *process {
	i.t.Helper()
	p := &process{t: i.t, cmd: i.command(context.Background(), args...), out: &watched{}, ended: make(chan struct{})}
	p.cmd.Stdout, p.cmd.Stderr = p.out, p.out
	require.NoError(i.t, p.cmd.Start())
	go func() { _ = p.cmd.Wait(); close(p.ended) }()
	i.t.Cleanup(func() {
		p.kill()
		if i.t.Failed() {
			i.t.Logf("refloat %s said:\n%s", strings.Join(args, " "), p.out)
		}
	})
	return p
}

func (p *process) awaitReady() {
	p.t.Helper()
	require.Eventually(p.t, p.ready, 2*time.Minute, 20*time.Millisecond, "%s", p.out)
}

func (p *process) ready() bool { return strings.Contains(p.out.String(), "Refloat is ready") }

func (p *process) kill() { _ = p.cmd.Process.Signal(syscall.SIGKILL); <-p.ended }

func (p *process) interrupt() {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Signal(syscall.SIGINT))
	select {
	case <-p.ended:
	case <-time.After(time.Minute):
		p.t.Fatalf("it does not stop: %s", p.out)
	}
	assert.Zero(p.t, p.cmd.ProcessState.ExitCode(), "%s", p.out)
}

// watched is output that can be read while it is written.
type watched struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (w *watched) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.Write(p)
}

func (w *watched) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.String()
}
