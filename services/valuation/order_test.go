package valuation_test

import (
	"strings"
	"testing"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// ready brings a club to where each of the good orders can be taken.
func ready(c *desktest.Club) map[string]desk.Commanded {
	log(c, "seller")
	lookOver(c, nil)
	s := c.Member(people.Steward)
	c.Do(s, sold("k1", 60_000))
	c.Do(s, value("v1"))
	return map[string]desk.Commanded{
		"record": sold("k2", 61_000), "refuse": message.RefuseComparable{Comparable: "k1", Why: "wrong"},
		"value": value("v2"), "ceiling": message.SetCeiling{Boat: "b1", Repairs: []message.ExpectedWork{{What: "weld", Cost: money.Of(1, "USD")}}},
	}
}

func TestWhoMayDoWhat(t *testing.T) {
	c := start(t)
	orders := ready(c)
	for _, order := range orders {
		c.OnlyFor("seller", order, people.Steward, people.Treasurer)
	}
	for _, role := range []people.Role{people.Steward, people.Treasurer} {
		by := c.Member(role)
		c.Do(by, sold("k-"+string(role), 61_000, func(c *message.Comparable) { c.Area = string(role); c.Source = string(role) }))
		c.Do(by, message.RefuseComparable{Comparable: "k-" + string(role), Why: "wrong"})
		c.Do(by, value("v-"+string(role)))
		c.Do(by, orders["ceiling"])
	}
}

func TestBadInputIsRefusedByName(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	orders := ready(c)
	type bad struct {
		change map[string]any
		field  string
		kind   fault.Kind
	}
	one := func(field string, value any) bad { return bad{map[string]any{field: value}, field, fault.Invalid} }
	work := func(field string, value any) bad {
		r := map[string]any{"what": "weld", "cost": map[string]any{"minor": 1, "currency": "USD"}, "percent_likely": 1, "minutes": 1}
		r[field] = value
		return bad{map[string]any{"repairs": []any{r}}, "repairs[0]." + field, fault.Invalid}
	}
	euro := map[string]any{"minor": 5, "currency": "EUR"}
	rows := map[string][]bad{
		"record": {
			one("comparable", ""), one("comparable", "a/b"), one("price", euro), one("price", map[string]any{"minor": 0, "currency": "USD"}),
			one("on", "2026-04-02"), one("on", ""), one("price_kind", "given"), one("type", "raft"), one("length_mm", 43), one("seats", -1),
			one("material", "x\ny"), one("age_years", -1), one("age_years", 151), one("grade", 0), one("grade", 6), one("area", strings.Repeat("x", 121)),
			one("source", ""), one("source", strings.Repeat("x", 121)), one("own_boat", "b1"), one("sorce", "x"),
		},
		"refuse": {one("comparable", ""), one("why", " "), {map[string]any{"comparable": "k9"}, "comparable", fault.Unknown}},
		"value": {
			one("boat", ""), {map[string]any{"boat": "nowhere"}, "boat", fault.Unknown}, one("value", ""), {map[string]any{"value": "v1"}, "value", fault.Conflict},
			one("on", "2026-04-02"), one("on", ""), one("purpose", "fun"), one("as_it_lies", 0), one("repaired", 2), one("repaired", 6),
			one("conflict", ""), {map[string]any{"conflict": "some"}, "conflict", fault.Forbidden},
		},
		"ceiling": {
			one("boat", ""), {map[string]any{"boat": "nowhere"}, "boat", fault.Unknown},
			work("what", ""), work("what", strings.Repeat("x", 121)), work("cost", euro), work("cost", map[string]any{"minor": -1, "currency": "USD"}),
			work("percent_likely", 101), work("percent_likely", -1), work("minutes", -1), work("minutes", 100_001),
		},
	}
	c.WritesNothing(func() {
		for name, bads := range rows {
			for _, b := range bads {
				err := c.TryChanged(steward, orders[name], b.change)
				faulttest.Want(t, err, b.kind, b.field, name, b.change)
			}
		}
	})
}
