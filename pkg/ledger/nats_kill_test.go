package ledger

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
)

// childBus tells this test binary, run again, to be a NATS server with that folder, at
// the port of childPort, until it is killed.
const (
	childBus  = "REFLOAT_TEST_BUS_CHILD"
	childPort = "REFLOAT_TEST_BUS_PORT"
)

func beBus(folder string) {
	port, err := strconv.Atoi(os.Getenv(childPort))
	if err == nil {
		var srv *server.Server
		srv, err = server.NewServer(&server.Options{Host: "127.0.0.1", Port: port, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true})
		if err == nil {
			srv.Start()
			srv.WaitForShutdown()
		}
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// busProcess is a NATS server in a process of its own, to be killed.
type busProcess struct {
	t      testing.TB
	folder string
	port   int
	cmd    *exec.Cmd
}

func startBusProcess(t testing.TB) *busProcess {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	p := &busProcess{t: t, folder: t.TempDir(), port: listener.Addr().(*net.TCPAddr).Port}
	require.NoError(t, listener.Close())
	p.start()
	t.Cleanup(p.kill)
	return p
}

func (p *busProcess) url() string {
	return (&url.URL{Scheme: "nats", Host: net.JoinHostPort("127.0.0.1", strconv.Itoa(p.port))}).String()
}

func (p *busProcess) start() {
	p.t.Helper()
	p.cmd = exec.Command(os.Args[0])
	p.cmd.Env = append(os.Environ(), childBus+"="+p.folder, childPort+"="+strconv.Itoa(p.port))
	require.NoError(p.t, p.cmd.Start())
	require.Eventually(p.t, func() bool {
		conn, err := net.Dial("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(p.port)))
		if err == nil {
			_ = conn.Close()
		}
		return err == nil
	}, time.Minute, time.Millisecond)
}

func (p *busProcess) kill() {
	_ = p.cmd.Process.Kill()
	_ = p.cmd.Wait() // killed, as ordered
}

// Guards: the stream's end is the relay's cursor, and each publish states the sequence
// before it. NATS is killed while the relay fills it, again and again, now and then
// with its data wiped; in the end the stream is the book, and the log has said what
// happened.
func TestTheStreamSurvivesTheDeathOfNATS(t *testing.T) {
	b := newBook(t)
	nats := startBusProcess(t)
	said := new(logged)
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(said.text())
		}
	})
	conn, err := bus.Connect(t.Context(), bus.Relay, bus.Access{URL: nats.url()}, said.logger())
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	r := b.relayerOver(conn)
	r.log = said.logger()
	relaying, end := context.WithCancel(t.Context())
	var lead sync.WaitGroup
	defer lead.Wait()
	defer end()
	lead.Go(func() {
		// As lifecycle.Loop does it, but for the pause, which grows to half a minute: most
		// kills would then meet a relay that rests.
		for relaying.Err() == nil {
			if err := r.lead(relaying); err != nil {
				r.log.Error("will be run again", "err", err)
			}
			rest(relaying, 10*time.Millisecond)
		}
	})

	h := b.hand()
	s := &relayScene{b, conn, r}
	written := 0
	for round := range rounds(4, 200) {
		for range 20 + 7*round%30 {
			h.one(note(fmt.Sprint("b", round%3), AnyVersion, key(), "x"))
			written++
		}
		r.written.Set()
		nats.kill()
		if round%4 == 3 {
			require.NoError(t, os.RemoveAll(nats.folder))
		}
		nats.start()
		if round%10 == 3 { // else it is killed again before it has caught up
			s.streamIs(int64(written))
		}
	}
	require.Eventually(t, func() bool {
		last, err := conn.BookLast(t.Context())
		return err == nil && last == int64(written)
	}, time.Minute, 5*time.Millisecond, "the stream is filled again")
	s.streamIsTheBook()
	assert.Contains(t, said.text(), "filling the event stream from the book")
}
