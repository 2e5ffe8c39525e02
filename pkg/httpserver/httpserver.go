// Package httpserver serves pages and the JSON API with the usual care taken
// once, for every route.
//
// It promises: time limits on everything a client sends or fetches, a ceiling
// on bodies, an id for every request, one log line per request that holds no
// path, query, address or name, an answer after a panic, the security headers,
// and refusal of unsafe requests that another site made the browser send. It
// does not speak TLS (a proxy does), sign anybody in or limit rates.
package httpserver

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"refloat.example/pkg/watch"
)

const (
	headerTime = 10 * time.Second
	// transferTime is for a whole request or a whole answer: long enough for
	// photos over a weak telephone line. A handler that streams extends it with
	// http.ResponseController.
	transferTime = 2 * time.Minute
	idleTime     = 2 * time.Minute
	maxHeader    = 32 << 10
	defaultBody  = 32 << 20
)

// Config says what is served and where.
type Config struct {
	// Addr is host:port; port 0 picks a free one, see Server.Addr.
	Addr string
	// Handler answers. When it is a chi router the log names the route.
	Handler http.Handler
	// Log receives a line per request, and panics. Nil: slog.Default().
	Log *slog.Logger
	// MaxBody is the ceiling for request bodies in bytes; 0 is 32 MiB. A route
	// sets its own below with LimitBody.
	MaxBody int64
	// TrustedOrigins are other sites ("https://club.example") whose pages may
	// send unsafe requests here; needed when a proxy changes the Host header.
	TrustedOrigins []string
	// OnStop, when set, is called as Stop begins: to end answers that would go on for
	// ever.
	OnStop func()
	// Figures measure the answers; nil measures nothing.
	Figures *watch.Figures
}

// Server is one listening address. It is a part in the sense of package
// lifecycle: start it once, stop it once.
type Server struct {
	addr     string
	log      *slog.Logger
	http     *http.Server
	listener net.Listener
	done     chan struct{}
	err      error // written before done is closed
}

// New makes a server that does not listen yet. It fails only for a trusted
// origin that is not one.
func New(cfg Config) (*Server, error) {
	log := cmp.Or(cfg.Log, slog.Default())
	handler, err := guard(cfg, log)
	if err != nil {
		return nil, err
	}
	s := &Server{
		addr: cfg.Addr,
		log:  log,
		http: &http.Server{
			Handler:           handler,
			ReadHeaderTimeout: headerTime,
			ReadTimeout:       transferTime,
			WriteTimeout:      transferTime,
			IdleTimeout:       idleTime,
			MaxHeaderBytes:    maxHeader,
			// What the library complains about names addresses of clients.
			ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug),
		},
		done: make(chan struct{}),
	}
	if cfg.OnStop != nil {
		s.http.RegisterOnShutdown(cfg.OnStop)
	}
	return s, nil
}

// Start listens, and serves in a goroutine of its own.
func (s *Server) Start(ctx context.Context) error {
	var listen net.ListenConfig
	listener, err := listen.Listen(ctx, "tcp", s.addr)
	if err != nil {
		return fmt.Errorf("listen for the pages: %w", err)
	}
	s.listener = listener
	s.log.Info("serving", "addr", s.Addr())
	go s.serve()
	return nil
}

func (s *Server) serve() {
	defer close(s.done)
	if err := s.http.Serve(s.listener); !errors.Is(err, http.ErrServerClosed) {
		s.err = err
	}
}

// Addr is the address that is listened on, with the real port. Only after
// Start.
func (s *Server) Addr() string { return s.listener.Addr().String() }

// Done is closed when the server accepts no more connections.
func (s *Server) Done() <-chan struct{} { return s.done }

// Err says why the server ended by itself; nil while it runs and after Stop.
func (s *Server) Err() error {
	select {
	case <-s.done:
		return s.err
	default:
		return nil
	}
}

// Stop accepts nothing new and waits for the requests under way. When the
// context ends first they are cut off and its error is returned.
func (s *Server) Stop(ctx context.Context) error {
	err := s.http.Shutdown(ctx)
	if err != nil {
		err = errors.Join(fmt.Errorf("requests were cut off: %w", err), s.http.Close())
	}
	<-s.done
	return err
}
