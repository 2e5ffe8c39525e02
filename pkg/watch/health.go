package watch

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// RoomHealth is how one room of a process stands.
type RoomHealth struct {
	Room  string `json:"room"`
	Ready bool   `json:"ready"`
	// Why says what is missing when the room is not ready.
	Why string `json:"why,omitempty"`
	// Position is how far the room's tables have come, Behind by how many events
	// they lag, Late how long the oldest of those has stood in the book.
	Position int64   `json:"position"`
	Behind   int64   `json:"behind"`
	Late     float64 `json:"late_seconds"`
}

// Health is how a process stands: ready when each of its rooms is.
type Health struct {
	Ready bool `json:"ready"`
	// Why says what all rooms lack.
	Why string `json:"why,omitempty"`
	// Head is where the book ends, Relayed how far the event stream holds it.
	Head    int64        `json:"head"`
	Relayed int64        `json:"relayed"`
	Rooms   []RoomHealth `json:"rooms"`
}

// lookEvery is how long an answer about the process's health is good for.
const lookEvery = time.Second

// Latest gives what look found out, asking it at most once a second, whoever
// wants to know.
func Latest(look func(context.Context) Health) func(context.Context) Health {
	var mu sync.Mutex
	var last Health
	var at time.Time
	return func(ctx context.Context) Health {
		mu.Lock()
		defer mu.Unlock()
		if at.IsZero() || time.Since(at) >= lookEvery {
			last, at = look(ctx), time.Now()
		}
		return last
	}
}

// Server answers those who watch the process, on an address of its own that the
// public never reaches: /health/live, /health/ready, /health/ready/ROOM, /metrics
// for Prometheus and /figures for people.
type Server struct {
	addr     string
	http     *http.Server
	listener net.Listener
	done     chan struct{}
}

// NewServer makes a server that does not listen yet.
func NewServer(addr string, f *Figures, health func(context.Context) Health) *Server {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /health/live", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "alive") })
	mux.HandleFunc("GET /health/ready", func(w http.ResponseWriter, r *http.Request) {
		h := health(r.Context())
		tell(w, h.Ready, h)
	})
	mux.HandleFunc("GET /health/ready/{room}", func(w http.ResponseWriter, r *http.Request) { readyRoom(w, r, health(r.Context())) })
	mux.Handle("GET /metrics", promhttp.HandlerFor(f.registry, promhttp.HandlerOpts{ErrorHandling: promhttp.ContinueOnError}))
	mux.HandleFunc("GET /figures", func(w http.ResponseWriter, _ *http.Request) { tell(w, true, f.Summary()) })
	return &Server{addr: addr, done: make(chan struct{}), http: &http.Server{
		Handler: mux, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 30 * time.Second, IdleTimeout: time.Minute,
	}}
}

func readyRoom(w http.ResponseWriter, r *http.Request, h Health) {
	i := slices.IndexFunc(h.Rooms, func(room RoomHealth) bool { return room.Room == r.PathValue("room") })
	if i < 0 {
		http.Error(w, "this process does not run such a room", http.StatusNotFound)
		return
	}
	tell(w, h.Rooms[i].Ready, h.Rooms[i])
}

func tell(w http.ResponseWriter, good bool, what any) {
	w.Header().Set("Content-Type", "application/json")
	if !good {
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	_ = json.NewEncoder(w).Encode(what) // who asked has gone
}

// Start listens, and serves in a goroutine of its own.
func (s *Server) Start(ctx context.Context) error {
	var listen net.ListenConfig
	listener, err := listen.Listen(ctx, "tcp", s.addr)
	if err != nil {
		return fmt.Errorf("listen for those who watch: %w", err)
	}
	s.listener = listener
	go func() {
		defer close(s.done)
		_ = s.http.Serve(listener) // ends with Stop
	}()
	return nil
}

// Addr is the address that is listened on, with the real port. Only after Start.
func (s *Server) Addr() string { return s.listener.Addr().String() }

// Stop ends the server.
func (s *Server) Stop(ctx context.Context) error {
	err := s.http.Shutdown(ctx)
	if err != nil {
		err = errors.Join(err, s.http.Close())
	}
	<-s.done
	return err
}
