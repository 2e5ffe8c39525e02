package message

import (
	"crypto/sha256"
	"encoding/hex"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
)

// DeadlinesNear is said when something about donors' papers falls due within the days that
// the club has set, once of each thing. It is not said of what is only kept until a day,
// nor of what was overdue when it was learned.
type DeadlinesNear struct {
	v1
	First     clock.Date `json:"first"` // the earliest of them
	Deadlines []Deadline `json:"deadlines"`
}

// Deadline is one thing that falls due. Key is Clock.Key of it without
// its serial, which comes when the paper does; earlier ones were with it.
type Deadline struct {
	Key    string     `json:"key"`
	Due    clock.Date `json:"due"`
	Boat   boat.ID    `json:"boat"`
	Serial string     `json:"serial,omitempty"`
}

// Kind is constant.
func (DeadlinesNear) Kind() Kind { return "treasury.deadlines-near" }

var _ = declare[DeadlinesNear]()

// TreasuryReminders is the stream of what was reminded of.
const TreasuryReminders = "treasury.reminders/reminders"

// Key names a thing that falls due: the same whenever it is read, another when its day
// has moved.
func (c Clock) Key() string {
	id := sha256.Sum256([]byte(string(c.Boat) + "\n" + c.Serial + "\n" + c.What + "\n" + c.Due.String()))
	return hex.EncodeToString(id[:16])
}
