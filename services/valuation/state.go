package valuation

import (
	"slices"

	"refloat.example/pkg/message"
)

// price is what a comparable's stream adds up to.
type price struct {
	recorded, refused bool
	said              message.Comparable
}

// Fold adds an event.
func (p *price) Fold(_ message.Event, body message.Body) {
	switch e := body.(type) {
	case message.ComparableRecorded:
		p.recorded, p.said = true, e.Comparable
	case message.ComparableRefused:
		p.refused = true
	}
}

// sale is what a sale's own stream adds up to: the comparable that was recorded
// for it last.
type sale struct{ comparable string }

// Fold adds an event.
func (s *sale) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.SaleSeen); ok {
		s.comparable = e.Comparable
	}
}

// opinions is what a boat's stream adds up to: its values, oldest first.
type opinions struct{ values []message.BoatValued }

// Fold adds an event.
func (o *opinions) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.BoatValued); ok {
		o.values = append(o.values, e)
	}
}

func (o *opinions) has(value string) bool {
	return slices.ContainsFunc(o.values, func(v message.BoatValued) bool { return v.Value == value })
}

// newest gives the value recorded last, or nil.
func (o *opinions) newest() *message.BoatValued {
	if len(o.values) == 0 {
		return nil
	}
	return &o.values[len(o.values)-1]
}

// before gives the id of the newest value for the same day, which a new one
// takes the place of.
func (o *opinions) before(c message.ValueBoat) string {
	for _, v := range slices.Backward(o.values) {
		if v.On == c.On {
			return v.Value
		}
	}
	return ""
}
