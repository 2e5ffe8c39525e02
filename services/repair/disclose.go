package repair

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/receipt"
)

// disclosureSheet gives the honest page of a boat as PDF, as things stand now.
func (s *service) disclosureSheet(ctx context.Context, _ desk.Caller, q message.DisclosureSheet) (message.Sheet, error) {
	a, err := s.about(ctx, q.Boat)
	if err != nil {
		return message.Sheet{}, err
	}
	format, err := s.Setting(ctx, "paper-format")
	if err != nil {
		return message.Sheet{}, err
	}
	sheet := a.bench.page(a.hull)
	sheet.Format = receipt.Letter
	if format == "A4" {
		sheet.Format = receipt.A4
	}
	if sheet.Issued = clock.DateOf(s.Clock.Now()); a.bench.ready == nil {
		sheet.Title += " (not ready)"
	}
	pdf, err := receipt.RenderSheet(sheet)
	return message.Sheet{Name: "disclosure-" + fileName(a.hull.name) + ".pdf", PDF: pdf}, err
}

// fileName keeps what every system takes in a file's name.
func fileName(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, strings.ToLower(name))
}

// page says in plain words what was wrong, what was done, what was left and what
// to watch. Repairs never disappear from it, and neither do waived tests.
func (b *bench) page(h *hull) receipt.Sheet {
	sheet := receipt.Sheet{
		Language: "en", Title: "Disclosure of " + h.name, Reference: hullNumber(h.facts),
		Sections: []receipt.Section{b.theBoat(h), b.theFindings(h), b.theTests(h), b.theLife(h)},
		Cautions: []string{
			"A mended boat is not a new one. Look at the places named above before every outing and stop using it when one of them has changed.",
			"Nothing on this page says that the boat is fit for a certain water, load or person: the maker's label, local rules and a look at the day's water decide.",
		},
		Notes: []string{
			"This page names what was found by those who looked, and nothing more. There may be damage that nobody saw.",
			"It goes with the boat. Whoever passes the boat on passes this page on with it.",
		},
		Signatures: []string{"Who takes the boat over: I have read every line above", "For the club"},
	}
	if lines := b.theWaivers(); len(lines) > 0 {
		sheet.Sections = append(sheet.Sections, receipt.Section{Heading: "Tests that were left out, and why", Lines: lines})
	}
	return sheet
}

func hullNumber(f message.BoatFacts) string {
	if f.HullNumber == "" {
		return "No hull number: " + cmp.Or(f.NoHullNumber, "no reason stated")
	}
	return "Hull number " + f.HullNumber
}

func (b *bench) theBoat(h *hull) receipt.Section {
	lines := []receipt.Line{
		{Label: "Type", Value: string(h.kind)},
		{Label: "Material", Value: string(h.material)},
		{Label: "Maker and model", Value: cmp.Or(strings.TrimSpace(h.facts.Maker+" "+h.facts.Model), "not known")},
		{Label: "Hull number", Value: strings.TrimPrefix(hullNumber(h.facts), "Hull number ")},
	}
	if b.ready != nil {
		lines = append(lines, receipt.Line{Label: "Condition", Value: fmt.Sprintf("%d of 5 when the workshop declared it ready", b.ready.Grade)})
	}
	return receipt.Section{Heading: "The boat", Lines: lines}
}

// theFindings gives every finding and its end.
func (b *bench) theFindings(h *hull) receipt.Section {
	section := receipt.Section{Heading: "What was wrong, and what became of it"}
	for _, f := range h.findings {
		value := "Found: " + string(f.severity) + ". " + b.fate(h, f)
		if f.loadBearing {
			value += " The place carries load."
		}
		section.Lines = append(section.Lines, receipt.Line{Label: f.words(), Value: value})
	}
	if len(h.findings) == 0 {
		section.Lines = []receipt.Line{{Label: "Findings", Value: "none noted; that is no promise that there are none"}}
	}
	return section
}

// fate is a finding's end, or that it has none yet.
func (b *bench) fate(h *hull, f finding) string {
	if _, ended := b.ends[f.id]; ended || f.withdrawn != "" || b.ready != nil {
		return b.endOf(h, f)
	}
	text := ""
	for _, t := range b.tries[f.id] {
		text += t.words + " (a test showed that this did not hold). "
	}
	if f.forbids() {
		return text + "Open: the boat must not be used like this."
	}
	return text + "Open."
}

// theTests gives every test that was made, in order, the failed ones included.
func (b *bench) theTests(h *hull) receipt.Section {
	section := receipt.Section{Heading: "How it was tested"}
	for _, t := range b.trials {
		result := "failed"
		if t.passed {
			result = "passed"
		}
		section.Lines = append(section.Lines, receipt.Line{
			Label: fmt.Sprintf("%s, %s", t.what, t.on), Value: strings.Join(append([]string{result + ": " + t.words}, t.numbers()...), "; "),
		})
	}
	for _, n := range b.needed(h) {
		if b.lacks(n) != "" {
			section.Lines = append(section.Lines, receipt.Line{Label: string(n.Test), Value: "missing: needed because " + n.Because})
		}
	}
	return section
}

// numbers writes what a test states beside its reading.
func (t trial) numbers() []string {
	var list []string
	add := func(stated bool, format string, args ...any) {
		if stated {
			list = append(list, fmt.Sprintf(format, args...))
		}
	}
	add(t.How != "", "%s", t.How)
	add(t.Minutes > 0, "for %d minutes", t.Minutes)
	add(t.LoadG > 0, "with %g kg", float64(t.LoadG)/1000)
	add(t.LoadPercent > 0, "%d %% of the rated load", t.LoadPercent)
	add(t.PressureMbar > 0, "at %.2f bar", float64(t.PressureMbar)/1000)
	add(t.RatedMbar > 0, "rated %.2f bar", float64(t.RatedMbar)/1000)
	return list
}

// theLife says how long the boat may serve, where something supports a number:
// nothing that this program knows does.
func (b *bench) theLife(h *hull) receipt.Section {
	section := receipt.Section{Heading: "What to watch"}
	for _, f := range h.findings {
		_, ended := b.ends[f.id]
		switch {
		case f.withdrawn != "":
		case b.ends[f.id].mended:
			section.Lines = append(section.Lines, receipt.Line{Label: f.words(), Value: "mended: look for a new crack at its edges, white plastic, or damp inside"})
		case ended || f.severity != boat.Use:
			section.Lines = append(section.Lines, receipt.Line{Label: f.words(), Value: "left: look whether it grows"})
		}
	}
	return receipt.Section{Heading: section.Heading, Lines: append(section.Lines, receipt.Line{
		Label: "How long it will serve", Value: "No number is given: nothing that was measured on this boat supports one.",
	})}
}

// theWaivers gives the tests that an administrator let be left out, whether or not
// they were made later.
func (b *bench) theWaivers() []receipt.Line {
	var lines []receipt.Line
	for _, w := range b.waivers {
		lines = append(lines, receipt.Line{Label: string(w.what), Value: w.why})
	}
	return lines
}
