package intake

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
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
	// agreements are those with the giver; price is what was named or agreed last.
	agreements map[string]message.AgreementMade
	price      *money.Amount
	photos     []shot
	place      string // where it lies; empty: at no place
	jackets    []jacket
	arrival
}

// Fold adds an event.
func (b *Boat) Fold(e message.Event, body message.Body) {
	b.foldArrival(e.Boat, body)
	b.foldPhotos(body)
	b.foldJackets(body)
	if e, ok := body.(message.BoatMoved); ok {
		b.place = e.To
	}
	b.foldLook(body)
	switch e := body.(type) {
	case message.BoatLogged:
		b.stage, b.name, b.taking, b.giver, b.right, b.facts = offered, e.Name, e.Taking, e.Giver, e.Right, e.Facts
	case message.FactsCorrected:
		b.facts = e.Facts
	case message.BoatAccepted:
		b.stage = accepted
	case message.BoatDeclined:
		b.stage = declined
	case message.BoatReceived:
		b.stage = received
	}
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
