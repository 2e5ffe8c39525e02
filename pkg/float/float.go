// Package float says how deep a load sinks a hull and what a hull of simple form
// carries at a draught.
//
// Source: the ordinary formulas of naval architecture (displacement from the
// block coefficient, immersion from the area of the waterplane) with water of
// 1000 and 1025 kg/m³, or 62.4 and 64 lb/ft³; and, for Plate, 33 CFR 183.43.
//
// The hull is taken for wall-sided near its waterline, so the numbers hold for
// small changes on even keel. They say nothing of stability, freeboard or
// swamping, and none replaces the maker's stated capacity.
package float

// Water is what a boat floats in.
type Water string

const (
	// Fresh water: 1000 kg/m³, 62.4 lb/ft³.
	Fresh Water = "fresh"
	// Sea water: 1025 kg/m³, 64 lb/ft³.
	Sea Water = "sea"
)

// kgPerM3 and lbPerFt3 are the published densities, which are not exact
// conversions of each other.
var (
	kgPerM3  = map[Water]float64{Fresh: 1000, Sea: 1025}
	lbPerFt3 = map[Water]float64{Fresh: 62.4, Sea: 64}
)

const (
	centimetresPerMetre = 100
	inchesPerFoot       = 12
)

// KgPerCm gives the load, in kg, that sinks a hull by a centimetre, from the
// area of its waterplane in m².
func KgPerCm(waterplane float64, w Water) float64 {
	return kgPerM3[w] * waterplane / centimetresPerMetre
}

// LbPerIn gives the load, in lb, that sinks a hull by an inch, from the area of
// its waterplane in ft².
func LbPerIn(waterplane float64, w Water) float64 { return lbPerFt3[w] * waterplane / inchesPerFoot }

// Hull is a form below the waterline: length, beam and draught in m, and the
// block coefficient, which is the share of their product that the hull fills.
type Hull struct {
	Length, Beam, Draught float64
	Block                 float64
}

// Displacement gives the mass, in kg, of the water that the hull takes the place
// of: boat, people and gear together at that draught.
func (h Hull) Displacement(w Water) float64 {
	return kgPerM3[w] * h.Block * h.Length * h.Beam * h.Draught
}
