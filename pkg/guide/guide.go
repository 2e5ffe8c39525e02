// Package guide leads a look-over: where a boat of a material and a type fails,
// why there, how to look, and what the finding is then called.
//
// The points are data (points.txt, notbuilt.txt), each with its mark: drawn
// together from published repair guides and owners' reports, common practice
// without a source, or a source of its own. A guide is the points that belong to
// a type and to a material. For a combination that is not built it says so and
// why, and gives what holds for every boat.
//
// It does not promise that a boat without a finding is sound: it is a way to
// look, not a test of strength. Points are named in events for ever, so an
// identifier is never renamed and never given another meaning.
package guide

import (
	"slices"

	"refloat.example/pkg/boat"
)

// Edition names the collection of points. A look-over keeps it, so that whoever
// reads it later knows what was asked.
const Edition = "2026-11"

// Test is a way to look at a point.
type Test string

// The tests.
const (
	Touch       Test = "touch"
	Press       Test = "press"
	Flex        Test = "flex"
	Tap         Test = "tap"
	LightInside Test = "light inside"
	SoapWater   Test = "soap water"
	Lift        Test = "lift"
	Pump        Test = "pump"
)

// Tests lists the tests.
var Tests = []Test{Touch, Press, Flex, Tap, LightInside, SoapWater, Lift, Pump}

// Answer is what an inspector says to a point.
type Answer string

// The answers. Not seen means that the inspector looked and the trouble is not
// there; it is no answer for somebody who could not look.
const (
	Seen       Answer = "seen"
	NotSeen    Answer = "not seen"
	CouldNotBe Answer = "could not be seen"
)

// Answers lists the answers in the order in which pages show them.
var Answers = []Answer{Seen, NotSeen, CouldNotBe}

// Hampered lists what keeps an inspector from seeing a boat.
var Hampered = []string{"dirty", "wet", "strapped up"}

// A Point is one thing to look for.
type Point struct {
	ID    string
	Look  string // what to look for
	Where string
	Why   string
	How   string
	Tests []Test
	Part  boat.Part
	Zones []boat.Zone
	Side  boat.Side // where the drawing points; look at both sides
	Face  boat.Face
	Kinds []boat.Defect // what such a finding is called
	Mark  string        // the source, or that there is none

	types     []boat.Type
	materials []boat.Material
}

// A Guide is what to look for on boats of one type and material.
type Guide struct {
	Type     boat.Type
	Material boat.Material
	Points   []Point
	// NotBuilt says why there is no guidance of its own for the combination;
	// empty where there is. The points are then those that hold for any boat of
	// the type or of the material.
	NotBuilt string
}

var (
	points   = mustReadPoints()
	notBuilt = mustReadNotBuilt()
)

// For gives the guide for a type and a material. For a combination that is not
// built it has what holds for most materials of the type, and for most types of
// the material.
func For(t boat.Type, m boat.Material) Guide {
	g := Guide{Type: t, Material: m, NotBuilt: notBuilt[combination{t, m}]}
	for _, p := range points {
		ofType, ofMaterial := slices.Contains(p.types, t), slices.Contains(p.materials, m)
		general := ofType && len(p.materials) >= len(boat.Materials)-1 || ofMaterial && len(p.types) >= 4
		if ofType && ofMaterial || g.NotBuilt != "" && general {
			g.Points = append(g.Points, p.possible(m))
		}
	}
	return g
}

// possible leaves the kinds of finding that the material can have there.
func (p Point) possible(m boat.Material) Point {
	p.Kinds = slices.DeleteFunc(slices.Clone(p.Kinds), func(d boat.Defect) bool { return Impossible(d, p.Part, m) != "" })
	return p
}

// Point gives a point of the guide.
func (g Guide) Point(id string) (Point, bool) {
	i := slices.IndexFunc(g.Points, func(p Point) bool { return p.ID == id })
	if i < 0 {
		return Point{}, false
	}
	return g.Points[i], true
}

// Find gives a point of any guide.
func Find(id string) (Point, bool) { return Guide{Points: points}.Point(id) }

// Unanswered gives the points of the guide to which nobody has said anything.
func (g Guide) Unanswered(answers map[string]Answer) []Point {
	return g.with(answers, "")
}

// Unseen gives the points that could not be seen.
func (g Guide) Unseen(answers map[string]Answer) []Point {
	return g.with(answers, CouldNotBe)
}

func (g Guide) with(answers map[string]Answer, want Answer) []Point {
	var list []Point
	for _, p := range g.Points {
		if answers[p.ID] == want {
			list = append(list, p)
		}
	}
	return list
}
