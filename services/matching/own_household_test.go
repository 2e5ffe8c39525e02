package matching_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Whoever could set the tier of their own household would be served first.
func TestNobodySetsTheirOwnHouseholdsTier(t *testing.T) {
	c := start(t)
	m := form("r1", wish())
	m.Household, m.Details = c.second.Person, nil
	c.Do(c.second, m)
	first := message.SetTier{Request: "r1", Tier: 1, Why: "first boat"}
	_, err := c.Try(c.second, first)
	assert.Equal(t, fault.Forbidden, kindOf(err), "%v", err)
	c.Do(c.coordinator, first)
}
