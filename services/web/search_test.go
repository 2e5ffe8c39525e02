package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// TestOneFieldFindsWhatItsReaderMayOpen says a boat with its giver, an applicant, a
// paper, a bin and a place, and asks who finds which of them.
func TestOneFieldFindsWhatItsReaderMayOpen(t *testing.T) {
	c := open(t)
	c.knows("giver", message.DonorSort, "Odo Reed")
	c.knows("household", message.HouseholdSort, "Inés Reedmace")
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{Boat: "b1", Name: "Reedling", Taking: message.Gift, Giver: "giver", Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Wood, Seats: 2}})
	c.Say(message.MatchingRequest("r1"), "", message.RequestMade{Request: "r1", Household: "household", Boats: 1})
	c.Say(message.TreasuryPaper("p1"), "b1", message.PaperIssued{Paper: "p1", Serial: "US-2026-0001", Boat: "b1", Donor: "giver", On: clock.NewDate(2026, 3, 1)})
	c.Say(message.RepairBin("n1"), "", message.BinOpened{Bin: "n1", Name: "Reed mats", Where: "attic", Unit: message.Units[0]})
	c.Say(message.IntakePlace("s1"), "", message.PlaceSet{Place: "s1", Shed: "Reed shed", Name: "Arm 1", LengthMM: 5000, WidthMM: 2000})
	c.Settle()

	found := func(b *browser, words string) []string {
		var groups []string
		for _, section := range all(b.open("/search?q="+url.QueryEscape(words)).root, "section") {
			var names []string
			for _, a := range all(section, "a") {
				names = append(names, textOf(a))
			}
			groups = append(groups, attr(section, "id")+": "+strings.Join(names, ", "))
		}
		return groups
	}
	who := map[people.Role]*browser{}
	for _, role := range people.Roles {
		who[role] = c.member(role)
	}
	for _, try := range []struct {
		role  people.Role
		words string
		want  []string
	}{
		{people.Steward, "reed", []string{"boats: Reedling", "places: Arm 1"}},
		{people.Repairer, "reed", []string{"boats: Reedling", "bins: Reed mats", "places: Arm 1"}},
		{people.Coordinator, "reed", []string{"boats: Reedling", "requests: Inés Reedmace", "places: Arm 1"}},
		{people.Treasurer, "reed", []string{"boats: Reedling", "papers: US-2026-0001", "bins: Reed mats", "places: Arm 1"}},
		{people.Treasurer, "odo", []string{"papers: US-2026-0001"}},
		{people.Auditor, "odo", nil},
		{people.Auditor, "2026-0001", []string{"papers: US-2026-0001"}},
		{people.Auditor, "reed", []string{"boats: Reedling", "papers: US-2026-0001", "bins: Reed mats", "places: Arm 1"}},
		{people.Administrator, "reed", []string{"boats: Reedling", "people: Inés Reedmace, Odo Reed", "requests: Inés Reedmace", "bins: Reed mats", "places: Arm 1"}},
		{people.Administrator, "INES reed", []string{"people: Inés Reedmace", "requests: Inés Reedmace"}},
		{people.Administrator, "mats attic", []string{"bins: Reed mats"}},
		{people.Administrator, "%", nil},
	} {
		assert.Equal(t, try.want, found(who[try.role], try.words), "%s looks for %q", try.role, try.words)
	}

	page := who[people.Administrator].open("/search?q=reed")
	assert.Equal(t, "reed", page.value("q"), "the words stay in the field")
	assert.Contains(t, page.says("count"), "6 things found for “reed”.")
	assert.Contains(t, who[people.Auditor].open("/search?q=odo").says("count"), "Nothing that you may open")
	assert.Equal(t, http.StatusUnprocessableEntity, who[people.Auditor].get("/search?q="+strings.Repeat("x", 300)).status)
	assert.Nil(t, c.visitor().open("/").byID("find"), "who is not signed in has no field")

	require.NoError(t, c.Vault.Destroy(t.Context(), "giver"))
	c.Say(message.Person("giver"), "", message.PersonErased{Person: "giver", Why: "asked"})
	c.knows("late", message.MemberSort, "Reed Later")
	c.Say(message.Person("household"), "", message.PersonChanged{Person: "household", Sealed: c.sealedName("household", "Inés Sedge")})
	c.Settle()
	assert.Equal(t, []string{"people: Reed Later"}, found(who[people.Administrator], "reed")[1:2], "what the names were a moment ago is forgotten")
	assert.Empty(t, found(who[people.Treasurer], "odo"), "nobody finds who was erased")
}

// sealedName seals a name as the people room does.
func (c *club) sealedName(id people.ID, name string) string {
	c.t.Helper()
	sealed, err := c.Vault.Seal(c.t.Context(), string(id), message.SealDetails, message.PersonDetails{Name: name})
	require.NoError(c.t, err)
	return string(sealed)
}
