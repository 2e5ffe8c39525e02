package calc

import (
	"slices"

	"refloat.example/pkg/float"
)

var floatCalculator = Calculator{
	Name:    "float",
	Summary: "how deep a load sinks a hull, or what it carries at a draught",
	Explain: `
Formula: three forms of input, never mixed; water is fresh (also when left out) or sea
  waterplane_m2, added_kg:  kg_per_cm = density x area / 100;
                            sinkage_cm = added_kg / kg_per_cm
  waterplane_ft2, added_lb: lb_per_in = density x area / 12;
                            sinkage_in = added_lb / lb_per_in
  length_m, beam_m, draft_m, cb, hull_kg:
                            displacement_kg = density x cb x length x beam x draft;
                            payload_kg = displacement_kg - hull_kg
  density is 1000 (sea 1025) kg/m3 or 62.4 (sea 64) lb/ft3. What is added and the
  hull may be left out; the answer then has no sinkage or payload.

Source: ordinary formulas of naval architecture; they give the immersion printed on
published data sheets of touring kayaks (101.775 lb/in for 19.083 ft2 at sea).

Limits: small changes, on even keel, sides upright near the waterline. Nothing is
said of stability or freeboard; the maker's stated capacity governs. A payload below
0 means that the hull alone floats deeper than that draught.`,
	Example: `{"waterplane_m2":1.92,"added_kg":35,"water":"fresh"}`,
	Answer:  answerFloat,
}

// A floatForm is one way to ask: its fields, the first of which must stand, and
// its answer.
type floatForm struct {
	fields []string
	answer func(*Object, float.Water) any
}

var floatForms = []floatForm{
	{[]string{"waterplane_m2", "added_kg"}, immersionMetric},
	{[]string{"waterplane_ft2", "added_lb"}, immersionUS},
	{[]string{"length_m", "beam_m", "draft_m", "cb", "hull_kg"}, displacement},
}

func answerFloat(in *Object) (any, error) {
	form := floatFormOf(in)
	water := float.Water(in.TextOr("water", string(float.Fresh), string(float.Fresh), string(float.Sea)))
	answer := form.answer(in, water)
	return answer, in.Done()
}

// floatFormOf gives the form of the first field that belongs to one, and refuses
// the first field of another.
func floatFormOf(in *Object) floatForm {
	found := -1
	for _, name := range in.Names() {
		i := slices.IndexFunc(floatForms, func(f floatForm) bool { return slices.Contains(f.fields, name) })
		switch {
		case i < 0:
		case found < 0:
			found = i
		case i != found:
			in.Fail(name, "does not go with %s", floatForms[found].fields[0])
		}
	}
	return floatForms[max(found, 0)]
}

type immersionMetricAnswer struct {
	KgPerCm float64  `json:"kg_per_cm"`
	Sinkage *float64 `json:"sinkage_cm,omitempty"`
}

func immersionMetric(in *Object, w float.Water) any {
	perCm := float.KgPerCm(in.Float("waterplane_m2", Positive), w)
	return immersionMetricAnswer{perCm, sinkage(in, "added_kg", perCm)}
}

type immersionUSAnswer struct {
	LbPerIn float64  `json:"lb_per_in"`
	Sinkage *float64 `json:"sinkage_in,omitempty"`
}

func immersionUS(in *Object, w float.Water) any {
	perIn := float.LbPerIn(in.Float("waterplane_ft2", Positive), w)
	return immersionUSAnswer{perIn, sinkage(in, "added_lb", perIn)}
}

func sinkage(in *Object, name string, per float64) *float64 {
	if !in.Has(name) {
		return nil
	}
	s := in.Float(name, NotNegative) / per
	return &s
}

type displacementAnswer struct {
	Displacement float64  `json:"displacement_kg"`
	Payload      *float64 `json:"payload_kg,omitempty"`
}

func displacement(in *Object, w float.Water) any {
	hull := float.Hull{
		Length:  in.Float("length_m", Positive),
		Beam:    in.Float("beam_m", Positive),
		Draught: in.Float("draft_m", Positive),
		Block:   in.Float("cb", Positive),
	}
	answer := displacementAnswer{Displacement: hull.Displacement(w)}
	if in.Has("hull_kg") {
		payload := answer.Displacement - in.Float("hull_kg", NotNegative)
		answer.Payload = &payload
	}
	return answer
}
