package web

import (
	"image"
	"image/color"
	"image/png"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// TestACodeIsReadByAnotherProgram paints what stands in the drawing's path and lets
// zbarimg read it (ZBar, a reader of bar codes that shares nothing with the library
// that made the code).
func TestACodeIsReadByAnotherProgram(t *testing.T) {
	for _, text := range []string{"https://club.example/tag/b1", "http://192.168.1.20:8080/tag/0192f1c2-7a1e-7c3b-9d4e-2f6a8b0c1d2e", "https://a-long-name-of-a-club.example/boats/tag/" + strings.Repeat("x", 64)} {
		code, err := drawCode(text)
		require.NoError(t, err)
		const dots = 8 // a module
		picture := image.NewGray(image.Rect(0, 0, code.Side*dots, code.Side*dots))
		for i := range picture.Pix {
			picture.Pix[i] = 255
		}
		for _, run := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-\d+z`).FindAllStringSubmatch(code.Path, -1) {
			x, _ := strconv.Atoi(run[1])
			y, _ := strconv.Atoi(run[2])
			wide, _ := strconv.Atoi(run[3])
			for dy := range dots {
				for dx := range wide * dots {
					picture.SetGray(x*dots+dx, y*dots+dy, color.Gray{})
				}
			}
		}
		name := filepath.Join(t.TempDir(), "code.png")
		file, err := os.Create(name)
		require.NoError(t, err)
		require.NoError(t, png.Encode(file, picture))
		require.NoError(t, file.Close())
		read, err := exec.Command("zbarimg", "--quiet", "--raw", name).Output()
		require.NoError(t, err, "run: apt-get install zbar-tools")
		assert.Equal(t, text, strings.TrimSpace(string(read)))
	}
}

func TestATagOpensItsBoatForMembersAlone(t *testing.T) {
	c := open(t)
	say := func(id boat.ID, body message.Body) { c.Say(message.IntakeBoat(id), string(id), body) }
	for _, id := range []boat.ID{"b1", "b2", "b3"} {
		say(id, message.BoatLogged{Boat: id, Name: "Coot " + string(id), Taking: message.Gift, Giver: "giver", Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Wood, Seats: 2, HullNumber: "XYZ12345L495", Colour: "red"}})
	}
	say("b1", message.BoatCameBack{Boat: "b4", Earlier: "b1", Time: 2})
	say("b4", message.BoatLogged{Boat: "b4", Name: "Coot again", Taking: message.Gift, Giver: "giver", Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Wood, Seats: 2}})
	c.Settle()
	member, stranger := c.member(people.Repairer), c.visitor()

	assert.Equal(t, "/boats/b2", member.get("/tag/b2").to())
	assert.Equal(t, "/boats/b4", member.get("/tag/b1").to(), "the entry under which it came back")
	assert.Equal(t, http.StatusNotFound, member.get("/tag/none").status)
	for _, tag := range []string{"/tag/b2", "/tag/none"} {
		page := stranger.open(tag)
		assert.NotContains(t, page.text, "Coot", "a stranger reads nothing of the boat")
		assert.NotContains(t, page.text, "XYZ12345L495")
		assert.Contains(t, page.says("contact"), "please tell the club")
		assert.Contains(t, page.text, "/sign-in?next=%2ftag%2f")
	}
	c.Say(message.Club, "", message.SettingChanged{Name: "contact", Value: "boats@quillwater.example"})
	c.Settle()
	assert.Contains(t, stranger.open("/tag/b2").says("contact"), "boats@quillwater.example")

	sheet := member.open("/boats/tags?q=red&paper=a4")
	assert.Len(t, all(sheet.root, "path"), 2, "without the one that came back under another entry")
	assert.Contains(t, sheet.text, `<ul class="tags a4"`)
	assert.Contains(t, textOf(all(sheet.root, "ul")[len(all(sheet.root, "ul"))-1]), "Coot b2 XYZ12345L495")
	assert.Len(t, all(member.open("/boats/tags?boat=b3&boat=b4").root, "path"), 2)
	assert.Contains(t, member.open("/boats/tags?q=nothing").says("count"), "0 tags")
	assert.Equal(t, http.StatusUnprocessableEntity, member.get("/boats/tags?"+strings.Repeat("boat=b&", maxTags+1)).status)
}

func TestTagsOfMoreBoatsStandOnMorePages(t *testing.T) {
	c := open(t)
	for n := range pageLength + 2 {
		id := boat.ID("b" + strconv.Itoa(100+n))
		c.Say(message.IntakeBoat(id), string(id), message.BoatLogged{Boat: id, Name: "Teal " + string(id), Taking: message.Gift, Giver: "giver", Facts: message.BoatFacts{Type: boat.Canoe, Material: boat.Wood, Seats: 2}})
	}
	c.Settle()
	first := c.member(people.Repairer).open("/boats/tags")
	assert.Len(t, all(first.root, "path"), pageLength)
	assert.Contains(t, first.says("count"), "52 tags, 1 to 50 of them here")
	second := c.member(people.Repairer).open(attr(first.byID("next"), "href"))
	assert.Len(t, all(second.root, "path"), 2)
	assert.Contains(t, second.text, "Teal b151")
}

func TestAKeptCodeIsTheOneThatWasDrawn(t *testing.T) {
	var kept drawnCodes
	for n := range mostCodes + 2 {
		text := "https://club.example/tag/" + strconv.Itoa(n%(mostCodes+1))
		if n > 3 && n < mostCodes {
			kept.kept[text] = drawnCode{} // as good as any, and quick
			continue
		}
		code, err := kept.draw(text)
		require.NoError(t, err)
		want, err := drawCode(text)
		require.NoError(t, err)
		assert.Equal(t, want, code, text)
		assert.LessOrEqual(t, len(kept.kept), mostCodes)
	}
}
