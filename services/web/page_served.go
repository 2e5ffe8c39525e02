package web

import (
	"strconv"

	"refloat.example/pkg/message"
)

// servedPage is the report on who got boats, with small numbers left out.
type servedPage struct {
	Frame
	message.ServedReport
}

// Told writes a number, or that it is not told.
func (p servedPage) Told(t message.Tally) string {
	if t.Hidden {
		return "not told"
	}
	return strconv.Itoa(t.N)
}

func (v *visit) served() error {
	report, err := ask[message.ServedReport](v, message.WhoWasServed{})
	if err != nil {
		return err
	}
	return v.show("served", servedPage{v.frame("Who was served"), report})
}
