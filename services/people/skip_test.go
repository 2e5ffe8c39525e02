package people_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
)

func skipOf(e message.Event, change func(*message.AllowSkip)) message.AllowSkip {
	skip := message.AllowSkip{Room: "treasury", Part: message.TablesPart, Position: e.Position, Event: string(e.Kind), Why: "the program cannot read it"}
	if change != nil {
		change(&skip)
	}
	return skip
}

func TestASkipIsSaidOnceWithItsReason(t *testing.T) {
	c := start(t)
	e := c.Say(message.Club, "", message.SettingChanged{Name: "currency", Value: "EUR"})
	c.Do(desktest.Operator, skipOf(e, nil))
	again := c.Do(desktest.Operator, skipOf(e, func(s *message.AllowSkip) { s.Why = "another reason" }))
	assert.Empty(t, again.Events)
	c.Do(desktest.Operator, skipOf(e, func(s *message.AllowSkip) { s.Part = message.ReactionsPart }))
	assert.Equal(t, []message.Body{
		message.SkipAllowed{Room: "treasury", Part: "tables", Position: 1, Event: "people.setting-changed", Why: "the program cannot read it"},
		message.SkipAllowed{Room: "treasury", Part: "reactions", Position: 1, Event: "people.setting-changed", Why: "the program cannot read it"},
	}, c.Bodies(message.Skips("treasury")))
}

func TestEveryFieldOfASkipIsChecked(t *testing.T) {
	c := start(t)
	e := c.Say(message.Club, "", message.SettingChanged{Name: "currency", Value: "EUR"})
	for name, row := range map[string]struct {
		change func(*message.AllowSkip)
		kind   fault.Kind
		field  string
	}{
		"an unknown room":     {func(s *message.AllowSkip) { s.Room = "cellar" }, fault.Invalid, "room"},
		"an unknown part":     {func(s *message.AllowSkip) { s.Part = "doors" }, fault.Invalid, "part"},
		"no reason":           {func(s *message.AllowSkip) { s.Why = " " }, fault.Invalid, "why"},
		"a long reason":       {func(s *message.AllowSkip) { s.Why = strings.Repeat("w", 301) }, fault.Invalid, "why"},
		"two lines":           {func(s *message.AllowSkip) { s.Why = "a\nb" }, fault.Invalid, "why"},
		"beyond the book":     {func(s *message.AllowSkip) { s.Position = 99 }, fault.Unknown, "position"},
		"another kind":        {func(s *message.AllowSkip) { s.Event = "intake.boat-logged" }, fault.Invalid, "event"},
		"a position below it": {func(s *message.AllowSkip) { s.Position = 0 }, fault.Unknown, "position"},
	} {
		_, err := c.Try(desktest.Operator, skipOf(e, row.change))
		require.Error(t, err, name)
		faulttest.Want(t, err, row.kind, row.field, name)
	}
	assert.Empty(t, c.Bodies(message.Skips("treasury")))
}
