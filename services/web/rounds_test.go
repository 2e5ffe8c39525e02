package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func TestARoundFromOpeningToHandOver(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.Set("jackets", "adult 4")
	heron := c.ready("Heron", openCanoe())
	mine, other := c.follow(c.asks()), c.follow(c.asks("details.name", "Ben Sedge", "details.mail", "ben@example.org"))
	c.Settle()
	coordinator := c.enter("Marigold Finch", people.Coordinator)

	list := coordinator.open("/requests")
	assert.Contains(t, list.says("requests"), "Odalys Fenwright")
	request := attr(all(list.byID("requests"), "a")[0], "href")
	page := coordinator.open(request)
	assert.Contains(t, page.says("fit"), "1 of 1 boat fits")
	assert.Contains(t, page.says("contact"), "odalys@example.org")
	set := coordinator.done(request+"/tier", "set-tier", map[string]string{"tier": "1", "why": "first boat"})
	assert.Contains(t, set.says("tier"), "Tier 1: first boat")

	second := c.enter("Linus Alder", people.Administrator)
	at, _, _ := strings.Cut(coordinator.fill("/rounds/new", "start-round", nil).to(), "?")
	second.done(at+"/secret", "commit-secret", nil)
	ruled := coordinator.done(at+"/rulings", "rule-pair", map[string]string{
		"boat": string(heron), "request": strings.TrimPrefix(request, "/requests/"), "how": "pin", "why": "the boat was fitted for them"})
	assert.Contains(t, ruled.says("rulings"), "Heron goes to Odalys Fenwright, if it fits: the boat was fitted for them")
	coordinator.done(at+"/list", "open-round", nil)
	whatIf := coordinator.open(at + "/what-if?do=cart&without=" + string(heron))
	assert.Contains(t, whatIf.text, "0 households would get a boat; as things are, 1.")
	assert.Contains(t, whatIf.says("each"), "If a cart goes along with every boat: nobody more is served.")
	solved := coordinator.done(at, "solve-round", nil)
	assert.Contains(t, solved.says("pairs"), "Heron for Odalys Fenwright", "the first tier")
	assert.Contains(t, solved.says("unserved"), "Ben Sedge")
	const short = "counted together, wants 1 in size youth, of which the club has 0. Find the others"
	assert.Contains(t, solved.says("jackets"), short, "the child of 29.5 kg")
	assert.Contains(t, solved.says("served"), "1 1 1 2 0 1", "tier, got a boat, took part")
	sums := regexp.MustCompile(`found, (\d+), is the sum of all prices, (\d+)\.`).FindStringSubmatch(solved.says("proof"))
	require.Len(t, sums, 3)
	assert.Equal(t, sums[1], sums[2], "strong duality")
	assert.Nil(t, solved.byID("approve-round"), "who solved it does not approve it")
	own := coordinator.fillIn(coordinator.open(at+"/approve"), "approve-round", nil)
	assert.Equal(t, http.StatusForbidden, own.status, "the room refuses it as well")
	assert.Equal(t, at, attr(own.byID("back"), "href"), "back to the round")

	assert.Contains(t, second.open("/").says("tasks"), "waits for a second member")
	assert.Contains(t, second.open(at).says("rulings"), "the boat was fitted for them", "who approves it reads it")
	second.done(at, "approve-round", nil)
	assert.Contains(t, coordinator.open("/").says("tasks"), "send the offers")
	sent := coordinator.done(at+"/offers", "send-offers", map[string]string{"days": "7"})
	assert.Contains(t, sent.says("pairs"), "7 days left")
	c.Settle()

	offered := mine.open("/my/request")
	assert.Contains(t, offered.says("stands"), "A boat is offered to you.")
	assert.Contains(t, offered.text, "left and watched: shallow", "what the next household is told")
	assert.Contains(t, offered.text, "7 days left")
	assert.NotContains(t, other.open("/my/request").text, "Heron", "others read nothing of it")
	taken := mine.fillIn(offered, "accept", nil)
	require.Equal(t, http.StatusSeeOther, taken.status, taken.text)
	assert.Contains(t, mine.open(taken.to()).says("stands"), "You have taken a boat.")
	late := mine.fillIn(offered, "accept", map[string]string{})
	assert.Equal(t, http.StatusSeeOther, late.status, "pressed twice, taken once")

	tasks := coordinator.open("/").says("tasks")
	assert.Contains(t, tasks, "Heron is to be handed over")
	agreed := coordinator.done("/boats/"+string(heron)+"/fetching", "agree-fetching", map[string]string{"on": "2026-04-03", "at": "10:30", "how": "fetched at the club"})
	assert.Contains(t, agreed.says("fetching"), "at 10:30: fetched at the club")
	assert.Contains(t, mine.open("/my/request").text, "The day is agreed:")
	hand := "/boats/" + string(heron) + "/hand-over"
	form := coordinator.open(hand)
	assert.Contains(t, form.says("main"), short)
	bare := coordinator.fillIn(form, "hand-over", nil)
	assert.Equal(t, http.StatusUnprocessableEntity, bare.status)
	assert.Contains(t, bare.says("f-checks-error"), "is needed")
	var lines []string
	for _, box := range all(form.byID("hand-over"), "input") {
		if attr(box, "name") == "checks" {
			lines = append(lines, attr(box, "value"))
		}
	}
	pdf := coordinator.get(hand + ".pdf")
	assert.Equal(t, "application/pdf", pdf.header.Get("Content-Type"))
	assert.True(t, strings.HasPrefix(pdf.text, "%PDF-"))
	done := coordinator.fillIn(form, "hand-over", map[string]string{"checks": strings.Join(lines, "|"), "on": "2026-02-20", "signed": "yes"})
	require.Equal(t, http.StatusSeeOther, done.status, done.text)
	assert.Contains(t, mine.open("/my/request").says("stands"), "You have got your boat.")
	own = mine.done("/my/request/boats/"+string(heron)+"/follow-up", "my-follow-up", map[string]string{"days": "30", "on": "2026-04-01", "fares": "in use", "words": "we love it"})
	assert.NotContains(t, own.text, "Do not use")
	assert.Equal(t, http.StatusNotFound, other.get("/my/request/boats/"+string(heron)+"/incident").status, "another household's boat")
	mine.done("/my/request/boats/"+string(heron)+"/incident", "my-incident", map[string]string{"on": "2026-02-21", "harm": "nobody was hurt", "words": "a toggle came off"})
	c.Settle()
	told := coordinator.open("/boats/" + string(heron)).says("placing")
	assert.Contains(t, told, "in use. we love it")
	assert.Contains(t, told, "nobody was hurt. a toggle came off")
	assert.NotContains(t, second.open("/boats/"+string(heron)).text, "a toggle came off", "those who place boats alone read it")
	assert.Contains(t, coordinator.open("/").says("tasks"), "Read what happened with Heron: 1 incident")
	stopped := coordinator.done("/boats/"+string(heron)+"/stop-use", "stop-use", map[string]string{"why": "the toggles of this batch break", "what": "leave it ashore"})
	assert.Contains(t, stopped.says("stopped"), "leave it ashore")
	c.Settle()
	assert.NotContains(t, coordinator.open("/").says("tasks"), "Read what happened")
	assert.Contains(t, mine.open("/my/request").says("do-not-use"), "Do not use this boat. the toggles of this batch break")
	asked := other.done("/my/request/appeal", "appeal", map[string]string{"words": "we have no boat either"})
	assert.Contains(t, asked.text, "You asked for a second look")
	c.Settle()
	assert.Contains(t, second.open("/").says("tasks"), "asks a second member to look again")
	var decide string
	for _, a := range all(second.open("/requests?state=all").byID("requests"), "a") {
		for _, b := range all(second.open(attr(a, "href")).root, "a") {
			if strings.Contains(attr(b, "href"), "/appeals/") {
				decide = attr(b, "href")
			}
		}
	}
	require.NotEmpty(t, decide)
	deciding := second.open(decide)
	assert.Contains(t, deciding.says("main"), "ask somebody from outside, a member of another club for instance", "where all took part")
	refused := second.fillIn(deciding, "decide-appeal", map[string]string{"why": "the list was followed"})
	assert.Equal(t, http.StatusForbidden, refused.status, "second approved the round")
	assert.Contains(t, refused.says("fault"), "can give somebody from outside the club the role of coordinator")
	third := c.enter("Ida Teal", people.Administrator)
	waits := strings.Split(decide, "/appeals/")[0]
	assert.Contains(t, third.open(waits).says("appeal"), "we have no boat either", "who may decide it reads it")
	third.done(decide, "decide-appeal", map[string]string{"why": "the list was followed"})
	c.Settle()
	assert.NotContains(t, third.open(waits).says("appeal"), "we have no boat either", "it is answered")
	assert.Contains(t, other.open("/my/request").text, "it stays as it is. The reason: the list was followed")
	assert.NotContains(t, coordinator.open(at).says("pairs"), "Hand over", "that is done")
	assert.NotContains(t, coordinator.open("/").says("tasks"), "handed over")
	c.RebuildIsTheSame(Name)
}

func TestAnOfferThatIsLeftOrAnsweredByTelephone(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.ready("Heron", openCanoe())
	c.ready("Coot", openCanoe())
	mine := c.follow(c.asks())
	c.asks("details.name", "Ben Sedge", "details.mail", "", "details.phone", "+1 555 0100")
	at := c.offersOut()
	decline := attr(mine.open("/my/request").byID("decline"), "href")
	left := mine.done(decline, "decline-offer", map[string]string{"why": "too wide"})
	assert.Contains(t, left.says("stands"), "Your request stands")

	coordinator := c.enter("Marigold Finch", people.Coordinator)
	round := coordinator.open(at)
	assert.Contains(t, round.says("pairs"), "too wide")
	var answer string
	for _, a := range all(round.root, "a") {
		if strings.HasSuffix(attr(a, "href"), "/answer") {
			answer = attr(a, "href")
		}
	}
	taken := coordinator.done(answer, "answer-offer", map[string]string{"answer": "accepted"})
	assert.Contains(t, taken.says("pairs"), "accepted")
	closed := coordinator.done(at+"/close", "close-round", map[string]string{"why": "all answered"})
	assert.Equal(t, "closed", closed.says("state"))
}

func TestAnOfferRunsOut(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.ready("Heron", openCanoe())
	mine := c.follow(c.asks())
	c.offersOut()
	page := mine.open("/my/request")
	c.Clock.Advance(6*24*time.Hour + 23*time.Hour + 30*time.Minute)
	assert.Contains(t, mine.open("/my/request").text, "less than an hour left")
	c.Clock.Advance(time.Hour)
	assert.Equal(t, http.StatusConflict, mine.fillIn(page, "accept", nil).status)
}

func TestAnAuditorReadsNoPersonalData(t *testing.T) {
	c := openClub(t, matchingRoom)
	c.ready("Heron", openCanoe())
	c.asks()
	at := c.offersOut()
	auditor := c.enter("Wren Moss", people.Auditor)
	list := auditor.open("/requests")
	request := attr(all(list.byID("requests"), "a")[0], "href")
	for _, page := range []answer{list, auditor.open(request), auditor.open(at), auditor.open("/rounds"), auditor.open("/book")} {
		assert.NotContains(t, page.text, "Odalys")
		assert.NotContains(t, page.text, "81 kg")
		assert.NotContains(t, page.text, "Marigold", "members neither")
	}
	assert.Contains(t, auditor.open(request).says("not-shown"), "Not shown")
	assert.Contains(t, list.says("requests"), "name not shown")
}

func TestAPromiseThatIsNotKept(t *testing.T) {
	c := openClub(t, matchingRoom)
	heron := c.ready("Heron", openCanoe())
	mine := c.follow(c.asks())
	c.offersOut()
	mine.done("/my/request", "accept", nil)
	mine.done("/my/request/withdraw", "withdraw-request", nil)
	c.Settle()
	b, err := find[Boat](t.Context(), c.site, "boat", string(heron), "boat")
	require.NoError(t, err)
	assert.Equal(t, Ready, b.State, "the boat is free again")
	assert.Contains(t, mine.open("/my/request").text, "not kept")
	var broken message.PromiseEnded
	assert.Equal(t, "The household that accepted does not get it: gone", summary(message.PromiseEnded{Why: "gone"}), broken.Kind())
}
