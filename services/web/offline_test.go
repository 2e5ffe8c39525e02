package web

import (
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo/phototest"
)

// weather is the network between a phone and the pages: it lets everything
// through, nothing, or the way there and not back.
type weather struct {
	*httptest.Server
	cut  atomic.Bool // nothing reaches the pages
	lost atomic.Bool // what reaches them is done, and the answer is lost
	out  atomic.Int64
}

func (c *club) weather() *weather {
	w := &weather{}
	pages := httputil.NewSingleHostReverseProxy(&url.URL{Scheme: "http", Host: c.site.Addr()})
	w.Server = httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		if w.cut.Load() {
			panic(http.ErrAbortHandler)
		}
		if w.lost.Load() && r.Method == http.MethodPost {
			pages.ServeHTTP(httptest.NewRecorder(), r)
			w.out.Add(1)
			panic(http.ErrAbortHandler)
		}
		pages.ServeHTTP(rw, r)
	}))
	c.t.Cleanup(w.Close)
	return w
}

// inspector is a member with a phone out on the yard.
func (c *club) inspector(t *testing.T, w *weather, b *browser) *viewer {
	t.Helper()
	v := &viewer{browsertest.Open(t, 360, 740), t, w.URL, axeScript(t)}
	v.enterAs(b)
	v.Go(w.URL + "/")
	v.until(`navigator.serviceWorker.controller !== null`)
	return v
}

// until waits for something on the page to be so.
func (v *viewer) until(script string) {
	v.t.Helper()
	require.Eventually(v.t, func() bool { return v.Holds(script) }, 30*time.Second, 50*time.Millisecond, "%s\n%s", script, v.Text())
}

// push presses the button of a form without waiting for another page.
func (v *viewer) push(form string) {
	v.t.Helper()
	browsertest.Eval[bool](v.Tab, `document.querySelector("`+form+` .buttons button").click(), true`)
}

var crackFields = []string{
	"place.part", "hull", "place.zone", "bow", "place.side", "port", "place.face", "outside",
	"defect", "crack", "length_mm", "4.5", "severity", "do not use", "words", "runs aft",
}

func TestNoLinkInTheMiddleOfALookOver(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	b := steward.logged()
	page := steward.done(b+"/look", "begin-look", nil)
	finding := attr(page.byID("do-note-finding"), "href")
	found := func() int { return len(desktestSaid[message.DefectFound](c, b)) }
	w := c.weather()
	v := c.inspector(t, w, steward)

	// The link breaks while the form is open.
	v.Go(w.URL + finding)
	v.until(`document.querySelector("#note-finding").dataset.keeping === "yes"`)
	v.Fill("#note-finding", crackFields...)
	w.cut.Store(true)
	v.push("#note-finding")
	v.until(`document.body.innerText.includes("It is kept on this phone")`)
	v.See("1 not sent yet")
	v.See("There is no link")

	// The next finding is entered without a link, too.
	v.Fill("#note-finding", "place.part", "seat", "place.zone", "amid", "place.side", "port", "place.face", "inside", "defect", "loose", "severity", "watch")
	v.push("#note-finding")
	v.until(`document.body.innerText.includes("2 not sent yet")`)
	assert.Zero(t, found())

	// Something half typed, and the page is left.
	v.Fill("#note-finding", "words", "by the yoke")
	v.until(`new Promise(done => { const r = indexedDB.open("kept", 1); r.onsuccess = () => { const g = r.result.transaction("drafts").objectStore("drafts").getAll();
		g.onsuccess = () => { r.result.close(); done(JSON.stringify(g.result).includes("by the yoke")); }; }; })`)
	v.Go(w.URL + b)
	v.See("There is no link to the club’s books now")
	v.until(`document.querySelectorAll("#kept-list li").length === 2`)
	v.DoNotSee("Marigold") // the page that is kept knows nobody
	for _, violation := range v.Axe(v.axe) {
		assert.Fail(t, "an accessibility rule is broken", "%v", violation)
	}
	assert.LessOrEqual(t, v.SidewaysScroll(), 0)

	// Answers are lost on the way back, and then the link is good again.
	w.lost.Store(true)
	w.cut.Store(false)
	v.until(`!document.body.innerText.includes("There is no link to the club’s books now")`)
	require.Eventually(t, func() bool { return w.out.Load() > 0 && found() > 0 }, 30*time.Second, 50*time.Millisecond)
	v.Go(w.URL + "/not-sent")
	v.until(`document.querySelectorAll("#kept-list li").length > 0`)
	w.lost.Store(false)
	v.Go(w.URL + "/not-sent")
	v.until(`document.getElementById("kept-none").hidden === false`)
	v.See("Everything is sent")
	c.Settle()
	assert.Equal(t, 2, found(), "each finding once, though the first was sent more often")

	// What was half typed is still there.
	v.Go(w.URL + finding)
	v.until(`document.body.innerText.includes("What you had typed here is back")`)
	assert.Equal(t, "by the yoke", browsertest.Eval[string](v.Tab, `document.querySelector("[name=words]").value`))
	v.Fill("#note-finding", crackFields...)
	v.Fill("#note-finding", "place.zone", "stern")
	v.Press("#note-finding", "Note it")
	v.See("The finding is noted")
	assert.Equal(t, 3, found())
}

func TestABoatIsLoggedWithoutALinkAndWhatIsRefusedIsMended(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	c.knows("odo", message.DonorSort, "Odo Reed")
	steward.logged("name", "Egret")
	w := c.weather()
	v := c.inspector(t, w, steward)
	v.Go(w.URL + "/boats/new")
	v.until(`document.querySelector("#log-boat").dataset.keeping === "yes"`)

	// While the number is typed, the page says what it says and who bears it.
	v.Fill("#log-boat", "facts.hull_number", "oxl 12345 A717")
	v.until(`document.getElementById("f-facts-hull_number-reading").innerText.includes("Egret (offered) bears this number")`)
	v.Fill("#log-boat", "facts.hull_number", "XYZ12345L495")
	v.until(`document.getElementById("f-facts-hull_number-reading").innerText.includes("built 1994-12, model year 1995")`)
	v.Fill("#log-boat", "facts.hull_number", "")
	v.until(`document.getElementById("f-facts-hull_number-reading").innerText === ""`)
	fields := []string{"name", "Egret", "taking", "gift", "facts.type", "canoe", "facts.material", "aluminium", "facts.seats", "2",
		"facts.no_hull_number", "home-built", "right", "estate", "giver", "odo"}
	v.Fill("#log-boat", fields...)
	w.cut.Store(true)
	v.push("#log-boat")
	v.until(`document.body.innerText.includes("1 not sent yet")`)
	w.cut.Store(false)

	// The name is another boat's: that is found out when it is sent.
	v.Go(w.URL + "/not-sent")
	v.until(`document.body.innerText.includes("It was not taken: another boat is or was called Egret")`)
	v.Press("", "Open the form again")
	v.until(`document.body.innerText.includes("It was not taken")`)
	assert.Equal(t, "home-built", browsertest.Eval[string](v.Tab, `document.querySelector("[name='facts.no_hull_number']:checked").value`))
	v.Fill("#log-boat", "name", "Bittern")
	v.Press("#log-boat", "Write it down")
	v.See("The boat is in the book")
	v.See("Bittern")
	v.DoNotSee("not sent yet")
}

func TestPhotosWaitForTheLink(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	b := steward.logged()
	w := c.weather()
	v := c.inspector(t, w, steward)
	v.Go(w.URL + b + "/photos")
	v.until(`document.querySelector("#add-photos").dataset.keeping === "yes"`)
	noPhoto, err := filepath.Abs("doc.go")
	require.NoError(t, err)
	v.Upload("#f-file", phototest.JettyFile(t), noPhoto)
	w.cut.Store(true)
	v.push("#add-photos")
	v.until(`document.body.innerText.includes("2 of 2 photos are kept on this phone")`)
	assert.Empty(t, desktestSaid[message.PhotoAdded](c, b))
	w.cut.Store(false)
	v.Go(w.URL + "/not-sent")
	v.until(`document.querySelectorAll("#kept-list li").length === 1`)
	v.until(`document.body.innerText.includes("the file is no photo in the formats JPEG, PNG or WebP")`)
	v.Go(w.URL + b)
	v.until(`document.querySelectorAll("#photos img").length === 1 && document.querySelector("#photos img").naturalWidth === 240`)
	added := desktestSaid[message.PhotoAdded](c, b)
	require.Len(t, added, 1)
	stored := steward.get(b + "/photos/" + added[0].Hash + "/large.jpg")
	assert.Empty(t, phototest.Tags(t, []byte(stored.text)))
	assert.True(t, strings.HasPrefix(stored.text, "\xff\xd8\xff\xdb"))
}
