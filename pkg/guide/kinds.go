package guide

import (
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
)

// cannotHave says which defects a hull of a material cannot have, and why: a
// finding that contradicts its material is a slip of the hand, and the repair
// that follows from it would be wrong.
//
// Source: which defects belong to which material is drawn together from
// published repair guides and owners' reports; that the others cannot occur is
// common practice, no source.
var cannotHave = map[boat.Material]map[boat.Defect]string{
	boat.Rotomoulded: polyethyleneCannot,
	boat.CrossLinked: polyethyleneCannot,
	boat.ABSSandwich: {
		"rot":        "plastic does not rot; sun makes it brittle or chalky",
		"corrosion":  "plastic does not corrode; name the fitting that does",
		"crazing":    "it has a vinyl skin, no gelcoat; call it a crack or an abrasion",
		"split seam": "it is formed from one sheet and has no seam; call it a crack",
	},
	boat.Composite: {
		"corrosion": "fibre and resin do not corrode; name the fitting that does",
		"dent":      "a laminate does not stay dented; call it a crack, crazing or a soft spot",
	},
	boat.PVC: {
		"rot":       "coated fabric does not rot; call it perished",
		"corrosion": "coated fabric does not corrode; name the fitting that does",
		"dent":      "a blown-up hull does not stay dented; call it leaking or perished",
		"crazing":   "it has no gelcoat; call it perished or brittleness",
		"soft spot": "a hull that goes soft loses air; call it leaking",
	},
	boat.Wood: {
		"corrosion": "wood does not corrode; name the fastening that does",
	},
	boat.Aluminium: {
		"rot":          "metal does not rot; call it corrosion",
		"delamination": "it has no layers; call it corrosion or a crack",
		"crazing":      "it has no gelcoat; call it a crack or an abrasion",
		"brittleness":  "sun does not make metal brittle; call it a crack",
		"soft spot":    "sheet metal that gives is dented or has lost a rib; say which",
		"perished":     "metal does not perish; call it corrosion",
	},
}

var polyethyleneCannot = map[boat.Defect]string{
	"rot":          "polyethylene does not rot; sun makes it brittle or chalky",
	"corrosion":    "polyethylene does not corrode; name the fitting that does",
	"crazing":      "it has no gelcoat; call it a crack, an abrasion or chalking",
	"delamination": "it is moulded in one piece and has no layers; call it a crack or a dent",
	"split seam":   "it is moulded in one piece and has no seam; call it a crack",
	"soft spot":    "polyethylene that gives is dented, thin from abrasion or cracked; say which",
}

// numberKinds are what can be wrong with the hull number itself.
var numberKinds = []boat.Defect{"altered", "missing", "worn"}

// Impossible says, as the end of a sentence, why a part of a boat of a material
// cannot have a defect; empty where it can. Fittings can be of any material, so
// only what is moulded with the hull is held to the boat's.
func Impossible(d boat.Defect, part boat.Part, m boat.Material) string {
	if part == "hull number" {
		if slices.Contains(numberKinds, d) {
			return ""
		}
		return fmt.Sprintf("a hull number can be altered, missing or worn; call the hull beside it %s", d)
	}
	if !part.OfHull() || cannotHave[m][d] == "" {
		return ""
	}
	return fmt.Sprintf("the %s is of %s, and %s", part, m, cannotHave[m][d])
}

// KindsOf gives what a part of a boat of a material can have, in the order in
// which pages show it.
func KindsOf(part boat.Part, m boat.Material) []boat.Defect {
	return slices.DeleteFunc(slices.Clone(boat.Defects), func(d boat.Defect) bool { return Impossible(d, part, m) != "" })
}
