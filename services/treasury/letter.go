package treasury

import (
	"fmt"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

// writing is a paper while its words are put together.
type writing struct {
	gift
	club     club
	letter   taxpaper.Letter
	donor    message.PersonDetails
	on       clock.Date
	number   string // the donor's taxpayer identification number; empty: not known
	replaces string // serial of a cancelled paper
	// mandated says that somebody appointed signs, or that two do; second is then who
	// signs second.
	mandated bool
	second   string
	content  message.PaperContent
	// costsOf is the year of a volunteer's costs, where the paper is about those, and services
	// what the volunteer did; the giver is then the volunteer.
	costsOf  int
	services []string
}

// write gives what a paper says, word for word. A boat's gift gets one paper.
func write(w writing) (message.PaperContent, error) {
	if len(w.letter.Papers) != 1 {
		return message.PaperContent{}, fault.New(fault.Internal, "the rules give %d papers for one boat", len(w.letter.Papers))
	}
	p := w.letter.Papers[0]
	w.content = message.PaperContent{
		Issuer: w.club.issuer(), Donor: append([]string{w.donor.Name}, lines(w.donor.Address)...),
		Date: w.on, Signatory: w.club.signatory, Second: w.second, Language: "en", Format: w.club.format,
	}
	var err error
	switch {
	case w.costsOf != 0:
		w.aboutCosts(p)
	case p.Name == message.ThankYou:
		w.thanks(p)
	case w.club.country == taxpaper.US:
		err = w.unitedStates(p)
	case w.club.country == taxpaper.CA:
		err = w.canada(p)
	default:
		err = fault.New(fault.Internal, "there are no words for the paper %q of %s", p.Name, w.club.country)
	}
	if w.replaces != "" {
		w.state("This paper replaces " + w.replaces + ", which is cancelled.")
	}
	return w.content, err
}

func (w *writing) line(label, value string) {
	if value != "" {
		w.content.Lines = append(w.content.Lines, message.PaperLine{Label: label, Value: value})
	}
}

func (w *writing) state(sentences ...string) {
	w.content.Statements = append(w.content.Statements, sentences...)
}

// thanks writes a letter that is no receipt.
func (w *writing) thanks(p taxpaper.Paper) {
	w.content.Title = "Thank you for your gift"
	w.line("Date received", w.received.String())
	w.line("Description", w.describe())
	if w.club.country == taxpaper.UK {
		w.content.Language = "en-GB"
		w.unitedKingdom(p)
		return
	}
	w.state("Thank you for giving this boat to the club.", "This letter is not a receipt for tax purposes.")
}

// needsAddress refuses a paper that must bear the donor's address without it.
func (w *writing) needsAddress() error {
	if len(lines(w.donor.Address)) == 0 {
		return desk.Conflict("boat", "this paper must bear the donor's address; ask for it and add it to the donor's details")
	}
	return nil
}

// describe says what was given, in one line, without a value.
func (w *writing) describe() string {
	f := w.facts
	words := []string{string(f.Type)}
	if f.Seats > 0 {
		words = append(words, plural(f.Seats, "seat"))
	}
	if f.LengthMM > 0 {
		words = append(words, fmt.Sprintf("%d.%02d m long", f.LengthMM/1000, f.LengthMM%1000/10))
	}
	for _, word := range []string{string(f.Material), f.Colour, strings.TrimSpace(f.Maker + " " + f.Model)} {
		if word != "" {
			words = append(words, word)
		}
	}
	if f.YearBuilt > 0 {
		words = append(words, fmt.Sprintf("built %d", f.YearBuilt))
	}
	return strings.Join(append(words, w.identification()), ", ")
}

// identification is the boat's number, or why it has none.
func (w *writing) identification() string {
	if w.facts.HullNumber != "" {
		return "hull number " + w.facts.HullNumber
	}
	return "no hull number (" + w.facts.NoHullNumber + ")"
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// amount writes minor units in the country's currency.
func (w *writing) amount(minor int64) string {
	return money.Of(minor, taxpaper.Currency(w.club.country)).String()
}
