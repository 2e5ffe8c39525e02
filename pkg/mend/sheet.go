package mend

import (
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
)

// Work is planned work as a work sheet sees it.
type Work struct {
	ID       string
	Method   string
	Words    string // of whoever planned it
	Minutes  int    // as planned; 0: the table's guess
	Findings []Place
	Done     bool
}

// Place is a finding with the words that name it to people.
type Place struct {
	Finding
	Words string
}

// Job is all that a work sheet follows from.
type Job struct {
	Type     boat.Type
	Material boat.Material
	MassG    int // 0: not known
	Works    []Work
	Tests    []Need
	// Passed are tests that need not be made again.
	Passed map[Test]bool
	// Ticked are the steps that somebody has said to be done.
	Ticked map[string]bool
}

// Wait is time that must pass at a step, as far as a rule gives it.
type Wait struct {
	What    string
	Minutes int // at Celsius
	Celsius int // 0: temperature does not change it
}

// Step is one line of a work sheet.
type Step struct {
	ID    string
	Title string
	Do    []string
	// After are the steps that must be done before this one.
	After    []string
	Tools    []string
	Parts    []string
	Minutes  int
	Skill    Skill
	Cautions []string
	// Ask are the points at which to stop and ask somebody who knows more.
	Ask  []string
	Wait *Wait
	// Work and Test: the step is done by finishing the work, or by passing the
	// test, not by ticking it.
	Work string
	Test Test
	Hard string
	Mark Mark
	Done bool
}

// Open says whether everything before the step is done.
func (s Step) Open(all []Step) bool {
	for _, id := range s.After {
		if i := slices.IndexFunc(all, func(o Step) bool { return o.ID == id }); i >= 0 && !all[i].Done {
			return false
		}
	}
	return true
}

// The steps that every job has. The order (clean before you judge, because cracks
// show then; protectant last, because nothing bonds on it) is common practice, no
// source.
const (
	Drain     = "drain"
	Clean     = "clean"
	LookAgain = "look-again"
	Protect   = "protect"
)

// Sheet gives the work sheet of a job: the steps in an order in which they can
// be done. Leaving and scrapping are no work and are not on it.
func Sheet(j Job) []Step {
	works := slices.DeleteFunc(slices.Clone(j.Works), func(w Work) bool { return w.Method == LeaveAndWatch || w.Method == Scrap })
	var steps []Step
	if len(works) > 0 {
		steps = append(steps, drain(j), clean, lookAgain)
	}
	mends := []string{LookAgain}
	for _, w := range works {
		if !isFittingWork(w) {
			mends = append(mends, j.add(&steps, w, []string{LookAgain})...)
		}
	}
	fittings := slices.Clone(mends)
	for _, w := range works {
		if isFittingWork(w) {
			fittings = append(fittings, j.add(&steps, w, mends)...)
		}
	}
	last := []string{}
	if len(works) > 0 {
		last = fittings
		if slices.Contains(plastics, j.Material) {
			steps = append(steps, protect(fittings))
			last = []string{Protect}
		}
	}
	for _, n := range j.Tests {
		steps = append(steps, j.test(n, last))
	}
	for i := range steps {
		if steps[i].Work == "" && steps[i].Test == "" {
			steps[i].Done = j.Ticked[steps[i].ID]
		}
	}
	return steps
}

// isFittingWork: fittings, cords and seats come when the hull is mended and
// cured.
func isFittingWork(w Work) bool { return w.Method == "replace part" || w.Method == "re-bed fitting" }

// add appends the steps of one work and gives those that must be done before the
// next stage.
func (j Job) add(steps *[]Step, w Work, after []string) []string {
	s := j.mend(w, after)
	*steps = append(*steps, s)
	wait := waitAfter(w.Method, j.Material)
	if wait == nil {
		return []string{s.ID}
	}
	id := "wait-" + w.ID
	*steps = append(*steps, Step{
		ID: id, Title: "Wait: " + wait.What, After: []string{s.ID}, Wait: wait, Mark: Guides, Do: []string{
			"Set a timer, and write the temperature of the shop into it. The label's time governs; the rule only says what cold adds.",
		},
		Ask: []string{"Stop and ask if it is still soft or sticky when the time is over: resin that has not set will not be mended by more resin."},
	})
	if wait.Celsius == 0 {
		last := &(*steps)[len(*steps)-1]
		last.Do = []string{"Let it come to the shop's temperature by itself. Water or wind on a hot weld makes it brittle."}
		last.Ask, last.Mark = []string{"Stop and ask if the place has pulled out of shape as it cooled."}, Practice
	}
	return []string{id}
}

func (j Job) mend(w Work, after []string) Step {
	s := Step{ID: "mend-" + w.ID, Work: w.ID, After: after, Minutes: w.Minutes, Done: w.Done}
	words, minutes := "", 0
	for _, p := range w.Findings {
		a := ForMethod(w.Method, p.Finding, j.Material)
		minutes += a.Minutes
		s.Do, s.Skill, s.Mark = []string{a.Words}, a.Skill, a.Mark
		if a.Hard != "" {
			s.Hard = fmt.Sprintf("The %s is %s: a hard place. Take more time, and make the leak test with this place under water.", p.Part, a.Hard)
		}
		if words != "" {
			words += "; "
		}
		words += p.Words
	}
	s.Title = fmt.Sprintf("Mend (%s): %s", w.Method, words)
	if s.Minutes == 0 {
		s.Minutes = minutes
	}
	if w.Words != "" {
		s.Do = append(s.Do, "As planned: "+w.Words)
	}
	k := kitOf(w.Method, j.Material)
	s.Tools, s.Parts, s.Cautions, s.Ask = k.tools, k.parts, k.cautions, k.ask
	return s
}

// waitAfter is the time that must pass after a method.
func waitAfter(method string, m boat.Material) *Wait {
	switch rowOf(m, method).skill {
	case HotWork:
		return &Wait{What: "the weld cools", Minutes: 30}
	case Laminating:
		return &Wait{What: "the resin cures before anything loads it", Minutes: 24 * 60, Celsius: 21}
	}
	if method == "adhesive patch" {
		return &Wait{What: "the adhesive cures before air goes in", Minutes: 24 * 60, Celsius: 21}
	}
	if method == "patch" || method == "re-bed fitting" || method == "fill" {
		return &Wait{What: "the sealant sets", Minutes: 24 * 60, Celsius: 21}
	}
	return nil
}

func drain(j Job) Step {
	s := Step{
		ID: Drain, Title: "Drain and dry", Minutes: 20, Mark: Practice,
		Do: []string{
			"Open plugs and hatches, let the water run out where it stands, then dry the inside with a sponge and moving air.",
			"It is dry when it shows no damp any more: for drying there is no rule by temperature. Wood and foam take days.",
		},
		Tools: []string{"sponge", "fan"},
		Cautions: []string{
			"A litre of water weighs a kilogram and moves. Drain before you lift, carry with two people or a cart, and say aloud before you lift.",
		},
		Ask: []string{"Stop and ask if water keeps coming out of foam or a closed space: it hides there."},
	}
	if j.MassG > 0 {
		s.Cautions = append(s.Cautions, fmt.Sprintf("The hull alone weighs %.1f kg.", float64(j.MassG)/1000))
	}
	return s
}

var (
	clean = Step{
		ID: Clean, Title: "Clean", After: []string{Drain}, Minutes: 40, Mark: Practice,
		Do:    []string{"Wash with mild soap and a soft brush, inside and out, rinse and let it dry. Protectant and wax must come off where something is to hold."},
		Tools: []string{"bucket", "soft brush", "mild soap", "gloves"},
		Cautions: []string{
			"Gloves, and no cleaner whose label you have not read. Never mix cleaners.",
			"Mud and weed from other water go into the bin, not into the lake.",
		},
		Ask: []string{"Stop and ask before you use anything stronger than soap."},
	}
	lookAgain = Step{
		ID: LookAgain, Title: "Look it over a second time", After: []string{Clean}, Minutes: 20, Mark: Practice,
		Do: []string{
			"Cracks show when the dirt is gone. Look at every part again with a lamp from the side, press where people sit, and flex plastic by hand.",
			"Write down what is new as a finding, before anything is mended.",
		},
		Tools: []string{"lamp", "chalk", "rule"},
		Ask:   []string{"Stop and ask if plastic turns white or crackles when you flex it: brittle plastic is not mended."},
	}
)

func protect(after []string) Step {
	return Step{
		ID: Protect, Title: "UV protectant", After: after, Minutes: 20, Mark: Practice,
		Do: []string{
			"Last of all, when everything is mended and cured: nothing holds on a surface that has been treated.",
			"Wipe it on thinly, outside and on cords, and off where people stand, sit or hold.",
		},
		Tools: []string{"cloths", "gloves"}, Parts: []string{"UV protectant"},
		Cautions: []string{"It makes decks slippery. Outdoors or with the doors open, gloves on; the label governs."},
		Ask:      []string{"Stop and ask if something is still to be glued, welded or laminated."},
	}
}

func (j Job) test(n Need, after []string) Step {
	t := TrialOf(n.Test)
	return Step{
		ID: "test-" + string(n.Test), Test: n.Test, Title: fmt.Sprintf("Test: %s, because %s", n.Test, n.Because), After: after, Minutes: testMinutes[n.Test],
		Do: append(slices.Clone(t.How), "Passed when: "+t.Passes), Cautions: t.Cautions, Mark: n.Mark, Done: j.Passed[n.Test],
		Ask: []string{"Stop and ask if the reading is not clear. A doubtful test is a failed one."},
	}
}

// testMinutes is how long a test takes hands, the club's guess.
var testMinutes = map[Test]int{Leak: 40, Load: 45, Fittings: 20, Flotation: 30, Pressure: 80, Valves: 30}

// kit is what one method on one material needs and where it can hurt.
type kit struct{ tools, parts, cautions, ask []string }

// The cautions of a kit stand at the step where they matter. Temperatures are
// those of Welds; that styrene, dust and isocyanates harm is on every label, the
// rest is common practice, no source.
var (
	hotKit = kit{
		tools: []string{"hot-air tool with welding nozzle", "drill", "scraper", "heat gloves", "eye protection", "fire extinguisher", "infrared thermometer"},
		parts: []string{"welding rod of the same polymer"},
		cautions: []string{
			"The air of a welding tool (about 270 to 300 °C for polyethylene by a trade chart) comes near the temperature at which polyethylene catches fire by itself (about 350 °C, from memory). Extinguisher at hand, no solvent, no dust and no paper near, and look at the place again an hour later.",
			"Work outdoors or under extraction, never in a closed room. Shield the work from wind, not yourself from air.",
			"Never heat PVC or anything that you cannot name: PVC gives off acid fume.",
			"Hands and eyes: molten plastic sticks and burns on. A sharp scraper goes away from the hand that holds the work.",
		},
		ask: []string{
			"Stop and ask if rod and parent do not melt into each other: it may be cross-linked, or another plastic.",
			"Stop and ask if the plastic smokes, browns or smells sharp.",
		},
	}
	resinKit = kit{
		tools: []string{"scales for resin", "brushes and roller", "sander with extraction", "respirator for organic vapour", "mask for fine dust", "gloves", "eye protection"},
		parts: []string{"resin and hardener", "cloth", "filler"},
		cautions: []string{
			"Resin, styrene and hardeners harm lungs, skin and eyes: outdoors or under extraction, never in a closed room, gloves on, and stop for good if your skin itches. The label and its safety data sheet govern.",
			"Dust: sand wet or with extraction, with a mask made for fine dust.",
			"Mixed resin heats itself and can catch fire in the cup: mix little, spread it out, and set leftovers outside on metal or stone.",
			"No flame and no hot-air tool near resin or solvent. Never change the mix ratio to change the speed.",
		},
		ask: []string{
			"Stop and ask if the place is damp, or the shop is colder than the label allows (ordinary epoxy below about 10 °C may never cure).",
			"Stop and ask if the soft place goes on under sound skin: cut no further than somebody who knows has marked.",
		},
	}
	glueKit = kit{
		tools: []string{"roller", "brushes", "gloves", "eye protection", "respirator for organic vapour"},
		parts: []string{"patch of the same fabric", "two-part adhesive of the maker"},
		cautions: []string{
			"Two-part adhesives hold isocyanates: outdoors or under extraction, never in a closed room, gloves on, and stop for good if your skin itches or your breath is short. The label governs.",
			"No flame, no spark and no hot-air tool near adhesive or solvent, and never heat PVC.",
		},
		ask: []string{"Stop and ask if the fabric is stiff or tacky from the sun: no patch holds on it."},
	}
	sealKit = kit{
		tools:    []string{"screwdrivers and spanners", "drill", "rivet tool", "sealant gun", "knife", "gloves", "eye protection"},
		parts:    []string{"fasteners", "flexible sealant"},
		cautions: []string{"Sharp tools cut towards the hand that holds the work: clamp it. Eye protection when you drill or rivet. Sealants: with open doors and gloves; the label governs."},
		ask:      []string{"Stop and ask if the hole is torn, or the wood or plastic around it gives."},
	}
	woodKit = kit{
		tools:    []string{"saw and plane", "clamps", "moisture meter", "gloves", "eye protection", "mask for fine dust"},
		parts:    []string{"wood of the same kind", "glue", "fasteners of bronze or stainless steel"},
		cautions: []string{"Sharp tools: clamp the work and cut away from your hands. Rags with linseed oil catch fire by themselves: into water or a closed metal bin.", "Dust: with a mask made for fine dust."},
		ask:      []string{"Stop and ask if the wood is damp, or the soft place goes on."},
	}
)

func kitOf(method string, m boat.Material) kit {
	switch {
	case m == boat.Aluminium && method == "weld":
		return kit{
			tools: []string{"none: a trade workshop does it"}, parts: []string{"outside work"},
			cautions: []string{"Foam, sealant and fuel must be out of reach of the heat. Welding aluminium is the work of a licensed trade."},
			ask:      []string{"Stop and ask the workshop whether the alloy can be welded at all."},
		}
	case rowOf(m, method).skill == HotWork:
		return hotKit
	case method == "scarf" && m == boat.Wood:
		return kit{woodKit.tools, append(slices.Clone(woodKit.parts), "thickened epoxy"), append(slices.Clone(woodKit.cautions), resinKit.cautions...), woodKit.ask}
	case rowOf(m, method).skill == Laminating:
		return resinKit
	case method == "adhesive patch" && m == boat.PVC:
		return glueKit
	case m == boat.Wood && (method == "patch" || method == "adhesive patch"):
		return woodKit
	}
	return sealKit
}

// Disposal says what becomes of a hull that is not mended any more, material by
// material (common practice, no source; the local office for waste governs).
func Disposal(m boat.Material) string {
	switch m {
	case boat.Rotomoulded:
		return "Polyethylene: to a collector that takes rigid polyethylene, cut up and clean; else to the bulky waste. Never burn it."
	case boat.CrossLinked:
		return "Cross-linked polyethylene cannot be melted again: to the bulky waste. Never burn it."
	case boat.ABSSandwich:
		return "ABS with foam: to the bulky waste. Never burn it."
	case boat.Composite:
		return "Fibre and resin: to a landfill or yard that takes composites; ask the office for waste first. Cut it only wet or with extraction and a mask for fine dust. Never burn it."
	case boat.PVC:
		return "PVC: as makers' bags and covers, or to the waste that takes PVC. Never burn it: the fume is acid."
	case boat.Aluminium:
		return "Aluminium: to a scrap yard, without foam, wood and steel."
	case boat.Wood:
		return "Wood with paint, varnish or preservative is treated wood: to the collector for it, never into a stove."
	}
	return "Ask the local office for waste."
}
