package web

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// A wish is asked with rows for people, of which empty ones are left out, and
// with the best type of boat apart from those that would do as well.

// Rows for people that a form has at first, and by how many it grows.
const (
	adultRows  = 4
	childRows  = 4
	animalRows = 2
	moreRows   = 4
)

// anyType stands for all types in the choice of the best one.
const anyType = "any"

// typeLabels say what a type of boat is to somebody who has never had one.
var typeLabels = map[boat.Type]string{
	boat.Canoe:           "canoe: open, paddled with one blade",
	boat.SitInside:       "kayak to sit inside: legs under a deck",
	boat.SitOnTop:        "kayak to sit on top of: easy to get on and off",
	boat.Board:           "board: to stand or kneel on",
	boat.Inflatable:      "inflatable kayak: packs small",
	boat.InflatableCanoe: "inflatable canoe: packs small",
}

func typeOptions() []Option {
	options := make([]Option, len(boat.Types))
	for i, t := range boat.Types {
		options[i] = Option{string(t), typeLabels[t]}
	}
	return options
}

var (
	waterOptions = words([]string{"pond or small lake", "large lake", "slow river", "river, class I", "coast, near the shore", "several of these"})

	experienceOptions = []Option{{"none", "none yet"}, {"some", "some"}, {"much", "much"}}
	transportOptions  = []Option{{"roof", "on a car's roof"}, {"trailer", "on a trailer"}, {"none", "no car: it stays near the water"}}
)

// waterChoices are the form's own words, and those of a wish that has others.
func waterChoices(told string) []Option {
	if told == "" || slices.ContainsFunc(waterOptions, func(o Option) bool { return o.Value == told }) {
		return waterOptions
	}
	return append(slices.Clone(waterOptions), Option{told, told})
}

// wishSections asks what a household needs, with rows for what was typed or for
// the wish that is there. water is what that wish says, which a list of the club's
// own may have in other words.
func wishSections(rows rowCounts, water string) []Section {
	return slices.Concat(
		[]Section{{Legend: "The boat", Fields: []Field{
			one("best", "What kind of boat would you like best?", append(typeOptions(), Option{anyType, "I do not mind"})).Needed(),
			some("wish.types", "Which would do as well?", typeOptions()).With("The more kinds would do, the better the chance."),
			one("wish.water", "Where will it be used?", waterChoices(water)).Needed(),
			one("wish.experience", "How much have you paddled before?", experienceOptions).Needed(),
		}}},
		partySections(rows),
		[]Section{
			{Legend: "What would help", Fields: []Field{
				some("wish.needs", "Things a boat should have", words(boat.Features)).With("We ask for what you need, never why."),
			}},
			{Legend: "From the car to the water", Words: "A boat weighs 10 to 40 kg. We look for one that you can carry.", Fields: []Field{
				number("wish.carriers", "How many people can carry it?").Needed(),
				number("wish.each_lifts_g", "How much can each lift with ease, in kilograms?"),
				tick("wish.has_cart", "We have a cart, or the way is smooth enough for one"),
				one("wish.transport", "How does it get to the water?", transportOptions).Needed(),
				number("wish.roof_load_g", "Roof load that the car's handbook allows, in kilograms").With("Only for a roof. It counts the rack as well."),
				number("wish.rack_g", "Mass of the roof rack, in kilograms"),
				number("wish.vehicle_mm", "Length of the car, in metres").With("Only for a roof: it tells how far a boat sticks out."),
				tick("wish.own_jackets", "Everybody has a life jacket that fits").With("Otherwise we look for jackets as well."),
			}},
			{Legend: "Where it is kept", Fields: []Field{
				number("wish.storage_mm", "Longest boat for which there is room, in metres"),
				area("wish.words", "Anything else we should know").With("Please nothing about health: say what the boat should have."),
			}},
		},
	)
}

// partySections asks who goes in the boat.
func partySections(rows rowCounts) []Section {
	var adults, children, animals []Field
	for i := range rows.adults {
		adults = append(adults, number(fmt.Sprintf("wish.adults[%d].mass_g", i), fmt.Sprintf("Adult %d, kg", i+1)))
	}
	for i := range rows.children {
		children = append(children,
			number(fmt.Sprintf("wish.children[%d].years", i), fmt.Sprintf("Child %d, age", i+1)),
			number(fmt.Sprintf("wish.children[%d].mass_g", i), fmt.Sprintf("Child %d, kg", i+1)))
	}
	for i := range rows.animals {
		animals = append(animals, number(fmt.Sprintf("wish.animals_g[%d]", i), fmt.Sprintf("Animal %d, kg", i+1)))
	}
	animals = append(animals, number("wish.gear_g", "Gear, kg"))
	return []Section{
		{Legend: "Who paddles", Words: "Every boat carries only so much. With the masses we can tell which do; without them we have to ask again. They are sealed: only those who place boats read them.", Fields: []Field{
			number("adults", "How many adults?").Needed().Starts("1"),
			tick("wish.two_singles", "Two boats for one person each would do as well").With("Only for two adults, each of whom paddles alone. You then get both boats or none."),
		}},
		{Words: "Their masses. Leave rows empty that you do not need.", Fields: adults, Close: true},
		{Legend: "Children under 18", Words: "Leave rows empty that you do not need.", Fields: children, Close: true},
		{Legend: "Animals and gear", Words: "Life jackets, clothes, food and what else comes along. If you leave it empty, we reckon with the club's usual allowance.", Fields: animals, Close: true},
	}
}

// rowCounts is how many rows a form has for each sort of company.
type rowCounts struct{ adults, children, animals int }

// rowsFor gives at least the usual number of rows, one more than are filled, and
// those that were asked for.
func rowsFor(typed, start url.Values) rowCounts {
	filled := typed
	if filled == nil {
		filled = start
	}
	more, err := strconv.Atoi(typed.Get("more_rows"))
	if err != nil || more < 0 {
		more = 0
	}
	return rowCounts{
		adults:   min(12, max(adultRows+more, lastRow(filled, "wish.adults")+1)),
		children: min(12, max(childRows+more, lastRow(filled, "wish.children")+1)),
		animals:  min(6, max(animalRows+more, lastRow(filled, "wish.animals_g")+1)),
	}
}

// lastRow counts the rows of a list up to the last that says something.
func lastRow(values url.Values, path string) int {
	b, last := binder{values: values}, 0
	for i := range 12 {
		if b.has(fmt.Sprintf("%s[%d]", path, i)) {
			last = i + 1
		}
	}
	return last
}

// closeRows moves filled rows up, so that none in between is empty, in what was
// typed: a fault then names the row that the form shows.
func closeRows(typed url.Values, path string, fields ...string) {
	to := 0
	for from := range 12 {
		at := func(n int, field string) string { return fmt.Sprintf("%s[%d]%s", path, n, field) }
		if !slices.ContainsFunc(fields, func(f string) bool { return strings.TrimSpace(typed.Get(at(from, f))) != "" }) {
			continue
		}
		if from != to {
			for _, f := range fields {
				typed.Set(at(to, f), typed.Get(at(from, f)))
				typed.Set(at(from, f), "")
			}
		}
		to++
	}
}

// closeWishRows does so for every list of a wish.
func closeWishRows(typed url.Values) {
	closeRows(typed, "wish.adults", ".mass_g")
	closeRows(typed, "wish.children", ".years", ".mass_g")
	closeRows(typed, "wish.animals_g", "")
}

// finishWish fills in what the form asks in other words than the command: how
// many adults, and the best type before those that would do.
func finishWish(typed url.Values, w *message.Wish) faults {
	finishTypes(typed, w)
	return finishAdults(typed, w)
}

// finishAdults adds the adults whose mass is not told.
func finishAdults(typed url.Values, w *message.Wish) faults {
	text := strings.TrimSpace(typed.Get("adults"))
	adults, err := parseMeasure(text, ones)
	switch {
	case text == "":
		return nil // told as missing
	case err != nil || adults < 1 || adults > 12:
		return faults{{Field: "adults", Text: "write how many adults go in the boat or beside it, from 1 to 12"}}
	case len(w.Adults) > int(adults):
		return faults{{Field: "adults", Text: fmt.Sprintf("you wrote the masses of %d adults: mend the number, or empty the rows that are too many", len(w.Adults))}}
	}
	for len(w.Adults) < int(adults) {
		w.Adults = append(w.Adults, message.Paddler{})
	}
	return nil
}

// finishTypes puts the best type first.
func finishTypes(typed url.Values, w *message.Wish) {
	switch best := boat.Type(typed.Get("best")); best {
	case "":
	case anyType:
		w.Types = slices.Clone(boat.Types)
	default:
		others := slices.DeleteFunc(w.Types, func(t boat.Type) bool { return t == best })
		w.Types = append([]boat.Type{best}, others...)
	}
}

// wishStart is what a form for a wish that is there starts from.
type wishStart struct {
	Best   boat.Type    `json:"best"`
	Adults int          `json:"adults"`
	Wish   message.Wish `json:"wish"`
}

// startWish gives the form's view of a wish.
func startWish(w message.Wish) wishStart {
	s := wishStart{Adults: len(w.Adults), Wish: w}
	if len(w.Types) == len(boat.Types) && slices.Equal(w.Types, boat.Types) {
		s.Best, s.Wish.Types = anyType, nil
	} else if len(w.Types) > 0 {
		s.Best, s.Wish.Types = w.Types[0], w.Types[1:]
	}
	return s
}

// line is a label with what stands beside it.
type line struct{ Label, Text string }

// alsoSaid labels the household's own words, which nobody translates.
const alsoSaid = "Also said"

// sayWish tells a wish in the reader's language.
func (v *visit) sayWish(lines []line) []line {
	for i, l := range lines {
		if lines[i].Label = v.say(l.Label); l.Label != alsoSaid {
			lines[i].Text = v.voice().sayWords(l.Text)
		}
	}
	return lines
}

// wishLines tells a wish in words.
func wishLines(w message.Wish) []line {
	lines := []line{
		{"Kinds of boat, best first", strings.Join(texts(w.Types), ", ")},
		{"Adults", partyWords(w.Adults)},
	}
	if len(w.Children) > 0 {
		lines = append(lines, line{"Children", partyWords(w.Children)})
	}
	if len(w.AnimalsG) > 0 {
		lines = append(lines, line{"Animals", animalWords(w.AnimalsG)})
	}
	lines = append(lines, line{"Gear", gearWords(w.GearG)},
		line{"Water", w.Water}, line{"Experience", w.Experience})
	if len(w.Needs) > 0 {
		lines = append(lines, line{"Should have", strings.Join(texts(w.Needs), ", ")})
	}
	lines = append(lines, line{"Carrying", carryWords(w)}, line{"Transport", transportWords(w)}, line{"Room for", withUnit(int64(w.StorageMM), metres)})
	if w.Words != "" {
		lines = append(lines, line{alsoSaid, w.Words})
	}
	if w.TwoSingles {
		lines = append(lines, line{"Two boats", "two boats for one person each would do as well"})
	}
	if w.OwnJackets {
		lines = append(lines, line{"Life jackets", "they have their own"})
	}
	return lines
}

func texts[W ~string](list []W) []string {
	all := make([]string, len(list))
	for i, w := range list {
		all[i] = string(w)
	}
	return all
}

// partyWords lists people: "34 kg (9 years), mass not told".
func partyWords(party []message.Paddler) string {
	list := make([]string, len(party))
	for i, p := range party {
		list[i] = "mass not told"
		if p.MassG > 0 {
			list[i] = withUnit(int64(p.MassG), kilograms)
		}
		if p.Years > 0 {
			list[i] += fmt.Sprintf(" (%d years)", p.Years)
		}
	}
	return strings.Join(list, ", ")
}

// gearWords tells the gear; with none stated the fit reckons with the club's own
// figure.
func gearWords(grams int) string {
	if grams == 0 {
		return "the club's usual allowance"
	}
	return withUnit(int64(grams), kilograms)
}

func animalWords(grams []int) string {
	list := make([]string, len(grams))
	for i, g := range grams {
		list[i] = withUnit(int64(g), kilograms)
	}
	return strings.Join(list, ", ")
}

func carryWords(w message.Wish) string {
	text := count(w.Carriers, "person", "people")
	if w.EachLiftsG > 0 {
		text += ", each lifts " + withUnit(int64(w.EachLiftsG), kilograms)
	}
	if w.HasCart {
		text += ", with a cart"
	}
	return text
}

func transportWords(w message.Wish) string {
	text := w.Transport
	if w.Transport == "none" {
		text = "no car"
	}
	if w.RoofLoadG > 0 {
		text += ", roof load " + withUnit(int64(w.RoofLoadG), kilograms)
	}
	if w.RackG > 0 {
		text += ", rack " + withUnit(int64(w.RackG), kilograms)
	}
	if w.VehicleMM > 0 {
		text += ", car of " + withUnit(int64(w.VehicleMM), metres)
	}
	return text
}
