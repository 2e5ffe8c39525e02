package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func TestAHouseholdAsksAndFollowsItsRequest(t *testing.T) {
	c := openClub(t, matchingRoom)
	nobody := c.visitor()
	form := nobody.open(attr(nobody.open("/").byID("ask"), "href"))
	typed := with(asking, "adults", "2")
	nobody.speaks("en", "us") // on another page, while the form asks for kilograms
	sent := nobody.fillIn(form, "ask", typed)
	require.Equal(t, http.StatusOK, sent.status, sent.text)
	address := attr(sent.byID("private-link"), "href")
	again := nobody.fillIn(form, "ask", typed)
	assert.Equal(t, address, attr(again.byID("private-link"), "href"), "a double tap leads to the same request")

	request := form.hidden("ask", "request")
	wish := desktestWish(c, request)
	assert.Equal(t, []boat.Type{boat.Canoe, boat.InflatableCanoe}, wish.Types, "the best first")
	assert.Equal(t, []message.Paddler{{MassG: 81_000}, {}}, wish.Adults, "the second adult's mass is not told")
	assert.Equal(t, []message.Paddler{{Years: 9, MassG: 29_500}}, wish.Children, "empty rows are left out")
	assert.Equal(t, 5500, wish.StorageMM)
	assert.NotContains(t, c.DB.Dump("web.request")+c.DB.Dump("web.person")+c.DB.Dump("web.history"), "Odalys")

	mine := c.follow(address)
	page := mine.open("/my/request")
	assert.Contains(t, page.says("stands"), "Your request stands, and we look for a boat.")
	assert.Contains(t, page.says("wish"), "29.5 kg (9 years)")
	assert.Contains(t, page.says("why"), "Boats that are with the club now: 0.")
	assert.Contains(t, page.says("yours"), address, "the address is shown to be kept")

	form = mine.open("/my/request/wish")
	mine.speaks("en", "us")
	back := mine.fillIn(form, "change-wish", map[string]string{"wish.storage_mm": "4,2", "adults": "13"})
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Equal(t, "metric", back.hidden("change-wish", "units"), "it comes back in the units in which it was filled in")
	sent = mine.fillIn(back, "change-wish", map[string]string{"adults": "2"})
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	assert.Equal(t, "us", mine.open("/my/request/wish").hidden("change-wish", "units"))
	mine.speaks("en", "metric")
	was := desktestWish(c, request)
	assert.Equal(t, 4200, was.StorageMM)
	wish.StorageMM = 4200
	assert.Equal(t, wish, was, "nothing else has changed")

	gone := mine.done("/my/request/withdraw", "withdraw-request", map[string]string{"why": "we moved away"})
	assert.Contains(t, gone.says("stands"), "You have withdrawn the request.")
	assert.Nil(t, gone.byID("withdraw"), "it can be withdrawn once")
	c.RebuildIsTheSame(Name)
}

// desktestWish reads a wish as a coordinator does.
func desktestWish(c *club, request string) message.Wish {
	c.t.Helper()
	c.Settle()
	return desktestAsk[message.Wish](c, people.Coordinator, message.ReadWish{Request: request})
}

func TestTheFormForARequestComesBackAsItWas(t *testing.T) {
	c := openClub(t, matchingRoom)
	nobody := c.visitor()
	form := nobody.open("/ask")
	back := nobody.fillIn(form, "ask", with(asking,
		"best", "", "adults", "1", "wish.adults[0].mass_g", "eighty", "wish.adults[2].mass_g", "70", "details.name", " ", "consent", ""))
	require.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.says("f-wish-adults-0-mass_g-error"), "write a number in kg")
	assert.Contains(t, back.says("f-adults-error"), "masses of 2 adults")
	assert.Contains(t, back.says("f-details-name-error"), "is needed")
	assert.Contains(t, back.says("f-consent-error"), "is needed")
	told := back.says("problems")
	assert.Contains(t, told, "“Adult 1, kg”: write a number in kg", "away from its input a problem names it")
	assert.Less(t, strings.Index(told, "“What kind of boat"), strings.Index(told, "“Adult 1, kg”"), "in the order of the inputs")
	assert.Less(t, strings.Index(told, "“Adult 1, kg”"), strings.Index(told, "“Name” is needed"), "in the order of the inputs")
	assert.Equal(t, "eighty", back.value("wish.adults[0].mass_g"))
	assert.Equal(t, "70", back.value("wish.adults[1].mass_g"), "rows are closed up, so that faults name the row that is seen")
	assert.Equal(t, "29,5", back.value("wish.children[0].mass_g"))
	assert.Equal(t, form.hidden("ask", "request"), back.hidden("ask", "request"), "the same request, not a new one")

	room := nobody.fillIn(form, "ask", with(asking, "wish.children[1].years", "19"))
	require.Equal(t, http.StatusUnprocessableEntity, room.status, "what only the room knows")
	assert.Contains(t, room.says("f-wish-children-0-years-error"), "1 to 17")

	mute := nobody.fillIn(form, "ask", with(asking, "details.mail", ""))
	assert.Contains(t, mute.says("f-details-mail-error"), "mail address or a telephone number")
	assert.Empty(t, c.DB.Dump("web.request"), "nothing was written")
}

func TestRowsForPeopleGrow(t *testing.T) {
	c := openClub(t)
	nobody := c.visitor()
	form := nobody.open("/ask")
	assert.Nil(t, form.byID("f-wish-adults-4-mass_g"))
	values := url.Values{"more": {"yes"}, "more_rows": {"0"}, "wish.adults[0].mass_g": {"81"}, "details.name": {"Odalys Fenwright"}}
	more := nobody.send("/ask", values)
	require.Equal(t, http.StatusOK, more.status)
	assert.NotNil(t, more.byID("f-wish-adults-7-mass_g"))
	assert.Nil(t, more.byID("problems"), "asking for rows is no fault")
	assert.Equal(t, "Odalys Fenwright", more.value("details.name"))
	values.Set("more_rows", more.hidden("ask", "more_rows"))
	assert.NotNil(t, nobody.send("/ask", values).byID("f-wish-adults-11-mass_g"))
	values.Set("more_rows", "1000000")
	assert.Nil(t, nobody.send("/ask", values).byID("f-wish-adults-12-mass_g"), "twelve are the most")
}

func TestAnApplicantErasesThemselves(t *testing.T) {
	c := openClub(t, matchingRoom)
	address := c.asks()
	mine := c.follow(address)
	sure := mine.open("/my/request/erase")
	assert.Contains(t, sure.says("erase-me"), "What stays")
	end := mine.fillIn(sure, "erase-me", nil)
	require.Equal(t, http.StatusSeeOther, end.status, end.text)
	assert.Contains(t, end.header.Get("Set-Cookie"), "Max-Age=0", "browsers show kept pages again while the cookie stands")
	c.Settle()
	assert.Contains(t, c.visitor().open(end.to()).says("done"), "Your data is erased")
	ended := mine.get("/my/request")
	assert.Equal(t, http.StatusUnauthorized, ended.status, "the link opens nothing any more")
	assert.Contains(t, ended.says("main"), "ask the club for a new one")
	assert.NotContains(t, ended.says("main"), "Sign in", "an applicant has nothing to sign in with")
	coordinator := c.enter("Marigold Finch", people.Coordinator)
	assert.Contains(t, coordinator.open("/requests?state=all").says("requests"), "erased")
}

func TestNobodySeesAnothersRequest(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.ready("Heron", openCanoe())
	c.ready("Coot", openCanoe())
	first, second := c.follow(c.asks()), c.follow(c.asks("details.name", "Ben Sedge", "details.mail", "ben@example.org"))
	assert.NotContains(t, second.open("/my/request").text, "81 kg (", "one's own")
	c.offersOut()
	offer := strings.TrimSuffix(strings.TrimPrefix(attr(first.open("/my/request").byID("decline"), "href"), "/my/request/offers/"), "/decline")
	for _, path := range []string{"/my/request/offers/" + offer + "/accept", "/my/request/offers/" + offer + "/decline"} {
		assert.Equal(t, http.StatusNotFound, second.get(path).status, path)
		assert.Equal(t, http.StatusNotFound, second.send(path, url.Values{"key": {freshID()}}).status, path)
	}
	assert.Equal(t, http.StatusForbidden, second.get("/requests").status)
	assert.Equal(t, http.StatusForbidden, second.get("/my/papers").status)
}
