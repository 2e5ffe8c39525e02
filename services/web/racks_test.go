package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/people"
)

func TestWhoeverOpensTheShedSeesWhatLiesWhere(t *testing.T) {
	c := open(t, intakeRoom)
	steward, auditor := c.member(people.Steward), c.member(people.Auditor)
	heron := steward.logged("facts.beam_mm", "0.9")
	egret := steward.logged("name", "Egret", "facts.hull_number", "", "facts.no_hull_number", "home-built", "facts.beam_mm", "0.9")
	place := map[string]string{"shed": "Old boathouse", "name": "rack 1", "length_mm": "5", "width_mm": "1.5"}
	steward.done("/racks/new", "new-place", place)
	page := steward.done("/racks/new", "new-place", with(place, "name", "rack 2", "length_mm", "4.5"))
	tables := all(page.root, "tbody")
	rows := all(tables[0], "tr")
	first, second := attr(rows[0], "id")[len("place-"):], attr(rows[1], "id")[len("place-"):]

	page = steward.done(heron+"/move", "move-boat", map[string]string{"to": first})
	assert.Equal(t, "Old boathouse, rack 1", page.says("lies"))
	full := steward.fill(egret+"/move", "move-boat", map[string]string{"to": first})
	assert.Equal(t, http.StatusConflict, full.status)
	assert.Contains(t, full.says("problems"), "600 mm of the place are left")
	short := steward.fill(egret+"/move", "move-boat", map[string]string{"to": second})
	assert.Contains(t, short.says("problems"), "4880 mm long and the place 4500 mm")

	list := auditor.open("/racks")
	assert.Equal(t, "rack 1 Heron, canoe (offered) 5 m 0.6 m", list.says("place-"+first))
	assert.Equal(t, "rack 2 free 4.5 m 1.5 m", list.says("place-"+second))
	steward.done(heron+"/facts", "correct-facts", map[string]string{"facts.beam_mm": "1.6", "why": "measured again"})
	assert.Contains(t, auditor.open("/racks").text, "By their measures, they do not fit.")
	steward.done(heron+"/move", "move-boat", map[string]string{"to": "", "words": "to wash it"})
	steward.done("/racks/"+first+"/close", "close-place", map[string]string{"why": "the arms are bent"})
	assert.NotContains(t, auditor.open("/racks").text, "rack 1")
	assert.Contains(t, auditor.open(heron+"/history").says("lines"), "Taken from its place: to wash it")
	c.RebuildIsTheSame(Name)
}
