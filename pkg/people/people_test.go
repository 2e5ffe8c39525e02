package people_test

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/people"
)

// The form stands in events, where it stays for ever.
func TestHowAnActorIsWrittenInTheBook(t *testing.T) {
	for want, actor := range map[string]people.Actor{
		"member/p1":   people.Member("p1"),
		"link/l1":     {Link: "l1"},
		"room/repair": people.Service("repair"),
		"nobody":      {},
	} {
		assert.Equal(t, want, actor.String())
	}
	assert.Equal(t, "link/l1", people.Actor{Person: "p1", Link: "l1"}.String(), "who came by a link does not act as a member")
}

func TestAnActorOverTheWire(t *testing.T) {
	raw, err := json.Marshal(people.Member("p1"))
	require.NoError(t, err)
	assert.JSONEq(t, `{"person": "p1"}`, string(raw))
	var got people.Actor
	require.NoError(t, json.Unmarshal(raw, &got))
	assert.Equal(t, people.Member("p1"), got)
}

func TestNoRoleStandsTwice(t *testing.T) {
	roles := slices.Sorted(slices.Values(people.Roles))
	assert.Equal(t, slices.Compact(slices.Clone(roles)), roles)
	assert.Equal(t, []people.Role{"administrator", "auditor", "coordinator", "repairer", "steward", "treasurer"}, roles)
}
