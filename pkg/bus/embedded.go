package bus

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"path/filepath"
	"time"

	"github.com/nats-io/nats-server/v2/server"
)

// Embedded is a NATS server inside this process, with JetStream in a folder. It
// listens on a port of this machine's own loopback address, for the commands of
// an operator; rooms in this process reach it without the network.
type Embedded struct {
	srv       *server.Server
	passwords map[string]string
}

// StartEmbedded starts the server for the given rooms, each with credentials
// that are limited to the subjects it needs.
func StartEmbedded(ctx context.Context, folder string, rooms []string, log *slog.Logger) (*Embedded, error) {
	e := &Embedded{passwords: map[string]string{}}
	options := &server.Options{
		ServerName: "refloat",
		Host:       "127.0.0.1",
		Port:       server.RANDOM_PORT,
		JetStream:  true,
		StoreDir:   filepath.Clean(folder),
		NoSigs:     true,
		NoLog:      true,
		MaxPayload: MaxPayload,
		// The book is the record and can fill this again, so the store need not be
		// on disk before each acknowledgment.
		SyncInterval: 5 * time.Second,
	}
	for _, room := range rooms {
		e.passwords[room] = rand.Text()
		options.Users = append(options.Users, &server.User{Username: room, Password: e.passwords[room], Permissions: Permissions(room)})
	}
	srv, err := server.NewServer(options)
	if err != nil {
		return nil, fmt.Errorf("making the embedded bus: %w", err)
	}
	e.srv = srv
	srv.Start()
	if !srv.ReadyForConnections(10 * time.Second) {
		srv.Shutdown()
		return nil, fmt.Errorf("the embedded bus did not start within 10 s; is %s writable?", folder)
	}
	log.Debug("embedded bus runs", "rooms", rooms)
	return e, ctx.Err()
}

// MaxPayload bounds one message, in bytes: a printed paper fits.
const MaxPayload = 8 << 20

// Remote gives a way in for another process of this machine.
func (e *Embedded) Remote(room string) Access {
	return Access{URL: e.srv.ClientURL(), User: room, Password: e.passwords[room]}
}

// Access gives the way in for a room in this process.
func (e *Embedded) Access(room string) Access {
	return Access{User: room, Password: e.passwords[room], inProcess: e.srv}
}

// Stop ends the server.
func (e *Embedded) Stop(context.Context) error {
	e.srv.Shutdown()
	e.srv.WaitForShutdown()
	return nil
}

// Names of those who connect and are not rooms of the trade.
const (
	Web      = "web"      // the pages
	Relay    = "relay"    // the writer and the relay of the book
	Operator = "operator" // import, demo and status at the machine itself
)

// Permissions gives what a room may say and hear. A room takes its own commands
// and questions and reads the event stream; only the pages and the operator may
// command, and only the relay's connection, which each process has beside those
// of its rooms, appends to the book and fills the stream.
func Permissions(room string) *server.Permissions {
	publish := []string{
		"$JS.API.INFO", "$JS.API.STREAM.INFO." + BookStream, "$JS.API.CONSUMER.CREATE." + BookStream + ".>",
		"$JS.API.CONSUMER.INFO." + BookStream + ".>", "$JS.API.CONSUMER.DELETE." + BookStream + ".>",
		"$JS.API.CONSUMER.MSG.NEXT." + BookStream + ".>", "$JS.FC.>", "$JS.ACK." + BookStream + ".>",
	}
	subscribe := []string{inbox(room) + ".>"}
	switch room {
	case Web, Operator:
		publish = append(publish, doPrefix+">", askPrefix+">")
		subscribe = append(subscribe, askPrefix+room+".>") // they say how they stand
	case Relay:
		publish = append(publish, Append, eventPrefix+">", "$JS.API.STREAM.CREATE."+BookStream,
			"$JS.API.STREAM.UPDATE."+BookStream, "$JS.API.STREAM.MSG.GET."+BookStream)
		subscribe = append(subscribe, Append)
	default:
		subscribe = append(subscribe, doPrefix+room+".>", askPrefix+room+".>")
	}
	return &server.Permissions{
		Publish:   &server.SubjectPermission{Allow: publish},
		Subscribe: &server.SubjectPermission{Allow: subscribe},
		Response:  &server.ResponsePermission{MaxMsgs: 1, Expires: time.Minute},
	}
}
