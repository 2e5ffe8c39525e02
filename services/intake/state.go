package intake

import (
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// stage is how far a boat has come.
type stage string

const (
	offered  stage = "offered"
	accepted stage = "accepted"
	received stage = "received"
	declined stage = "declined"
)

// Boat is what a boat's own stream adds up to.
type Boat struct {
	stage    stage // empty: not in the book
	name     string
	taking   message.Taking
	giver    people.ID
	right    string
	facts    message.BoatFacts
	looks    []look
	findings []finding
	photos   []shot
	arrival
}

// look is one look-over.
type look struct {
	id        string
	inspector people.ID
	finished  bool
	estimated bool // carried the two-inspector estimate
}

// finding is one thing that a look-over found.
type finding struct {
	message.DefectFound
	withdrawn bool
}

// Fold adds an event.
func (b *Boat) Fold(e message.Event, body message.Body) {
	b.foldArrival(e.Boat, body)
	b.foldPhotos(body)
	switch e := body.(type) {
	case message.BoatLogged:
		b.stage, b.name, b.taking, b.giver, b.right, b.facts = offered, e.Name, e.Taking, e.Giver, e.Right, e.Facts
	case message.FactsCorrected:
		b.facts = e.Facts
	case message.LookOverBegun:
		b.looks = append(b.looks, look{id: e.Look, inspector: e.Inspector})
	case message.DefectFound:
		b.findings = append(b.findings, finding{DefectFound: e})
	case message.DefectWithdrawn:
		if f := b.finding(e.Finding); f != nil {
			f.withdrawn = true
		}
	case message.LookOverFinished:
		if l := b.look(e.Look); l != nil {
			l.finished, l.estimated = true, e.Estimate != nil
		}
	case message.BoatAccepted:
		b.stage = accepted
	case message.BoatDeclined:
		b.stage = declined
	case message.BoatReceived:
		b.stage = received
	}
}

// look gives a look-over of the boat, or nil.
func (b *Boat) look(id string) *look {
	i := slices.IndexFunc(b.looks, func(l look) bool { return l.id == id })
	if i < 0 {
		return nil
	}
	return &b.looks[i]
}

// finding gives a finding of the boat, or nil.
func (b *Boat) finding(id string) *finding {
	i := slices.IndexFunc(b.findings, func(f finding) bool { return f.Finding == id })
	if i < 0 {
		return nil
	}
	return &b.findings[i]
}

// lookedOver says whether a look-over is finished.
func (b *Boat) lookedOver() bool {
	return slices.ContainsFunc(b.looks, func(l look) bool { return l.finished })
}

// mark is what a name's or a hull number's stream adds up to: the boats that took
// it, the last at the end.
type mark struct{ taken []boat.ID }

// Fold adds an event.
func (m *mark) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.MarkTaken); ok {
		m.taken = append(m.taken, e.Boat)
	}
}
