package desk_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/people"
)

func TestARehearsalDecidesAndWritesNothing(t *testing.T) {
	c := startToy(t)
	by := c.Member(people.Steward)
	rehearse := func(by people.Actor, minor int64) error {
		_, err := c.Client.Do(t.Context(), desk.Asking{By: by, Key: "k", Seen: 1, Check: true}, offer("b1", minor))
		return err
	}
	require.NoError(t, rehearse(by, 500))
	assert.True(t, fault.Is(rehearse(by, -1), fault.Invalid), "a bad order is refused all the same")
	assert.True(t, fault.Is(rehearse(c.Member(people.Auditor), 500), fault.Forbidden))
	assert.Empty(t, c.Bodies("intake.boat/b1"))
	reply, err := c.Client.Do(t.Context(), desk.Asking{By: by, Key: "k", Seen: 1}, offer("b1", 500))
	require.NoError(t, err)
	assert.False(t, reply.Repeated, "the key is still free")
}
