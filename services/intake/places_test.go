package intake_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/intake"
)

// shed is a club with two places and four boats of 4.3 m by 0.6 m.
func shed(t *testing.T) (*desktest.Club, people.Actor) {
	c := start(t)
	steward := c.Member(people.Steward)
	donor(c)
	c.Do(steward, message.SetPlace{Place: "p1", Shed: "old boathouse", Name: "rack 1", LengthMM: 4300, WidthMM: 1200})
	c.Do(steward, message.SetPlace{Place: "p2", Shed: "old boathouse", Name: "rack 2", LengthMM: 4299, WidthMM: 3000})
	for _, id := range []boat.ID{"b1", "b2", "b3"} {
		log := gift(id, "boat "+string(id), "donor")
		log.Facts.BeamMM = 600
		c.Do(steward, log)
	}
	c.Do(steward, gift("unmeasured", "Wren", "donor"))
	return c, steward
}

func TestAPlaceHoldsWhatFits(t *testing.T) {
	c, steward := shed(t)
	for name, row := range map[string]struct {
		order message.MoveBoat
		kind  fault.Kind
		field string
	}{
		"a millimetre too long": {message.MoveBoat{Boat: "b1", To: "p2"}, fault.Conflict, "to"},
		"not measured":          {message.MoveBoat{Boat: "unmeasured", To: "p1"}, fault.Invalid, "to"},
		"nowhere":               {message.MoveBoat{Boat: "b1", To: "p9"}, fault.Unknown, "to"},
		"no id":                 {message.MoveBoat{Boat: "b1", To: "a/b"}, fault.Invalid, "to"},
		"no boat":               {message.MoveBoat{Boat: "b9", To: "p1"}, fault.Unknown, "boat"},
	} {
		_, err := c.Try(steward, row.order)
		faulttest.Want(t, err, row.kind, row.field, name)
	}
	c.Do(steward, message.MoveBoat{Boat: "b1", To: "p1"})
	c.Do(c.Member(people.Repairer), message.MoveBoat{Boat: "b2", To: "p1"}) // to the millimetre
	_, err := c.Try(steward, message.MoveBoat{Boat: "b3", To: "p1"})
	faulttest.Want(t, err, fault.Conflict, "to")
	_, err = c.Try(steward, message.ClosePlace{Place: "p1", Why: "the arms are bent"})
	faulttest.Want(t, err, fault.Conflict, "place")
	c.Do(steward, message.MoveBoat{Boat: "b1"})
	c.Do(steward, message.MoveBoat{Boat: "b3", To: "p1"})
	assert.Empty(t, c.Do(steward, message.MoveBoat{Boat: "b3", To: "p1"}).Events, "it lies there already")
	c.OnlyFor("donor", message.MoveBoat{Boat: "b3"}, people.Steward, people.Repairer)
	c.OnlyFor("donor", message.SetPlace{Place: "p3", Shed: "yard", Name: "grass", LengthMM: 9000, WidthMM: 9000}, people.Steward)
	c.OnlyFor("donor", message.ClosePlace{Place: "p2", Why: "x"}, people.Steward)
}

func TestABoatLiesAtOnePlaceAndLeavesItWithTheClub(t *testing.T) {
	c, steward := shed(t)
	c.Do(steward, message.SetPlace{Place: "p2", Shed: "old boathouse", Name: "rack 2", LengthMM: 6000, WidthMM: 700})
	c.Do(steward, message.MoveBoat{Boat: "b1", To: "p1"})
	c.Do(steward, message.MoveBoat{Boat: "b1", To: "p2", Words: "to let the floor dry"})
	moves := desktest.Said[message.BoatMoved](c, message.IntakeBoat("b1"))
	require.Len(t, moves, 2)
	assert.Equal(t, "p1", moves[1].From)
	assert.Equal(t, []message.Kind{"intake.place-set", "intake.berth-taken", "intake.berth-left"}, c.Kinds(message.IntakePlace("p1")))
	_, err := c.Try(steward, message.MoveBoat{Boat: "b2", To: "p2"})
	faulttest.Want(t, err, fault.Conflict, "to")
	c.Say(message.MatchingBoat("b1"), "b1", message.BoatHandedOver{Boat: "b1"})
	c.Settle()
	c.Do(steward, message.MoveBoat{Boat: "b2", To: "p2"}) // its room is free again
	_, err = c.Try(steward, message.MoveBoat{Boat: "b1", To: "p1"})
	faulttest.Want(t, err, fault.Conflict, "boat")
	c.RebuildIsTheSame(intake.Name)
}

func TestBadPlacesAreRefusedByName(t *testing.T) {
	c, steward := shed(t)
	good := message.SetPlace{Place: "p3", Shed: "yard", Name: "trestles", LengthMM: 6000, WidthMM: 2000}
	for field, change := range map[string]map[string]any{
		"place": {"place": "a b"}, "shed": {"shed": " "}, "name": {"name": "two\nlines"}, "length_mm": {"length_mm": 999}, "width_mm": {"width_mm": 30_001},
	} {
		faulttest.Want(t, c.TryChanged(steward, good, change), fault.Invalid, field)
	}
	for _, order := range []desk.Commanded{message.ClosePlace{Place: "p9", Why: "x"}} {
		_, err := c.Try(steward, order)
		faulttest.Want(t, err, fault.Unknown, "place")
	}
	_, err := c.Try(steward, message.ClosePlace{Place: "p1"})
	faulttest.Want(t, err, fault.Invalid, "why")
	c.Do(steward, message.ClosePlace{Place: "p1", Why: "the arms are bent"})
	_, err = c.Try(steward, message.MoveBoat{Boat: "b1", To: "p1"})
	faulttest.Want(t, err, fault.Unknown, "to")
}
