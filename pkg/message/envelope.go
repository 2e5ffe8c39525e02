// Package message is everything that rooms say to each other: the envelope of
// an event, the kinds of event with their payloads (one file per speaking
// room), the commands that rooms take, and how old versions are read.
//
// A published payload is never edited. A new shape gets a new schema number and
// an upcaster from the one before; frozen examples in testdata/events hold that
// promise.
package message

import (
	"encoding/json"
	"strings"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/people"
)

// Kind names what happened: "room.what-happened".
type Kind string

// Room gives the room that says this kind.
func (k Kind) Room() string {
	room, _, _ := strings.Cut(string(k), ".")
	return room
}

// Event is one line of the book, as it stands there.
type Event struct {
	Position    int64           `json:"position"` // 1, 2, … over the whole book
	ID          string          `json:"id"`       // UUIDv7
	Stream      string          `json:"stream"`   // "room.noun/id"
	Version     int64           `json:"version"`  // 1, 2, … within the stream
	Kind        Kind            `json:"kind"`
	Schema      int             `json:"schema"`
	Boat        boat.ID         `json:"boat,omitempty"`
	HappenedAt  time.Time       `json:"happened_at"` // when it was so
	RecordedAt  time.Time       `json:"recorded_at"` // when it was written; never decreases
	Actor       string          `json:"actor"`
	Cause       string          `json:"cause,omitempty"`       // id of the event that led to it
	Correlation string          `json:"correlation,omitempty"` // the request that all of it belongs to
	RequestKey  string          `json:"request_key,omitempty"`
	Data        json.RawMessage `json:"data"` // canonical JSON
	PrevHash    []byte          `json:"prev_hash"`
	Hash        []byte          `json:"hash"`
}

// Body is an event's payload. Kind and Schema are constants of its type.
type Body interface {
	Kind() Kind
	Schema() int
}

// Command is what travels to a room: who asks, with which key, and what.
type Command struct {
	By  people.Actor `json:"by"`
	Key string       `json:"key"` // one per intent; repeating it is safe
	// Seen is the ledger position up to which the sender has read. The room
	// first catches up to it, so that nobody is refused for what they just did.
	Seen       int64     `json:"seen,omitempty"`
	HappenedAt time.Time `json:"happened_at,omitzero"` // zero: now
	// Check asks the room to decide but not to write: a rehearsal. What a room
	// only finds out by writing, a rehearsal does not tell.
	Check bool            `json:"check,omitempty"`
	Data  json.RawMessage `json:"data"`
}

// Reply is a room's answer to a command.
type Reply struct {
	Position int64  `json:"position"`           // everything up to here includes what was asked
	Repeated bool   `json:"repeated,omitempty"` // the answer of an earlier send of the same key
	Events   []Said `json:"events,omitempty"`
}

// Said names one event that a command led to.
type Said struct {
	Position int64  `json:"position"`
	ID       string `json:"id"`
	Stream   string `json:"stream"`
	Version  int64  `json:"version"`
	Kind     Kind   `json:"kind"`
}
