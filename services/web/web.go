package web

import (
	"context"
	"embed"
	"fmt"
	"io/fs"
	"net/url"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/httpserver"
	"refloat.example/pkg/photo"
)

// Name is the pages' name on the bus and of their schema.
const Name = "web"

//go:embed migrations/*.sql
var migrations embed.FS

// Migrations make the pages' tables.
func Migrations() fs.FS { return desk.Migrations(Name, migrations) }

// tables are those that follow the book. Sessions do not: a rebuild leaves
// people signed in.
var tables = []string{"boat", "place", "person", "request", "round", "offer", "paper", "lodged", "comparable", "bin", "value", "plan", "history"}

// Config says where the pages are served.
type Config struct {
	// Listen is host:port; port 0 picks a free one, see Site.Addr.
	Listen string
	// BaseURL is how people reach the pages: "https://club.example". With https
	// the session cookie is sent over TLS only.
	BaseURL string
	// Demo puts a banner on every page that says that the data is invented.
	Demo bool
}

// Site is the pages at work: their read tables and the server.
type Site struct {
	*desk.Desk
	cfg    Config
	rooms  desk.Client
	server *httpserver.Server
	photos *photo.Store
	look   *look
	said   map[string]string
	names  names
	lives  *lives
	codes  drawnCodes
}

// New makes the pages; they are served between Start and Stop. It fails for a
// BaseURL that is none.
func New(cfg Config, kit desk.Kit) (*Site, error) {
	s := &Site{Desk: desk.New(Name, kit, tables...), cfg: cfg, rooms: desk.Client{Conn: kit.Bus}, said: saidAfter(), lives: newLives(), photos: photo.NewStore(kit.Pool)}
	s.Projects(project)
	s.Every(time.Hour, "sessions", s.dropOldSessions)
	s.Every(time.Hour, "tokens", s.dropOldTokens)
	s.Every(time.Hour, "uploads", func(ctx context.Context) error { return s.photos.ForgetOld(ctx, s.Clock.Now()) })
	var err error
	if s.look, err = openLook(); err != nil {
		return nil, err
	}
	origins, err := originOf(cfg.BaseURL)
	if err != nil {
		return nil, err
	}
	s.server, err = httpserver.New(httpserver.Config{Addr: cfg.Listen, Handler: s.Router(), Log: kit.Slog, TrustedOrigins: origins, Figures: kit.Figures, MaxBody: maxPhotoForm, OnStop: s.lives.stop})
	return s, err
}

func originOf(base string) ([]string, error) {
	if base == "" {
		return nil, nil
	}
	u, err := url.Parse(base)
	if err != nil || u.Host == "" {
		return nil, fmt.Errorf("the address of the pages is %q; write it like https://club.example", base)
	}
	return []string{u.Scheme + "://" + u.Host}, nil
}

// Start lets the tables follow the book, then serves.
func (s *Site) Start(ctx context.Context) error {
	if err := s.Desk.Start(ctx); err != nil {
		return err
	}
	if err := s.server.Start(ctx); err != nil {
		return fmt.Errorf("%w (stopping: %w)", err, s.Desk.Stop(ctx))
	}
	return nil
}

// Stop takes no new requests, waits for those under way, then ends the rest.
func (s *Site) Stop(ctx context.Context) error {
	err := s.server.Stop(ctx)
	if stopErr := s.Desk.Stop(ctx); err == nil {
		err = stopErr
	}
	return err
}

// Addr is where the pages are served, with the real port. Only after Start.
func (s *Site) Addr() string { return s.server.Addr() }

// Done is closed when the server serves no more.
func (s *Site) Done() <-chan struct{} { return s.server.Done() }

// Err says why the server ended by itself.
func (s *Site) Err() error { return s.server.Err() }
