package web

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the applicant's pages say is held to a named formula in each language. The
// coefficients are from the papers as they are commonly reprinted (from memory):
//
//   - English: the Flesch-Kincaid grade, 0.39 words a sentence + 11.8 syllables a
//     word − 15.59 (Kincaid, Fishburne, Rogers, Chissom: Derivation of new
//     readability formulas for Navy enlisted personnel, 1975). Limit: grade 5, what
//     somebody of ten or eleven reads.
//   - Spanish: Fernández Huerta, Medidas sencillas de lecturabilidad, 1959:
//     206.84 − 60 syllables a word − 1.02 words a sentence. Limit: 75, fairly easy.
//   - French: Kandel and Moles, Application de l'indice de Flesch à la langue
//     française, 1958: 207 − 1.015 words a sentence − 73.6 syllables a word. Limit: 75.
//
// A formula counts words and syllables; it does not know whether a sentence is
// clear. The mean is over the sentences of the catalogue, which are the applicant's
// and donor's; and no sentence is longer than 30 words.
func TestTheApplicantsTextsArePlain(t *testing.T) {
	c, err := readCatalogue(catalogueText)
	require.NoError(t, err)
	for language, text := range map[string]func(said) string{
		"en": func(s said) string { return s.en }, "es": func(s said) string { return s.es }, "fr": func(s said) string { return s.fr },
	} {
		all := measureOf{}
		for _, s := range c.texts {
			for _, sentence := range sentencesOf(text(s)) {
				m := measureText(language, sentence)
				assert.LessOrEqual(t, m.words, 30.0, "%s: %s", language, sentence)
				all = all.plus(m)
			}
		}
		require.Greater(t, all.sentences, 100.0)
		t.Logf("%s: %.1f words a sentence, %.2f syllables a word: %.1f", language, all.words/all.sentences, all.syllables/all.words, all.score(language))
		if language == "en" {
			assert.LessOrEqual(t, all.score(language), 5.0)
		} else {
			assert.GreaterOrEqual(t, all.score(language), 75.0, language)
		}
	}
}

// Syllables of words by the hyphenation of common dictionaries (from memory), and a
// sentence whose grade is well known: "The cat sat on the mat." has six words of
// one syllable each, which makes 0.39·6 + 11.8 − 15.59 = −1.45.
func TestSyllablesAreCounted(t *testing.T) {
	for language, words := range map[string]map[string]float64{
		"en": {"boat": 1, "water": 2, "answer": 2, "erase": 2, "private": 2, "request": 2, "people": 2, "offered": 2, "canoe": 2, "decided": 3, "mended": 2, "table": 2, "whoever": 3, "anybody": 4},
		"es": {"bote": 2, "embarcación": 4, "día": 2, "agua": 2, "solicitud": 4, "aún": 2, "tiene": 2, "oír": 2, "página": 3, "queda": 2, "guarde": 2, "nombre": 2},
		"fr": {"bateau": 2, "demande": 2, "vous": 1, "eau": 1, "canoë": 3, "rivière": 2, "effacées": 3, "peuvent": 1, "adresse": 2, "réponse": 2, "quelqu’un": 2, "jusqu’à": 2},
	} {
		for word, want := range words {
			assert.Equal(t, want, measureText(language, word).syllables, word)
		}
	}
	m := measureText("en", "The cat sat on the mat.")
	assert.InDelta(t, -1.45, m.score("en"), 0.005)
}

type measureOf struct{ sentences, words, syllables float64 }

func (m measureOf) plus(o measureOf) measureOf {
	return measureOf{m.sentences + o.sentences, m.words + o.words, m.syllables + o.syllables}
}

func (m measureOf) score(language string) float64 {
	long, heavy := m.words/m.sentences, m.syllables/m.words
	switch language {
	case "es":
		return 206.84 - 60*heavy - 1.02*long
	case "fr":
		return 207 - 1.015*long - 73.6*heavy
	}
	return 0.39*long + 11.8*heavy - 15.59
}

var sentenceEnd = regexp.MustCompile(`[.?!]+(\s|$)`)

// sentencesOf gives the sentences of a text that is at least one; labels and single
// words are none.
func sentencesOf(text string) []string {
	if !strings.ContainsAny(text[len(text)-1:], ".?!") {
		return nil
	}
	var list []string
	for _, s := range sentenceEnd.Split(gaps.ReplaceAllString(text, "7"), -1) {
		if strings.TrimSpace(s) != "" {
			list = append(list, s)
		}
	}
	return list
}

var word = regexp.MustCompile(`[\p{L}’']+|\d[\d.,]*`)

func measureText(language, text string) measureOf {
	m := measureOf{sentences: 1}
	for _, w := range word.FindAllString(strings.ToLower(text), -1) {
		m.words++
		m.syllables += math.Max(1, float64(syllables(language, w)))
	}
	return m
}

var (
	spanishHiatus = regexp.MustCompile(`[aeoáéó][aeoáéó]|[aeoáéó][íú]|[íú][aeoáéó]`)
	spanishVowels = regexp.MustCompile(`[aeiouáéíóúü]+`)
	mute          = strings.NewReplacer("que", "ke", "qui", "ki", "gue", "ge", "gui", "gi", "qué", "ké", "quí", "kí")
	frenchVowels  = regexp.MustCompile(`[aeiouyàâäéèêëîïôöùûüœ]+`)
	englishVowels = regexp.MustCompile(`[aeiouy]+`)
)

// syllables counts groups of vowels, with what each language is known to do apart.
func syllables(language, w string) int {
	switch language {
	case "es":
		w = mute.Replace(w)
		n := 0
		for _, group := range spanishVowels.FindAllString(w, -1) {
			n++
			for i, runes := 0, []rune(group); i+1 < len(runes); i++ {
				if spanishHiatus.MatchString(string(runes[i : i+2])) {
					n++
				}
			}
		}
		return n
	case "fr":
		w = strings.ReplaceAll(w, "qu", "k")
		n := len(frenchVowels.FindAllString(w, -1))
		n += strings.Count(w, "oë")
		for _, silent := range []string{"es", "ent", "e"} {
			if stem, ok := strings.CutSuffix(w, silent); ok && n > 1 {
				if last := stem[len(stem)-1:]; !strings.ContainsAny(last, "aeiouy\xa9\xa8") {
					n--
				}
				break
			}
		}
		return n
	}
	n := len(englishVowels.FindAllString(w, -1))
	switch {
	case strings.HasSuffix(w, "le") || strings.HasSuffix(w, "ted") || strings.HasSuffix(w, "ded"):
	case strings.HasSuffix(w, "oe"), strings.HasSuffix(w, "ee"), strings.HasSuffix(w, "ie"), strings.HasSuffix(w, "ue"):
	case strings.HasSuffix(w, "e") || strings.HasSuffix(w, "ed") || strings.HasSuffix(w, "es") && !strings.HasSuffix(w, "ses"):
		n--
	}
	if strings.Contains(w, "oev") {
		n++
	}
	return n
}
