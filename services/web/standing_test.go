package web

import (
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// A line of the book that the treasury room cannot take: the page of the book names
// it, the sums say what they lack, and an administrator lets the room go on.
func TestARoomThatHasStoppedIsNamedAndLetGoOn(t *testing.T) {
	c := openClub(t, treasuryRoom)
	heron := c.ready("Heron", openCanoe())
	admin, treasurer, auditor := c.enter("Ada Oxlip", people.Administrator), c.enter("Marigold Finch", people.Treasurer), c.enter("Wren Moss", people.Auditor)
	page := admin.open("/book")
	assert.Contains(t, page.says("rooms"), "treasury 0")
	assert.Contains(t, page.says("rooms"), "repair not known it does not answer at the moment")
	assert.Nil(t, treasurer.open("/money").byID("lacking"))

	c.DB.Exec(`ALTER TABLE treasury.hours ADD CONSTRAINT toy CHECK (minutes <> 13)`)
	bad := c.Say(message.RepairBoat(heron), string(heron), message.HoursBooked{Boat: heron, Entry: "h1", Minutes: 13, Doing: "sanding", On: clock.MustDate("2026-03-05")})
	position := strconv.FormatInt(bad.Position, 10)
	require.Eventually(t, func() bool {
		return admin.open("/book").byID("rooms") != nil && treasurer.open("/money").byID("lacking") != nil
	}, time.Minute, 20*time.Millisecond)
	page = admin.open("/book")
	assert.Contains(t, page.text, "The treasury room has stopped")
	assert.Contains(t, page.text, "(repair.hours-booked)")
	assert.Contains(t, page.text, "lack what it says of money")
	assert.NotContains(t, auditor.open("/book").text, "Go on without this line")
	form := "/book/skip/treasury/tables/" + position
	assert.Equal(t, http.StatusConflict, admin.fill("/book/skip/treasury/tables/1", "allow-skip", map[string]string{"why": "x"}).status, "it has not stopped there")
	c.DB.Exec(`INSERT INTO people.letter (key, sort, person, link, until, made_at, next_at, attempt_at, outcome) VALUES ('offer-1', 'offer', $1, 'l', $2, $2, $2, $2, 'nobody knows whether it left')`,
		treasurer.who, c.Clock.Now())
	w := &viewer{browsertest.Open(t, 360, 800), t, "http://" + c.site.Addr(), axeScript(t)}
	w.enterAs(admin)
	w.look("book-stopped", "/book")
	w.look("skip", form)
	w.look("letters", "/letters")
	w.look("letter-again", "/letters/offer-1/again")
	w.enterAs(treasurer)
	w.look("money-lacking", "/money")
	assert.Contains(t, treasurer.open("/").text, "1 letter may not have left")
	left := treasurer.done("/letters/offer-1/leave", "leave-letter", nil)
	assert.Contains(t, left.says("done"), "left as it is")

	page = admin.done(form, "allow-skip", map[string]string{"why": "minutes cannot be read"})
	assert.Contains(t, page.says("done"), "may go on without that line")
	require.Eventually(t, func() bool {
		return strings.Contains(admin.open("/book").says("rooms"), "its tables went on without line "+position)
	}, 40*time.Second, 50*time.Millisecond)
	page = admin.open("/book")
	assert.NotContains(t, page.text, "has stopped")
	assert.Contains(t, page.text, "The treasury room was allowed to go on without event "+position+" (tables): minutes cannot be read")
	assert.Contains(t, treasurer.open("/money").says("lacking"), "line "+position, "the sums still lack it")
}
