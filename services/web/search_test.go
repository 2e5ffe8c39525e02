package web

import (
	"encoding/csv"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// stocked is a club with one of each: a boat with its giver, an applicant, a paper, a
// bin and a place. Nobody gets in but by enter.
func stocked(t *testing.T) (c *club, who map[people.Role]*browser) {
	c = open(t)
	c.knows("giver", message.DonorSort, "Odo Reed")
	c.knows("household", message.HouseholdSort, "Inés Reedmace")
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{Boat: "b1", Name: "Reedling", Taking: message.Gift, Giver: "giver", Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Wood, Seats: 2}})
	c.Say(message.MatchingRequest("r1"), "", message.RequestMade{Request: "r1", Household: "household", Boats: 1})
	c.Say(message.TreasuryPaper("p1"), "b1", message.PaperIssued{Paper: "p1", Serial: "US-2026-0001", Boat: "b1", Donor: "giver", On: clock.NewDate(2026, 3, 1)})
	c.Say(message.RepairBin("n1"), "", message.BinOpened{Bin: "n1", Name: "Reed mats", Where: "attic", Unit: message.Units[0]})
	c.Say(message.IntakePlace("s1"), "", message.PlaceSet{Place: "s1", Shed: "Reed shed", Name: "Arm 1", LengthMM: 5000, WidthMM: 2000})
	c.Say(message.MatchingRound("o1"), "", message.SecretCommitted{Round: "o1"})
	c.Say(message.ValuationComparable("k1"), "", message.ComparableRecorded{Comparable: message.Comparable{Comparable: "k1", Type: boat.Canoe, Seats: 2, Price: money.Of(42000, "USD"), On: clock.NewDate(2026, 2, 1), Source: "=2+5", Grade: 3}})
	c.Settle()
	who = map[people.Role]*browser{}
	for _, role := range people.Roles {
		who[role] = c.member(role)
	}
	c.Say(message.RepairPerson(who[people.Repairer].who), "", message.SkillSigned{Person: who[people.Repairer].who, Skill: mend.Skills[0], By: who[people.Administrator].who, Words: "watched"})
	c.Settle()
	return c, who
}

// Who finds what follows from who may open what: routes_test.go.
func TestOneFieldFindsWhatItsReaderMayOpen(t *testing.T) {
	c, who := stocked(t)
	t.Run("every list gives what it shows as a table", func(t *testing.T) { eachListIsATable(t, who) })
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

// eachListIsATable compares, for every page with a list, the rows that are shown with
// the rows of the table at the same address. Column is where the table has what an
// entry of the list begins with.
func eachListIsATable(t *testing.T, who map[people.Role]*browser) {
	for _, list := range []struct {
		address, id, in string // in is the element of an entry's name
		by              people.Role
		column, rows    int
	}{
		{"/boats?q=reed", "main", "strong", people.Auditor, 0, 1},
		{"/boats?q=osprey", "main", "strong", people.Auditor, 0, 0},
		{"/people?q=reed", "people", "a", people.Administrator, 0, 2},
		{"/people?sort=donor", "people", "a", people.Administrator, 0, 1},
		{"/requests?state=open", "requests", "a", people.Coordinator, 0, 1},
		{"/requests?state=open", "requests", "a", people.Auditor, 0, 1}, // whose name is not shown in either
		{"/requests?state=declined", "main", "tr", people.Coordinator, 0, 0},
		{"/rounds?state=not+frozen", "rounds", "a", people.Auditor, 0, 1},
		{"/rounds?state=closed", "main", "tr", people.Auditor, 0, 0},
		{"/papers?state=issued", "papers", "h3", people.Treasurer, 0, 1},
		{"/papers?state=cancelled", "papers", "h3", people.Treasurer, 0, 0},
		{"/stock?q=mats", "bins", "th", people.Repairer, 0, 1},
		{"/stock?q=rivets", "main", "tr", people.Repairer, 0, 0},
		{"/comparables?type=canoe", "prices", "time", people.Steward, 13, 1},
		{"/comparables?type=board", "main", "time", people.Steward, 13, 0},
		{"/racks?shed=Reed+shed", "main", "th", people.Steward, 1, 1},
		{"/skills", "skilled", "strong", people.Repairer, 0, 1},
		{"/boats/b1/history", "lines", "strong", people.Auditor, 1, 2},
	} {
		page := who[list.by].open(list.address)
		table := who[list.by].get(strings.Replace(list.address, "?", "?as=csv&", 1))
		if !strings.Contains(list.address, "?") {
			table = who[list.by].get(list.address + "?as=csv")
		}
		require.Equal(t, "text/csv; charset=utf-8", table.header.Get("Content-Type"), list.address)
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(table.text, "\ufeff"))).ReadAll()
		require.NoError(t, err, list.address)
		require.Len(t, rows, 1+list.rows, list.address)
		shown := page.byID(list.id)
		require.NotNil(t, shown, list.address)
		var names []string
		for _, n := range all(shown, list.in) {
			if list.in != "th" || attr(n, "scope") == "row" {
				names = append(names, textOf(n))
			}
		}
		require.Len(t, names, list.rows, "%s shows %v", list.address, names)
		for i, name := range names {
			cell := rows[1+i][list.column]
			if at, err := time.Parse(time.DateOnly, cell); err == nil {
				cell = at.Format("2 January 2006")
			}
			assert.Contains(t, name, cell, "%s, row %d", list.address, i)
		}
		if export := page.byID("export"); list.rows > 0 && assert.NotNil(t, export, "%s offers its table", list.address) {
			assert.Equal(t, table.text, who[list.by].get(attr(export, "href")).text, list.address)
		}
	}
	prices := who[people.Steward].get("/comparables?as=csv").text
	assert.Contains(t, prices, "420.00,USD")
	assert.Contains(t, prices, ",'=2+5,", "a text stays a text")
	assert.Equal(t, http.StatusForbidden, who[people.Steward].get("/people?as=csv").status, "a table has its list's readers")
	assert.NotContains(t, who[people.Auditor].get("/requests?as=csv").text, "Reedmace")
}

// sealedName seals a name as the people room does.
func (c *club) sealedName(id people.ID, name string) string {
	c.t.Helper()
	sealed, err := c.Vault.Seal(c.t.Context(), string(id), message.SealDetails, message.PersonDetails{Name: name})
	require.NoError(c.t, err)
	return string(sealed)
}
