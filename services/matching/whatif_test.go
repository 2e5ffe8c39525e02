package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Two boats and two households, one of which has neither cart nor hands enough.
func TestWhatIf(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	c.ready("b2", "Coot", canoe())
	c.asks("r1", wish())
	weak := wish()
	weak.HasCart, weak.Carriers, weak.EachLiftsG = false, 1, 15_000
	c.asks("r2", weak)
	c.opens("round1")
	ask := func(q message.WhatIf) message.WhatIfAnswer {
		q.Round = "round1"
		return desktest.Ask[message.WhatIfAnswer](c.Club, c.coordinator, q)
	}
	a := ask(message.WhatIf{})
	assert.Equal(t, []int{0, 1}, a.Now)
	assert.Equal(t, a.Now, a.Then)
	alone := map[string][]int{}
	for _, m := range a.Measures {
		alone[m.Measure] = m.Served
	}
	// 24 kg: one end on a cart is 12 kg, within 15; two carry 4/3 of 15, which is 20.
	assert.Equal(t, map[string][]int{"cart": {0, 2}, "hands": {0, 1}, "delivery": {0, 1}, "storage": {0, 1}}, alone)
	assert.Equal(t, []int{0, 2}, ask(message.WhatIf{Measures: []string{"cart"}}).Then)
	assert.Equal(t, []int{0, 1}, ask(message.WhatIf{Measures: []string{"cart"}, HoldBack: []boat.ID{"b2"}}).Then)
	assert.Equal(t, []int{0, 0}, ask(message.WhatIf{HoldBack: []boat.ID{"b1", "b2"}}).Then)
	for field, q := range map[string]message.WhatIf{
		"round":       {Round: "round9"},
		"measures[0]": {Round: "round1", Measures: []string{"wings"}},
	} {
		_, err := desk.Ask[message.WhatIfAnswer](t.Context(), c.Client, desk.Asking{By: c.coordinator}, q)
		assert.Equal(t, field, fault.Of(err).Field, "%v", err)
	}
	require.NotContains(t, c.Kinds(message.MatchingRound("round1")), message.Kind("matching.round-solved"), "nothing is written down")
}
