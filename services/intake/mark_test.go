package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Two stewards log two boats, and both are decided before either is written: the
// tables and the book say to both that the mark is free.
func TestOfTwoWhoChooseOneMarkAtOnceOneGetsIt(t *testing.T) {
	c := desktest.Start(t, desktest.Room{Name: Name, Migrations: Migrations(), New: New})
	s := &service{Desk: c.Rooms[Name]}
	steward := c.Member(people.Steward)
	c.Settle()
	write := func(d desk.Decision) error {
		key := desktest.ID()
		_, err := c.Log.Append(t.Context(), ledger.Append{
			Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: steward.String(), Expect: d.Expect, Events: d.Events,
		})
		return err
	}
	for field, change := range map[string]func(*message.LogBoat, string){
		"name": func(c *message.LogBoat, _ string) { c.Name = "Heron" },
		"hull number": func(c *message.LogBoat, id string) {
			c.Name, c.Facts.HullNumber, c.Facts.NoHullNumber = id, "XYZ12345L495", ""
		},
	} {
		decide := func() desk.Decision {
			order := message.LogBoat{
				Boat: boat.ID(desktest.ID()), Taking: message.Gift, Giver: steward.Person, Right: "estate",
				Facts: message.BoatFacts{Type: boat.Canoe, Seats: 2, Material: boat.Wood, NoHullNumber: "home-built"},
			}
			change(&order, string(order.Boat))
			d, err := s.logBoat(t.Context(), desk.Order[message.LogBoat]{
				Caller: desk.Caller{Actor: steward}, Command: order, Now: clock.MustDate("2026-04-01").Time(),
			})
			require.NoError(t, err)
			return d
		}
		one, other := decide(), decide()
		require.NoError(t, write(one))
		assert.True(t, fault.Is(write(other), fault.Conflict), field)
	}
}
