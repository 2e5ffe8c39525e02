package ledger

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	toxiproxy "github.com/Shopify/toxiproxy/v2"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/lifecycle"
)

// A link is a stretch of network between this process and a server that can be made
// bad.
type link struct {
	*toxiproxy.Proxy
	t testing.TB
}

func newLink(t testing.TB, name, upstream string) *link {
	t.Helper()
	zerolog.SetGlobalLevel(zerolog.Disabled) // some toxics write to its global logger
	l := &link{toxiproxy.NewProxy(toxiproxy.NewServer(toxiproxy.NewMetricsContainer(nil), zerolog.Nop()), name, "127.0.0.1:0", upstream), t}
	require.NoError(t, l.Start())
	t.Cleanup(l.Stop)
	return l
}

// bad makes the link bad in one way until mend is called.
func (l *link) bad(how string) (mend func()) {
	if how == "cut" {
		l.Stop()
		return func() { assert.NoError(l.t, l.Start()) }
	}
	_, err := l.Toxics.AddToxicJson(strings.NewReader(how))
	assert.NoError(l.t, err)
	return func() { l.Toxics.ResetToxics(context.Background()) }
}

// badLinks are the ways in which a link goes bad.
var badLinks = map[string]string{
	"cut":                         "cut",
	"slow":                        `{"type":"latency","stream":"downstream","attributes":{"latency":40,"jitter":30}}`,
	"answers stand still":         `{"type":"timeout","stream":"downstream","attributes":{"timeout":0}}`,
	"questions stand still":       `{"type":"timeout","stream":"upstream","attributes":{"timeout":0}}`,
	"the answering half closes":   `{"type":"timeout","stream":"downstream","attributes":{"timeout":5}}`,
	"the asking half closes":      `{"type":"timeout","stream":"upstream","attributes":{"timeout":5}}`,
	"closed within an answer":     `{"type":"limit_data","stream":"downstream","attributes":{"bytes":100}}`,
	"closed within a question":    `{"type":"limit_data","stream":"upstream","attributes":{"bytes":300}}`,
	"reset by the other side":     `{"type":"reset_peer","stream":"downstream","attributes":{"timeout":0}}`,
	"in pieces of a few bytes":    `{"type":"slicer","stream":"downstream","attributes":{"average_size":7,"size_variation":3,"delay":10}}`,
	"hardly wide enough for data": `{"type":"bandwidth","stream":"upstream","attributes":{"rate":40}}`,
}

// overTCP makes a server that listens on a Unix socket reachable by TCP, as the proxy
// wants it.
func overTCP(t testing.TB, socket string) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = listener.Close() })
	go func() {
		for {
			from, err := listener.Accept()
			if err != nil {
				return
			}
			to, err := net.Dial("unix", socket)
			if err != nil {
				_ = from.Close()
				continue
			}
			for _, way := range [][2]net.Conn{{from, to}, {to, from}} {
				go func() {
					_, _ = io.Copy(way[0], way[1])
					_ = way[0].Close()
					_ = way[1].Close()
				}()
			}
		}
	}()
	return listener.Addr().String()
}

// throughLink gives the database's address by way of a link.
func (b *book) throughLink() (*link, string) {
	u, err := url.Parse(b.db.AppURL)
	require.NoError(b.t, err)
	query := u.Query()
	upstream := u.Host
	if folder := query.Get("host"); folder != "" {
		upstream = overTCP(b.t, filepath.Join(folder, ".s.PGSQL."+query.Get("port")))
	}
	l := newLink(b.t, "database", upstream)
	u.Host, u.RawQuery = l.Listen, "sslmode=disable"
	return l, u.String()
}

// Guards: Writer.resolve and lockAgain, the expected sequence in bus.Publish, and that
// callers are told "unavailable" and nothing else while a link is bad. Links to the
// database and to the bus are made bad in turn under load; when they are whole again
// everything that was asked for stands in the book once, and in the stream.
func TestBadLinksLoseAndDoubleNothing(t *testing.T) {
	b := newBook(t)
	srv := startOpenBus(t, t.TempDir())
	database, address := b.throughLink()
	wire := newLink(t, "bus", strings.TrimPrefix(srv.ClientURL(), "nats://"))
	said := new(logged)
	conn, err := bus.Connect(t.Context(), bus.Relay, bus.Access{URL: "nats://" + wire.Listen}, said.logger())
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	p := &process{NewLog(b.db.Open(address), conn, b.clock, said.logger()), lifecycle.New(said.logger())}
	writer, relay := p.Parts(1)
	p.group.Add("writer", writer)
	p.group.Add("relay", relay)
	require.NoError(t, p.group.Start(t.Context()))
	t.Cleanup(p.stop)
	require.Eventually(t, p.leading.Load, time.Minute, time.Millisecond)

	n := newTally()
	stop := make(chan struct{})
	var writing sync.WaitGroup
	for i := range 6 {
		writing.Go(func() {
			for at := 0; ; at++ {
				select {
				case <-stop:
					return
				default:
					n.persistWith(t, p.Append, fmt.Sprintf("%d-%d", i, at), i)
				}
			}
		})
	}
	rng := rand.New(rand.NewPCG(20261129, 1))
	for range rounds(1, 12) {
		for name, how := range badLinks {
			for _, l := range []*link{database, wire} {
				mend := l.bad(how)
				rest(t.Context(), time.Duration(20+rng.IntN(180))*time.Millisecond)
				mend()
				target := n.count() + 3
				require.Eventually(t, func() bool { return n.count() >= target }, 40*time.Second, time.Millisecond,
					"life does not go on after %s of the link to the %s", name, l.Name)
			}
		}
	}
	close(stop)
	writing.Wait()
	n.check(t, b.all())
	s := &relayScene{b, conn, b.relayerOver(conn)}
	s.streamIs(int64(len(b.all())))
	s.streamIsTheBook()
	assert.Contains(t, said.text(), "looking whether the last batch was written")
	t.Logf("%d appends", n.count())
}

// logged is a log that a test reads.
type logged struct {
	mu  sync.Mutex
	out strings.Builder
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.out.Write(p)
}

func (l *logged) text() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.out.String()
}

func (l *logged) logger() *slog.Logger { return slog.New(slog.NewTextHandler(l, nil)) }
