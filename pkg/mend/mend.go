// Package mend holds what a workshop knows of mending boats: which methods suit
// which material and which fail, in which order work is done, what can hurt
// somebody on the way, and which tests a mended boat needs.
//
// All of it is data with reasons and marks of where it comes from (methods.txt
// and the tables beside the functions). It catches what is known to fail; it does
// not say that work will hold, and is no instruction: the makers of boat and
// materials, local rules and licensed trades govern, and a person decides.
package mend

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
)

// Mark says where a rule comes from.
type Mark string

// The marks.
const (
	Guides   Mark = "published repair guides"
	Memory   Mark = "from memory"
	Practice Mark = "common practice, no source"
)

var marks = map[string]Mark{"guides": Guides, "memory": Memory, "practice": Practice}

// Skill is what somebody must be signed off for before they do certain work
// alone.
type Skill string

// The skills.
const (
	HotWork    Skill = "hot work"
	Laminating Skill = "laminating"
)

// Skills lists the skills.
var Skills = []Skill{HotWork, Laminating}

// Methods lists what can be done about a finding. The words stand in events for
// ever.
var Methods = []string{
	"weld", "patch", "laminate", "fill", "replace part", "re-bed fitting", "adhesive patch", "scarf", "re-rivet", LeaveAndWatch, Scrap,
}

// Methods that are treated in a way of their own.
const (
	LeaveAndWatch = "leave and watch"
	Scrap         = "scrap"
)

// Finding is what there is to mend.
type Finding struct {
	Part        boat.Part
	Defect      boat.Defect
	Severity    boat.Severity
	LoadBearing bool
}

// Advice is what is known of one method for one finding.
type Advice struct {
	Method string
	Suits  bool
	// Words say how, when it suits, and why not, when it does not.
	Words string
	Mark  Mark
	// Skill is what whoever signs the work must be signed off for; empty: none.
	Skill   Skill
	Minutes int // a rough guess, more for a hard place
	// Hard says why the place is harder than others; empty when it is not.
	Hard string
	// Unsure says that it depends on what the part itself is made of.
	Unsure bool
}

type row struct {
	suits   bool
	skill   Skill
	minutes int
	mark    Mark
	words   string
}

//go:embed methods.txt
var methodsText string

// table is methods.txt by material and method; "any" is a material there.
var table = mustRead(methodsText)

const anyMaterial boat.Material = "any"

// mustRead panics on a table that is not whole: it is compiled in.
func mustRead(text string) map[boat.Material]map[string]row {
	all := map[boat.Material]map[string]row{}
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		material, method, r, err := readRow(line)
		if err != nil {
			panic(fmt.Sprintf("methods.txt: %q: %v", line, err))
		}
		if all[material] == nil {
			all[material] = map[string]row{}
		}
		all[material][method] = r
	}
	return all
}

func readRow(line string) (material boat.Material, method string, r row, err error) {
	parts := strings.Split(line, " | ")
	if len(parts) != 7 {
		return "", "", r, fmt.Errorf("has %d parts, not 7", len(parts))
	}
	material, method = boat.Material(parts[0]), parts[1]
	if material != anyMaterial && !slices.Contains(boat.Materials, material) || !slices.Contains(Methods, method) {
		return "", "", r, fmt.Errorf("names no material or no method")
	}
	if r.suits = parts[2] == "suits"; !r.suits && parts[2] != "fails" {
		return "", "", r, fmt.Errorf("neither suits nor fails")
	}
	if r.skill = Skill(parts[3]); r.skill == "-" {
		r.skill = ""
	} else if !slices.Contains(Skills, r.skill) {
		return "", "", r, fmt.Errorf("names no skill")
	}
	if r.minutes, err = strconv.Atoi(parts[4]); err != nil {
		return "", "", r, err
	}
	if r.mark = marks[parts[5]]; r.mark == "" {
		return "", "", r, fmt.Errorf("has no mark")
	}
	r.words = parts[6]
	return material, method, r, nil
}

func rowOf(m boat.Material, method string) row {
	if r, ok := table[m][method]; ok {
		return r
	}
	return table[anyMaterial][method]
}

// plastics grow brittle in the sun, and then nothing holds on them.
var plastics = []boat.Material{boat.Rotomoulded, boat.CrossLinked, boat.ABSSandwich, boat.PVC}

// hardPlaces are edges, corners and rims, where tool and cloth do not lie flat
// and the mend is strained from two sides (common practice, no source).
var hardPlaces = map[boat.Part]string{
	"chine": "an edge", "stem": "an edge", "gunwale": "an edge", "coaming": "a rim", "hatch rim": "a rim",
	"scupper": "the end of a tube", "seat mount": "a corner that carries load", "fin box": "a corner", "drain plug": "a rim",
}

// harder is how much longer a hard place takes, in per cent; the club's guess.
const harder = 150

// Hard says why a part is a hard place; empty when it is not.
func Hard(p boat.Part) string { return hardPlaces[p] }

// ForMethod gives what is known of one method for a finding on a boat of a
// material. An unknown method fails.
func ForMethod(method string, f Finding, m boat.Material) Advice {
	r := rowOf(m, method)
	a := Advice{Method: method, Suits: r.suits, Words: r.words, Mark: r.mark, Skill: r.skill, Minutes: r.minutes}
	switch {
	case method == Scrap:
		return a
	case method == LeaveAndWatch:
		if f.forbids() {
			a.Suits, a.Mark = false, Practice
			a.Words = fmt.Sprintf("it is noted as %q and cannot be left", string(f.Severity))
		}
		return a
	case f.Part == "hull number":
		a.Suits, a.Mark, a.Skill = false, Memory, ""
		a.Words = "the club does not make, move or mend a hull number; leave it and ask the authority that gave it (33 CFR 181.35)"
		return a
	case !ofHull(f.Part, m) && !general(method):
		return onFitting(a, m)
	case f.Defect == "brittleness" && ofHull(f.Part, m) && slices.Contains(plastics, m):
		a.Suits, a.Mark, a.Skill = false, Guides, ""
		a.Words = "brittle plastic is not mended, it breaks again beside the mend; retire the boat"
		return a
	}
	if a.Suits && (r.skill != "" || method == "patch") {
		a.Hard = Hard(f.Part)
	}
	if a.Hard != "" {
		a.Minutes = a.Minutes * harder / 100
	}
	return a
}

// mouldedIn are the parts that are moulded in one piece with a polyethylene hull
// (common practice, no source).
var mouldedIn = []boat.Part{"coaming", "hatch rim"}

// ofHull says whether a part is of the hull's own material.
func ofHull(p boat.Part, m boat.Material) bool {
	oneShell := m == boat.Rotomoulded || m == boat.CrossLinked
	return p.OfHull() || oneShell && slices.Contains(mouldedIn, p)
}

// general says whether a method suits a part whatever it is made of.
func general(method string) bool {
	_, ok := table[anyMaterial][method]
	return ok
}

// onFitting is what a method does on a fitting, which can be of any material, so
// that no hull's rule forbids it. But heat on a fitting reaches the hull.
func onFitting(a Advice, m boat.Material) Advice {
	if a.Method == "weld" && (m == boat.PVC || m == boat.ABSSandwich) {
		a.Suits = false
		return a
	}
	a.Suits, a.Unsure, a.Mark, a.Minutes, a.Skill = true, true, Practice, 60, skillOf(a.Method)
	a.Words = "It may do where the part itself is of a material that takes it: look at the part, not at the hull."
	return a
}

// skillOf is what a method asks for whatever the material.
func skillOf(method string) Skill {
	switch method {
	case "weld":
		return HotWork
	case "laminate", "scarf":
		return Laminating
	}
	return ""
}

func (f Finding) forbids() bool { return f.Severity == boat.MendBefore || f.Severity == boat.DoNotUse }

// Advise gives every method for a finding: those that suit first, in the order
// in which a workshop would think of them, then those that depend on the part, then
// those that fail.
func Advise(f Finding, m boat.Material) []Advice {
	var suit, unsure, fail []Advice
	for _, method := range order(f) {
		switch a := ForMethod(method, f, m); {
		case !a.Suits:
			fail = append(fail, a)
		case a.Unsure:
			unsure = append(unsure, a)
		default:
			suit = append(suit, a)
		}
	}
	return slices.Concat(suit, unsure, fail)
}

// order gives the methods as the defect suggests them (common practice, no
// source): what is lost or worn out is replaced, what is loose is bedded anew,
// what is brittle is scrapped; the rest is mended.
func order(f Finding) []string {
	first := []string{}
	switch f.Defect {
	case "missing", "perished", "worn":
		first = []string{"replace part"}
	case "loose", "leaking":
		first = []string{"re-bed fitting", "replace part"}
	case "brittleness":
		first = []string{Scrap}
	case "abrasion", "chalking", "crazing", "dent":
		if !f.forbids() {
			first = []string{LeaveAndWatch}
		}
	}
	if !f.Part.OfHull() && len(first) == 0 {
		first = []string{"replace part", "re-bed fitting"}
	}
	return append(first, slices.DeleteFunc(slices.Clone(Methods), func(m string) bool { return slices.Contains(first, m) })...)
}

// MayDo lists the methods that are not known to fail for a finding.
func MayDo(f Finding, m boat.Material) []string {
	var may []string
	for _, a := range Advise(f, m) {
		if a.Suits {
			may = append(may, a.Method)
		}
	}
	return may
}
