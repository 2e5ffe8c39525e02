package main

import (
	"errors"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/services/refloat/importer"
)

// stops are the pages of the demonstration club, by whom they are for.
var stops = []struct {
	mail  string // whom to sign in; "" for nobody
	name  string
	path  string
	heard string // what the page says
}{
	{"", "welcome", "/", "boat"},
	{"", "sign-in", "/sign-in", "mail"},
	{"", "ask", "/ask", "ask for"},
	{"", "tag-of-a-boat", "/tag/any", "books of a paddling club"},
	{"mara@quillwater.example", "home-steward", "/", "boat"},
	{"", "boats", "/boats", "Heron"},
	{"", "search", "/search?q=he", "Heron"},
	{"", "search-for-nothing", "/search?q=zzz", "Nothing that you may open"},
	{"", "tags", "/boats/tags?state=ready", "weatherproof"},
	{"", "log-a-boat", "/boats/new", "hull number"},
	{"", "boat-heron", "@boat/heron", "Heron"},
	{"", "boat-wren", "@boat/wren", "hatch rim"},
	{"", "boat-grebe", "@boat/grebe", "brittle"},
	{"", "boat-osprey", "@boat/osprey", "look"},
	{"", "history-wren", "@boat/wren/history", "test"},
	{"", "hull-number", "/hull-number?number=XYZ12345L495", "model year 1995"},
	{"", "racks", "/racks", "lie"},
	{"", "new-place", "/racks/new", "width"},
	{"", "move-heron", "@boat/heron/move", "lies now"},
	{"", "photos-heron", "@boat/heron/photos", "camera"},
	{"", "life-jacket", "@boat/heron/jackets/inflatable", "33 CFR 175.23(c)"},
	{"", "facts-heron", "@boat/heron/facts", "wrong or missing"},
	{"", "right-osprey", "@boat/osprey/right", "entitles the giver"},
	{"", "drying-osprey", "@boat/osprey/quarantine", "clean and drain"},
	{"", "price-osprey", "@boat/osprey/price", "price"},
	{"", "accept-osprey", "@boat/osprey/accept", "accept"},
	{"", "decline-osprey", "@boat/osprey/decline", "rules on waste"},
	{"", "agreement-osprey", "@boat/osprey/agreement", "known faults"},
	{"", "find-rates", "/find-rates", "look longer"},
	{"", "comparables", "/comparables", "sold"},
	{"", "how-good-values-were", "/comparables/track", "valuing"},
	{"", "shop", "/shop", "month"},
	{"", "people", "/people", "Mara"},
	{"", "club", "/club", "legal"},
	{"", "signatories", "/club/signatories", "appointed"},
	{"", "appoint-signatory", "/club/signatories/new", "First day"},
	{"", "release", "/release", "own words"},
	{"", "book", "/book", "book"},
	{"", "checkpoints", "/book/checkpoints", "checkpoint"},
	{"", "racks", "/racks", ""},
	{"", "tokens", "/tokens", "token"},
	{"", "signing-in", "/signing-in", "you are here"},
	{"", "not-sent", "/not-sent", "phone"},
	{"", "letters", "/letters", ""},
	{"ines@quillwater.example", "home-repairer", "/", "workshop"},
	{"", "boat-dipper-workshop", "@boat/dipper", "coaming"},
	{"", "work-sheet-dipper", "@boat/dipper/sheet", "Stop and ask"},
	{"", "methods-dipper", "@boat/dipper/methods", "weld"},
	{"", "stock", "/stock", "deck line"},
	{"", "bin-deck-line", "@bin/deck-line", "6.5 metres"},
	{"", "plan-work", "@boat/dipper/work", "Expected time"},
	{"", "book-part", "@boat/dipper/parts", "Photo of the receipt"},
	{"", "record-test", "@boat/dipper/tests", "maker's rated pressure"},
	{"", "timers", "@boat/dipper/timers", "Minutes by the label"},
	{"", "buy-stock", "@bin/deck-line/buy", "Photo of the receipt"},
	{"", "skills", "/skills", "hot work"},
	{"odile@quillwater.example", "home-coordinator", "/", "request"},
	{"", "requests", "/requests", "tier"},
	{"", "request-hollis", "@request/hollis", "canoe"},
	{"", "doubles", "/doubles", ""},
	{"", "rounds", "/rounds", "round"},
	{"", "round-first", "@round/first", "fits"},
	{"", "round-what-if", "@round/first/what-if", "as things are"},
	{"", "round-new", "/rounds/new", "lottery"},
	{"", "who-was-served", "/rounds/served", "not told"},
	{"corin@quillwater.example", "home-treasurer", "/", "paper"},
	{"", "money", "/money", "cost"},
	{"", "volunteers-costs", "/volunteers", "fuel and the ferry"},
	{"", "a-volunteers-cost", "/volunteers/new", "out of their own pocket"},
	{"", "count-boats", "/money/boats/2026", "not counted"},
	{"", "bank", "/money/bank", "the bank"},
	{"", "clocks", "/papers/clocks", "kept up to here"},
	{"", "outlook-heron", "@boat/heron/paper-outlook", "rules"},
	{"", "statement", "/money/statement", "contributions in kind"},
	{"", "papers", "/papers", "US-2026"},
	{"", "copy-a-plover", "@paper/plover/copy-a", "Form 1098-C"},
	{"", "number-of-a-donor", "@boat/plover/donor-number", "Nine digits"},
	{"", "what-the-donor-got", "@boat/osprey/benefit", "good faith"},
	{"", "an-appraisal", "@boat/osprey/appraisal", "independent"},
	{"", "papers-of-a-year", "/papers/years/2026", "US-2026"},
	{"", "numbers-of-papers", "/papers/series", "none stands twice"},
	{"", "cost-book", "@boat/heron/money", "parts"},
	{"", "book-of-a-bin", "@bin/deck-line", "What the accounts come to"},
	{"", "values-of-heron", "@boat/heron/values", "Written down"},
}

// TestTour visits every page of the demonstration club on a phone and on a desk.
// With REFLOAT_PICTURES naming a folder it leaves a picture of each there.
func TestTour(t *testing.T) {
	t.Parallel()
	s := newPlayedInstallation(t).serveSite("--demo", demoFolder)
	pictures, axe := os.Getenv("REFLOAT_PICTURES"), axeScript(t)
	for _, screen := range []struct {
		name          string
		width, height int64
	}{{"phone", 360, 740}, {"desk", 1280, 900}} {
		t.Run(screen.name, func(t *testing.T) {
			t.Parallel()
			v := s.visit(t, screen.width, screen.height)
			for _, stop := range stops {
				if stop.mail != "" {
					if v.signedIn() {
						v.open("/")
						v.signOut()
					}
					v.signIn(stop.mail)
				}
				v.open(addressOf(stop.path))
				v.See(stop.heard)
				v.looksRight(axe, stop.name)
				if pictures != "" {
					v.Picture(filepath.Join(pictures, stop.name+"-"+screen.name+".png"))
				}
			}
			if screen.name == "desk" {
				v.standsOut(axe, pictures)
				v.comesOutOfThePrinter(pictures)
			}
		})
	}
}

// standsOut looks at pages as somebody does who asks for more contrast, in light and
// dark, and as somebody whose system chooses all colours. Contrast is WCAG 2.2, 1.4.6
// (7:1), as axe-core measures it; system colours are those of CSS Color 4, 6.2.
func (v *visitor) standsOut(axe, pictures string) {
	v.t.Helper()
	for _, path := range []string{"/boats", "/money", "@boat/heron/values"} {
		v.open(addressOf(path))
		for _, scheme := range []string{"light", "dark"} {
			v.Prefer("prefers-contrast", "more", "prefers-color-scheme", scheme)
			for _, found := range v.Axe(axe, "color-contrast-enhanced") {
				assert.Fail(v.t, found.Help, "%s (%s): %v", path, scheme, found.Nodes)
			}
			if pictures != "" {
				v.Picture(filepath.Join(pictures, "contrast-"+scheme+"-"+strings.ReplaceAll(path, "/", "-")+".png"))
			}
		}
	}
	v.open("/boats")
	v.Prefer("forced-colors", "active")
	drawn := browsertest.Eval[string](v.Tab, `getComputedStyle(document.querySelector(".hull")).stroke`)
	link := browsertest.Eval[string](v.Tab, `(() => { const a = document.createElement("i"); a.style.color = "LinkText"; document.body.append(a); return getComputedStyle(a).color })()`)
	assert.Equal(v.t, link, drawn, "a drawing takes the colours of the system")
	v.Prefer()
}

// comesOutOfThePrinter prints pages: what they say is on the paper, the navigation is
// not, and no table is cut off. The codes of the tags are read from the paper by
// zbarimg.
func (v *visitor) comesOutOfThePrinter(pictures string) {
	v.t.Helper()
	folder := pictures
	if folder == "" {
		folder = v.t.TempDir()
	}
	for name, page := range map[string]struct{ path, heard string }{
		"boat": {"@boat/heron", "Heron"}, "racks": {"/racks", "At no place in the book"}, "money": {"/money", "Value as gift"}, "cost-book": {"@boat/heron/money", "What the accounts come to"},
	} {
		v.open(addressOf(page.path))
		v.Resize(718, 900) // letter paper, 7.48 inches between its margins, at 96 to the inch
		v.Medium("print")
		assert.Zero(v.t, browsertest.Eval[int](v.Tab, `[...document.querySelectorAll("table")].filter(t => t.getBoundingClientRect().right > innerWidth + 1).length`), "%s: a table is cut off", name)
		v.Medium("")
		file := filepath.Join(folder, "paper-"+name+".pdf")
		v.PDF(file)
		text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
		require.NoError(v.t, err)
		assert.Contains(v.t, string(text), page.heard, name)
		for _, left := range []string{"Sign out", "Search", "Skip to", "Tokens for programs"} {
			assert.NotContains(v.t, string(text), left, "%s on paper", name)
		}
	}
	v.Resize(1280, 900)
	for _, paper := range []struct{ name, size string }{{"a4", `59[45]\.\d+ x 841`}, {"letter", "612 x 792"}} {
		v.open("/boats/tags?paper=" + paper.name)
		var want []string
		for id := range strings.SplitSeq(browsertest.Eval[string](v.Tab, `[...document.querySelectorAll("input[name=boat]")].map(i => i.value).join(" ")`), " ") {
			want = append(want, v.site.base+"/tag/"+id)
		}
		file := filepath.Join(folder, "paper-tags-"+paper.name+".pdf")
		v.PDF(file)
		size, err := exec.Command("pdfinfo", file).Output()
		require.NoError(v.t, err)
		assert.Regexp(v.t, "Page size: +"+paper.size, string(size))
		// A camera is held nearer or farther until it reads; so is this one.
		read := map[string]bool{}
		for _, dots := range []string{"120", "150", "200", "300"} {
			sheet := strings.TrimSuffix(file, ".pdf") + "-" + dots
			require.NoError(v.t, exec.Command("pdftoppm", "-r", dots, "-gray", file, sheet).Run())
			sheets, err := filepath.Glob(sheet + "*.pgm")
			require.NoError(v.t, err)
			codes, err := exec.Command("zbarimg", append([]string{"--quiet", "--raw"}, sheets...)...).Output()
			if none := new(exec.ExitError); !errors.As(err, &none) || none.ExitCode() != 4 { // 4: none was read
				require.NoError(v.t, err)
			}
			for code := range strings.FieldsSeq(string(codes)) {
				read[code] = true
			}
		}
		assert.ElementsMatch(v.t, want, slices.Collect(maps.Keys(read)), "each tag on %s is read", paper.name)
	}
}

func (v *visitor) signedIn() bool {
	v.t.Helper()
	return strings.Contains(browsertest.Eval[string](v.Tab, `document.body ? document.body.innerText : ""`), "Sign out")
}

// addressOf gives the path for "@boat/heron/history" and the like.
func addressOf(path string) string {
	kind, rest, found := strings.Cut(strings.TrimPrefix(path, "@"), "/")
	if !strings.HasPrefix(path, "@") || !found {
		return path
	}
	reference, more, _ := strings.Cut(rest, "/")
	address := "/" + kind + "s/" + importer.ID(kind, reference)
	if kind == "bin" {
		address = "/stock/" + importer.ID(kind, reference)
	}
	if more != "" {
		address += "/" + more
	}
	return address
}

func TestAddresses(t *testing.T) {
	require.Equal(t, "/boats", addressOf("/boats"))
	require.Equal(t, "/boats/"+importer.ID("boat", "wren")+"/history", addressOf("@boat/wren/history"))
}
