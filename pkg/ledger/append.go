package ledger

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Limits on one append. A command of a room stays far below them.
const (
	MaxEvents = 2000
	maxName   = 300 // bytes of a stream, key or actor
)

// AnyVersion as an expected version means that the stream's version does not
// matter.
const AnyVersion = -1

// Append is a request to write events, all or none of them.
type Append struct {
	// Key names the intent; a second append with it is answered like the first.
	// Digest is SHA-256 over what was asked: the same key with another digest is
	// refused.
	Key    string `json:"key"`
	Digest []byte `json:"digest"`

	Actor       string    `json:"actor"`
	Cause       string    `json:"cause,omitempty"`
	Correlation string    `json:"correlation,omitempty"`
	HappenedAt  time.Time `json:"happened_at,omitzero"` // zero: when it is written

	// Expect states versions that the decision rests on. A stream that Events
	// write to, and that Expect does not name, is not checked.
	Expect []Expected `json:"expect,omitempty"`
	Events []New      `json:"events"`
}

// Expected is a stream's version as the decider saw it; 0 means no event yet.
type Expected struct {
	Stream  string `json:"stream"`
	Version int64  `json:"version"`
}

// New is an event to be written.
type New struct {
	Stream string       `json:"stream"`
	Boat   boat.ID      `json:"boat,omitempty"`
	Kind   message.Kind `json:"kind"`
	Schema int          `json:"schema"`
	Data   string       `json:"data"` // canonical JSON
}

// Event makes a New from a payload.
func Event(stream string, of boat.ID, body message.Body) (New, error) {
	data, err := message.Canonical(body)
	if err != nil {
		return New{}, fmt.Errorf("writing down %s: %w", body.Kind(), err)
	}
	return New{Stream: stream, Boat: of, Kind: body.Kind(), Schema: body.Schema(), Data: string(data)}, nil
}

// DigestOf gives the digest for an Append from the parts of what was asked.
func DigestOf(parts ...[]byte) []byte {
	var b []byte
	for _, p := range parts {
		b = appendField(b, p)
	}
	sum := sha256.Sum256(b)
	return sum[:]
}

// Receipt is the answer to an append.
type Receipt struct {
	Repeated bool           `json:"repeated,omitempty"` // answered from an earlier append
	Events   []message.Said `json:"events"`
}

// Position gives the last position that the receipt covers.
func (r Receipt) Position() int64 {
	if len(r.Events) == 0 {
		return 0
	}
	return r.Events[len(r.Events)-1].Position
}

// check refuses, in the caller's own goroutine, what the writer would choke on,
// so that one bad append never troubles its neighbours.
func (a *Append) check() error {
	switch {
	case a.Key == "" || len(a.Key) > maxName:
		return fault.Field("key", "a request key of 1 to %d bytes is needed", maxName)
	case len(a.Digest) != sha256.Size:
		return fault.Field("digest", "must be a SHA-256 digest")
	case a.Actor == "" || len(a.Actor) > maxName:
		return fault.Field("actor", "must say who acts")
	case len(a.Events) == 0:
		return fault.Field("events", "there is nothing to write")
	case len(a.Events) > MaxEvents:
		return fault.Field("events", "at most %d events can be written at once", MaxEvents)
	}
	for i, e := range a.Events {
		if err := e.check(); err != nil {
			return fault.Field(fmt.Sprintf("events[%d]", i), "%s", err)
		}
	}
	return nil
}

func (e *New) check() error {
	room, rest, ok := strings.Cut(e.Stream, ".")
	switch {
	case !ok || rest == "" || len(e.Stream) > maxName:
		return fmt.Errorf("a stream is named room.noun/id")
	case room != e.Kind.Room():
		return fmt.Errorf("the %s room cannot say %s", room, e.Kind)
	case e.Schema < 1:
		return fmt.Errorf("schemas are numbered from 1")
	case len(e.Boat) > maxName:
		return fmt.Errorf("a boat's id is at most %d bytes long", maxName)
	case strings.ContainsRune(e.Stream+string(e.Boat)+string(e.Kind), 0):
		return fmt.Errorf("names hold no zero bytes")
	}
	canonical, err := message.Recanonical([]byte(e.Data))
	if err == nil && string(canonical) != e.Data {
		err = fmt.Errorf("the data is not canonical JSON")
	}
	return err
}
