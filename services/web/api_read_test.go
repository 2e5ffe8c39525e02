package web

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// What programs read is what the page of a boat shows (page_boat.html): that a
// household was asked and how it fares, but not which household, nor its words; what
// treasurers attest, to nobody else.
func TestAProgramReadsOfABoatWhatItsPageShows(t *testing.T) {
	on := clock.MustDate("2026-04-01")
	b := Boat{
		Parts:    []Part{{PartBooked: message.PartBooked{Entry: "e", Receipt: "secret-receipt"}}},
		Excepted: []message.ExceptionStated{{By: "secret-attester"}},
		After: After{
			Fetching:  &message.FetchingAgreed{Request: "secret-1", On: on},
			FollowUps: []message.FollowUpNoted{{Request: "secret-2", Days: 30, Fares: "well", Sealed: "secret-3"}},
			Stopped:   &message.UseStopped{Request: "secret-4", Why: "recalled"},
			Incidents: []message.IncidentReported{{Request: "secret-5", Incident: "secret-6", Harm: "nobody was hurt", Sealed: "secret-7"}},
			Returned:  &message.BoatReturned{Request: "secret-8", Where: "back to the club", Sealed: "secret-9"},
		},
	}
	whole, err := json.Marshal(b)
	require.NoError(t, err)
	read := func(role people.Role) string {
		v := &visit{Who: Who{Person: "somebody", Roles: []people.Role{role}}}
		raw, err := json.Marshal(v.openBoat(b))
		require.NoError(t, err)
		now, err := json.Marshal(b)
		require.NoError(t, err)
		require.Equal(t, string(whole), string(now), "the document itself stays as it is")
		return string(raw)
	}
	for _, role := range []people.Role{people.Repairer, people.Steward} {
		seen := read(role)
		assert.NotContains(t, seen, "secret", role)
		for _, shown := range []string{"well", "recalled", "nobody was hurt", "back to the club"} {
			assert.Contains(t, seen, shown, role)
		}
	}
	assert.Contains(t, read(people.Coordinator), "secret-9")
	assert.NotContains(t, read(people.Coordinator), "secret-attester")
	assert.NotContains(t, read(people.Coordinator), "secret-receipt")
	assert.Contains(t, read(people.Treasurer), "secret-attester")
	assert.Contains(t, read(people.Treasurer), "secret-receipt")
	assert.NotContains(t, read(people.Treasurer), "secret-9")
}
