package receipt

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

func sheet() Sheet {
	return Sheet{
		Format: A4, Language: "en", Title: "Hand-over check list", Reference: "boat 17", Issued: clock.MustDate("2026-07-06"),
		Sections: []Section{{"The boat", []Line{{"Maker", "Thrushcraft"}, {"Length", "4.6 m"}}}},
		Checks:   []Check{{"Hatch covers close", true}, {"Deck lines whole", false}},
		Notes:    []string{"Repaired by members; see the disclosure sheet."},
		Cautions: []string{"Wear a life jacket. Cold water can kill within minutes."},
		Signatures: []string{
			"Handed over by", "Received by",
		},
	}
}

func TestASheetHasItsContent(t *testing.T) {
	pdf, err := RenderSheet(sheet())
	require.NoError(t, err)
	text, plain := flat(t, pdf), SheetText(sheet())
	for _, part := range []string{"Hand-over check list", "boat 17, 2026-07-06", "Thrushcraft", "4.6 m", "Hatch covers close", "Deck lines whole",
		"Repaired by members", "Cold water can kill within minutes.", "Handed over by", "Received by"} {
		assert.Contains(t, text, part)
		assert.Contains(t, plain, part)
	}
	assert.Contains(t, text, "boat 17, page 1 of 1")
	assert.Contains(t, plain, "[x] Hatch covers close\n[ ] Deck lines whole\n")
	assert.NotContains(t, text, Caution, "a sheet is no tax paper")
}

func TestASheetIsTheSameOverRuns(t *testing.T) {
	first, err := RenderSheet(sheet())
	require.NoError(t, err)
	again, err := RenderSheet(sheet())
	require.NoError(t, err)
	assert.Equal(t, first, again)
	undone := sheet()
	undone.Checks[0].Done = false
	other, err := RenderSheet(undone)
	require.NoError(t, err)
	assert.NotEqual(t, first, other, "a done item is crossed")
}

func TestALongCheckListRunsOn(t *testing.T) {
	s := sheet()
	s.Format = Letter
	for range 80 {
		s.Checks = append(s.Checks, Check{Text: strings.Repeat("bulkhead ", 20)})
	}
	pdf, err := RenderSheet(s)
	require.NoError(t, err)
	assert.Equal(t, 1600, strings.Count(flat(t, pdf), "bulkhead "))
	insideMargins(t, pdf)
}

func TestAHeadingIsNotTheLastLineOfAPage(t *testing.T) {
	for lines := range 4 { // so that some page ends at each place of a section
		s := sheet()
		s.Sections = []Section{{"", make([]Line, lines)}}
		for range 40 {
			s.Sections = append(s.Sections, Section{"Bulkhead", []Line{{"state", "whole"}}})
		}
		pdf, err := RenderSheet(s)
		require.NoError(t, err)
		for page := range strings.SplitSeq(string(poppler(t, "pdftotext", pdf, "-layout")), "\f") {
			words := strings.Fields(page)
			if i := slices.Index(words, "page"); i > 2 {
				assert.NotEqual(t, "Bulkhead", words[i-3], "before the footer: %s, page", words[i-1])
			}
		}
	}
}

// 14 mm to sign in below a margin of 20 mm are 96 points.
func TestALineToSignOnHasItsRoom(t *testing.T) {
	s := sheet()
	s.Signatures = slices.Repeat([]string{"Signing"}, 40)
	pdf, err := RenderSheet(s)
	require.NoError(t, err)
	words := regexp.MustCompile(`yMin="([\d.]+)" [^>]*>Signing<`).FindAllStringSubmatch(string(poppler(t, "pdftotext", pdf, "-bbox")), -1)
	require.Len(t, words, 40)
	for _, w := range words {
		assert.Greater(t, points(t, w[1]), 96.0)
	}
}

func TestWhatIsSignedStandsWhereItIsSigned(t *testing.T) {
	for lines := 30; lines < 46; lines++ { // so that the page ends at each place of the notes
		s := sheet()
		s.Checks, s.Cautions, s.Sections = nil, nil, []Section{{"Bulkhead", make([]Line, lines)}}
		s.Notes, s.Signatures = []string{"Both sign that this was said."}, []string{"Signing", "Signing"}
		pdf, err := RenderSheet(s)
		require.NoError(t, err)
		for page := range strings.SplitSeq(string(poppler(t, "pdftotext", pdf, "-layout")), "\f") {
			assert.Equal(t, strings.Contains(page, "Signing"), strings.Contains(page, "Both sign"), "%d lines:\n%s", lines, page)
			assert.NotEqual(t, 1, strings.Count(page, "Signing"), "%d lines", lines)
		}
	}
}

func TestWhatASheetCannotHave(t *testing.T) {
	for field, change := range map[string]func(*Sheet){
		"format":         func(s *Sheet) { s.Format = "" },
		"language":       func(s *Sheet) { s.Language = "fr" },
		"title":          func(s *Sheet) { s.Title = "" },
		"issued":         func(s *Sheet) { s.Issued = clock.Date{} },
		"reference":      func(s *Sheet) { s.Reference = "漢" },
		"checks[1].text": func(s *Sheet) { s.Checks[1].Text = "漢" },
		"notes[0]":       func(s *Sheet) { s.Notes[0] = "漢" },
		"cautions[0]":    func(s *Sheet) { s.Cautions[0] = "漢" },
		"signatures[1]":  func(s *Sheet) { s.Signatures[1] = "漢" },
	} {
		s := sheet()
		change(&s)
		_, err := RenderSheet(s)
		assert.Equal(t, field, fault.Of(err).Field)
	}
}
