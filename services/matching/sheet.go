package matching

import (
	"context"
	"fmt"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
	"refloat.example/pkg/receipt"
)

const millimetresAFoot = 304.8

func (s *service) handOverSheet(ctx context.Context, _ desk.Caller, q message.HandOverSheet) (message.Sheet, error) {
	h, err := s.handing(ctx, q.Boat)
	if err != nil {
		return message.Sheet{}, err
	}
	w, err := s.wish(ctx, h.request)
	if err != nil {
		return message.Sheet{}, err
	}
	now := s.Clock.Now()
	rules, err := s.club(ctx, now)
	if err != nil {
		return message.Sheet{}, err
	}
	m, err := s.handedTo(ctx, h, ask{id: h.promise.Request, wish: w}, rules)
	if err != nil {
		return message.Sheet{}, err
	}
	_, set, _, err := s.releaseOn(ctx, rules.today)
	if err != nil {
		return message.Sheet{}, err
	}
	sheet := sheetOf(m)
	if set != nil {
		sheet.Notes = append(releaseNotes(*set, h.signedBy()), sheet.Notes...)
	}
	if sheet.Format, err = s.paper(ctx); err != nil {
		return message.Sheet{}, err
	}
	pdf, err := receipt.RenderSheet(sheet)
	return message.Sheet{Name: "hand-over-" + fileName(h.craft.name) + ".pdf", PDF: pdf}, err
}

// releaseNotes prints the release text above the lines to sign on.
func releaseNotes(set message.ReleaseSet, by string) []string {
	who := "an adult of the household"
	if by == message.SignedByGuardian {
		who = "the guardian, as the boat is for somebody under 18"
	}
	notes := []string{fmt.Sprintf("The club's release text, version %s, to be signed by %s (SHA-256 %s):", set.Version, who, set.SHA256)}
	for part := range strings.SplitSeq(set.Text, "\n") {
		if strings.TrimSpace(part) != "" {
			notes = append(notes, part)
		}
	}
	return notes
}

// handedTo holds a boat against those who will be in it: of two boats that go to one
// household together, one of the adults.
func (s *service) handedTo(ctx context.Context, h handing, a ask, rules club) (match, error) {
	if h.promise.With == "" {
		return match{craft: h.craft, ask: a, club: rules}, nil
	}
	other, err := s.boat(ctx, h.promise.With)
	if err != nil {
		return match{}, err
	}
	// Who sits where was decided when both boats stood in the yard.
	for _, c := range []*craft{&h.craft, &other} {
		c.ready, c.gone, c.held, c.promisedTo = true, "", "", ""
	}
	first, second := h.craft, other
	if second.id < first.id {
		first, second = second, first
	}
	both, _ := seat(first, second, a, rules, s.Clock.Now())
	if both[0].craft.id == h.craft.id {
		return both[0], nil
	}
	return both[1], nil
}

func (s *service) paper(ctx context.Context) (receipt.Format, error) {
	format, err := s.Setting(ctx, "paper-format")
	if format == "A4" {
		return receipt.A4, err
	}
	return receipt.Letter, err
}

// sheetOf makes the sheet that lies on the boat when it is handed over. It is
// printed for those two people and holds the household's numbers.
func sheetOf(m match) receipt.Sheet {
	sheet := receipt.Sheet{
		Language: "en", Title: "Hand-over of " + m.craft.name, Reference: hullNumber(m.craft.facts), Issued: m.club.today,
		Sections: []receipt.Section{boatSection(m.craft.facts), jacketSection(m), loadSection(m), disclosureSection(m.craft.disclosure)},
		Cautions: cautions,
		Notes:    append([]string{dryingNote(m.craft)}, limits...),
		Signatures: []string{
			"For the household: I have read the disclosure and every line above", "For the club",
		},
	}
	if open := conditions(m); len(open.Lines) > 0 {
		sheet.Sections = append(sheet.Sections, open)
	}
	if len(m.craft.waived) > 0 {
		sheet.Sections = append(sheet.Sections, waivedSection(m.craft.waived))
	}
	for _, line := range checkLines(m.craft) {
		sheet.Checks = append(sheet.Checks, receipt.Check{Text: line})
	}
	return sheet
}

// cautions: the numbers are those of the National Center for Cold Water Safety
// (caution below 70 °F) and of the American Canoe Association (60 °F).
var cautions = []string{
	"Cold water takes the breath within a minute, at any air temperature. Dress for the water: below 21 °C (70 °F) with caution, below 15 °C (60 °F) with a wetsuit or drysuit.",
	"Wear a life jacket that fits. A jacket that lies in the boat helps nobody. Nobody is ever tied to the seat or the boat.",
	"Drain the hull before lifting: every litre weighs a kilogram and moves.",
}

// hullNumber tells the sheet's boat from every other.
func hullNumber(f message.BoatFacts) string {
	if f.HullNumber == "" {
		return "No hull number: " + f.NoHullNumber
	}
	return "Hull number " + f.HullNumber
}

func boatSection(f message.BoatFacts) receipt.Section {
	return receipt.Section{Heading: "The boat", Lines: []receipt.Line{
		{Label: "Type", Value: string(f.Type)},
		{Label: "Maker and model", Value: orUnknown(strings.TrimSpace(f.Maker + " " + f.Model))},
		{Label: "Hull number", Value: strings.TrimPrefix(hullNumber(f), "Hull number ")},
		{Label: "Length", Value: known(f.LengthMM, metres)},
		{Label: "Mass", Value: known(f.MassG, kg)},
		{Label: "Rated load", Value: ratedLoad(f)},
	}}
}

func known(n int, write func(int) string) string {
	if n == 0 {
		return orUnknown("")
	}
	return write(n)
}

func orUnknown(words string) string {
	if words == "" {
		return "not known"
	}
	return words
}

func ratedLoad(f message.BoatFacts) string {
	if f.RatedLoadG == 0 || f.RatedSource == "" {
		return known(f.RatedLoadG, kg)
	}
	return kg(f.RatedLoadG) + " (" + f.RatedSource + ")"
}

func loadSection(m match) receipt.Section {
	_, load := judgeLoad(m)
	_, carry := judgeCarry(m)
	_, roof := judgeRoof(m)
	return receipt.Section{Heading: "Load, carry and transport", Lines: []receipt.Line{
		{Label: "In the boat", Value: load}, {Label: "Carrying it", Value: carry}, {Label: "On the road", Value: roof},
	}}
}

// jacketSection counts the jackets that 33 CFR 175.15 and 175.17 want aboard.
func jacketSection(m match) receipt.Section {
	section := receipt.Section{Heading: "Life jackets (33 CFR 175.15 and 175.17; state law may ask for more)"}
	rule, err := jackets.For(outing(m))
	if err != nil {
		section.Lines = []receipt.Line{{Label: "Aboard", Value: "one wearable jacket for each person; the boat's length is not known, so ask about a throwable one"}}
		return section
	}
	section.Lines = []receipt.Line{
		{Label: "Wearable", Value: fmt.Sprintf("%d, one for each person, fitted by the label", rule.Wearable)},
		{Label: "Throwable", Value: fmt.Sprint(rule.Throwable)},
		{Label: "Must wear it under way", Value: fmt.Sprintf("%d by federal law (under 13); everybody by good sense", rule.MustWear)},
	}
	return section
}

// kinds says what each type is to the rule about jackets.
var kinds = map[boat.Type]jackets.Boat{
	boat.Canoe: jackets.Canoe, boat.InflatableCanoe: jackets.Canoe, boat.Board: jackets.Board,
	boat.SitInside: jackets.Kayak, boat.SitOnTop: jackets.Kayak, boat.Inflatable: jackets.Kayak,
}

// outing takes an adult without an age for grown up, and a child without one for
// one that must wear its jacket.
func outing(m match) jackets.Outing {
	o := jackets.Outing{Boat: kinds[m.craft.facts.Type], LengthFeet: float64(m.craft.facts.LengthMM) / millimetresAFoot}
	for _, p := range m.ask.wish.Adults {
		o.Ages = append(o.Ages, float64(max(p.Years, 18)))
	}
	for _, p := range m.ask.wish.Children {
		o.Ages = append(o.Ages, float64(p.Years))
	}
	return o
}

func disclosureSection(list []message.DisclosedFinding) receipt.Section {
	section := receipt.Section{Heading: "Disclosure: what was found and what was done"}
	for _, f := range list {
		where := strings.Join([]string{string(f.Place.Zone), string(f.Place.Side), string(f.Place.Face), string(f.Place.Part)}, ", ")
		section.Lines = append(section.Lines, receipt.Line{Label: string(f.Defect) + ": " + where, Value: f.End})
	}
	if len(list) == 0 {
		section.Lines = []receipt.Line{{Label: "Findings", Value: "none noted; that is no promise that there are none"}}
	}
	return section
}

// waivedSection names the tests that an administrator let be left out.
func waivedSection(waived []string) receipt.Section {
	section := receipt.Section{Heading: "Tests that were left out, and why"}
	for _, text := range waived {
		test, why, _ := strings.Cut(text, ": ")
		section.Lines = append(section.Lines, receipt.Line{Label: test, Value: why})
	}
	return section
}

// conditions are what has to be done before a boat that fits only so can go.
func conditions(m match) receipt.Section {
	section := receipt.Section{Heading: "Before the boat goes"}
	for _, v := range weigh(m) {
		if v.answer == fitsIf {
			section.Lines = append(section.Lines, receipt.Line{Label: v.rule.name, Value: v.because})
		}
	}
	return section
}

func dryingNote(c craft) string {
	if c.quarantine.IsZero() {
		return "No drying time was set for this boat. Clean, drain and dry it after every water all the same."
	}
	return fmt.Sprintf("The boat was last on %s and was to dry until %s.", orUnknown(c.lastWater), c.quarantine)
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
