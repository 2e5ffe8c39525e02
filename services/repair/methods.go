package repair

import (
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Methods that this room treats in a way of their own.
const (
	leaveAndWatch = "leave and watch"
	scrap         = "scrap"
)

// mark says where a rule comes from.
type mark string

const (
	guides   mark = "published repair guides"
	memory   mark = "from memory"
	practice mark = "common practice, no source"
)

// reason says why a method fails on a material.
type reason struct {
	why  string
	mark mark
}

// fails says which methods fail on the hull of a material. What it does not name
// may do; whether it does is for the person with the tool in hand. Replacing a
// part, re-bedding a fitting, leaving and scrapping suit every material.
var fails = map[boat.Material]map[string]reason{
	boat.Rotomoulded: {
		"laminate":       {"resin alone does not hold on polyethylene, whose surface repels it", guides},
		"adhesive patch": {"glue alone does not hold on polyethylene, whose surface repels it", guides},
		"scarf":          {"a scarf is glued, and glue does not hold on polyethylene", practice},
		"re-rivet":       {"it is moulded in one piece and has no riveted seam", practice},
	},
	boat.CrossLinked: {
		"weld":           {"cross-linked polyethylene does not melt any more, so it cannot be welded", guides},
		"fill":           {"it cannot be filled by melting, and resin does not hold on it", guides},
		"laminate":       {"resin alone does not hold on polyethylene, whose surface repels it", guides},
		"adhesive patch": {"glue alone does not hold on polyethylene, whose surface repels it", guides},
		"scarf":          {"a scarf is glued, and glue does not hold on polyethylene", practice},
		"re-rivet":       {"it is moulded in one piece and has no riveted seam", practice},
	},
	boat.ABSSandwich: {
		"weld":           {"the foam between the skins swells above about 60 °C", memory},
		"adhesive patch": {"a fabric patch is for inflatables; laminate cloth on both sides instead", practice},
		"scarf":          {"a sandwich with a foam core is not scarfed; bevel and laminate instead", practice},
		"re-rivet":       {"the hull is formed from one sheet and has no riveted seam", practice},
	},
	boat.Composite: {
		"weld":           {"cured resin does not melt; heat only burns it", practice},
		"adhesive patch": {"a fabric patch is for inflatables; laminate instead", practice},
		"re-rivet":       {"a laminate has no riveted seam", practice},
	},
	boat.PVC: {
		"weld":     {"PVC is never flamed or welded with hot air: it gives off acid fume, and heat loosens drop-stitch", memory},
		"patch":    {"a stiff patch peels off fabric; use an adhesive patch", practice},
		"laminate": {"stiff laminate cracks on fabric; use an adhesive patch", practice},
		"fill":     {"there is nothing to fill in fabric; use an adhesive patch", practice},
		"scarf":    {"fabric is not scarfed; use an adhesive patch", practice},
		"re-rivet": {"a rivet through a hull full of air is a hole", practice},
	},
	boat.Wood: {
		"weld": {"wood is not welded", practice},
	},
	boat.Aluminium: {
		"laminate":       {"laminate peels off metal that moves with heat; patch with metal instead", practice},
		"adhesive patch": {"a fabric patch is for inflatables; patch with metal instead", practice},
		"scarf":          {"metal is not scarfed", practice},
	},
}

// plastics grow brittle in the sun, and then nothing holds on them.
var plastics = []boat.Material{boat.Rotomoulded, boat.CrossLinked, boat.ABSSandwich, boat.PVC}

// suits refuses a method that does not suit a finding. The fault names method.
func suits(method string, f finding, material boat.Material) error {
	switch {
	case method == scrap:
		return nil
	case method == leaveAndWatch:
		return mayBeLeft(f)
	case f.place.Part == "hull number":
		return fault.Field("method", "the club does not make, move or mend a hull number; leave it and ask the authority that gave it (33 CFR 181.35, %s)", memory)
	case !f.place.Part.OfHull():
		return nil // fittings can be of any material
	case f.defect == "brittleness" && slices.Contains(plastics, material):
		return fault.Field("method", "brittle plastic is not mended, it breaks again beside the mend (%s); retire the boat", guides)
	}
	if r, ok := fails[material][method]; ok {
		return fault.Field("method", "%s does not suit %s: %s (%s). What may do: %s", method, material, r.why, r.mark, strings.Join(mayDo(material), ", "))
	}
	return nil
}

func mayBeLeft(f finding) error {
	if f.forbids() {
		return fault.Field("method", "the %s is noted as %q and cannot be left", f.words(), string(f.severity))
	}
	return nil
}

// mayDo lists the methods that are not known to fail on a material.
func mayDo(material boat.Material) []string {
	return slices.DeleteFunc(slices.Clone(message.Methods), func(m string) bool { _, no := fails[material][m]; return no })
}
