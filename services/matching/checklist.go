package matching

import (
	"context"
	"fmt"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// checkLines gives what is ticked at a hand-over. The lines stand in the book
// for ever, so they hold nothing of the household's: how many jackets, and for
// whom, stands on the printed sheet. Common practice, no source, but where a line
// names one.
func checkLines(c craft) []string {
	lines := []string{
		numberLine(c.facts),
		"Every line of the disclosure was read together and the sheet was signed",
		"A life jacket that fits by its label was tried on by everybody who goes in the boat",
		"How the boat is carried, loaded and tied down was shown; the roof limit was read in the vehicle's handbook and includes the rack",
		"Cold water was explained: clothing goes by the temperature of the water, never of the air",
		"Clean, drain, dry was explained: all mud and plants off, all water out, dry before another water",
		"The club's release text was read and signed, and its version is written down",
		"The first outing is agreed, with somebody who knows the boat and the water",
		"What the sheet names under \"Before the boat goes\" is done",
	}
	return append(lines, typeLines(c.facts.Type)...)
}

func numberLine(f message.BoatFacts) string {
	if f.HullNumber == "" {
		return fmt.Sprintf("The boat has no hull number (%s); that stands on the household's paper too", f.NoHullNumber)
	}
	return fmt.Sprintf("The hull number on the boat reads %s and stands on the household's paper", f.HullNumber)
}

// typeLines are what one type of boat adds.
func typeLines(t boat.Type) []string {
	switch t {
	case boat.SitInside:
		return []string{"Getting out of the cockpit under water is practised with somebody before the first outing"}
	case boat.Inflatable, boat.InflatableCanoe:
		return []string{"Pumping to the pressure on the label, and letting out air in the sun, were shown"}
	case boat.Board:
		return []string{"The leash for the kind of water was explained, and how it is let go"}
	}
	return nil
}

func (s *service) checkList(ctx context.Context, _ desk.Caller, q message.CheckList) (message.CheckLines, error) {
	h, err := s.handing(ctx, q.Boat)
	if err != nil {
		return message.CheckLines{}, err
	}
	release, set, _, err := s.releaseOn(ctx, clock.DateOf(s.Clock.Now()))
	return message.CheckLines{Boat: q.Boat, Lines: checkLines(h.craft), Release: release, Text: set, SignedBy: h.signedBy()}, err
}
