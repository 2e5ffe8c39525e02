package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo/phototest"
	"refloat.example/services/intake"
)

// sendFiles sends a form of a page that takes files as a browser without a script
// does.
func (b *browser) sendFiles(page answer, id string, fields map[string]string, files map[string][]byte) answer {
	b.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, hidden := range all(page.byID(id), "input") {
		if attr(hidden, "type") == "hidden" {
			require.NoError(b.t, form.WriteField(attr(hidden, "name"), attr(hidden, "value")))
		}
	}
	for name, value := range fields {
		require.NoError(b.t, form.WriteField(name, value))
	}
	for name, file := range files {
		part, err := form.CreateFormFile("file", name)
		require.NoError(b.t, err)
		_, err = part.Write(file)
		require.NoError(b.t, err)
	}
	require.NoError(b.t, form.Close())
	req, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, "http://"+b.site.Addr()+attr(page.byID(id), "action"), &body)
	require.NoError(b.t, err)
	req.Header.Set("Content-Type", form.FormDataContentType())
	return b.do(req)
}

func TestPhotosAreKeptWithoutWhatTheyTellOfPeople(t *testing.T) {
	c := open(t, intakeRoom)
	steward, nobody := c.member(people.Steward), c.visitor()
	b := steward.logged()
	page := steward.open(b + "/photos")
	fields := map[string]string{"words": "after washing", "place.part": "hull", "place.zone": "bow", "place.side": "port", "place.face": "outside"}
	sent := steward.sendFiles(page, "add-photos", fields, map[string][]byte{"one.jpg": phototest.Jetty()})
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	again := steward.sendFiles(page, "add-photos", fields, map[string][]byte{"one.jpg": phototest.Jetty()})
	require.Equal(t, http.StatusSeeOther, again.status, again.text)
	added := desktestSaid[message.PhotoAdded](c, b)
	require.Len(t, added, 1, "a double tap keeps one")
	assert.Equal(t, "hull", string(added[0].Place.Part))

	shown := steward.open(b)
	images := all(shown.byID("photos"), "img")
	require.Len(t, images, 1)
	assert.Contains(t, attr(images[0], "alt"), "Photo of hull, bow, port, outside")
	for _, size := range []string{"large.jpg", "small.jpg"} {
		address := b + "/photos/" + added[0].Hash + "/" + size
		got := steward.get(address)
		require.Equal(t, http.StatusOK, got.status)
		assert.Equal(t, "image/jpeg", got.header.Get("Content-Type"))
		assert.Equal(t, "nosniff", got.header.Get("X-Content-Type-Options"))
		assert.Equal(t, "private, max-age=31536000, immutable", got.header.Get("Cache-Control"))
		assert.Empty(t, phototest.Tags(t, []byte(got.text)), size)
		_, err := jpeg.Decode(strings.NewReader(got.text))
		require.NoError(t, err)
		assert.Equal(t, http.StatusSeeOther, nobody.get(address).status)
	}
	assert.Equal(t, http.StatusNotFound, steward.get(b+"/photos/"+added[0].Hash+"/huge.jpg").status)
	other := steward.logged("name", "Egret", "facts.hull_number", "", "facts.no_hull_number", "home-built")
	assert.Equal(t, http.StatusNotFound, steward.get(other+"/photos/"+added[0].Hash+"/large.jpg").status, "a photo is served on its own boat's page alone")
	assert.NotContains(t, c.DB.Dump("photo.picture"), fmt.Sprintf("%x", "Odo Reed"))

	remove := b + "/photos/" + added[0].Photo + "/remove"
	steward.done(remove, "remove-photo", map[string]string{"why": "somebody is in it"})
	c.Settle()
	assert.Equal(t, http.StatusNotFound, steward.get(b+"/photos/"+added[0].Hash+"/large.jpg").status)
	assert.Empty(t, c.DB.Dump("photo.picture"), "destroyed")
	assert.Contains(t, steward.open(b+"/history").says("lines"), "A photo was destroyed: somebody is in it")
	c.RebuildIsTheSame(Name)
	c.RebuildIsTheSame(intake.Name)
}

// The photo of a receipt comes with the booking, and only who keeps the money sees
// it: it may show names.
func TestAReceiptComesWithABooking(t *testing.T) {
	c := open(t, intakeRoom, repairRoom)
	steward, repairer, treasurer := c.member(people.Steward), c.member(people.Repairer), c.member(people.Treasurer)
	b := steward.lookedOver()
	steward.done(b+"/accept", "accept", noneAtStake)
	c.Settle()
	form := repairer.open(b + "/parts")
	typed := map[string]string{"what": "part", "words": "hatch cover", "paid_by": "club", "on": "2026-04-01", "cost": "nine"}
	wrong := repairer.sendFiles(form, "book-part", typed, map[string][]byte{"receipt.jpg": []byte("<script>")})
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	assert.Contains(t, wrong.says("problems"), "receipt.jpg: the file is no photo")
	assert.Equal(t, "hatch cover", wrong.value("words"), "what was typed stays")
	wrong = repairer.sendFiles(wrong, "book-part", typed, map[string][]byte{"receipt.jpg": phototest.Jetty()})
	require.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	assert.Contains(t, wrong.says("book-part"), "The photo that you sent is kept")
	typed["cost"] = "42"
	sent := repairer.sendFiles(wrong, "book-part", typed, nil)
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	repairer.done(b+"/parts", "book-part", map[string]string{"words": "rod", "cost": "9", "paid_by": "club"})
	c.Settle()

	var receipts []string
	for _, a := range all(treasurer.open(b).root, "a") {
		if strings.Contains(attr(a, "href"), "/receipts/") {
			receipts = append(receipts, attr(a, "href"))
		}
	}
	require.Len(t, receipts, 1, "the rod has none")
	got := treasurer.get(receipts[0])
	require.Equal(t, http.StatusOK, got.status)
	assert.Equal(t, "image/jpeg", got.header.Get("Content-Type"))
	assert.Equal(t, "private, no-store", got.header.Get("Cache-Control"))
	assert.Empty(t, phototest.Tags(t, []byte(got.text)))
	assert.Equal(t, http.StatusForbidden, repairer.get(receipts[0]).status)
	assert.NotContains(t, repairer.open(b).text, "/receipts/")
	assert.Equal(t, http.StatusNotFound, treasurer.get(b+"/receipts/another").status)

	hash := partsOf(treasurer, b)[0].Receipt
	require.Len(t, hash, 64)
	assert.Empty(t, partsOf(repairer, b)[0].Receipt, "a program of somebody else does not learn its hash")
	adds := map[string]string{"photo": "p1", "hash": hash}
	refused := steward.program().ask("POST", "/api"+b+"/photos/new", "k1", adds)
	assert.Equal(t, http.StatusUnprocessableEntity, refused.status, string(refused.body))
	require.Equal(t, http.StatusOK, steward.program().ask("POST", "/api/photos", "", phototest.Jetty()).status, "the same bytes, as a photo of the boat")
	require.Equal(t, http.StatusOK, steward.program().ask("POST", "/api"+b+"/photos/new", "k2", adds).status)
	c.Settle()
	steward.done(b+"/photos/p1/remove", "remove-photo", map[string]string{"why": "somebody is in it"})
	c.Settle()
	assert.Equal(t, http.StatusOK, treasurer.get(receipts[0]).status, "the receipt stays")
	assert.Equal(t, http.StatusUnprocessableEntity, repairer.program().ask("POST", "/api/photos?for=fun", "", phototest.Jetty()).status)
	assert.Equal(t, http.StatusOK, repairer.program().ask("POST", "/api/photos?for=receipt", "", phototest.Jetty()).status)

	repairer.done("/stock/new", "open-bin", map[string]string{"name": "deck line", "unit": "metres"})
	c.Settle()
	var bin string
	for _, a := range all(repairer.open("/stock").root, "a") {
		if strings.HasPrefix(attr(a, "href"), "/stock/") && attr(a, "href") != "/stock/new" {
			bin = attr(a, "href")
		}
	}
	require.NotEmpty(t, bin)
	sent = repairer.sendFiles(repairer.open(bin+"/buy"), "buy-stock", map[string]string{"quantity": "50", "cost": "42", "paid_by": "club", "on": "2026-04-01"}, map[string][]byte{"drum.jpg": phototest.Jetty()})
	require.Equal(t, http.StatusSeeOther, sent.status, sent.text)
	c.Settle()
	address := ""
	for _, a := range all(treasurer.open(bin).root, "a") {
		if strings.Contains(attr(a, "href"), "/receipts/") {
			address = attr(a, "href")
		}
	}
	require.NotEmpty(t, address)
	assert.Equal(t, http.StatusOK, treasurer.get(address).status)
	assert.Equal(t, http.StatusForbidden, repairer.get(address).status)
	assert.NotEmpty(t, movesOf(treasurer, bin)[0].Receipt)
	assert.Empty(t, movesOf(repairer, bin)[0].Receipt)
	assert.NotContains(t, string(repairer.program().ask("GET", "/api/stock", "", nil).body), "receipt")
}

func partsOf(b *browser, address string) []Part { return got[Boat](b.program(), "/api"+address).Parts }

func movesOf(b *browser, address string) []BinMove {
	return got[Bin](b.program(), "/api"+address).Moves
}

func desktestSaid[B message.Body](c *club, address string) []B {
	var all []B
	for _, body := range c.Bodies(message.IntakeBoat(boat.ID(strings.TrimPrefix(address, "/boats/")))) {
		if b, ok := body.(B); ok {
			all = append(all, b)
		}
	}
	return all
}

func TestWhatIsGoodOfAFormWithPhotosIsKept(t *testing.T) {
	c := open(t, intakeRoom)
	steward := c.member(people.Steward)
	b := steward.logged()
	page := steward.open(b + "/photos")
	sent := steward.sendFiles(page, "add-photos", nil, map[string][]byte{"good.jpg": phototest.Jetty(), "evil.jpg": []byte("<script>"), "huge.jpg": make([]byte, 50<<20)})
	require.Equal(t, http.StatusUnprocessableEntity, sent.status)
	problems := sent.says("problems")
	assert.Contains(t, problems, "evil.jpg: the file is no photo in the formats JPEG, PNG or WebP")
	assert.Contains(t, problems, "huge.jpg: the file has more than 20 MB")
	assert.Contains(t, problems, "1 photo of the form is kept")
	assert.Len(t, desktestSaid[message.PhotoAdded](c, b), 1)
	assert.Len(t, all(sent.root, "img"), 1, "the page shows what is kept")
	assert.NotEqual(t, page.hidden("add-photos", "key"), sent.hidden("add-photos", "key"), "what is kept is not sent again")
	next := steward.sendFiles(sent, "add-photos", nil, map[string][]byte{"good.jpg": phototest.Jetty()})
	require.Equal(t, http.StatusSeeOther, next.status, next.text)

	none := steward.sendFiles(page, "add-photos", nil, nil)
	assert.Equal(t, http.StatusUnprocessableEntity, none.status)
	assert.Contains(t, none.says("problems"), "choose a photo first")
}

func TestAPhotoComesInPieces(t *testing.T) {
	c := open(t, intakeRoom)
	steward, other := c.member(people.Steward), c.member(people.Steward)
	b := steward.logged()
	file := phototest.Jetty()
	send := func(who *browser, at int, piece []byte) (int, string) {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost,
			fmt.Sprintf("http://%s%s/uploads/u-1?at=%d&size=%d", c.site.Addr(), b, at, len(file)), bytes.NewReader(piece))
		require.NoError(t, err)
		req.Header.Set("Accept", "application/json")
		a := who.do(req)
		return a.status, a.text
	}
	status, text := send(steward, 0, nil)
	require.Equal(t, http.StatusOK, status, text)
	assert.JSONEq(t, `{"here":0}`, text)
	status, text = send(steward, 0, file[:15_000])
	require.Equal(t, http.StatusOK, status, text)
	assert.JSONEq(t, `{"here":15000}`, text)
	status, text = send(steward, 16_000, file[16_000:])
	assert.Equal(t, http.StatusConflict, status)
	var problem problemDetails
	require.NoError(t, json.Unmarshal([]byte(text), &problem))
	assert.Contains(t, problem.Detail, "go on at byte 15000")
	status, _ = send(other, 15_000, file[15_000:])
	assert.Equal(t, http.StatusNotFound, status, "somebody else's file")
	status, _ = send(steward, 15_000, file[15_000:])
	require.Equal(t, http.StatusOK, status)

	page := steward.open(b + "/photos")
	done := steward.sendFiles(page, "add-photos", map[string]string{"upload": "u-1"}, nil)
	require.Equal(t, http.StatusSeeOther, done.status, done.text)
	assert.Len(t, desktestSaid[message.PhotoAdded](c, b), 1)
	assert.Empty(t, c.DB.Dump("photo.piece"))
	req := url.Values{"at": {"0"}, "size": {"0"}}
	assert.Equal(t, http.StatusUnprocessableEntity, steward.send(b+"/uploads/u-2?"+req.Encode(), nil).status)
}

func TestPhotosOfAFindingAreBlindToo(t *testing.T) {
	c := open(t, intakeRoom)
	first, second := c.member(people.Steward), c.member(people.Steward)
	b := first.logged()
	page := first.done(b+"/look", "begin-look", nil)
	look := strings.TrimSuffix(attr(page.byID("do-note-finding"), "href"), "/finding")
	first.done(look+"/finding", "note-finding", crack)
	found := desktestSaid[message.DefectFound](c, b)[0]
	form := first.open(b + "/photos?finding=" + found.Finding)
	require.Equal(t, http.StatusSeeOther, first.sendFiles(form, "add-photos", nil, map[string][]byte{"crack.jpg": phototest.Jetty()}).status)
	added := desktestSaid[message.PhotoAdded](c, b)[0]
	assert.Equal(t, found.Place, *added.Place)
	address := b + "/photos/" + added.Hash + "/large.jpg"
	assert.Equal(t, http.StatusOK, first.get(address).status)
	assert.Equal(t, http.StatusNotFound, second.get(address).status)
	assert.Empty(t, all(second.open(b).byID("photos"), "img"))
	assert.NotContains(t, second.open(b+"/history").text, "Photographed")
	form = second.open(b + "/photos?finding=" + found.Finding)
	assert.NotContains(t, form.text, found.Finding, "the other's finding is not named")
}
