package matching

import (
	"fmt"
	"strconv"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// craft is a boat as far as placing it needs it.
type craft struct {
	id         boat.ID
	name       string
	facts      message.BoatFacts
	ready      bool
	gone       string
	held       string     // why; empty when it is not
	quarantine clock.Date // zero: no drying time was set
	lastWater  string
	promisedTo string // request
	disclosure []message.DisclosedFinding
	badJackets []string // ids of life jackets with it that are not serviceable
	waived     []string // tests that were left out, each with the reason
}

// ask is a request as it takes part in a round.
type ask struct {
	id        string
	household people.ID
	tier      int
	made      time.Time
	wish      message.Wish
	erased    bool // the wish cannot be read any more
}

// club is what the club's settings and the calendar add to a fit.
type club struct {
	loadPercent int
	gearG       int // reckoned with when none is stated
	today       clock.Date
	fitting     map[boat.Feature]int // minutes in which the workshop adds a feature
	jackets     map[string]int       // that the club has, by size; nil: nobody has counted
}

// match is a boat held against a request.
type match struct {
	craft craft
	ask   ask
	club  club
	quiet bool // answers alone are wanted, without sentences

	// Of two boats that a household takes together (bundle.go): what the other adds to
	// the load on a roof, in grams, and what the whole household asks for, of which
	// ask has the part of this boat.
	beside int
	whole  *message.Wish
}

// household is what the whole household asks for.
func (m match) household() message.Wish {
	if m.whole != nil {
		return *m.whole
	}
	return m.ask.wish
}

// say makes a sentence, unless nobody wants one: over millions of pairs sentences
// cost more than all rules.
func (m match) say(format string, args ...any) string {
	if m.quiet {
		return ""
	}
	return fmt.Sprintf(format, args...)
}

// answer is what a rule says. The words stand in answers to questions.
type answer string

// The answers. What is not known is ask, never fits. What fits if something is
// done before the hand-over says what; it is on the sheet that both sign.
const (
	fits   answer = "fits"
	fitsIf answer = "if"
	not    answer = "no"
	asks   answer = "ask"
)

// passes says whether a boat with this answer can be paired.
func (a answer) passes() bool { return a == fits || a == fitsIf }

// verdict is a rule's answer and why, in a sentence that may hold the
// household's numbers.
type verdict struct {
	rule    *rule
	answer  answer
	because string
	over    int // by how much a limit is missed; 0 where that is no number
}

// rule is one hard condition: only boats that pass all of them can be paired.
type rule struct {
	name   string
	source string
	// wants says what the rule asks for; yes, on, no and ask are its answers in
	// words that hold nothing of the household's, for the book. An empty yes goes
	// without saying. change says what the household or the club could do about a
	// no, and is empty where that is nothing.
	wants, yes, on, no, ask, change string
	judge                           func(match) (answer, string)
	// over says by how much a boat misses a limit, in the smallest unit, and unit writes
	// that; nil where it is no number.
	over func(match) int
	unit func(int) string
}

// Sources that are no publication.
const (
	clubsOwn = "the club's own rule"
	practice = "common practice, no source"
)

// rules are all conditions, in the order in which pages show them.
var rules = []*rule{
	{
		name: "ready", source: clubsOwn, judge: judgeReady,
		wants: "The boat is with the club and the workshop has declared it ready.",
		no:    "is not ready to go out", ask: "is not known to be ready",
		change: "the workshop makes it ready",
	},
	{
		name: "held", source: clubsOwn, judge: judgeHeld,
		wants: "The club does not keep the boat back.",
		no:    "is kept back by the club", ask: "may be kept back by the club",
		change: "the club releases it",
	},
	{
		name: "promise", source: clubsOwn, judge: judgePromise,
		wants: "The boat is promised to nobody else.",
		no:    "is promised already", ask: "may be promised already",
	},
	{
		name: "quarantine", source: "the drying time that intake has set by the rule that it names", judge: judgeQuarantine, over: overDrying, unit: inDays,
		wants: "The drying time between two waters is over.",
		no:    "is still drying between two waters", ask: "has no known end of its drying time",
		change: "its drying time ends",
	},
	{
		name: "type", source: clubsOwn, judge: judgeType,
		wants: "The boat is of a type that was asked for.",
		yes:   "It is of a type that was asked for.",
		no:    "is of a type that was not asked for", ask: "is of no known type",
		change: "you name more types that would do",
	},
	{
		name: "seats", source: practice, judge: judgeSeats, over: overSeats, unit: inSeats,
		wants: "Everyone who goes in the boat has a seat.",
		yes:   "It has a seat for everyone.",
		no:    "has too few seats", ask: "has an unknown number of seats",
	},
	{
		name: "load", source: "the club's own share of the maker's rated load; makers rate by different methods, and the label governs", judge: judgeLoad, over: overLoad, unit: kg,
		wants: "People, animals and gear stay within the club's share of the rated load.",
		yes:   "The load stays within the club's share of what the boat is rated for.",
		no:    "carries too little by the club's rule", ask: "cannot be judged by its load yet",
		change: "you take less gear along",
	},
	{
		name: "freeboard", source: "draught and sinking from the usual formulas of naval architecture, an estimate; 2.5 inches of freeboard for kayaks: ABYC H-29, quoted at second hand; 6 inches for canoes: common practice", judge: judgeFreeboard, over: overFreeboard, unit: metres,
		wants: "The boat keeps enough freeboard under its load.",
		yes:   "It keeps enough freeboard.",
		no:    "would lie too deep by estimate", ask: "cannot be judged by its freeboard yet",
		change: "you take less gear along",
	},
	{
		name: "each seat", source: "the limit on the seat's label; without one an even share of the rated load: " + practice, judge: judgeSeat,
		wants: "Nobody is too heavy for one seat.",
		yes:   "Its seats hold each person.",
		no:    "has seats that hold less by their label", ask: "has to be tried for where each person sits",
	},
	{
		name: "floor", source: practice, judge: judgeFloor,
		wants: "Animals have floor space to lie on.",
		no:    "has no floor space for an animal", ask: "has floor space that nobody has noted",
	},
	{
		name: "carry", source: "limit of one person: NIOSH revised lifting equation (DHHS 94-110, rev. 9/2021), level lift at the waist; teams: HSE guidance on the Manual Handling Operations Regulations 1992; to combine the two is the club's own rule", judge: judgeCarry, over: overCarry, unit: kg,
		wants: "Those who carry can carry the boat, or roll it on a cart.",
		yes:   "Those who carry can carry it by the club's reckoning.",
		no:    "is too heavy to carry", ask: "cannot be judged by its carry yet",
		change: "there is a cart, or more hands",
	},
	{
		name: "roof", source: "the limit in the vehicle's handbook, the rack's own mass included; the handbook governs", judge: judgeRoof, over: overRoof, unit: kg,
		wants: "The vehicle's roof limit holds the boat and the rack.",
		yes:   "The stated way of transport can take it.",
		no:    "is too heavy for the roof", ask: "cannot be judged by its transport yet",
		change: "it goes on a trailer, or the club brings it",
	},
	{
		name: "storage", source: practice, judge: judgeStorage, over: overStorage, unit: metres,
		wants: "There is room for the boat's length.",
		yes:   "There is room for its length.",
		no:    "is longer than the room for it", ask: "cannot be judged by its storage yet",
		change: "there is room for a longer boat",
	},
	{
		name: "needs", source: clubsOwn, judge: judgeNeeds,
		wants: "The boat has what was asked for, or the workshop can add it.",
		yes:   "It has what was asked for.",
		on:    "It has what was asked for once the workshop has added something.",
		no:    "lacks something that is needed", ask: "has features that nobody has noted",
	},
	{
		name: "experience", source: practice, judge: judgeExperience,
		wants: "The type of boat suits the experience.",
		yes:   "Its type suits the experience.",
		no:    "asks for more experience", ask: "asks for a talk about experience first",
		change: "getting out under water is practised with somebody first",
	},
	{
		name: "water", source: practice, judge: judgeWater,
		wants: "The water suits the boat and the experience.",
		yes:   "The water suits the boat and the experience.",
		no:    "is not for that water", ask: "asks for a talk about the water first",
		change: "the first outings are on sheltered water, and the request says so",
	},
	{
		name: "jackets", source: "one wearable jacket for each person: 33 CFR 175.15; sizes by mass: the harmonised labels (under 15 kg infant and 15 to 25 kg child from memory, 25 to 40 kg youth, over 40 kg adult); the label governs", judge: judgeJackets,
		wants: "There is a life jacket in the size of everybody.",
		yes:   "There are life jackets in the sizes.",
		on:    "Life jackets in the right sizes are found before the hand-over.",
		no:    "has no jackets to go with it", ask: "cannot go before somebody knows the sizes of jackets",
	},
}

// limits stand beside every number about lifting and load.
var limits = []string{
	"The lifting figures are for two hands, a level load and good footing. They do not cover carrying over a distance, a wet ramp, steps, wind, water left in the hull, or lifting overhead onto a roof. They are no promise for anybody's back.",
	"The share of the rated load is the club's own rule. Makers rate boats by different methods; the boat's label governs.",
	"The roof limit stands in the vehicle's handbook and includes the rack. Follow the handbook, the rack's label and local law.",
}

// weigh gives every rule's verdict.
func weigh(m match) []verdict {
	verdicts := make([]verdict, len(rules))
	for i, r := range rules {
		answer, because := r.judge(m)
		verdicts[i] = verdict{rule: r, answer: answer, because: because}
		if answer == not && r.over != nil {
			verdicts[i].over = r.over(m)
		}
	}
	return verdicts
}

// against gives the verdicts that keep a boat from a request.
func against(verdicts []verdict) []verdict {
	var list []verdict
	for _, v := range verdicts {
		if !v.answer.passes() {
			list = append(list, v)
		}
	}
	return list
}

// plain is the verdict as a sentence that holds nothing of the household's.
func (v verdict) plain() string {
	switch v.answer {
	case fits:
		return v.rule.yes
	case fitsIf:
		return v.rule.on
	case not:
		return "It " + v.rule.no + "."
	}
	return "It " + v.rule.ask + "."
}

// kg writes grams as kilograms.
func kg(grams int) string { return strconv.FormatFloat(float64(grams)/1000, 'f', -1, 64) + " kg" }

// metres writes millimetres as metres.
func metres(mm int) string { return strconv.FormatFloat(float64(mm)/1000, 'f', -1, 64) + " m" }
