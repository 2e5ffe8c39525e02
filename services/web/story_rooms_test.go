package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/people"
	"refloat.example/services/repair"
	"refloat.example/services/valuation"
)

var (
	repairRoom    = desktest.Room{Name: repair.Name, Migrations: repair.Migrations(), New: repair.New}
	valuationRoom = desktest.Room{Name: valuation.Name, Migrations: valuation.Migrations(), New: valuation.New}
)

// noneAtStake is the answer of who may decide.
var noneAtStake = map[string]string{"stake": "none"}

// lookedOver logs the heron, finds a crack in it, and gives the boat's address.
func (b *browser) lookedOver(more ...string) string {
	b.t.Helper()
	address := b.logged(more...)
	page := b.done(address+"/look", "begin-look", nil)
	look := strings.TrimSuffix(attr(page.byID("do-note-finding"), "href"), "/finding")
	b.done(look+"/finding", "note-finding", crack)
	b.done(look+"/finish", "finish-look", map[string]string{"grade": "2"})
	b.Settle()
	return address
}

func TestABoatIsMendedAndReady(t *testing.T) {
	c := open(t, intakeRoom, repairRoom)
	steward, repairer, administrator := c.member(people.Steward), c.member(people.Repairer), c.member(people.Administrator)
	b := steward.lookedOver()
	page := administrator.done("/skills/new", "sign-skill", map[string]string{"person": string(repairer.who), "skill": "hot work", "of_age": "yes", "words": "three welds, cut open"})
	assert.Contains(t, page.says("skilled"), "Marigold Finch hot work: signed by Marigold Finch")
	steward.done(b+"/accept", "accept", noneAtStake)
	steward.done(b+"/receive", "receive", map[string]string{"possession": "2026-03-30", "signed": "2026-03-31"})
	c.Settle()

	// From the finding to the plan: the finding is ticked already.
	page = repairer.open(b)
	var plan string
	for _, n := range all(page.root, "a") {
		if strings.Contains(attr(n, "href"), "/work?finding=") {
			plan = attr(n, "href")
		}
	}
	require.NotEmpty(t, plan)
	assert.Contains(t, repairer.open(plan).text, "Caution: heat and fire")
	page = repairer.done(plan, "plan-work", map[string]string{"method": "weld", "minutes": "90"})
	assert.Equal(t, "in the workshop", page.says("state"))
	repairer.done(b+"/parts", "book-part", map[string]string{"words": "rod", "cost": "12,50", "paid_by": "own pocket"})
	page = repairer.done(b+"/parts", "book-part", map[string]string{"words": "hatch", "cost": "9", "paid_by": "club"})
	for _, n := range all(page.root, "a") {
		if strings.HasSuffix(attr(n, "href"), "/reverse") && strings.Contains(textOf(n), "hatch") {
			repairer.done(attr(n, "href"), "reverse-part", map[string]string{"why": "for another boat"})
		}
	}
	page = repairer.done(b+"/hours", "book-hours", map[string]string{"minutes": "75", "doing": "welding"})
	assert.Contains(t, page.says("workshop"), "What stands 12.50 USD")
	assert.Contains(t, page.says("workshop"), "Marigold Finch")

	// Not ready: the page says what is missing.
	early := repairer.fill(b+"/ready", "declare-ready", map[string]string{"grade": "4"})
	assert.Equal(t, http.StatusConflict, early.status)
	assert.Contains(t, early.says("fault"), "is not ready. Missing: the end of the work that is planned (weld)")

	for _, n := range all(page.root, "a") {
		if strings.HasSuffix(attr(n, "href"), "/finish") {
			page = repairer.done(attr(n, "href"), "finish-work", map[string]string{"words": "welded from both sides"})
		}
	}
	assert.Contains(t, page.says("findings"), "Mended: welded from both sides")
	page = repairer.done(b+"/tests", "record-test", map[string]string{"what": "leak", "reading": "no water after 20 min", "minutes": "20", "passed": "yes"})
	assert.Contains(t, page.says("workshop"), "leak: passed")
	page = repairer.done(b+"/ready", "declare-ready", map[string]string{"grade": "4"})
	assert.Equal(t, "ready", page.says("state"))
	assert.Contains(t, page.says("disclosure"), "crack, hull, bow, port, outside: welded from both sides")

	history := repairer.open(b + "/history").says("lines")
	for _, want := range []string{"Logged as offered: Heron", "Found: crack", "Accepted", "Work planned: weld, about 1 h 30 min", "Booked: rod, 12.50 USD, paid by the member's own pocket", "Declared ready, condition 4 of 5"} {
		assert.Contains(t, history, want)
	}
	page = repairer.done(b+"/retire", "retire", map[string]string{"reason": "fell off the trailer", "disposal": "seats kept"})
	assert.Equal(t, "retired", page.says("state"))
	assert.Nil(t, page.byID("do-plan-work"))
	assert.NotNil(t, page.byID("do-book-part"), "bills come late")
	c.RebuildIsTheSame(Name)
}

func TestABoatIsValuedAndAPriceNamed(t *testing.T) {
	c := open(t, intakeRoom, valuationRoom)
	steward := c.member(people.Steward)
	b := steward.lookedOver("taking", "bargain purchase", "asked", "250")

	// A price for which nothing is known is refused at its field.
	early := steward.fill(b+"/price", "offer-price", map[string]string{"price": "100", "stake": "none"})
	assert.Equal(t, http.StatusConflict, early.status)
	assert.Contains(t, early.says("f-price-error"), "value the boat and set its ceiling first")

	for _, price := range []string{"500", "520", "540", "560", "580"} {
		page := steward.done("/comparables/new", "record-comparable", map[string]string{
			"price": price, "on": "2025-09-1" + price[1:2], "price_kind": "sold", "arms_length": "yes", "source": "notice board",
			"type": "canoe", "seats": "2", "length_mm": "4.88", "age_years": "9", "grade": "3",
		})
		assert.Contains(t, page.says("prices"), price+".00 USD")
	}
	steward.done("/comparables/new", "record-comparable", map[string]string{
		"price": "90", "on": "2025-09-01", "price_kind": "asking", "source": "told by a neighbour", "type": "board", "grade": "2",
	})
	prices := steward.open("/comparables?type=board")
	assert.Contains(t, prices.says("prices"), "age not known")
	assert.NotContains(t, prices.says("prices"), "canoe")
	for _, n := range all(prices.root, "a") {
		if strings.HasSuffix(attr(n, "href"), "/refuse") {
			page := steward.done(attr(n, "href"), "refuse-comparable", map[string]string{"why": "hearsay"})
			assert.Contains(t, page.says("prices"), "out of use: hearsay")
		}
	}

	mine := map[string]string{"purpose": "purchase", "as_it_lies": "2", "repaired": "3", "conflict": "yes"}
	assert.Equal(t, http.StatusForbidden, steward.fill(b+"/value", "value-boat", mine).status, "with a stake nobody values")
	page := steward.done(b+"/value", "value-boat", with(mine, "conflict", "none"))
	assert.Contains(t, page.says("value"), "Valued for 1 April 2026 (purchase) by Marigold Finch, by 5 prices of other boats.")
	page = steward.done(b+"/ceiling", "set-ceiling", map[string]string{"repairs[0].what": "weld the crack", "repairs[0].cost": "20", "repairs[0].percent_likely": "100", "repairs[0].minutes": "90"})
	assert.Contains(t, page.says("ceiling"), "Offer at most")
	assert.Contains(t, page.says("ceiling-lines"), "weld the crack 20.00 USD, 100 in 100 likely, 1 h 30 min of volunteers -20.00 USD")
	c.Settle()
	page = steward.done(b+"/price", "offer-price", map[string]string{"price": "150", "words": "cash", "stake": "none"})
	assert.Contains(t, page.says("bargain"), "the club offers: cash 150.00 USD")
	assert.Contains(t, steward.fill(b+"/price", "offer-price", map[string]string{"price": "9999", "stake": "none"}).says("fault"), "above the ceiling")
	c.RebuildIsTheSame(Name)
}
