package web

import (
	"slices"
	"time"

	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Paper is a donor's paper. What it says stays sealed: ask the treasury room
// (message.PrintPaper) to print it.
type Paper struct {
	message.PaperIssued
	Issued    time.Time `json:"issued"`
	By        string    `json:"by"`                  // actor
	Cancelled string    `json:"cancelled,omitempty"` // why
	// Reads are the latest who were shown what it says, the last first; for
	// administrators and auditors.
	Reads []PaperReading `json:"reads,omitempty"`
}

// keptReadings bounds how many are kept with a paper; the book has them all.
const keptReadings = 200

// PaperReading is somebody who was shown a paper, on a day.
type PaperReading struct {
	By   string    `json:"by"` // actor
	At   time.Time `json:"at"`
	Link bool      `json:"link,omitempty"`
	// CopyA says that it was copy A, with the donor's whole number.
	CopyA bool `json:"copy_a,omitempty"`
}

// State is issued or cancelled.
func (p Paper) State() string {
	if p.Cancelled != "" {
		return "cancelled"
	}
	return "issued"
}

// CanProve says whether a proof file can be handed out: papers of the first layout
// have none.
func (p Paper) CanProve() bool { return p.Template >= 2 }

// Fold changes what is shown of a paper. It is pure. The sealed content is left
// out: the pages have no use for it.
func (p *Paper) Fold(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.PaperIssued:
		p.PaperIssued, p.Issued, p.By = m, e.HappenedAt, e.Actor
		p.Sealed, p.Salt = "", ""
	case message.PaperCancelled:
		p.Cancelled = m.Why
	case message.PaperRead:
		p.wasRead(PaperReading{By: e.Actor, At: e.RecordedAt, Link: m.Link})
	case message.CopyAOpened:
		p.wasRead(PaperReading{By: e.Actor, At: e.RecordedAt, CopyA: true})
	}
}

func (p *Paper) wasRead(r PaperReading) {
	p.Reads = append([]PaperReading{r}, p.Reads[:min(len(p.Reads), keptReadings-1)]...)
}

// Price is a comparable: what somebody paid or asked for a boat like ours.
type Price struct {
	message.Comparable
	Refused string `json:"refused,omitempty"` // why it is not used
}

// State is used or refused.
func (p Price) State() string {
	if p.Refused != "" {
		return "refused"
	}
	return "used"
}

// Fold changes what is shown of a comparable. It is pure.
func (p *Price) Fold(_ message.Event, body message.Body) {
	switch m := body.(type) {
	case message.ComparableRecorded:
		p.Comparable = m.Comparable
	case message.ComparableRefused:
		p.Refused = m.Why
	}
}

// Person is what the pages keep of somebody, beside the sealed details.
type Person struct {
	ID       people.ID             `json:"id"`
	Sort     message.Sort          `json:"sort"`
	Since    time.Time             `json:"since"`
	Sealed   string                `json:"sealed,omitempty"` // message.PersonDetails
	Guardian people.ID             `json:"guardian,omitempty"`
	Consents []Consent             `json:"consents,omitempty"`
	Links    []message.LinkGiven   `json:"links,omitempty"` // those that stand
	Skills   []Skill               `json:"skills,omitempty"`
	Erased   *message.PersonErased `json:"erased,omitempty"`
	ErasedAt time.Time             `json:"erased_at,omitzero"`
}

// Skill is what a member is signed off for.
type Skill struct {
	Skill mend.Skill `json:"skill"`
	By    people.ID  `json:"by"`
	Words string     `json:"words"`
	At    time.Time  `json:"at"`
}

// Consent is a text that somebody agreed to.
type Consent struct {
	Text      string    `json:"text"`
	How       string    `json:"how"`
	At        time.Time `json:"at"`
	Withdrawn bool      `json:"withdrawn,omitempty"`
}

// introduce takes in somebody whom another room introduced.
func (p *Person) introduce(e message.Event, n *message.NewPerson) {
	if p.Erased != nil {
		return
	}
	p.ID, p.Sort, p.Sealed, p.Guardian = n.Person, n.Sort, n.Sealed, n.Guardian
	if p.Since.IsZero() {
		p.Since = e.HappenedAt
	}
}

// Fold changes what is kept of a person. It is pure.
func (p *Person) Fold(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.BoatLogged:
		p.introduce(e, m.NewGiver)
	case message.RequestMade:
		p.introduce(e, m.NewHousehold)
	case message.PersonRegistered:
		p.introduce(e, &message.NewPerson{Person: m.Person, Sort: m.Sort, Sealed: m.Sealed, Guardian: p.Guardian})
	case message.PersonChanged:
		p.ID, p.Sealed = m.Person, m.Sealed
	case message.GuardianNamed:
		p.ID, p.Guardian = m.Person, m.Guardian
	case message.RoleGiven:
		p.ID = m.Person
	case message.ConsentGiven:
		p.ID = m.Person
		p.Consents = append(p.Consents, Consent{Text: m.Text, How: m.How, At: e.HappenedAt})
	case message.ConsentWithdrawn:
		for i := range p.Consents {
			p.Consents[i].Withdrawn = p.Consents[i].Withdrawn || p.Consents[i].Text == m.Text
		}
	case message.LinkGiven:
		p.ID = m.Person
		p.Links = append(p.Links, m)
	case message.SkillSigned:
		p.ID = m.Person
		p.Skills = append(p.Skills, Skill{Skill: m.Skill, By: m.By, Words: m.Words, At: e.HappenedAt})
	case message.SkillEnded:
		p.Skills = slices.DeleteFunc(p.Skills, func(s Skill) bool { return s.Skill == m.Skill })
	case message.PersonErased:
		*p = Person{ID: m.Person, Sort: p.Sort, Since: p.Since, Erased: &m, ErasedAt: e.HappenedAt}
	}
}

// endLink forgets a private link that stands no more.
func (p *Person) endLink(link string) {
	kept := p.Links[:0]
	for _, l := range p.Links {
		if l.Link != link {
			kept = append(kept, l)
		}
	}
	p.Links = kept
}
