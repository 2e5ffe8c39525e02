package matching

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
)

func judgeReady(m match) (answer, string) {
	switch {
	case m.craft.gone != "":
		return not, "The boat is no longer with the club: " + m.craft.gone + "."
	case !m.craft.ready:
		return not, "The workshop has not declared the boat ready."
	}
	return fits, "The workshop has declared the boat ready."
}

func judgeHeld(m match) (answer, string) {
	if m.craft.held != "" {
		return not, m.say("The club keeps the boat back: %s.", m.craft.held)
	}
	return fits, "The club does not keep the boat back."
}

func judgePromise(m match) (answer, string) {
	switch m.craft.promisedTo {
	case "":
		return fits, "The boat is promised to nobody."
	case m.ask.id:
		return fits, "The boat is offered to this request."
	}
	return not, "The boat is offered or promised to another household."
}

// judgeQuarantine takes a boat without a drying time for one that needs none:
// intake sets one for every boat from a water that may carry something.
func judgeQuarantine(m match) (answer, string) {
	until := m.craft.quarantine
	switch {
	case until.IsZero():
		return fits, "Intake has set no drying time for the boat."
	case m.club.today.IsZero():
		return asks, m.say("The boat dries until %s, and the day is not known.", until)
	case m.club.today.Before(until):
		return not, m.say("The boat has to dry until %s, which is %d days from now.", until, until.DaysSince(m.club.today))
	}
	return fits, m.say("The drying time was over on %s.", until)
}

func judgeType(m match) (answer, string) {
	t := m.craft.facts.Type
	place := slices.Index(m.ask.wish.Types, t)
	switch {
	case t == "":
		return asks, "The boat's type has not been noted."
	case place < 0:
		return not, m.say("The boat is %s, and the request names %s.", t.WithArticle(), words(m.ask.wish.Types))
	}
	return fits, m.say("The boat is %s, choice %d of %d.", t.WithArticle(), place+1, len(m.ask.wish.Types))
}

func judgeSeats(m match) (answer, string) {
	seats, party := m.craft.facts.Seats, len(m.ask.wish.Adults)+len(m.ask.wish.Children)
	switch {
	case seats == 0:
		return asks, "The number of seats has not been noted; count them."
	case party > seats:
		return not, m.say("%s for %d.", plural(seats, "seat", "seats"), party)
	}
	return fits, m.say("%s for %d.", plural(seats, "seat", "seats"), party)
}

func judgeStorage(m match) (answer, string) {
	length, room := m.craft.facts.LengthMM, m.ask.wish.StorageMM
	switch {
	case packs(m.craft.facts.Type):
		return fits, "The boat packs small when the air is let out."
	case length == 0:
		return asks, "The boat's length has not been noted; measure it."
	case room == 0:
		return asks, m.say("The boat is %s long; ask how long a boat there is room for.", metres(length))
	case length > room:
		return not, m.say("The boat is %s long, and there is room for %s.", metres(length), metres(room))
	}
	return fits, m.say("The boat is %s long, and there is room for %s.", metres(length), metres(room))
}

// packs says whether a boat goes into a bag, so that neither roof nor storage
// asks for its length.
func packs(t boat.Type) bool { return t == boat.Inflatable || t == boat.InflatableCanoe }

// lacking gives what is needed and the boat is not noted to have.
func lacking(m match) []boat.Feature {
	return slices.DeleteFunc(slices.Clone(m.ask.wish.Needs), func(f boat.Feature) bool { return slices.Contains(m.craft.facts.Features, f) })
}

func judgeNeeds(m match) (answer, string) {
	needs, has, lacks := m.ask.wish.Needs, m.craft.facts.Features, lacking(m)
	switch {
	case len(needs) == 0:
		return fits, "Nothing special was asked for."
	case len(lacks) == 0:
		return fits, "The boat has what was asked for: " + words(needs) + "."
	case len(has) == 0:
		return asks, "Nobody has noted what the boat has; look for " + words(lacks) + "."
	}
	minutes := 0
	for _, f := range lacks {
		if m.club.fitting[f] == 0 {
			return not, "The boat lacks " + words(lacks) + "."
		}
		minutes += m.club.fitting[f]
	}
	return fitsIf, m.say("The boat fits if the workshop adds %s, about %s of work by the club's reckoning.", words(lacks), hours(minutes))
}

// hours writes minutes as hours, to a tenth.
func hours(minutes int) string {
	return strconv.FormatFloat(math.Round(float64(minutes)/6)/10, 'f', -1, 64) + " h"
}

// dogFloor is the feature that an animal on board wants.
const dogFloor boat.Feature = "floor space for a dog"

func judgeFloor(m match) (answer, string) {
	animals, has := len(m.ask.wish.AnimalsG), m.craft.facts.Features
	switch {
	case animals == 0:
		return fits, "No animal comes along."
	case slices.Contains(has, dogFloor):
		return fits, "The boat has floor space for an animal."
	case len(has) == 0:
		return asks, "Nobody has noted whether the boat has floor space for an animal."
	}
	return not, "An animal comes along, and the boat has no floor space for it."
}

// longCockpit is the length from which a sit-inside kayak is taken for a touring
// boat, narrower and with a smaller cockpit. Usual lengths, from memory.
const longCockpit = 4300

// judgeExperience knows one distinction: a closed cockpit has to be left under
// water after a capsize, and that wants practice.
func judgeExperience(m match) (answer, string) {
	if m.craft.facts.Type != boat.SitInside {
		return fits, "An open boat, or one that is sat upon, has no cockpit to get out of."
	}
	switch m.ask.wish.Experience {
	case muchExperience:
		return fits, "A closed cockpit, and much experience."
	case someExperience:
		return judgeSomeExperience(m)
	case noExperience:
		return judgeNoExperience(m)
	}
	return asks, "A closed cockpit; ask what experience there is."
}

func judgeSomeExperience(m match) (answer, string) {
	switch length := m.craft.facts.LengthMM; {
	case length == 0:
		return asks, "A closed cockpit of unknown length; measure the boat."
	case length >= longCockpit:
		return asks, m.say("A touring kayak of %s; ask whether getting out under water was practised.", metres(length))
	}
	return fits, "A short kayak with a closed cockpit, and some experience."
}

func judgeNoExperience(m match) (answer, string) {
	switch f := m.craft.facts; {
	case len(f.Features) == 0:
		return asks, "A closed cockpit, and nobody has noted whether it is a wide one."
	case !slices.Contains(f.Features, boat.Feature("wide cockpit")):
		return not, "A closed cockpit that is not wide, and no experience: getting out under water has to be practised first."
	case f.LengthMM == 0:
		return asks, "A closed cockpit of unknown length; measure the boat."
	case f.LengthMM >= longCockpit:
		return not, m.say("A touring kayak of %s, and no experience.", metres(f.LengthMM))
	}
	return fits, "A short kayak with a wide cockpit; the first outing is with somebody who shows how to get out."
}

// The waters that the form names, by what they ask of people. Common practice, no
// source.
var (
	shelteredWaters = []string{"pond or small lake", "slow river", "sheltered lake"}
	openWaters      = []string{"large lake", "river, class I", "coast, near the shore", "several of these"}
)

// judgeWater knows two sorts of water: sheltered, where beginners usually
// begin, and open or moving, where nobody should begin alone or on what the wind carries off.
func judgeWater(m match) (answer, string) {
	w, t := m.ask.wish, m.craft.facts.Type
	switch {
	case slices.Contains(shelteredWaters, w.Water):
		return fits, m.say("Sheltered water: %s.", w.Water)
	case w.Experience == muchExperience:
		return fits, m.say("Much experience, for: %s.", w.Water)
	case !slices.Contains(openWaters, w.Water):
		return asks, m.say("Ask what water is meant: %s.", w.Water)
	case w.Experience == noExperience:
		return not, m.say("Open or moving water (%s) and no experience: the first outings are on sheltered water.", w.Water)
	case w.Experience != someExperience:
		return asks, m.say("Open or moving water (%s); ask what experience there is.", w.Water)
	case packs(t) || t == boat.Board:
		return asks, m.say("Wind carries off %s on open water (%s); ask about wind and company.", t.WithArticle(), w.Water)
	}
	return fits, m.say("Some experience, for: %s.", w.Water)
}

func words[W ~string](list []W) string {
	texts := make([]string, len(list))
	for i, w := range list {
		texts[i] = string(w)
	}
	return strings.Join(texts, ", ")
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
