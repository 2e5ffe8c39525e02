package web

import (
	_ "embed"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/text/language"

	"refloat.example/pkg/clock"
)

// A page is written in English, and said in the reader's language on its way out:
// the catalogue has each English text beside its translations. Texts with numbers
// or names in them are patterns there. So rooms, which speak English, are
// understood by applicants as well, and no text has to be known twice.

// languages are those of which the catalogue is complete, English first.
var languages = []string{"en", "es", "fr"}

// languageOptions are named in the language itself.
var languageOptions = []Option{{"en", "English"}, {"es", "Español"}, {"fr", "Français"}}

// pseudo is a language of tests, in which everything that the catalogue has
// stands in brackets. It is empty outside tests.
var pseudo = ""

// voice is how a page speaks: its language, and metric or US units.
type voice struct {
	Lang string // as in languages
	US   bool   // feet and pounds
}

var plain = voice{Lang: "en"}

// Cookies of what a reader has chosen by hand.
const (
	languageCookie = "refloat-language"
	unitsCookie    = "refloat-units"
	choiceFor      = 365 * 24 * time.Hour
)

// matcher finds the best of our languages for a browser's list (RFC 4647).
var matcher = language.NewMatcher([]language.Tag{language.English, language.Spanish, language.French})

// wanted gives the voice that a reader has chosen by hand, else the one that suits
// what their browser asks for. Units are those of the region, of which the United
// States alone weighs people in pounds here.
func wanted(r *http.Request) voice {
	v := plain
	if tags, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language")); err == nil && len(tags) > 0 {
		_, best, _ := matcher.Match(tags...)
		v.Lang = languages[best]
		region, sure := tags[0].Region()
		v.US = sure == language.Exact && region.String() == "US"
	}
	if c, err := r.Cookie(languageCookie); err == nil && (slices.Contains(languages, c.Value) || pseudo != "" && c.Value == pseudo) {
		v.Lang = c.Value
	}
	if c, err := r.Cookie(unitsCookie); err == nil {
		v.US = c.Value == "us"
	}
	return v
}

// voice gives how this page speaks. Pages of members are English and metric until
// the catalogue has them: a page is either said whole or not at all.
func (v *visit) voice() voice {
	if v.Who.Member() {
		return plain
	}
	return wanted(v.r)
}

// say gives a text in the reader's language and units.
func (v *visit) say(text string) string { return v.voice().say(text) }

func (s voice) say(text string) string {
	if s == plain || text == "" {
		return text
	}
	said, _ := s.translate(text)
	return s.measures(said)
}

// translate looks a text up. What the catalogue does not have stays as it is.
func (s voice) translate(text string) (string, bool) {
	if s.Lang == "en" {
		return text, true
	}
	words := theCatalogue()
	if said, ok := words.exact[text]; ok {
		return said.in(s.Lang, text), true
	}
	for _, p := range words.patterns {
		if !strings.HasPrefix(text, p.head) || !strings.HasSuffix(text, p.tail) {
			continue
		}
		if found := p.english.FindStringSubmatch(text); found != nil {
			return s.fillGaps(p.said.in(s.Lang, p.said.en), found[1:]), true
		}
	}
	return text, false
}

// fillGaps puts what stood in the gaps of an English text into those of its
// translation.
func (s voice) fillGaps(said string, gaps []string) string {
	var pairs []string
	for i, gap := range gaps {
		pairs = append(pairs, fmt.Sprintf("{%d}", i+1), s.gap(gap), fmt.Sprintf("{n%d}", i+1), gap)
	}
	return strings.NewReplacer(pairs...).Replace(said)
}

// gap says what stands in a gap: a word, a list of words, a day, or data.
func (s voice) gap(text string) string {
	if said, ok := s.translate(text); ok {
		return said
	}
	if day, err := clock.ParseDate(text); err == nil {
		return s.day(day)
	}
	list := strings.Split(text, ", ")
	for i, each := range list {
		list[i], _ = s.translate(each)
	}
	return strings.Join(list, ", ")
}

// sayWords says a list of words and measures, of which each may be data.
func (s voice) sayWords(text string) string {
	if s == plain {
		return text
	}
	return s.measures(s.gap(text))
}

// said is one text of the catalogue.
type said struct{ en, es, fr string }

func (s said) in(lang, english string) string {
	switch lang {
	case "es":
		return s.es
	case "fr":
		return s.fr
	case pseudo:
		return "⟦" + english + "⟧"
	}
	return s.en
}

// pattern is a text of the catalogue that has gaps.
type pattern struct {
	said       said
	english    *regexp.Regexp
	head, tail string // the text before the first gap and after the last
}

type catalogue struct {
	exact    map[string]said
	patterns []pattern
	texts    []said // in the order of the file
}

//go:embed words/catalogue.txt
var catalogueText string

var theCatalogue = sync.OnceValue(func() *catalogue {
	c, err := readCatalogue(catalogueText)
	if err != nil {
		panic(err) // the file is part of the program, and a test reads it
	}
	return c
})

// readCatalogue reads triples of lines, "en …", "es …" and "fr …", with a blank
// line between. Lines that begin with # explain.
func readCatalogue(text string) (*catalogue, error) {
	c := &catalogue{exact: map[string]said{}}
	var now said
	for n, line := range strings.Split(text, "\n") {
		tag, words, _ := strings.Cut(line, " ")
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case tag == "en" && now == (said{}):
			now.en = words
		case tag == "es" && now.en != "" && now.es == "" && now.fr == "":
			now.es = words
		case tag == "fr" && now.es != "" && words != "":
			now.fr = words
			if err := c.add(now); err != nil {
				return nil, fmt.Errorf("catalogue, line %d: %w", n+1, err)
			}
			now = said{}
		default:
			return nil, fmt.Errorf("catalogue, line %d: en, es and fr stand in this order, each with a text: %q", n+1, line)
		}
	}
	if now != (said{}) {
		return nil, fmt.Errorf("catalogue: the last text is not complete: %q", now.en)
	}
	slices.SortStableFunc(c.patterns, func(a, b pattern) int { return literal(b.said.en) - literal(a.said.en) })
	return c, nil
}

var gaps = regexp.MustCompile(`\{n?\d\}`)

// literal counts what a pattern says outside its gaps: of two that fit, the one
// that says more is meant.
func literal(text string) int { return len(gaps.ReplaceAllString(text, "")) }

func (c *catalogue) add(s said) error {
	c.texts = append(c.texts, s)
	if _, twice := c.exact[s.en]; twice {
		return fmt.Errorf("%q stands twice", s.en)
	}
	found := gaps.FindAllString(s.en, -1)
	for _, other := range []string{s.es, s.fr} {
		theirs := gaps.FindAllString(other, -1)
		for _, gap := range append(found, theirs...) {
			if !slices.Contains(theirs, gap) || !slices.Contains(found, gap) {
				return fmt.Errorf("%q has other gaps than %q", other, s.en)
			}
		}
	}
	c.exact[s.en] = s
	if len(found) == 0 {
		return nil
	}
	expression, rest := "^", s.en
	for i, gap := range found {
		if strings.TrimPrefix(strings.Trim(gap, "{}"), "n") != strconv.Itoa(i+1) {
			return fmt.Errorf("the gaps of %q are not counted from 1", s.en)
		}
		before, after, _ := strings.Cut(rest, gap)
		expression += regexp.QuoteMeta(before)
		if strings.HasPrefix(gap, "{n") {
			expression += `(\d[\d.]*)`
		} else {
			expression += `(.+?)`
		}
		rest = after
	}
	english, err := regexp.Compile(expression + regexp.QuoteMeta(rest) + "$")
	if err != nil {
		return err
	}
	head, _, _ := strings.Cut(s.en, found[0])
	c.patterns = append(c.patterns, pattern{s, english, head, rest})
	return nil
}

// ---- numbers, days and measures ----

var (
	decimal  = regexp.MustCompile(`\b(\d+)\.(\d+)\b`)
	measured = regexp.MustCompile(`(\d+(?:\.\d+)?)(?: (to|a|à|and|y|et) (\d+(?:\.\d+)?))? (kg|m)\b`)
)

// One pound is 0.45359237 kg and one foot 0.3048 m, exactly (NIST Special
// Publication 811, 2008, appendix B).
const (
	poundKG = 0.45359237
	footM   = 0.3048
)

// measures writes the measures and numbers in a text as the reader does.
func (s voice) measures(text string) string {
	if s.US {
		text = measured.ReplaceAllStringFunc(text, toUS)
	}
	return s.number(text)
}

// number writes a decimal number as the reader does.
func (s voice) number(text string) string {
	if s.Lang == "es" || s.Lang == "fr" {
		return decimal.ReplaceAllString(text, "$1,$2")
	}
	return text
}

// inPounds names the units of a label as a reader in the United States does.
var inPounds = strings.NewReplacer(", kg", ", lb", "in kilograms", "in pounds", "in metres", "in feet")

// label says what stands beside an input, with the unit in which it is typed.
func (s voice) label(text string) string {
	if s.US {
		text = inPounds.Replace(text)
	}
	return s.say(text)
}

// toUS turns "5 to 40 kg" into "11 to 88 lb", and "4.88 m" into "16 ft".
func toUS(text string) string {
	found := measured.FindStringSubmatch(text)
	low, high, kilo := number64(found[1]), number64(found[3]), found[4] == "kg"
	switch {
	case found[2] != "" && kilo:
		return pounds(low) + " " + found[2] + " " + pounds(high) + " lb"
	case found[2] != "":
		return oneDigit(low/footM) + " " + found[2] + " " + oneDigit(high/footM) + " ft"
	case kilo:
		return pounds(low) + " lb"
	}
	return feetAndInches(low)
}

func number64(text string) float64 {
	n, _ := strconv.ParseFloat(text, 64) // the expression lets numbers through only
	return n
}

// pounds rounds to whole pounds, small masses to tenths.
func pounds(kg float64) string {
	if lb := kg / poundKG; lb >= 20 {
		return strconv.FormatFloat(math.Round(lb), 'f', -1, 64)
	}
	return oneDigit(kg / poundKG)
}

func oneDigit(n float64) string { return strconv.FormatFloat(math.Round(n*10)/10, 'f', -1, 64) }

func feetAndInches(m float64) string {
	inches := int(math.Round(m / footM * 12))
	switch feet, rest := inches/12, inches%12; {
	case feet == 0:
		return fmt.Sprintf("%d in", rest)
	case rest == 0:
		return fmt.Sprintf("%d ft", feet)
	default:
		return fmt.Sprintf("%d ft %d in", feet, rest)
	}
}

// Names of months, and how days are written with them: the long patterns of
// Unicode CLDR for en-GB, es and fr.
var months = map[string][]string{
	"es": {"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"},
	"fr": {"janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre", "novembre", "décembre"},
}

func (s voice) day(d clock.Date) string {
	t := d.Time()
	switch s.Lang {
	case "es":
		return fmt.Sprintf("%d de %s de %d", t.Day(), months["es"][t.Month()-1], t.Year())
	case "fr":
		day := strconv.Itoa(t.Day())
		if t.Day() == 1 {
			day = "1er"
		}
		return fmt.Sprintf("%s %s %d", day, months["fr"][t.Month()-1], t.Year())
	}
	return t.Format("2 January 2006")
}

func (s voice) moment(t time.Time) string {
	t = t.UTC()
	if s.Lang == "en" {
		return t.Format("2 January 2006, 15:04 UTC")
	}
	return s.day(clock.DateOf(t)) + t.Format(", 15:04 UTC")
}

// unitsInput is the hidden input that says in which units a form was shown.
const unitsInput = "units"

// voiceTyped is voice, but for the units: those of the form that was sent, when one
// was. A reader may have chosen others on another page since.
func (v *visit) voiceTyped() voice {
	s := v.voice()
	switch v.typed.Get(unitsInput) {
	case "us":
		s.US = true
	case "metric":
		s.US = false
	}
	return s
}

// unitsName is what unitsInput and the cookie hold.
func (s voice) unitsName() string {
	if s.US {
		return "us"
	}
	return "metric"
}

// units gives the units in which this reader types measures.
func (s voice) units() units {
	if !s.US {
		return nil
	}
	return units{"_g": poundsTyped, "_mm": feetTyped}
}
