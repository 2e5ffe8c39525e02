// Package people holds the words for who acts: members and their roles,
// applicants and donors, and the actor that every command carries.
package people

// ID names a person or a household for life. It is a UUID in text form and says
// nothing about who it is; names are sealed elsewhere.
type ID string

// Role is what a member may do. A member can have several.
type Role string

// The roles of the club. Applicants and donors have no role: they act through a
// private link that is bound to their own request or their own papers.
const (
	Steward       Role = "steward"       // logs boats, inspects, decides on taking them in
	Repairer      Role = "repairer"      // turns findings into work, books parts, hours and tests
	Coordinator   Role = "coordinator"   // requests, rounds, offers, hand-over
	Treasurer     Role = "treasurer"     // values, costs, papers, totals
	Administrator Role = "administrator" // members, settings, waivers, erasure
	Auditor       Role = "auditor"       // reads everything but personal data
)

// Roles lists the roles in the order in which pages show them.
var Roles = []Role{Steward, Repairer, Coordinator, Treasurer, Administrator, Auditor}

// Purpose says what a private link opens.
type Purpose string

// The purposes of a private link.
const (
	OwnRequest Purpose = "own-request" // subject is a request
	OwnPapers  Purpose = "own-papers"  // subject is the donor
	Deadlines  Purpose = "deadlines"   // what falls due, for a treasurer's calendar; subject is the treasurer
)

// Actor is who gives a command. Exactly one of the three ways holds: a member
// (Person alone), a holder of a private link (Link and its Person), or the
// service itself (Room).
type Actor struct {
	Person ID     `json:"person,omitempty"`
	Link   string `json:"link,omitempty"`
	Room   string `json:"room,omitempty"`
}

// Member is the actor for a signed-in member.
func Member(id ID) Actor { return Actor{Person: id} }

// Service is the actor for a room that acts by itself, for instance when it
// reacts to another room's event.
func Service(room string) Actor { return Actor{Room: room} }

// String gives the form that stands in events: "member/ID", "link/LINK" or
// "room/NAME".
func (a Actor) String() string {
	switch {
	case a.Room != "":
		return "room/" + a.Room
	case a.Link != "":
		return "link/" + a.Link
	case a.Person != "":
		return "member/" + string(a.Person)
	}
	return "nobody"
}
