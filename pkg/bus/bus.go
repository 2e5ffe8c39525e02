// Package bus carries words between rooms over NATS: commands and questions as
// request and reply, events through JetStream.
//
// It promises that every call ends, at the latest with its context, and that a
// room which is down is told apart from one that is slow. It does not promise
// that a request was handled once: senders repeat with the same request key.
// JetStream is a cache of the book that can be filled again at any time, never
// the record; an acknowledged publish is not on disk yet.
package bus

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/watch"
)

// Subjects.
const (
	doPrefix    = "do."    // do.intake.log-boat: a command to a room
	askPrefix   = "ask."   // ask.treasury.year-totals: a question to a room
	eventPrefix = "event." // event.intake.boat-logged: an event, through JetStream
	// Append is where the elected writer of the book takes appends.
	Append = "ledger.append"
)

// Do gives the subject of a command.
func Do(verb string) string { return doPrefix + verb }

// Ask gives the subject of a question.
func Ask(verb string) string { return askPrefix + verb }

// Event gives the subject of an event kind.
func Event(kind string) string { return eventPrefix + kind }

// BookStream is the JetStream stream that holds the book's events; its sequence
// numbers are the book's positions.
const BookStream = "BOOK"

// Conn is one room's connection.
type Conn struct {
	nc  *nats.Conn
	js  jetstream.JetStream
	log *slog.Logger
}

// Access is how a room reaches NATS.
type Access struct {
	URL      string
	User     string
	Password string
	// Credentials is a file with a user's credentials, instead of a password.
	Credentials string
	// TLS names whom to trust. It cannot be written down: whoever reads an access
	// from a file takes it from their own settings.
	TLS *tls.Config `json:"-"`
	// inProcess is set by Embedded.
	inProcess nats.InProcessConnProvider
}

// Connect opens a connection. name is the room; replies come to an inbox of the
// room's own.
func Connect(ctx context.Context, name string, access Access, log *slog.Logger) (*Conn, error) {
	options := []nats.Option{
		nats.Name("refloat " + name),
		nats.CustomInboxPrefix(inbox(name)),
		nats.MaxReconnects(-1),
		nats.ReconnectWait(200 * time.Millisecond),
		nats.RetryOnFailedConnect(true),
		nats.IgnoreAuthErrorAbort(), // a server that is being set up may refuse us for a while
		nats.Timeout(2 * time.Second),
		nats.PingInterval(5 * time.Second),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			log.Warn("the bus reports a fault", "room", name, "err", err)
		}),
	}
	switch {
	case access.Credentials != "":
		options = append(options, nats.UserCredentials(access.Credentials))
	case access.User != "":
		options = append(options, nats.UserInfo(access.User, access.Password))
	}
	if access.TLS != nil {
		options = append(options, nats.Secure(access.TLS))
	}
	if access.inProcess != nil {
		options = append(options, nats.InProcessServer(access.inProcess))
	}
	nc, err := nats.Connect(access.URL, options...)
	if err != nil {
		return nil, fmt.Errorf("connecting the %s room to the bus: %w", name, err)
	}
	js, err := jetstream.New(nc)
	if err != nil {
		nc.Close()
		return nil, fmt.Errorf("opening JetStream for the %s room: %w", name, err)
	}
	return &Conn{nc, js, log}, nil
}

func inbox(name string) string { return "_INBOX_" + name }

// JetStream gives the room's view of JetStream.
func (c *Conn) JetStream() jetstream.JetStream { return c.js }

// Close ends the connection after what was begun.
func (c *Conn) Close() { c.nc.Close() }

// Up says whether the connection stands at the moment.
func (c *Conn) Up() bool { return c.nc.IsConnected() }

// Request sends data, with the trace of ctx, and waits for the reply, until ctx
// ends. A subject at which
// nobody listens is a fault of kind Unavailable at once.
func (c *Conn) Request(ctx context.Context, subject string, data []byte) ([]byte, error) {
	reply, err := c.nc.RequestMsgWithContext(ctx, &nats.Msg{Subject: subject, Data: data, Header: watch.Inject(ctx)})
	switch {
	case errors.Is(err, nats.ErrNoResponders):
		return nil, fault.Because(fault.Unavailable, err, "this part of the club's system is not running at the moment; nothing was written; try again in a minute")
	case errors.Is(err, nats.ErrMaxPayload):
		return nil, fault.Because(fault.Invalid, err, "this is too large to be sent; nothing was written; send it in smaller parts")
	case err != nil:
		return nil, fault.Because(fault.Unavailable, err, "this part of the club's system does not answer at the moment; try again in a minute, nothing will be doubled")
	}
	return reply.Data, nil
}

// maxServing bounds the requests that one subscription works on at a time; what
// comes on top waits in the subscription.
const maxServing = 32

// A Service answers requests until it is stopped.
type Service struct {
	sub     *nats.Subscription
	drained chan struct{} // closed when no more requests are handed out
	working sync.WaitGroup
	slots   chan struct{}
	cancel  context.CancelFunc
}

// Serve answers requests on a subject. Processes that serve the same subject
// with the same queue share the work. handle gets a context that ends when the
// service stops and carries the sender's trace; its answer is sent as it is.
func (c *Conn) Serve(subject, queue string, handle func(ctx context.Context, subject string, data []byte) []byte) (*Service, error) {
	ctx, cancel := context.WithCancel(context.Background())
	s := &Service{drained: make(chan struct{}), slots: make(chan struct{}, maxServing), cancel: cancel}
	sub, err := c.nc.QueueSubscribe(subject, queue, func(m *nats.Msg) {
		s.slots <- struct{}{}
		s.working.Go(func() {
			defer func() { <-s.slots }()
			if err := m.Respond(handle(watch.Extract(ctx, m.Header), m.Subject, m.Data)); err != nil {
				c.log.Warn("a reply could not be sent", "subject", m.Subject, "err", err)
			}
		})
	})
	if err != nil {
		cancel()
		return nil, fmt.Errorf("listening on %s: %w", subject, err)
	}
	sub.SetClosedHandler(func(string) { close(s.drained) })
	s.sub = sub
	return s, c.nc.Flush()
}

// Stop takes no new requests, and waits for those that have arrived until ctx
// ends; their own context ends then. Stopping again changes nothing.
func (s *Service) Stop(ctx context.Context) error {
	defer s.cancel()
	if err := s.sub.Drain(); err != nil && s.sub.IsValid() {
		return fmt.Errorf("ending a subscription: %w", err)
	}
	done := make(chan struct{})
	go func() { <-s.drained; s.working.Wait(); close(done) }()
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
