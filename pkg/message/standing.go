package message

import "time"

// The parts of a room that follow the book, each by a cursor of its own.
const (
	TablesPart    = "tables"    // its read tables
	ReactionsPart = "reactions" // what it says when others have said something
)

// Rooms names every room that follows the book, the pages included.
var Rooms = []string{"people", "intake", "repair", "valuation", "matching", "treasury", "web"}

// SkipAllowed is said when an administrator lets a part of a room go on without
// an event that it cannot take, in the state in which the program is. It takes
// nothing out of the book, and binds nobody who can take the event: a program
// that was mended takes it in when it fills the tables anew.
type SkipAllowed struct {
	v1
	Room     string `json:"room"`
	Part     string `json:"part"` // tables, reactions
	Position int64  `json:"position"`
	Event    string `json:"event"` // the kind of what stands there
	Why      string `json:"why"`
}

// Kind is constant.
func (SkipAllowed) Kind() Kind { return "people.skip-allowed" }

var _ = declare[SkipAllowed]()

// Skips is the stream of what a room may go on without.
func Skips(room string) string { return "people.skip/" + room }

// AllowSkip lets a part of a room go on without an event. Administrator. Its
// giver has read no further than the stopped room, so it is sent without saying
// how far they have read.
type AllowSkip struct {
	Room     string `json:"room"`
	Part     string `json:"part"`
	Position int64  `json:"position"`
	Event    string `json:"event"`
	Why      string `json:"why"`
}

// Verb is constant.
func (AllowSkip) Verb() string { return "people.allow-skip" }

// AskStanding asks a room how it stands. Administrators, auditors and, as the
// pages of money have to say it, treasurers. It answers with Standing.
type AskStanding struct {
	Room string `json:"-"` // who is asked
}

// Verb differs from room to room: every room answers.
func (a AskStanding) Verb() string { return a.Room + ".standing" }

// Standing says how far a room has come with the book.
type Standing struct {
	Room       string `json:"room"`
	Tables     int64  `json:"tables"`              // position that its read tables have come to
	Reactions  *int64 `json:"reactions,omitempty"` // position reacted to, if the room reacts
	Rebuilding *int64 `json:"rebuilding,omitempty"`
	// Stopped says what keeps a part from going on; PassedOver, what it went on
	// without.
	Stopped    []Stop `json:"stopped,omitempty"`
	PassedOver []Stop `json:"passed_over,omitempty"`
}

// Stop names an event that a part of a room cannot take.
type Stop struct {
	Part     string    `json:"part"`
	Position int64     `json:"position"`
	Event    string    `json:"event"` // its kind
	Error    string    `json:"error"`
	Since    time.Time `json:"since"`
}
