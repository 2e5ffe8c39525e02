package ledger

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Limits on one append. A command of a room stays far below them.
const (
	MaxEvents = 2000
	MaxBytes  = 2 << 20 // of all names and data together, so that it can travel
	maxName   = 300     // bytes of a stream, boat, kind, key, actor, cause or correlation
	maxSchema = 1 << 15
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
		return New{}, fault.Because(fault.Invalid, err, "this cannot be written down")
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

// check refuses, in the caller's own goroutine, what the writer or anyone behind
// it would choke on: a bad append must trouble neither its neighbours nor those
// who read the book later.
func (a *Append) check() error {
	switch {
	case len(a.Digest) != sha256.Size:
		return fault.Field("digest", "must be a SHA-256 digest")
	case len(a.Events) == 0:
		return fault.Field("events", "there is nothing to write")
	case len(a.Events) > MaxEvents:
		return fault.Field("events", "at most %d events can be written at once", MaxEvents)
	case a.size() > MaxBytes:
		return fault.Field("events", "at most %d bytes can be written at once", MaxBytes)
	}
	if year := a.HappenedAt.UTC().Year(); year < 1 || year > 9999 {
		return fault.Field("happened_at", "must lie in the years 1 to 9999")
	}
	if err := a.checkNames(); err != nil {
		return err
	}
	for i := range a.Events {
		if err := a.Events[i].check(); err != nil {
			return fault.Field(fmt.Sprintf("events[%d]", i), "%s", err)
		}
	}
	return a.checkExpected()
}

func (a *Append) size() int {
	n := 0
	for i := range a.Events {
		e := &a.Events[i]
		n += len(e.Stream) + len(e.Boat) + len(e.Kind) + len(e.Data)
	}
	return n
}

func (a *Append) checkNames() error {
	switch {
	case a.Key == "":
		return fault.Field("key", "a request key is needed")
	case a.Actor == "":
		return fault.Field("actor", "must say who acts")
	}
	for _, n := range []struct{ field, name string }{
		{"key", a.Key}, {"actor", a.Actor}, {"cause", a.Cause}, {"correlation", a.Correlation},
	} {
		if err := checkName(n.name); err != nil {
			return fault.Field(n.field, "%s", err)
		}
	}
	return nil
}

func (a *Append) checkExpected() error {
	if len(a.Expect) > MaxEvents {
		return fault.Field("expect", "an append rests on at most %d streams", MaxEvents)
	}
	for i, e := range a.Expect {
		err := checkName(e.Stream)
		if err == nil && e.Version < AnyVersion {
			err = fmt.Errorf("versions are numbered from 1; 0 means none yet")
		}
		if err != nil {
			return fault.Field(fmt.Sprintf("expect[%d]", i), "%s", err)
		}
	}
	return nil
}

func (e *New) check() error {
	room, rest, _ := strings.Cut(e.Stream, ".")
	switch {
	case room == "" || rest == "":
		return fmt.Errorf("a stream is named room.noun/id")
	case room != e.Kind.Room():
		return fmt.Errorf("the %s room cannot say %s", room, e.Kind)
	case e.Schema < 1 || e.Schema > maxSchema:
		return fmt.Errorf("schemas are numbered from 1 to %d", maxSchema)
	case !strings.HasPrefix(e.Data, "{"):
		return fmt.Errorf("the data must be a JSON object")
	}
	for _, name := range []string{e.Stream, string(e.Boat), string(e.Kind)} {
		if err := checkName(name); err != nil {
			return err
		}
	}
	if err := checkKind(e.Kind); err != nil {
		return err
	}
	return message.IsCanonical(e.Data)
}

// checkName takes what PostgreSQL and the bus both can carry.
func checkName(name string) error {
	if len(name) > maxName {
		return fmt.Errorf("a name is at most %d bytes long", maxName)
	}
	if !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl) {
		return fmt.Errorf("names hold only readable characters")
	}
	return nil
}

// checkKind takes what can be part of a subject on the bus.
func checkKind(kind message.Kind) error {
	_, what, _ := strings.Cut(string(kind), ".")
	bad := func(r rune) bool { return !('a' <= r && r <= 'z' || '0' <= r && r <= '9' || r == '-') }
	if what == "" || strings.ContainsFunc(what, bad) || strings.ContainsFunc(kind.Room(), bad) {
		return fmt.Errorf("a kind is named room.what-happened, in small letters")
	}
	return nil
}
