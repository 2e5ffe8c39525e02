package guide

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"refloat.example/pkg/boat"
)

//go:embed points.txt
var pointsText string

//go:embed notbuilt.txt
var notBuiltText string

// marks are the short forms of the commonest marks in the data.
var marks = map[string]string{
	"guides":   "published repair guides and owners' reports, drawn together",
	"practice": "common practice, no source",
}

// combination is a type of boat in a material.
type combination struct {
	boat.Type
	boat.Material
}

func mustReadPoints() []Point {
	list, err := readPoints(pointsText)
	if err != nil {
		panic("guide/points.txt: " + err.Error())
	}
	return list
}

func mustReadNotBuilt() map[combination]string {
	list, err := readNotBuilt(notBuiltText)
	if err != nil {
		panic("guide/notbuilt.txt: " + err.Error())
	}
	return list
}

// readPoints reads blocks of "field: text" lines that blank lines part; a line
// that begins with # is a remark.
func readPoints(text string) ([]Point, error) {
	var list []Point
	for _, block := range strings.Split(text, "\n\n") {
		fields, err := readBlock(block)
		if err != nil {
			return nil, err
		}
		if len(fields) == 0 {
			continue
		}
		p, err := readPoint(fields)
		if err != nil {
			return nil, fmt.Errorf("point %q: %w", fields["point"], err)
		}
		if slices.ContainsFunc(list, func(q Point) bool { return q.ID == p.ID }) {
			return nil, fmt.Errorf("point %q stands twice", p.ID)
		}
		list = append(list, p)
	}
	return list, nil
}

// pointFields are the fields that every point has.
var pointFields = []string{"point", "types", "materials", "look", "where", "why", "how", "test", "place", "kinds", "mark"}

func readBlock(block string) (map[string]string, error) {
	fields := map[string]string{}
	for line := range strings.Lines(block) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, value, _ := strings.Cut(line, ":")
		switch {
		case !slices.Contains(pointFields, name):
			return nil, fmt.Errorf("%q: no such field", line)
		case fields[name] != "":
			return nil, fmt.Errorf("%q: the field stands twice", line)
		}
		fields[name] = strings.TrimSpace(value)
	}
	for _, name := range pointFields {
		if len(fields) > 0 && fields[name] == "" {
			return nil, fmt.Errorf("point %q: %s is missing", fields["point"], name)
		}
	}
	return fields, nil
}

func readPoint(f map[string]string) (Point, error) {
	p := Point{ID: f["point"], Look: f["look"], Where: f["where"], Why: f["why"], How: f["how"], Mark: f["mark"]}
	if long := marks[p.Mark]; long != "" {
		p.Mark = long
	}
	var err error
	if p.types, err = words(f["types"], " | ", boat.Types, map[string][]boat.Type{"all": boat.Types}); err != nil {
		return p, err
	}
	if p.materials, err = words(f["materials"], " | ", boat.Materials, map[string][]boat.Material{"all": boat.Materials, "rigid": rigid()}); err != nil {
		return p, err
	}
	if p.Tests, err = words(f["test"], ", ", Tests, nil); err != nil {
		return p, err
	}
	if p.Kinds, err = words(f["kinds"], ", ", boat.Defects, nil); err != nil {
		return p, err
	}
	return p, p.readPlace(f["place"])
}

// readPlace reads "part; zones; side; face".
func (p *Point) readPlace(text string) error {
	places := strings.Split(text, "; ")
	if len(places) != 4 {
		return fmt.Errorf("place %q: part, zones, side and face are wanted", text)
	}
	p.Part, p.Side, p.Face = boat.Part(places[0]), boat.Side(places[2]), boat.Face(places[3])
	var err error
	if p.Zones, err = words(places[1], ", ", boat.Zones, nil); err != nil {
		return err
	}
	for _, known := range []error{boat.Known("part", p.Part, boat.Parts), boat.Known("side", p.Side, boat.Sides), boat.Known("face", p.Face, boat.Faces)} {
		if known != nil {
			return known
		}
	}
	return nil
}

// words reads a list of the trade's words; short forms stand for several.
func words[W ~string](text, parted string, known []W, short map[string][]W) ([]W, error) {
	if all, ok := short[text]; ok {
		return all, nil
	}
	var list []W
	for _, word := range strings.Split(text, parted) {
		if !slices.Contains(known, W(word)) {
			return nil, fmt.Errorf("%q is not a word for this", word)
		}
		list = append(list, W(word))
	}
	return list, nil
}

// rigid are all materials but coated fabric.
func rigid() []boat.Material {
	return slices.DeleteFunc(slices.Clone(boat.Materials), func(m boat.Material) bool { return m == boat.PVC })
}

func readNotBuilt(text string) (map[combination]string, error) {
	list := map[combination]string{}
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		parts := strings.Split(line, "; ")
		if len(parts) != 3 {
			return nil, fmt.Errorf("%q: type; material; why", line)
		}
		types, err := words(parts[0], " | ", boat.Types, nil)
		if err != nil {
			return nil, err
		}
		materials, err := words(parts[1], " | ", boat.Materials, map[string][]boat.Material{"rigid": rigid()})
		if err != nil {
			return nil, err
		}
		for _, m := range materials {
			list[combination{types[0], m}] = parts[2]
		}
	}
	return list, nil
}
