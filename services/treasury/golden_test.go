package treasury

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

// goldenPapers are one paper of each sort, as the room writes it: a name of 60
// characters, a Vietnamese and a Polish one among the donors.
func goldenPapers(t *testing.T) map[string][]byte {
	qualified := club{name: "Quillwater Paddlers", number: "00-0000000", place: "Amberjay", signatory: "T. Reed, treasurer",
		address: []string{"4 Mill Lane", "Amberjay"}, country: taxpaper.US, format: "letter", qualified: true}
	canadian, british := qualified, qualified
	canadian.country, canadian.number, canadian.format = taxpaper.CA, "00000 0000 RR0001", "A4"
	british.country, british.number, british.format = taxpaper.UK, "", "A4"
	on := clock.MustDate("2026-04-20")
	base := gift{record: record{boat: "b1", name: "Heron", taking: message.Gift, giver: "donor", received: clock.MustDate("2026-03-28"), state: received,
		facts: message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, Maker: "Oxlip", Model: "Wren", YearBuilt: 2019, HullNumber: "XYZ12345L495"}}}
	in := func(c money.Currency, change func(*gift)) gift {
		g := base
		g.worth = &worth{value: "v1", amount: money.Of(220_000, c), valuer: "steward"}
		change(&g)
		return g
	}
	long := message.PersonDetails{Name: "Maximiliana-Theodora Featherstonehaugh-Cholmondeley Winterbou", Address: "Apartment 1204, The Old Rope Works\n12 Quay Street\nAmberjay"}
	viet := message.PersonDetails{Name: "Nguyễn Thị Thuỳ Dương", Address: "12 Quay Street\nAmberjay"}
	polish := message.PersonDetails{Name: "Łucja Żółkiewska", Address: "12 Quay Street\nAmberjay"}
	papers := map[string][]byte{}
	for name, p := range map[string]struct {
		writing
		cancelled bool
	}{
		"us-letter": {writing: writing{club: qualified, donor: viet, gift: in("USD", func(g *gift) { g.claim = &message.ClaimStated{Claim: money.Of(45_000, "USD")} })}},
		"us-sold": {writing: writing{club: qualified, donor: long, gift: in("USD", func(g *gift) {
			g.sold = &message.BoatSold{On: clock.MustDate("2026-04-18"), Gross: money.Of(185_000, "USD"), ArmsLength: true}
		})}},
		"us-decided":   {writing: writing{club: qualified, donor: polish, gift: in("USD", func(g *gift) { g.final = true })}},
		"us-used":      {writing: writing{club: qualified, donor: long, gift: in("USD", usedWeekly)}},
		"ca-receipt":   {writing: writing{club: canadian, donor: viet, replaces: "CA-2026-0016", gift: in("CAD", func(g *gift) { g.taking, g.price = message.Bargain, money.Of(20_000, "CAD") })}},
		"ca-cancelled": {writing: writing{club: canadian, donor: long, gift: in("CAD", func(*gift) {})}, cancelled: true},
		"ca-appraised": {writing: writing{club: canadian, donor: long, gift: in("CAD", func(g *gift) {
			g.benefit = &message.BenefitStated{What: message.ServiceReturn, Words: "a paddling course of two evenings", Value: money.Of(9_000, "CAD")}
			g.appraised = &appraised{value: money.Of(220_000, "CAD"), Appraiser: message.Appraiser{By: long.Name, Address: "3 Weir Road, Amberjay"}}
		})}},
		"us-in-return": {writing: writing{club: qualified, donor: long, gift: in("USD", func(g *gift) {
			g.sold = &message.BoatSold{On: clock.MustDate("2026-04-18"), Gross: money.Of(185_000, "USD"), ArmsLength: true}
			g.benefit = &message.BenefitStated{What: message.ServiceReturn, Words: "a paddling course of two evenings", Value: money.Of(9_000, "USD")}
		})}},
		"uk-thanks": {writing: writing{club: british, donor: polish, gift: in("GBP", func(*gift) {})}},
		"us-two-signatures": {writing: writing{club: func(c club) club { c.signatory = long.Name + ", treasurer of the club"; return c }(qualified), mandated: true, second: long.Name + ", chair of the club's board", donor: long, gift: in("USD", func(g *gift) {
			g.sold = &message.BoatSold{On: clock.MustDate("2026-04-18"), Gross: money.Of(185_000, "USD"), ArmsLength: true}
		})}},
		"us-volunteer":           {writing: laidOutBy(qualified, viet, nil)},
		"us-volunteer-in-return": {writing: laidOutBy(qualified, long, &message.BenefitStated{What: message.GoodsReturn, Words: "a splash jacket with the club's emblem", Value: money.Of(4_500, "USD")})},
		"volunteer-thanked":      {writing: laidOutBy(func(c club) club { c.qualified = false; return c }(british), polish, nil)},
		"not-deductible":         {writing: writing{club: func(c club) club { c.qualified = false; return c }(qualified), donor: viet, gift: in("USD", func(*gift) {})}},
	} {
		w := p.writing
		w.on = on
		var err error
		if w.costsOf != 0 {
			sum := expenses{year: w.costsOf, benefit: w.benefit, costs: []cost{{VolunteerCostStated: message.VolunteerCostStated{Amount: money.Of(31_240, taxpaper.Currency(w.club.country))}}}}
			w.letter, err = sum.decide(w.club)
		} else {
			w.letter, err = w.decide(w.club, on)
		}
		require.NoError(t, err, name)
		content, err := write(w)
		require.NoError(t, err, name)
		said := message.PaperIssued{Serial: w.club.country + "-2026-0017", Salt: "00112233445566778899aabbccddeeff", Template: template, CostsOf: w.costsOf,
			Digest: "9f2c0a7d4b1e88355c6d0f12a3b4c5d6e7f8091a2b3c4d5e6f708192a3b4c5d6", On: on}
		if w.mandated {
			said.Template = signedTemplate
		}
		content.CheckAt = "https://quillwater.example/paper/" + said.Serial + "/" + said.Salt
		content.Book = &message.BookThen{Events: 1234, Root: "SBNJTRN+FjG7owHVrKtue7eqdM4RhdRWVl71HXN2d7I=", Key: "book-0123456789+96620bb6+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea"}
		papers[name], err = render(said, content, p.cancelled)
		require.NoError(t, err, name)
		again, err := render(said, content, p.cancelled)
		require.NoError(t, err, name)
		assert.True(t, bytes.Equal(papers[name], again), "%s is not the same byte for byte", name)
	}
	return papers
}

// laidOutBy is a paper about what a volunteer laid out.
func laidOutBy(c club, who message.PersonDetails, benefit *message.BenefitStated) writing {
	return writing{club: c, donor: who, costsOf: 2026, gift: gift{benefit: benefit},
		services: []string{"fetched donated boats from across the lake with the club's trailer", "taught beginners at the open days of the club"}}
}

func usedWeekly(g *gift) {
	g.excepted = map[message.Exception]message.ExceptionStated{message.Used: {Sort: message.Used, Use: "learn-to-paddle fleet, every Saturday", By: "m1",
		From: clock.MustDate("2026-05-01"), To: clock.MustDate("2027-04-30")}}
}

// What papers say and how they look, as it was looked at once: the text that
// pdftotext finds, and the first page as pdftoppm draws it. REFLOAT_GOLDEN=1 writes
// both anew, to be looked at again.
func TestPapersSayAndLookAsTheyDid(t *testing.T) {
	for name, pdf := range goldenPapers(t) {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "paper.pdf")
			require.NoError(t, os.WriteFile(file, pdf, 0o600))
			text := poppler(t, "pdftotext", "-layout", file, "-")
			picture := poppler(t, "pdftoppm", "-png", "-gray", "-r", "50", "-f", "1", "-l", "1", file)
			golden := filepath.Join("testdata", "papers", name)
			if os.Getenv("REFLOAT_GOLDEN") != "" {
				require.NoError(t, os.WriteFile(golden+".txt", text, 0o644))
				require.NoError(t, os.WriteFile(golden+".png", picture, 0o644))
			}
			want, err := os.ReadFile(golden + ".txt")
			require.NoError(t, err)
			assert.Equal(t, strings.Fields(string(want)), strings.Fields(string(text)))
			drawn, err := os.ReadFile(golden + ".png")
			require.NoError(t, err)
			assert.Less(t, difference(t, drawn, picture), 1.0, "grey levels of 255, on average")
		})
	}
}

func poppler(t *testing.T, program string, args ...string) []byte {
	t.Helper()
	out, err := exec.Command(program, args...).Output()
	require.NoError(t, err, "deploy/needs pdftotext:poppler-utils installs it")
	return out
}

// difference is the mean difference of two grey pictures. Another version of the
// drawing program smooths letters a little differently.
func difference(t *testing.T, one, other []byte) float64 {
	t.Helper()
	a, b := grey(t, one), grey(t, other)
	require.Equal(t, a.Bounds(), b.Bounds())
	sum := 0
	for i := range a.Pix {
		sum += max(int(a.Pix[i])-int(b.Pix[i]), int(b.Pix[i])-int(a.Pix[i]))
	}
	return float64(sum) / float64(len(a.Pix))
}

func grey(t *testing.T, raw []byte) *image.Gray {
	t.Helper()
	picture, err := png.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	g := image.NewGray(picture.Bounds())
	draw.Draw(g, g.Bounds(), picture, g.Bounds().Min, draw.Src)
	return g
}
