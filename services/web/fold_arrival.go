package web

import (
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// Arrival is how a boat comes to the club: by what right, with which doubts, and
// which of possession and signed transfer there is.
type Arrival struct {
	Shown        *message.RightShown        `json:"shown,omitempty"`
	Intent       *message.IntentStated      `json:"intent,omitempty"`
	Registration *message.RegistrationNoted `json:"registration,omitempty"`
	Doubts       []Doubt                    `json:"doubts,omitempty"`
	Time         int                        `json:"time,omitempty"`    // 2 for the second time with the club
	Earlier      boat.ID                    `json:"earlier,omitempty"` // the entry of the time before
	Later        boat.ID                    `json:"later,omitempty"`   // the entry of the time after
	Possession   clock.Date                 `json:"possession"`
	Signed       clock.Date                 `json:"signed"`
}

// Doubt is a reason to ask whose a boat is, and what was found out.
type Doubt struct {
	message.DoubtRaised
	By      string    `json:"by"` // actor
	At      time.Time `json:"at"`
	Settled string    `json:"settled,omitempty"` // in which words
	Settler string    `json:"settler,omitempty"` // actor
}

// OpenDoubts gives the doubts that nobody has settled.
func (a *Arrival) OpenDoubts() []Doubt {
	var open []Doubt
	for _, d := range a.Doubts {
		if d.Settled == "" {
			open = append(open, d)
		}
	}
	return open
}

// foldArrival follows how the boat comes.
func (b *Boat) foldArrival(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.RightShown:
		b.Right, b.Shown = m.Right, &m
	case message.IntentStated:
		b.Intent = &m
	case message.RegistrationNoted:
		b.Registration = &m
	case message.DoubtRaised:
		b.Doubts = append(b.Doubts, Doubt{DoubtRaised: m, By: e.Actor, At: e.HappenedAt})
	case message.DefectFound:
		if m.AltersNumber() {
			said := message.DoubtRaised{Boat: m.Boat, Doubt: m.Finding, About: message.NumberAltered, Words: "found by a look-over"}
			b.Doubts = append(b.Doubts, Doubt{DoubtRaised: said, By: e.Actor, At: e.HappenedAt})
		}
	case message.DefectWithdrawn:
		b.settle(m.Finding, "the finding was withdrawn: "+m.Why, e.Actor)
	case message.DoubtSettled:
		b.settle(m.Doubt, m.Words, e.Actor)
	case message.BoatCameBack:
		if m.Earlier == e.Boat {
			b.Later = m.Boat
		} else {
			b.Earlier, b.Time = m.Earlier, m.Time
		}
	case message.PossessionNoted:
		b.Possession = m.On
	case message.TransferSigned:
		b.Signed = m.On
	}
}

func (b *Boat) settle(doubt, words, by string) {
	for i := range b.Doubts {
		if b.Doubts[i].Doubt == doubt {
			b.Doubts[i].Settled, b.Doubts[i].Settler = words, by
		}
	}
}
