package intake

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// goodFacts checks what is told of a boat. The bounds are wide: they catch a
// wrong unit, not an odd boat. Common practice, no source.
func goodFacts(f message.BoatFacts, today clock.Date) error {
	return desk.First(
		boat.Known("facts.type", f.Type, boat.Types),
		desk.Within("facts.seats", f.Seats, 1, 12),
		goodMeasures(f),
		boat.Known("facts.material", f.Material, boat.Materials),
		suitsType(f.Type, f.Material),
		desk.OneLine("facts.maker", f.Maker, desk.MaxLine),
		desk.OneLine("facts.model", f.Model, desk.MaxLine),
		desk.OneLine("facts.colour", f.Colour, desk.MaxLine),
		desk.WithinOrUnknown("facts.year_built", f.YearBuilt, 1850, today.Year()+1),
		goodHullNumber(f),
		desk.OneLine("facts.stored_where", f.StoredWhere, desk.MaxLine),
		goodLastAfloat(f.LastAfloat, today),
		goodFeatures(f.Features),
	)
}

func goodMeasures(f message.BoatFacts) error {
	if f.LengthMM > 0 && f.BeamMM >= f.LengthMM {
		return fault.Field("facts.beam_mm", "must be less than the length")
	}
	if f.RatedLoadG > 0 {
		if err := boat.Known("facts.rated_source", f.RatedSource, message.RatedSources); err != nil {
			return err
		}
	} else if f.RatedSource != "" {
		return fault.Field("facts.rated_source", "belongs to a rated load; state that too, or leave this empty")
	}
	return desk.First(
		desk.WithinOrUnknown("facts.length_mm", f.LengthMM, 1000, 15_000),
		desk.WithinOrUnknown("facts.beam_mm", f.BeamMM, 200, 3000),
		desk.WithinOrUnknown("facts.depth_mm", f.DepthMM, 50, 1000),
		desk.WithinOrUnknown("facts.seat_limit_g", f.SeatLimitG, 10_000, 500_000),
		desk.WithinOrUnknown("facts.mass_g", f.MassG, 1000, 300_000),
		desk.WithinOrUnknown("facts.rated_load_g", f.RatedLoadG, 10_000, 2_000_000),
	)
}

// suitsType keeps the tests that a boat will need from resting on facts that
// contradict each other.
func suitsType(t boat.Type, m boat.Material) error {
	blownUp := t == boat.Inflatable || t == boat.InflatableCanoe
	if blownUp && m != boat.PVC {
		return fault.Field("facts.material", "an %s is made of %s", t, boat.PVC)
	}
	if m == boat.PVC && !blownUp && t != boat.Board {
		return fault.Field("facts.material", "a %s is not made of %s; is it an inflatable?", t, m)
	}
	return nil
}

// goodHullNumber wants a number or the reason why there is none. What the number
// says is not judged: a real boat with an unreadable number still has to be
// logged.
func goodHullNumber(f message.BoatFacts) error {
	switch {
	case f.HullNumber != "" && f.NoHullNumber != "":
		return fault.Field("facts.no_hull_number", "leave this empty when there is a hull number")
	case strings.TrimSpace(f.HullNumber+f.NoHullNumber) == "":
		return fault.Field("facts.hull_number", "write the number as it stands on the hull, or say in no_hull_number why there is none")
	}
	return desk.First(desk.OneLine("facts.hull_number", f.HullNumber, 40), desk.OneLine("facts.no_hull_number", f.NoHullNumber, desk.MaxLine))
}

func goodLastAfloat(day, today clock.Date) error {
	if day.IsZero() {
		return nil
	}
	return desk.Past("facts.last_afloat", day, today)
}

func goodFeatures(features []boat.Feature) error {
	for i, feature := range features {
		field := fmt.Sprintf("facts.features[%d]", i)
		if err := boat.Known(field, feature, boat.Features); err != nil {
			return err
		}
		if slices.Contains(features[:i], feature) {
			return fault.Field(field, "stands twice")
		}
	}
	return nil
}

// sameFacts says whether two sets of facts are the same; no features and an
// empty list of them are.
func sameFacts(a, b message.BoatFacts) bool {
	if !slices.Equal(a.Features, b.Features) {
		return false
	}
	a.Features, b.Features = nil, nil
	return reflect.DeepEqual(a, b)
}

// sameButBlanks is sameFacts but for blanks around texts: a form does not bring them
// back.
func sameButBlanks(a, b message.BoatFacts) bool { return sameFacts(trimmed(a), trimmed(b)) }

func trimmed(f message.BoatFacts) message.BoatFacts {
	for _, text := range []*string{&f.RatedSource, &f.Maker, &f.Model, &f.Colour, &f.HullNumber, &f.NoHullNumber, &f.StoredWhere} {
		*text = strings.TrimSpace(*text)
	}
	return f
}

// nameKey gives the spelling in which names are compared: nobody tells "Heron"
// from "heron " on a trailer.
func nameKey(name string) string { return strings.ToLower(tidy(name)) }

// tidy leaves one blank between words and none around them.
func tidy(text string) string { return strings.Join(strings.Fields(text), " ") }
