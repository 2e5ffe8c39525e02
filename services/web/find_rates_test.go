package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// By hand: both noted the crack at the bow; only the first the gouge amidships,
// only the second the worn toggle at the stern.
func TestFindRatesAreTheInspectorsAndTheCoordinators(t *testing.T) {
	c := open(t, intakeRoom)
	first, second := c.member(people.Steward), c.member(people.Steward)
	b := first.logged()
	look := ""
	for who, second := range map[*browser]map[string]string{
		first:  {"place.part": "chine", "place.zone": "amid", "defect": "gouge", "severity": "use"},
		second: {"place.part": "carry toggle", "place.zone": "stern", "defect": "worn", "severity": "watch"},
	} {
		page := who.done(b+"/look", "begin-look", nil)
		look = strings.TrimSuffix(attr(page.byID("do-note-finding"), "href"), "/finding")
		who.done(look+"/finding", "note-finding", crack)
		other := with(crack, "length_mm", "", "through", "")
		for name, value := range second {
			other[name] = value
		}
		who.done(look+"/finding", "note-finding", other)
		who.done(look+"/finish", "finish-look", map[string]string{"grade": "3"})
	}
	assert.Contains(t, first.open("/find-rates").text, "nothing to compare yet", "nobody has confirmed anything")
	match := attr(first.open(b).byID("do-match"), "href")
	first.done(match, "match-findings", nil)

	page := first.open("/find-rates")
	assert.Equal(t, "bow 1 1 too few to say", page.says("zone-bow"))
	assert.Equal(t, "stern 0 1 too few to say", page.says("zone-stern"))
	assert.Equal(t, "amid 0 0 too few to say", page.says("zone-amid"))
	assert.Equal(t, "amid 0 1 too few to say", second.open("/find-rates").says("zone-amid"))
	assert.Nil(t, page.byID("others"))

	// Nobody else's: not another steward's, an administrator's or an auditor's.
	coordinator := c.member(people.Coordinator)
	of := "/find-rates/" + string(first.who)
	assert.Equal(t, "stern 0 1 too few to say", coordinator.open(of).says("zone-stern"))
	assert.Contains(t, attr(all(coordinator.open("/find-rates").byID("others"), "a")[0], "href"), "/find-rates/")
	for _, who := range []*browser{second, first, c.member(people.Administrator), c.member(people.Auditor), c.member(people.Repairer), c.member(people.Treasurer)} {
		assert.Equal(t, http.StatusForbidden, who.get(of).status)
		assert.Equal(t, http.StatusForbidden, who.program().ask("GET", "/api"+of, "", nil).status)
		v := visit{Site: c.site, Who: Who{Person: who.who, Roles: []people.Role{people.Steward, people.Administrator, people.Auditor}}, ctx: t.Context()}
		if who != first {
			_, err := v.findRates(first.who)
			assert.ErrorContains(t, err, "for the inspector and for coordinators alone", "whatever the route says")
		}
	}
	var rates findRates
	require.NoError(t, json.Unmarshal(coordinator.program().ask("GET", "/api"+of, "", nil).body, &rates))
	assert.Equal(t, zoneRate{Zone: "bow", Both: 1, Others: 1}, rates.Zones[0])
	require.NoError(t, json.Unmarshal(second.program().ask("GET", "/api/find-rates", "", nil).body, &rates))
	assert.Equal(t, 1, rates.Boats)
	assert.Equal(t, http.StatusNotFound, coordinator.get("/find-rates/nobody").status)
}

func TestOnlyIndependentLookOversAreCompared(t *testing.T) {
	look := func(id string, by people.ID, place int, matched bool) Look {
		l := Look{ID: id, Inspector: by, Place: place, Finished: &message.LookOverFinished{}}
		if matched {
			l.Matched = &message.FindingsMatched{}
		}
		return l
	}
	finding := func(id, look string, zone boat.Zone, same string) Finding {
		return Finding{DefectFound: message.DefectFound{Finding: id, Look: look, SameAs: same, Place: message.Place{Zone: zone}}}
	}
	b := Boat{
		Looks:    []Look{look("l1", "a", 1, false), look("l2", "b", 2, true), look("l3", "a", 3, true), look("l4", "c", 4, false)},
		Findings: []Finding{finding("f1", "l1", "bow", ""), finding("f2", "l2", "bow", "f1"), finding("f3", "l2", "aft", ""), finding("f4", "l3", "aft", "f3"), finding("f5", "l4", "aft", "f3")},
	}
	assert.Equal(t, []comparison{{"l1", "l2"}}, b.comparedWith("a"), "not by a second look of one's own, and not with what nobody confirmed")
	rates := b.findRates("a")
	assert.Equal(t, 0, rates["aft"].Both, "what was seen after reading the other's list does not count")
	assert.Equal(t, 1, rates["aft"].Others)
	assert.Equal(t, 1, rates["bow"].Both)
	assert.Empty(t, b.findRates("c"))
	assert.Empty(t, b.findRates("nobody"))
	b.Findings[1].Withdrawn = "mud"
	assert.Zero(t, b.findRates("a")["bow"].Others)
}
