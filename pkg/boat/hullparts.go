package boat

import "slices"

// hullParts are the parts that are made of the hull's own material. All others
// (seats, gunwales, thwarts, hatches …) may be of another one: a polyethylene
// canoe can have a wooden yoke. Common practice, no source.
var hullParts = []Part{
	"hull", "deck", "keel line", "chine", "stem", "cockpit", "tank well", "scupper", "seam", "rib", "plank",
}

// OfHull says whether the part is made of the hull's own material, so that what
// holds for the material holds for it.
func (p Part) OfHull() bool { return slices.Contains(hullParts, p) }
