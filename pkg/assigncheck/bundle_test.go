package assigncheck_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/assigncheck"
)

// The answers can be seen by hand; no source.
func TestBundlesAreHeldAgainstWhatIsPossible(t *testing.T) {
	t.Parallel()
	a := assigncheck.Bundle{Boats: [2]string{"s1", "s2"}, Applicant: "a", Weight: 4, Tier: 2}
	b := assigncheck.Bundle{Boats: [2]string{"s3", "s4"}, Applicant: "b", Weight: 3, Tier: 1}
	sound := func() assigncheck.Taken {
		return assigncheck.Taken{
			Possible: []assigncheck.Bundle{a, b, {Boats: [2]string{"s2", "s3"}, Applicant: "b", Weight: 1, Tier: 1}},
			Taken:    []assigncheck.Bundle{{Boats: [2]string{"s2", "s1"}, Applicant: "a", Weight: 4, Tier: 2}, b},
			Rest:     []assigncheck.Couple{{Boat: "d", Applicant: "c"}}, RestServed: []int64{0, 0, 1}, RestTotal: 9,
			ServedByTier: []int64{1, 1, 1}, Total: 16,
		}
	}
	assert.NoError(t, assigncheck.Bundles(sound()))
	for why, spoil := range map[string]func(*assigncheck.Taken){
		"were not among what is possible":              func(c *assigncheck.Taken) { c.Taken[0].Weight = 5 },
		`boat s2 of a bundle stands in another bundle`: func(c *assigncheck.Taken) { c.Taken[1] = c.Possible[2] },
		`boat s1 of a bundle stands in a pair`:         func(c *assigncheck.Taken) { c.Rest[0].Boat = "s1" },
		`applicant a of a bundle stands in a pair`:     func(c *assigncheck.Taken) { c.Rest[0].Applicant = "a" },
		"pairs and bundles serve":                      func(c *assigncheck.Taken) { c.ServedByTier[0] = 0 },
		"at most 9 tiers":                              func(c *assigncheck.Taken) { c.ServedByTier = make([]int64, 10) },
		"pairs and bundles sum to 16":                  func(c *assigncheck.Taken) { c.Total = 17 },
	} {
		c := sound()
		spoil(&c)
		assert.ErrorContains(t, assigncheck.Bundles(c), why)
	}
}
