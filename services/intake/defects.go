package intake

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
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

// numberDefects are what can be wrong with the hull number itself.
var numberDefects = []boat.Defect{"altered", "missing", "worn"}

// suitsMaterial refuses a defect that the place cannot have. Fittings can be of
// any material, so only the hull itself is held to the boat's.
func suitsMaterial(d boat.Defect, p message.Place, m boat.Material) error {
	if p.Part == "hull number" {
		return boat.Known("defect", d, numberDefects)
	}
	if !p.Part.OfHull() {
		return nil
	}
	if why, impossible := cannotHave[m][d]; impossible {
		return fault.Field("defect", "the %s is of %s, and %s", p.Part, m, why)
	}
	return nil
}
