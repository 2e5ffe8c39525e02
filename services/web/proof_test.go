package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/proof"
)

// seals runs a sealer for the club and waits until it has sealed everything.
func (c *club) seals() {
	c.t.Helper()
	c.Settle()
	part := c.Log.Sealer(c.t.TempDir(), c.t.TempDir())
	require.NoError(c.t, part.Start(c.t.Context()))
	head, err := c.Log.Head(c.t.Context())
	require.NoError(c.t, err)
	require.Eventually(c.t, func() bool { _, err := c.Log.FirstOver(c.t.Context(), head.Position); return err == nil }, time.Minute, 10*time.Millisecond)
	require.NoError(c.t, part.Stop(context.Background()))
}

// A paper from its issue to what a stranger who holds it is told, and what they are
// not told without holding it.
func TestAnybodyWhoHoldsAPaperCanCheckIt(t *testing.T) {
	c := openClub(t, treasuryRoom)
	heron := c.ready("Heron", openCanoe())
	treasurer, administrator := c.enter("Marigold Finch", people.Treasurer), c.enter("Linus Alder", people.Administrator)
	at := "/boats/" + string(heron)
	treasurer.done(at+"/claim", "state-claim", map[string]string{"claim": "120.50", "on": "2026-03-20"})
	administrator.done("/club/legal-name", "change-setting", map[string]string{"value": "Quillwater Paddlers"})
	c.Settle() // the treasury has heard it, too
	issued := treasurer.fillIn(treasurer.open(at+"/paper"), "issue-paper", nil)
	require.Equal(t, http.StatusSeeOther, issued.status, issued.text)
	c.Settle()
	var said message.PaperIssued
	for _, body := range c.Bodies(message.TreasurySeries("US-2026")) {
		said = body.(message.PaperIssued)
	}
	check := message.PaperPath + said.Serial + "/" + said.Salt

	stranger := c.visitor()
	before := stranger.open(check)
	assert.Contains(t, before.says("since"), "the next checkpoint")
	paper := paperAddress(treasurer.open("/papers"))
	assert.Equal(t, http.StatusServiceUnavailable, treasurer.get(paper+"/proof").status, "not sealed yet")
	c.seals()
	page := stranger.open(check)
	page.sound("the page of a paper")
	assert.Equal(t, said.Serial, page.says("serial"))
	assert.Equal(t, said.Digest, page.says("digest"))
	assert.Contains(t, page.says("since"), "since the checkpoint of")
	pdf := treasurer.get(paper + "/print")
	sum := sha256.Sum256([]byte(pdf.text))
	assert.Equal(t, hex.EncodeToString(sum[:]), page.says("file-digest"), "of the file as it was issued")
	for _, secret := range []string{"Odo Reed", "Heron", string(heron), string(said.Donor), said.Paper, "member/"} {
		assert.NotContains(t, page.text, secret, "nobody and no boat is named")
	}

	wrong := "0123456789abcdef0123456789abcdef"
	unknown, guessed := stranger.get(message.PaperPath+"US-2026-0002/"+wrong), stranger.get(message.PaperPath+said.Serial+"/"+wrong)
	assert.Equal(t, http.StatusNotFound, unknown.status)
	assert.Equal(t, http.StatusNotFound, guessed.status)
	hide := func(text string) string {
		return strings.ReplaceAll(strings.ReplaceAll(text, said.Serial, "X"), "US-2026-0002", "X")
	}
	assert.Equal(t, hide(unknown.text), hide(guessed.text), "whether a number was given out is not told")

	donor := c.follow(textOf(all(treasurer.open(paper+"/link").root, "code")[0]))
	file := donor.get("/my" + paper + "/proof")
	require.Equal(t, http.StatusOK, file.status)
	assert.Contains(t, file.header.Get("Content-Disposition"), said.Serial+".proof.txt")
	assert.Less(t, len(file.text), 2048)
	keys, err := c.Log.SigningKeys(t.Context())
	require.NoError(t, err)
	proved, err := ledger.CheckProof([]byte(file.text), ledger.Keys(keys)...)
	require.NoError(t, err)
	body, err := message.Decode(proved.Event)
	require.NoError(t, err)
	assert.Equal(t, hex.EncodeToString(sum[:]), body.(message.PaperLodged).File)
	other := c.followPapersOf("Ben Sedge")
	assert.Equal(t, http.StatusNotFound, other.get("/my"+paper+"/proof").status)

	treasurer.done(paper+"/cancel", "cancel-paper", map[string]string{"why": "the name was misspelt"})
	c.Settle()
	void := stranger.open(check)
	assert.NotEmpty(t, void.says("cancelled"))
	assert.NotContains(t, void.text, "misspelt")
	c.RebuildIsTheSame(Name)
}

// A program that tries codes is held down, and not the neighbours.
func TestLookingUpPapersIsHeldDown(t *testing.T) {
	c := openClub(t)
	ask := func(from string) int {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+c.site.Addr()+message.PaperPath+"US-2026-0001/00", http.NoBody)
		require.NoError(t, err)
		r.Header.Set("X-Forwarded-For", from)
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode
	}
	for range publicPosts {
		require.Equal(t, http.StatusNotFound, ask("203.0.113.7"))
	}
	assert.Equal(t, http.StatusServiceUnavailable, ask("203.0.113.7"))
	assert.Equal(t, http.StatusNotFound, ask("203.0.113.8"))
}

func TestMembersSeeTheCheckpoints(t *testing.T) {
	c := openClub(t)
	repairer := c.enter("Fern Holt", people.Repairer)
	assert.NotEmpty(t, repairer.open("/book/checkpoints").says("none"))
	c.seals()
	newest, err := c.Log.LastCheckpoint(t.Context())
	require.NoError(t, err)
	page := repairer.open("/book/checkpoints")
	page.sound("the page of checkpoints")
	assert.Contains(t, page.says("newest"), newest.Root.String())
	assert.Contains(t, page.says("keys"), string(newest.By[0]))
	assert.Contains(t, page.says("checkpoints"), newest.By[0].Short())
	file := repairer.get(fmt.Sprintf("/book/checkpoints/%d", newest.Size))
	assert.Equal(t, string(newest.Note), file.text)
	_, err = proof.Open([]byte(file.text), newest.By[0])
	require.NoError(t, err)
	for _, none := range []string{"0", "-1", "x", "99999"} {
		assert.Equal(t, http.StatusNotFound, repairer.get("/book/checkpoints/"+none).status, none)
	}
	assert.Equal(t, http.StatusOK, repairer.get("/book/checkpoints?before=x").status)
}

// What was known on one day about another: the finding was made on 3 March and
// written down on 5 March.
func TestTheHistoryOfABoatAsOfTwoDays(t *testing.T) {
	c := openClub(t)
	heron := c.ready("Heron", openCanoe()) // written on 1 April, by the club's clock
	steward := c.enter("Fern Holt", people.Steward)
	at := "/boats/" + string(heron) + "/history"
	whole := steward.open(at)
	assert.Nil(t, whole.byID("then"))
	assert.NotEmpty(t, textOf(whole.byID("lines")))
	none := steward.open(at + "?known=2026-03-31")
	none.sound("a history as of a day")
	assert.Contains(t, none.says("then"), "On 31 March 2026 the club knew: nothing of this boat")
	assert.Empty(t, textOf(none.byID("lines")))
	known := steward.open(at + "?known=2026-04-01&about=2026-04-01")
	assert.Contains(t, known.says("then"), "the boat was ready")
	assert.Equal(t, textOf(whole.byID("lines")), textOf(known.byID("lines")))
	assert.Contains(t, steward.open(at+"?about=2026-03-01").says("then"), "Today the club knows of 1 March 2026: nothing")
	bad := steward.open(at + "?known=yesterday")
	assert.NotEmpty(t, bad.says("wrong"))
	assert.Equal(t, textOf(whole.byID("lines")), textOf(bad.byID("lines")))
}
