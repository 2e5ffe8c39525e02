package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
)

func init() { pseudo = "xx" }

func TestTheCatalogueIsComplete(t *testing.T) {
	c, err := readCatalogue(catalogueText)
	require.NoError(t, err)
	require.NotEmpty(t, c.texts)
	var wanted []string
	for _, list := range [][]string{
		texts(boat.Types), texts(boat.Materials), texts(boat.Features), texts(boat.Zones), texts(boat.Parts), texts(boat.Defects),
	} {
		wanted = append(wanted, list...)
	}
	for _, heading := range headings {
		wanted = append(wanted, heading)
	}
	for _, kind := range boat.Types {
		wanted = append(wanted, kind.WithArticle())
	}
	for _, word := range wanted {
		_, known := c.exact[word]
		assert.True(t, known, "the catalogue lacks %q", word)
	}
	for _, bad := range []string{"en a\nfr b\nes c\n", "en a\nes b\n", "en a\nes b\nfr c\nen a\nes b\nfr c\n", "en {1} a\nes a\nfr {1} a\n", "en {2}\nes {2}\nfr {2}\n", "es a\n"} {
		_, err := readCatalogue(bad)
		assert.Error(t, err, "%q", bad)
	}
}

var verb = regexp.MustCompile(`%(\.\d)?[sdfq]`)

// TestEveryReasonOfTheMatchingRoomIsInTheCatalogue reads the sentences by which the
// room tells a household why a boat does not fit from its source, so that none can
// be added there without its translations.
func TestEveryReasonOfTheMatchingRoomIsInTheCatalogue(t *testing.T) {
	found := 0
	files, err := filepath.Glob("../matching/fit*.go")
	require.NoError(t, err)
	var lacks []string
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		require.NoError(t, err)
		wordsOf := map[*ast.BasicLit]string{}
		ast.Inspect(tree, func(n ast.Node) bool {
			if kv, ok := n.(*ast.KeyValueExpr); ok {
				if key, ok := kv.Key.(*ast.Ident); ok {
					if lit, ok := kv.Value.(*ast.BasicLit); ok {
						wordsOf[lit] = key.Name
					}
				}
			}
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(lit.Value)
			require.NoError(t, err)
			if key := wordsOf[lit]; key == "no" || key == "ask" {
				text = "It " + text + "."
			}
			first := []rune(text + " ")[0]
			if !strings.HasSuffix(text, ".") || !strings.Contains(text, " ") || !unicode.IsUpper(first) && !strings.HasPrefix(text, "%") {
				return true
			}
			found++
			sample := verb.ReplaceAllStringFunc(text, func(v string) string {
				if v == "%d" {
					return "7"
				}
				return map[string]string{"%s": "7.5 kg", "%q": `"7.5 kg"`}[v] + map[bool]string{true: "7.5"}[strings.HasSuffix(v, "f")]
			})
			if _, known := (voice{Lang: "es"}).translate(sample); !known {
				lacks = append(lacks, filepath.Base(file)+": "+text)
			}
			return true
		})
	}
	assert.Empty(t, strings.Join(lacks, "\n"), "the catalogue lacks what the room says")
	assert.Greater(t, found, 50)
}

// Sources: the examples of RFC 9110, section 12.5.4, and lookup by RFC 4647; the
// rest are lists as browsers send them.
func TestTheVoiceIsTheBrowsersOrTheReadersOwn(t *testing.T) {
	for name, row := range map[string]struct {
		accept, language, units string
		want                    voice
	}{
		"nothing said":              {"", "", "", plain},
		"RFC 9110":                  {"da, en-gb;q=0.8, en;q=0.7", "", "", plain},
		"Spanish of Mexico":         {"es-MX,es;q=0.9,en;q=0.8", "", "", voice{"es", false}},
		"French of Canada":          {"fr-CA", "", "", voice{"fr", false}},
		"the better of two":         {"es;q=0.5, fr;q=0.9", "", "", voice{"fr", false}},
		"a language we do not have": {"de-CH, de;q=0.9", "", "", plain},
		"the United States":         {"en-US,en;q=0.9", "", "", voice{"en", true}},
		"Spanish of the States":     {"es-US", "", "", voice{"es", true}},
		"chosen by hand":            {"en-US", "fr", "metric", voice{"fr", false}},
		"units alone":               {"en-GB", "", "us", voice{"en", true}},
		"not a choice":              {"fr", "de", "", voice{"fr", false}},
		"not a list":                {";;;;", "", "", plain},
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Header.Set("Accept-Language", row.accept)
		for cookie, value := range map[string]string{languageCookie: row.language, unitsCookie: row.units} {
			if value != "" {
				r.AddCookie(&http.Cookie{Name: cookie, Value: value})
			}
		}
		assert.Equal(t, row.want, wanted(r), name)
	}
}

// Sources: NIST Special Publication 811 (2008), appendix B: a pound is
// 0.45359237 kg, a foot 0.3048 m, exactly; patterns of days from Unicode CLDR.
func TestMeasuresNumbersAndDays(t *testing.T) {
	us, es, fr := voice{"en", true}, voice{"es", false}, voice{"fr", false}
	for _, row := range []struct {
		in       voice
		en, want string
	}{
		{us, "81 kg", "179 lb"},
		{us, "4.5 kg", "9.9 lb"},
		{us, "4.88 m", "16 ft"},
		{us, "5.2 m", "17 ft 1 in"},
		{us, "0.25 m", "10 in"},
		{us, "A boat weighs 10 to 40 kg. We look for one that you can carry.", "A boat weighs 22 to 88 lb. We look for one that you can carry."},
		{us, "must be from 20 to 400 kg", "must be from 44 to 882 lb"},
		{us, "5 members", "5 members"},
		{es, "The boat is 4.88 m long, and there is room for 3.5 m.", "La embarcación mide 4,88 m, y hay sitio para 3,5 m."},
		{voice{"es", true}, "The boat is 4.88 m long, and there is room for 3.5 m.", "La embarcación mide 16 ft, y hay sitio para 11 ft 6 in."},
		{fr, "The boat has to dry until 2026-04-01, which is 3 days from now.", "Le bateau doit sécher jusqu’au 1er avril 2026, dans 3 jours."},
		{fr, "It lacks something that is needed.", "Il lui manque quelque chose de nécessaire."},
		{es, "The type of boat suits the experience. Of 3 boats, 2 did not pass; for 1 it was the only hindrance.", "El tipo de embarcación va con la experiencia. De 3 embarcaciones, no lo cumplen 2; en 1 era lo único que fallaba."},
		{es, "“Adult 1, kg” is needed", "“Adulto 1, kg”: falta la respuesta"},
		{es, "nobody has this text", "nobody has this text"},
	} {
		assert.Equal(t, row.want, row.in.say(row.en))
	}
	day := clock.NewDate(2026, time.December, 1)
	assert.Equal(t, []string{"1 December 2026", "1 de diciembre de 2026", "1er décembre 2026"}, []string{plain.day(day), es.day(day), fr.day(day)})
	at := time.Date(2026, 8, 2, 14, 5, 0, 0, time.UTC)
	assert.Equal(t, []string{"2 August 2026, 14:05 UTC", "2 de agosto de 2026, 14:05 UTC", "2 août 2026, 14:05 UTC"}, []string{plain.moment(at), es.moment(at), fr.moment(at)})
	assert.Equal(t, "canoa, 81 kg (9 años)", es.sayWords("canoe, 81 kg (9 years)"))

	grams, err := parseMeasure("178.57", voice{US: true}.units().of("wish.adults[0].mass_g"))
	require.NoError(t, err)
	assert.EqualValues(t, 80_998, grams, "178.57 lb of 453.59237 g")
	long, err := parseMeasure("16", voice{US: true}.units().of("wish.storage_mm"))
	require.NoError(t, err)
	assert.EqualValues(t, 4877, long, "16 ft of 304.8 mm are 4876.8 mm")
	assert.Equal(t, "178.57", measure(80_998, poundsTyped))
	assert.Equal(t, kilograms, plain.units().of("wish.gear_g"))
	_, err = parseMeasure("178.573", poundsTyped)
	assert.ErrorContains(t, err, "at most 2 digits")
}

// untold gives what a reader of a page sees that does not come from the catalogue:
// what stands outside the brackets of the pseudo language, without numbers and
// without what the test names as data.
func untold(page *sheet, data ...string) []string {
	var list []string
	see := func(text string) {
		depth := 0
		outside := strings.Map(func(r rune) rune {
			switch r {
			case '⟦':
				depth++
				return ' '
			case '⟧':
				depth--
				return ' '
			}
			if depth > 0 {
				return ' '
			}
			return r
		}, text)
		for _, known := range data {
			outside = strings.ReplaceAll(outside, known, "")
		}
		if strings.ContainsFunc(outside, unicode.IsLetter) {
			list = append(list, strings.TrimSpace(outside))
		}
	}
	for n := range page.root.Descendants() {
		if n.Type == html.TextNode && n.Parent.Data != "style" && n.Parent.Data != "script" && n.Parent.Data != "time" && attr(n.Parent, "lang") == "" && attr(n.Parent, "name") != "language" {
			see(n.Data)
		}
		for _, name := range []string{"aria-label", "title", "alt", "placeholder"} {
			if n.Type == html.ElementNode {
				see(attr(n, name))
			}
		}
	}
	return list
}

// speaks chooses a language and units by hand, as a reader does: the language at the head
// of the page, the units at its foot.
func (b *browser) speaks(language, units string) {
	b.t.Helper()
	answer := b.send("/speak", map[string][]string{"language": {language}, "units": {units}, "back": {"/ask"}})
	require.Equal(b.t, http.StatusSeeOther, answer.status)
	assert.Equal(b.t, "/ask", answer.to())
}

// translated walks what somebody without an account can open, in the language in
// which everything that the catalogue has stands in brackets.
func (c *club) translated(applicant, donor *browser, offer string) {
	c.t.Helper()
	data := []string{"Quillwater Paddlers of Lake Amberjay", "Heron", "Coot", "Odalys Fenwright", "Odo Reed", "left and watched: shallow", "UTC", "US-2026-0001", "170(f)(8) letter", "http://" + c.site.Addr()}
	private := regexp.MustCompile(`/link/[\w.~-]+`)
	walk := func(b *browser, paths ...string) {
		b.speaks(pseudo, "us")
		for _, path := range paths {
			page := b.get(path)
			assert.Empty(c.t, untold(page.sheet, append(data, private.FindAllString(page.text, -1)...)...), path)
			assert.NotRegexp(c.t, `[^<>]*\d kg|\d m\b`, textOf(page.byID("main")), "%s in pounds and feet", path)
		}
		b.speaks("en", "metric")
	}
	walk(c.visitor(), "/", "/ask", "/sign-in", "/sign-in/abc", "/link/abc", "/nothing-here", "/my/request", "/my/papers")
	walk(applicant, "/", "/my/request", "/my/request/wish", "/my/request/withdraw", "/my/request/erase", offer, strings.Replace(offer, "decline", "accept", 1), "/boats")
	walk(donor, "/my/papers", "/my/papers/erase")
	wrong := c.visitor()
	wrong.speaks(pseudo, "metric")
	back := wrong.fill("/ask", "ask", with(asking, "best", "", "adults", "1", "wish.adults[0].mass_g", "eighty", "wish.adults[1].mass_g", "70", "wish.adults[2].mass_g", "1.2345", "details.name", " ", "details.mail", "", "consent", ""))
	assert.Empty(c.t, untold(back.sheet, append(data, "eighty")...), "a form that cannot be taken")
	back = wrong.fill("/ask", "ask", with(asking, "wish.children[1].years", "19", "wish.storage_mm", "400"))
	assert.Empty(c.t, untold(back.sheet, data...), "a form that the room cannot take")
	wrong.speaks("es", "us")
	form := wrong.open("/ask")
	assert.Contains(c.t, form.text, `<html lang="es">`)
	assert.Contains(c.t, form.text, "Adulto 1, libras")
}
