package web

import (
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
)

// marked is a finding with its number in the list and on the drawing.
type marked struct {
	Finding
	Number int
}

// Words says what was found, and where.
func (m marked) Words() string { return findingWords(m.DefectFound) }

// Grave says whether the boat may not be used with it.
func (m marked) Grave() bool {
	return m.Open() && (m.Severity == boat.MendBefore || m.Severity == boat.DoNotUse)
}

// numbered gives findings their numbers, in the order in which they were noted.
func numbered(list []Finding) []marked {
	marks := make([]marked, len(list))
	for i, f := range list {
		marks[i] = marked{f, i + 1}
	}
	return marks
}

// view is from where a boat is drawn.
type view string

const (
	fromAbove view = "deck" // bow to the left, starboard at the top
	fromBelow view = "hull" // turned over: bow to the left, port at the top
)

// drawing is a boat seen from above or from below, bow to the left, with the
// findings as numbered marks. It is never the only way to know them: the list
// says the same.
type drawing struct {
	Type     boat.Type
	View     view
	Outline  string   // path of the hull
	Fittings []string // paths of what is within it
	Marks    []mark
	Title    string
}

// Top and Bottom name the sides as the view has them.
func (d drawing) Top() boat.Side { return sideAt(d.View, -1) }

// Bottom is the other one.
func (d drawing) Bottom() boat.Side { return sideAt(d.View, 1) }

func sideAt(v view, up int) boat.Side {
	for side, at := range sideOf {
		if at*v.turn() == up {
			return side
		}
	}
	return "centreline"
}

// turn is -1 for a boat that is turned over: its sides change places.
func (v view) turn() int {
	if v == fromBelow {
		return -1
	}
	return 1
}

// mark is a finding on a drawing. Round is seen from outside, square from
// inside.
type mark struct {
	marked
	X, Y   int
	Inside bool
}

// The drawing is 600 by 250 units; the hull lies between 30 and 570, and its
// centreline at 120. Towards the ends it is narrower. Marks are large, because a
// telephone shows the whole at half the size.
const (
	middle     = 120
	markStep   = 42
	marksInRow = 3
)

var (
	alongOf  = map[boat.Zone]int{"bow": 95, "forward": 190, "amid": 300, "aft": 410, "stern": 505}
	acrossOf = map[boat.Zone]int{"bow": 26, "forward": 52, "amid": 58, "aft": 52, "stern": 26}
	sideOf   = map[boat.Side]int{"starboard": -1, "centreline": 0, "port": 1}
)

// below are the parts that somebody sees from outside only when the boat is
// turned over.
var below = []boat.Part{"hull", "keel line", "chine", "stem", "rib", "plank", "skeg", "fin box", "scupper", "rivet", "seam", "drain plug"}

// viewOf gives the view in which a place is seen.
func viewOf(part boat.Part, face boat.Face) view {
	if face == "outside" && slices.Contains(below, part) {
		return fromBelow
	}
	return fromAbove
}

// drawings puts findings on the drawings of a type of boat: the deck, and the
// hull. Withdrawn findings have no mark.
func drawings(t boat.Type, findings []marked) []drawing {
	return []drawing{draw(t, fromAbove, findings), draw(t, fromBelow, findings)}
}

func draw(t boat.Type, v view, findings []marked) drawing {
	d := drawing{Type: t, View: v, Outline: outline(t), Fittings: fittings(t)}
	if v == fromBelow {
		d.Fittings = keel(t)
	}
	at := map[message.Place]int{}
	for _, f := range findings {
		if f.Withdrawn != "" || viewOf(f.Place.Part, f.Place.Face) != v {
			continue
		}
		spot := message.Place{Zone: f.Place.Zone, Side: f.Place.Side}
		n := at[spot]
		at[spot]++
		x, y := where(v, spot.Zone, spot.Side)
		d.Marks = append(d.Marks, mark{f, x + shift(n), y + n/marksInRow*8, f.Place.Face == "inside"})
	}
	d.Title = fmt.Sprintf("A %s from above, bow to the left, with %s", t, count(len(d.Marks), "mark", "marks"))
	if v == fromBelow {
		d.Title = fmt.Sprintf("The %s turned over, bow to the left, with %s", t, count(len(d.Marks), "mark", "marks"))
	}
	return d
}

func where(v view, zone boat.Zone, side boat.Side) (x, y int) {
	return alongOf[zone], middle + v.turn()*sideOf[side]*acrossOf[zone]
}

// spot shows where on the boat a point of the guide is.
type spot struct {
	Outline  string
	Fittings []string
	Dots     []dot
	Title    string
}

type dot struct{ X, Y int }

// spotOf draws both sides for a point that is beside the centreline.
func spotOf(t boat.Type, p guide.Point) spot {
	v := viewOf(p.Part, p.Face)
	d := draw(t, v, nil)
	s := spot{Outline: d.Outline, Fittings: d.Fittings, Title: fmt.Sprintf("%s; %s; seen from %s", p.Part, listed(p.Zones), p.Face)}
	sides := []boat.Side{p.Side}
	if p.Side == "port" {
		sides = []boat.Side{"port", "starboard"}
	}
	for _, zone := range p.Zones {
		for _, side := range sides {
			x, y := where(v, zone, side)
			s.Dots = append(s.Dots, dot{x, y})
		}
	}
	return s
}

// shift moves the n-th mark of one place to the side: 0, 42, -42, then over them
// again.
func shift(n int) int {
	switch n % marksInRow {
	case 1:
		return markStep
	case 2:
		return -markStep
	}
	return 0
}

// outline is the hull from above, in a frame of 600 by 170.
func outline(t boat.Type) string {
	switch t {
	case boat.Canoe, boat.InflatableCanoe:
		return "M30 85 C120 28 220 20 300 20 S480 28 570 85 C480 142 380 150 300 150 S120 142 30 85 Z"
	case boat.Board:
		return "M30 85 C60 38 130 30 220 30 H480 C540 32 566 55 568 85 C566 115 540 138 480 140 H220 C130 140 60 132 30 85 Z"
	case boat.SitOnTop:
		return "M30 85 C100 34 200 24 310 24 S520 40 570 85 C520 130 420 146 310 146 S100 136 30 85 Z"
	case boat.Inflatable:
		return "M36 85 C70 40 130 26 220 26 H400 C480 26 540 44 566 85 C540 126 480 144 400 144 H220 C130 144 70 130 36 85 Z"
	}
	return "M30 85 C140 40 230 30 310 30 S480 48 570 85 C480 122 390 140 310 140 S140 130 30 85 Z"
}

// fittings are what tells a type from the others at a glance.
func fittings(t boat.Type) []string {
	switch t {
	case boat.Canoe, boat.InflatableCanoe:
		return []string{"M190 32 V138", "M300 20 V150", "M420 34 V136", "M150 60 H185 V110 H150 Z", "M440 60 H470 V110 H440 Z"}
	case boat.SitInside:
		return []string{"M245 85 C250 58 280 55 320 55 C365 55 380 65 382 85 C380 105 365 115 320 115 C280 115 250 112 245 85 Z", "M120 75 h40 v20 h-40 Z", "M455 72 h40 v26 h-40 Z"}
	case boat.SitOnTop:
		return []string{"M300 50 C340 50 370 60 372 85 C370 110 340 120 300 120 Z", "M205 65 h60 v40 h-60 Z", "M430 58 h90 v54 h-90 Z"}
	case boat.Board:
		return []string{"M210 48 H500 V122 H210 Z", "M530 85 h24"}
	}
	return []string{"M90 85 C110 62 150 52 220 52 H400 C450 52 490 62 508 85 C490 108 450 118 400 118 H220 C150 118 110 108 90 85 Z", "M290 52 V118"}
}

// keel is what is within the outline of a boat that is turned over.
func keel(t boat.Type) []string {
	switch t {
	case boat.SitOnTop:
		return []string{"M60 85 H540", "M200 62 a7 7 0 1 0 .1 0", "M200 94 a7 7 0 1 0 .1 0", "M330 62 a7 7 0 1 0 .1 0", "M330 94 a7 7 0 1 0 .1 0", "M450 78 a7 7 0 1 0 .1 0"}
	case boat.Board, boat.Inflatable, boat.InflatableCanoe:
		return []string{"M60 85 H450", "M480 81 h50 v8 h-50 Z"}
	case boat.SitInside:
		return []string{"M40 85 H560", "M450 82 h50 v6 h-50 Z"}
	}
	return []string{"M40 85 H560"}
}

// profile is the side view of a type of boat as the path of a drawing of 100 by
// 24, bow to the left. An unknown type is drawn as a plain hull.
func profile(t boat.Type) string {
	switch t {
	case boat.Canoe, boat.InflatableCanoe:
		return "M3 3 Q8 8 20 9 H80 Q92 8 97 3 Q97 17 86 19 H14 Q3 17 3 3 Z"
	case boat.SitInside:
		return "M1 9 Q20 11 38 8 L42 5 H58 L62 9 Q82 11 99 9 Q88 18 72 18 H28 Q12 18 1 9 Z"
	case boat.SitOnTop:
		return "M2 8 Q16 10 30 11 L34 14 H62 L66 10 Q84 10 98 9 Q92 19 80 19 H20 Q8 18 2 8 Z"
	case boat.Board:
		return "M2 9 Q14 13 30 13 H96 Q99 13 98 16 H30 Q12 16 2 9 Z M82 16 L86 22 L90 16 Z"
	}
	return "M3 7 Q9 3 18 9 H84 Q93 3 98 8 Q97 18 86 19 H14 Q5 18 3 7 Z"
}

// passed says how far a boat has come along the passage: "past", "now" or
// "ahead" for each step. A boat that ended otherwise stops where it was.
type step struct {
	State State
	Past  bool
	Now   bool
}

func steps(b *Boat) []step {
	at := slices.Index(passage, b.State)
	list := make([]step, len(passage))
	for i, s := range passage {
		list[i] = step{s, i < at, i == at}
	}
	return list
}
