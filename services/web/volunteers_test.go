package web

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// linkTo gives the address of the link whose words begin so and, where more is given, that stands
// in an element with these words.
func linkTo(t *testing.T, page answer, words, beside string) string {
	t.Helper()
	for _, holder := range all(page.root, "article", "li", "tr") {
		if !strings.Contains(textOf(holder), beside) {
			continue
		}
		if a := firstLink(holder, words); a != nil {
			return attr(a, "href")
		}
	}
	require.Fail(t, "no link", "%s beside %s in:\n%s", words, beside, page.text)
	return ""
}

func firstLink(in *html.Node, words string) *html.Node {
	for _, a := range all(in, "a") {
		if strings.HasPrefix(textOf(a), words) {
			return a
		}
	}
	return nil
}

func TestWhatMembersLayOutIsSettledOnThePages(t *testing.T) {
	c := openClub(t, treasuryRoom)
	heron := c.ready("Heron", openCanoe())
	treasurer, other := c.enter("Corin Wexcombe", people.Treasurer), c.enter("Marigold Finch", people.Treasurer)
	member := c.enter("Tobin Marsh", people.Repairer)
	c.Say(message.RepairBoat(heron), string(heron), message.PartBooked{Boat: heron, Entry: "e1", What: message.ForPart, Words: "rod", Cost: money.Of(900, "USD"), PaidBy: message.OwnPocket, Pocket: member.who, On: desktest.Today})
	c.Settle()

	page := treasurer.open("/papers")
	assert.NotNil(t, page.byID("to-volunteers"))
	assert.NotNil(t, treasurer.open("/money").byID("to-volunteers"))
	page = treasurer.open("/volunteers")
	assert.Contains(t, page.says("bookings"), "rod for Heron, 9.00 USD, 1 April 2026, paid by Tobin Marsh.")
	assert.Contains(t, page.says("none"), "No cost was written down yet")

	// A booking of the workshop is its member's, once.
	take := linkTo(t, page, "Write it down as their cost", "rod for Heron")
	form := treasurer.open(take)
	assert.Contains(t, form.says("take-boat-cost"), "The booking: rod, 9.00 USD")
	timed := treasurer.fillIn(form, "take-boat-cost", map[string]string{"service": "welded boats for 2 hours"})
	assert.Equal(t, http.StatusUnprocessableEntity, timed.status)
	assert.Contains(t, timed.says("f-service-error"), "never states time")
	page = treasurer.done(take, "take-boat-cost", map[string]string{"service": "welded donated boats", "receipt": "yes"})
	assert.Contains(t, page.says("costs"), "Tobin Marsh: rod, 9.00 USD")
	assert.Nil(t, page.byID("bookings"))
	assert.Equal(t, http.StatusNotFound, treasurer.get(take).status)
	assert.Contains(t, treasurer.open("/boats/"+string(heron)+"/money").says("debts"), "A member’s cost")

	// Another cost, wrong at first.
	wrong := treasurer.fill("/volunteers/new", "state-volunteer-cost", map[string]string{"member": string(member.who), "service": "fetched boats", "bought": "fuel", "amount": "0"})
	assert.Contains(t, wrong.says("f-amount-error"), "say what it cost")
	treasurer.done("/volunteers/new", "state-volunteer-cost", map[string]string{"member": string(member.who), "service": "fetched donated boats", "bought": "fuel", "amount": "42", "boat": string(heron)})
	page = treasurer.done("/volunteers/new", "state-volunteer-cost", map[string]string{"member": string(treasurer.who), "service": "kept the books", "bought": "stamps", "amount": "8,50"})
	assert.Contains(t, page.says("sums"), "Tobin Marsh 2026 51.00 USD 0.00 USD 0.00 USD")

	// Paid back, given, taken back.
	page = treasurer.done(linkTo(t, page, "Pay it back", "Tobin Marsh: rod"), "pay-volunteer-cost-back", map[string]string{"how": "by transfer"})
	assert.Contains(t, page.says("costs"), "Paid back on 1 April 2026 (by transfer).")
	page = treasurer.done(linkTo(t, page, "The member gives it", "Tobin Marsh: fuel"), "give-volunteer-cost", nil)
	assert.Contains(t, page.says("sums"), "Tobin Marsh 2026 0.00 USD 9.00 USD 42.00 USD")
	own := linkTo(t, page, "The member gives it", "stamps")
	assert.NotContains(t, page.says("costs"), "Pay it back", "nobody is offered to pay themselves back")
	refused := treasurer.fill(strings.TrimSuffix(own, "give")+"pay-back", "pay-volunteer-cost-back", map[string]string{"how": "in cash"})
	assert.Equal(t, http.StatusForbidden, refused.status)
	page = other.done(linkTo(t, other.open("/volunteers"), "It was written down wrong", "stamps"), "withdraw-volunteer-cost", map[string]string{"why": "the club’s own"})
	assert.Contains(t, page.says("costs"), "Withdrawn: the club’s own")

	page = treasurer.open("/volunteers?state=given&year=2026")
	assert.Equal(t, "1 cost.", page.says("count"))
	table := treasurer.get(attr(page.byID("export"), "href"))
	assert.Equal(t, "text/csv; charset=utf-8", table.header.Get("Content-Type"))
	assert.Contains(t, table.text, "Tobin Marsh,2026-04-01,fetched donated boats,fuel,42.00,USD,no,Heron,,given,2026-04-01,,")
	assert.NotContains(t, table.text, "rod")
	assert.Equal(t, http.StatusNotFound, treasurer.get("/volunteers?state=lost").status)
	assert.Equal(t, http.StatusNotFound, treasurer.get("/volunteers?year=x").status)
	assert.Contains(t, treasurer.open("/money/statement").says("volunteers"), "51.00 USD 9.00 USD 42.00 USD 0.00 USD")

	// A program gives the same orders and reads the same list; an auditor reads no names.
	p := other.program()
	sent := p.ask("POST", "/api/volunteers/new", "k1", map[string]any{"cost": "c9", "member": string(member.who), "on": "2026-04-01", "service": "kept the stores", "bought": "shelves", "amount": map[string]any{"minor": 1200, "currency": "USD"}})
	require.Equal(t, http.StatusOK, sent.status, string(sent.body))
	sent = p.ask("POST", "/api/volunteers/"+string(member.who)+"/costs/c9/give", "k2", map[string]any{"on": "2026-04-01"})
	require.Equal(t, http.StatusOK, sent.status, string(sent.body))
	list := got[message.VolunteerCostList](p, "/api/volunteers?state=given")
	assert.Len(t, list.Costs, 2)
	auditor := c.enter("Wren Moss", people.Auditor).open("/volunteers")
	assert.NotContains(t, auditor.text, "Tobin Marsh")
	assert.Nil(t, auditor.byID("new"))
	c.RebuildIsTheSame(Name)
}

func TestAVolunteerGetsTheirPaper(t *testing.T) {
	c := openClub(t, treasuryRoom)
	for name, value := range map[string]string{"legal-name": "Quillwater Paddlers", "address": "4 Mill Lane; Amberjay", "registration-number": "00-0000000", "qualified": "yes"} {
		c.Set(name, value)
	}
	treasurer, member := c.enter("Corin Wexcombe", people.Treasurer), c.enter("Tobin Marsh", people.Treasurer)
	lay := func(service, amount string) answer {
		treasurer.done("/volunteers/new", "state-volunteer-cost", map[string]string{"member": string(member.who), "service": service, "bought": "fuel for " + service, "amount": amount})
		return treasurer.done(linkTo(t, treasurer.open("/volunteers"), "The member gives it", "fuel for "+service), "give-volunteer-cost", nil)
	}
	page := lay("fetching boats", "240")
	assert.Contains(t, page.says("members"), "below 250 USD of unreimbursed expenses no acknowledgment is required")
	page = lay("teaching beginners", "60")
	issue := linkTo(t, page, "Issue it", "Tobin Marsh")
	assert.Contains(t, member.open("/volunteers").says("sums"), "another treasurer sees to yours")
	form := treasurer.open(issue)
	assert.Contains(t, form.says("issue-volunteer-paper"), "Of Tobin Marsh in 2026: fetching boats; teaching beginners.")
	asked := treasurer.fillIn(form, "issue-volunteer-paper", nil)
	assert.Contains(t, asked.says("f-what-error"), "is needed", "what was given in return is asked, not taken for nothing")
	vague := treasurer.fillIn(form, "issue-volunteer-paper", map[string]string{"what": "goods"})
	assert.Contains(t, vague.says("f-words-error"), "describe what the donor got")
	assert.Equal(t, http.StatusForbidden, member.fill(issue, "issue-volunteer-paper", map[string]string{"what": "nothing"}).status)
	page = treasurer.done(issue, "issue-volunteer-paper", map[string]string{"what": "nothing"})
	assert.Contains(t, page.says("sums"), "US-2026-0001")

	page = treasurer.open("/papers?q=US-2026-0001")
	assert.Contains(t, page.says("papers"), "US-2026-0001 for a volunteer’s costs of 2026 Letter on a volunteer's expenses of 1 April 2026 to Tobin Marsh. The donor must have it by 15 April 2027.")
	c.Settle()
	paper := paperAddress(page)
	pdf := treasurer.get(paper + "/print")
	assert.True(t, strings.HasPrefix(pdf.text, "%PDF-"))
	own := c.followPapersOf("Ben Sedge")
	assert.Equal(t, http.StatusNotFound, own.get("/my"+paper+"/print").status)
	own = c.follow(textOf(all(treasurer.open(paper+"/link").root, "code")[0]))
	assert.Contains(t, own.open("/my/papers").text, "US-2026-0001: what you laid out in 2026")
	assert.Equal(t, pdf.text, own.get("/my"+paper+"/print").text, "the same paper, byte for byte")
	assert.Equal(t, http.StatusConflict, treasurer.get(paper+"/copy-a").status, "no form of the authority’s has a copy of it")

	page = lay("keeping the stores", "5")
	assert.Contains(t, page.says("sums"), "speaks of other costs than are given")
	page = treasurer.done(paper+"/cancel", "cancel-paper", map[string]string{"why": "a service is missing"})
	assert.Contains(t, page.says("papers"), "cancelled: a service is missing")
	treasurer.done(issue, "issue-volunteer-paper", map[string]string{"what": "nothing"})
	assert.Contains(t, treasurer.open("/papers").says("papers"), "in place of US-2026-0001")
	text := treasurer.get(paperAddress(treasurer.open("/papers?q=US-2026-0002")) + "/text").text
	assert.Contains(t, text, "keeping the stores")
	assert.NotContains(t, text, "fuel")
	c.RebuildIsTheSame(Name)
}
