package defects

import (
	"cmp"
	"slices"

	"refloat.example/pkg/boat"
)

// A Sight is what one inspector noted of one finding.
type Sight struct {
	ID       string
	Zone     boat.Zone
	Side     boat.Side
	Face     boat.Face
	Part     boat.Part
	Kind     boat.Defect
	LengthMM int // 0: it has none
}

// A Pair says that two sights of different inspectors are perhaps one finding.
type Pair struct {
	First, Second string
	Exact         bool // place and kind are the same word for word
}

// Propose pairs the sights of two lists that are probably one finding: near each
// other, on the same or a kindred part, of the same or a kindred kind. Each is
// paired once, the likeliest first. It is a proposal: two cracks a hand's width
// apart look like one to it, and only somebody at the boat can tell.
//
// How much each likeness counts is our proposal, not published anywhere.
func Propose(first, second []Sight) []Pair {
	type candidate struct {
		i, j, likeness int
	}
	var list []candidate
	for i, a := range first {
		for j, b := range second {
			if n := likeness(a, b); n >= likeEnough {
				list = append(list, candidate{i, j, n})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b candidate) int { return cmp.Compare(b.likeness, a.likeness) })
	takenFirst, takenSecond := map[int]bool{}, map[int]bool{}
	var pairs []Pair
	for _, c := range list {
		if takenFirst[c.i] || takenSecond[c.j] {
			continue
		}
		takenFirst[c.i], takenSecond[c.j] = true, true
		a, b := first[c.i], second[c.j]
		pairs = append(pairs, Pair{a.ID, b.ID, a.spot() == b.spot()})
	}
	return pairs
}

// spot is a sight without what two people measure differently.
func (s Sight) spot() Sight {
	s.ID, s.LengthMM = "", 0
	return s
}

// likeEnough lets through a kindred part in the next zone, and nothing less.
const likeEnough = 9

// likeness is 0 for two sights that cannot be one finding, 14 at most.
func likeness(a, b Sight) int {
	part, zone := alike(a.Part, b.Part, kindredParts, 4, 2), near(a.Zone, b.Zone)
	side, kind := beside(a.Side, b.Side), alike(a.Kind, b.Kind, kindredKinds, 3, 1)
	if part == 0 || zone == 0 || side == 0 || kind == 0 {
		return 0
	}
	sum := part + zone + side + kind
	if a.Face == b.Face {
		sum++
	}
	return sum + sameLength(a.LengthMM, b.LengthMM)
}

// near counts the same zone 3 and the next one 1.
func near(a, b boat.Zone) int {
	i, j := slices.Index(boat.Zones, a), slices.Index(boat.Zones, b)
	switch {
	case i == j:
		return 3
	case i-j == 1 || j-i == 1:
		return 1
	}
	return 0
}

// beside counts the same side 2, and the centreline beside either 1.
func beside(a, b boat.Side) int {
	switch {
	case a == b:
		return 2
	case a == "centreline" || b == "centreline":
		return 1
	}
	return 0
}

func alike[W comparable](a, b W, families [][]W, same, kindred int) int {
	if a == b {
		return same
	}
	for _, family := range families {
		if slices.Contains(family, a) && slices.Contains(family, b) {
			return kindred
		}
	}
	return 0
}

// kindredParts are called by each other's names.
var kindredParts = [][]boat.Part{
	{"hull", "keel line", "chine", "stem", "plank", "seam"},
	{"deck", "seam", "tank well"},
	{"seat", "seat mount"},
	{"hatch", "hatch rim"},
	{"cockpit", "coaming"},
	{"bungee", "deck line", "carry toggle"},
	{"thwart", "yoke"},
	{"foam pillar", "flotation", "bulkhead"},
	{"rib", "plank"},
	{"rivet", "hull"},
}

// kindredKinds are what two people call one thing.
var kindredKinds = [][]boat.Defect{
	{"crack", "split seam", "hole", "leaking"},
	{"abrasion", "gouge", "worn"},
	{"crazing", "crack"},
	{"dent", "soft spot"},
	{"soft spot", "delamination", "rot"},
	{"brittleness", "chalking", "perished"},
	{"loose", "missing", "worn"},
	{"perished", "worn"},
}

// sameLength counts for lengths within a factor of two, and against those beyond
// a factor of four.
func sameLength(a, b int) int {
	if a == 0 || b == 0 {
		return 0
	}
	switch short, long := min(a, b), max(a, b); {
	case long <= 2*short:
		return 1
	case long > 4*short:
		return -2
	}
	return 0
}
