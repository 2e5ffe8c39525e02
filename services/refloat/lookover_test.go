package main

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/photo/phototest"
)

// TestTwoPeopleLookABoatOver follows intake on a phone: one logs a boat, one
// photographs it and looks it over by the guide, another one looks without knowing the first list, a
// person says which findings are the same, what both missed is reckoned from
// that, and the club decides. In the same club another boat is bought, and the first
// ends as parts.
func TestTwoPeopleLookABoatOver(t *testing.T) {
	t.Parallel()
	s := serveSite(t)
	_, problems, code := s.run("import", "people", filepath.Join(demoFolder, "people.csv"))
	require.Equal(t, exitOK, code, problems)
	v := s.visit(t, 360, 740)
	boat := v.logTheBoat()

	v.signIn("mara@quillwater.example")
	v.open(boat)
	v.See("Nobody has finished a look-over")
	v.Press("#photos", "Photographs")
	v.photograph("Photo of the boat")

	// A life jacket lies in it, with a torn strap.
	v.open(boat + "/jackets/foam")
	v.looked("life-jacket")
	for i := range 7 {
		v.Fill("#foam-jacket", fmt.Sprintf("answers[%d].answer", i), "in order")
	}
	v.Fill("#foam-jacket", "answers[2].answer", "fails")
	v.Press("#foam-jacket", "Write it down")
	v.See("it fails and is never passed on")
	v.looked("boat-with-a-life-jacket")
	v.Go(browsertest.Eval[string](v.Tab, `document.querySelector("#jackets a[href$='/end']").href`))
	v.looked("life-jacket-end")
	v.Fill("#end-jacket", "way", "cut up and thrown away")
	v.Press("#end-jacket", "Write it down")
	v.See("What became of it: cut up and thrown away")
	look := v.beginLook(boat)
	v.See("points for a sit-inside kayak of rotomoulded polyethylene")
	v.See("Clean and dry it. Flex the bottom over a padded edge")
	v.looked("look-over-guide")
	v.answerAll("not seen")
	v.answer("coaming", "seen")
	v.answer("pe-keel-crack", "could not be seen")
	v.Press("#answer-points", "Keep these answers")
	v.See("The answers are kept")
	v.See("1 point could not be seen")

	// The end waits until the trouble that was seen is noted.
	v.do(look+"/finish", "finish-look", "Finish", "grade", "3")
	v.See("noted no finding there")
	v.open(look)
	v.See("Note what you saw")
	v.open(look + "/finding?point=coaming")
	v.Fill("#note-finding", "place.side", "starboard", "defect", "crack", "length_mm", "6", "severity", "mend before use")
	v.Press("#note-finding", "Note it")
	v.note(look, "carry toggle", "bow", "centreline", "outside", "worn", "watch")
	v.note(look, "bulkhead", "aft", "centreline", "inside", "loose", "mend before use")
	v.note(look, "chine", "amid", "port", "outside", "gouge", "use")
	v.open(look)
	v.looked("look-over-answered")
	v.Go(browsertest.Eval[string](v.Tab, `document.querySelector(".finding-list a[href*='/photos?finding=']").href`))
	v.See("These photos show the finding")
	v.photograph("Photo of coaming")
	v.open(look + "/finish")
	v.looked("look-over-end")
	v.Fill("#finish-look", "grade", "3", "hampered", "strapped up", "lay", "out in the rain", "weighs_g", "19.4", "water_ml", "0.3")
	v.Press("#finish-look", "Finish")
	v.See("evidence against a hole. It is none against a crack that does not go through")
	v.See("Provisional:")
	v.See("An offer on it is a gamble")
	v.See("Clean it, let it dry, unstrap it")
	v.looked("boat-provisional")
	v.signOut()

	// The second one is not shown the first list.
	v.signIn("ruben@quillwater.example")
	v.open(boat)
	v.DoNotSee("gouge: chine")
	look = v.beginLook(boat)
	v.DoNotSee("gouge: chine")
	v.answerAll("not seen")
	v.Press("#answer-points", "Keep these answers")
	v.See("Every point of the guide is answered")
	v.note(look, "coaming", "amid", "centreline", "outside", "split seam", "mend before use")
	v.note(look, "carry toggle", "bow", "centreline", "outside", "worn", "watch")
	v.note(look, "bulkhead", "aft", "centreline", "inside", "loose", "mend before use")
	v.note(look, "bungee", "forward", "port", "outside", "perished", "use")
	v.do(look+"/finish", "finish-look", "Finish", "grade", "3", "lay", "dry under a roof", "water_ml", "0")
	v.See("cannot be estimated: only 2 found by both")
	v.See("Nobody has confirmed which findings of the look-overs are the same")

	// The tool took the coaming for two findings; it proposes, and a person confirms.
	v.Press("#findings", "Confirm which findings are the same")
	v.looked("match-findings")
	v.Press("#match-findings", "Confirm")
	v.See("It is written down which findings are the same")
	v.See("Seen by two people")
	v.See("missed about 0.2 findings") // Chapman, by hand: (4−3)(4−3)/(3+1) = 0.25
	v.See("The first found 4, the second 4, both 3")
	v.DoNotSee("The look-over is provisional") // the second could see all of it
	v.looked("boat-estimated")

	// Whoever has a stake does not decide.
	v.do(boat+"/hold", "hold", "Put it off", "why", "the owner looks for the hatch cover")
	v.See("Put off until")
	v.do(boat+"/accept", "accept", "Accept", "stake", "the boat is or was mine")
	v.See("somebody without a stake in the boat decides")
	v.open(boat + "/accept")
	v.looked("accept")
	v.Fill("#accept", "stake", "none")
	v.Press("#accept", "Accept")
	v.See("The boat is accepted")
	v.DoNotSee("Put off until")
	v.signOut()

	v.isBoughtMendedAndValued()
	v.isRetiredForParts(boat)
}

func (v *visitor) beginLook(boat string) string {
	v.t.Helper()
	v.do(boat+"/look", "begin-look", "Begin")
	look := lookPattern.FindString(v.Address())
	require.NotEmpty(v.t, look)
	return look
}

// photograph keeps a photo that tells where and by whom it was taken, reads back
// what the club serves of it with a reader of such things, and finds nothing.
// alt is what the page says of it to those who do not see it.
func (v *visitor) photograph(alt string) {
	v.t.Helper()
	require.Subset(v.t, phototest.Tags(v.t, phototest.Jetty()), []string{"GPSLatitude", "GPSLongitude", "Artist"})
	v.Upload("#f-file", phototest.JettyFile(v.t))
	v.Press("#add-photos", "Keep these photos")
	v.See("The photos are kept")
	v.looked("photos")
	stored := browsertest.Eval[string](v.Tab, fmt.Sprintf(`(async function() {
		const small = Array.from(document.querySelectorAll("main img")).find(i => i.alt.startsWith(%q));
		const large = await (await fetch(small.closest("a").href)).arrayBuffer();
		return btoa(Array.from(new Uint8Array(large), byte => String.fromCharCode(byte)).join(""));
	})()`, alt))
	file, err := base64.StdEncoding.DecodeString(stored)
	require.NoError(v.t, err)
	_, err = jpeg.Decode(bytes.NewReader(file))
	require.NoError(v.t, err)
	assert.Empty(v.t, phototest.Tags(v.t, file))
}

// answerAll gives one answer to every point of the guide.
func (v *visitor) answerAll(answer string) {
	v.t.Helper()
	ticked := browsertest.Eval[int](v.Tab, fmt.Sprintf(`(function() {
		const all = Array.from(document.querySelectorAll("#answer-points input[type=radio]")).filter(f => f.value === %q);
		all.forEach(f => f.checked = true);
		return all.length;
	})()`, answer))
	require.Greater(v.t, ticked, 10)
}

// answer answers one point.
func (v *visitor) answer(point, answer string) {
	v.t.Helper()
	require.True(v.t, browsertest.Eval[bool](v.Tab, fmt.Sprintf(`(function() {
		const f = Array.from(document.querySelectorAll("#point-%s input[type=radio]")).find(f => f.value === %q);
		f.checked = true;
		return f.checked;
	})()`, point, answer)))
}

func (v *visitor) note(look, part, zone, side, face, defect, severity string) {
	v.t.Helper()
	v.do(look+"/finding", "note-finding", "Note it", "place.part", part, "place.zone", zone, "place.side", side, "place.face", face, "defect", defect, "severity", severity)
	v.See("The finding is noted")
}

// looked checks how a page looks, and leaves a picture where one is wanted.
func (v *visitor) looked(name string) {
	v.t.Helper()
	v.looksRight(axeScript(v.t), name)
	if folder := os.Getenv("REFLOAT_PICTURES"); folder != "" {
		v.Picture(filepath.Join(folder, name+"-phone.png"))
	}
	assert.NotEmpty(v.t, v.Text())
}
