package mend

// Weld is what is known of welding a plastic with hot air.
type Weld struct {
	Plastic string
	// Celsius is the temperature of the air at the nozzle in a trade chart.
	Celsius int
	// Ignites is the temperature at which the plastic catches fire by itself, in
	// °C; 0 where none was found. From memory.
	Ignites int
}

// Welds lists the plastics of hulls that hot air melts. The temperatures are a
// published trade chart's. PVC is not here: it is never heated in this club.
var Welds = []Weld{
	{"high-density polyethylene", 300, 350},
	{"low-density or soft polyethylene", 270, 350},
	{"polypropylene", 300, 0},
	{"ABS", 350, 416},
}

// ABSFoam is the temperature above which the foam of an ABS sandwich swells, in
// °C (from memory).
const ABSFoam = 60

// Weld factors of hot-gas welds in high-density polyethylene: what share of the
// parent's strength a weld has, in per cent (DVS 2203-1, from memory).
const (
	ShortTermWeld = 80
	LongTermWeld  = 40
)

// WeldStrength gives the strength of a weld for short and for lasting load, in
// the unit of the parent's.
func WeldStrength(parent float64) (short, lasting float64) {
	return parent * ShortTermWeld / 100, parent * LongTermWeld / 100
}
