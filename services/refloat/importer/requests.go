package importer

import (
	"fmt"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

var requests = list{
	kind:  "requests",
	about: "Households that ask for a boat. Masses and needs are sealed with the household's own key. People are written like 34y 70kg, either part may be left out, ? for somebody of whom nothing is stated; several are parted by semicolons. Ask for functional needs, never for the reason.",
	order: orderRequest,
	columns: []column{
		referenceColumn("R-201"),
		{name: "Household reference", field: "household", example: "", meaning: "The reference of a household that the club knows; the row's own when empty."},
		{name: "Household name", field: "details.name", example: "Cam Sedge", meaning: "Empty when the club knows the household."},
		{name: "Mail", field: "details.mail", example: "cam@example.org", meaning: "The private link goes there."},
		{name: "Phone", field: "details.phone", example: "555-0201"},
		{name: "Address", field: "details.address", example: "3 Quay Street, Lake Amberjay"},
		{name: "Language", field: "details.language", example: "en", meaning: "en, es or fr."},
		consentColumn(),
		{name: "Types", needed: true, field: "wish.types", example: "canoe; sit-on-top kayak", meaning: "Any of these will do, best first."},
		{name: "Adults", needed: true, field: "wish.adults", example: "34y 70kg; 82kg", meaning: "Who goes in the boat, at least one."},
		{name: "Children", field: "wish.children", example: "8y 26kg", meaning: "Under 18."},
		{name: "Animals kg", field: "wish.animals_g", example: "12.5", meaning: "Kilograms each, parted by semicolons."},
		{name: "Gear kg", field: "wish.gear_g", example: "8", meaning: "Kilograms."},
		{name: "Water", needed: true, field: "wish.water", example: "pond or small lake", meaning: "Best in the words of the form: pond or small lake, large lake, slow river, river, class I, coast, near the shore, several of these."},
		{name: "Experience", needed: true, field: "wish.experience", example: "some", meaning: "none, some or much."},
		{name: "Needs", field: "wish.needs", example: "high seat back", meaning: "Features of a boat, parted by semicolons."},
		{name: "Carriers", field: "wish.carriers", example: "2", meaning: "How many hands carry the boat to the water."},
		{name: "Each lifts kg", field: "wish.each_lifts_g", example: "15", meaning: "What each of them may lift, kilograms."},
		{name: "Cart", field: "wish.has_cart", example: "yes", meaning: "yes or no."},
		{name: "Transport", needed: true, field: "wish.transport", example: "roof", meaning: "roof, trailer or none."},
		{name: "Roof load kg", field: "wish.roof_load_g", example: "75", meaning: "The vehicle's stated limit, the rack included."},
		{name: "Rack kg", field: "wish.rack_g", example: "12", meaning: "What the rack itself weighs."},
		{name: "Vehicle m", field: "wish.vehicle_mm", example: "4.3", meaning: "The vehicle's length from bumper to bumper, metres."},
		{name: "Own jackets", field: "wish.own_jackets", example: "no", meaning: "yes when everybody has a life jacket that fits."},
		{name: "Two singles", field: "wish.two_singles", example: "no", meaning: "yes when two adults would take two boats with one seat each in place of one with two."},
		{name: "Storage m", field: "wish.storage_mm", example: "5", meaning: "The longest boat that there is room for, metres."},
		{name: "Words", field: "wish.words", example: "We paddle with our daughter."},
		{name: "Boats", field: "boats", example: "1", meaning: "How many are asked for; one, unless an organisation asks."},
		{name: "For a minor", field: "for_minor", example: "no", meaning: "yes when somebody under age asks; name, mail and phone are then the guardian's."},
		{name: "Asked on", field: "happened_at", example: "2026-03-15", meaning: "A day, YYYY-MM-DD; today when empty. The private link works from that day."},
	},
}

func orderRequest(r *row) order {
	household := r.text("Household reference")
	if household == "" {
		household = r.name
	}
	id := who.ID(ID("person", household))
	c := message.MakeRequest{
		Request: ID("request", r.name), Household: id, Consent: r.consent(), Link: ID("link", r.name), Wish: r.wish(),
		Boats: r.wholeOr("Boats", 1), ForMinor: r.yes("For a minor", false),
	}
	o := order{command: c, lane: string(id), happened: r.instant("Asked on")}
	details := message.PersonDetails{
		Name: r.text("Household name"), Mail: r.text("Mail"), Phone: r.text("Phone"), Address: r.text("Address"), Language: r.text("Language"),
	}
	switch {
	case details != message.PersonDetails{}:
		o.known, o.introduces = c, string(id)
		c.Details = &details
		o.command = c
	case r.text("Household reference") == "":
		r.bad("Household name", "say who asks, or name somebody under Household reference")
	default:
		o.late, o.restsOn = true, string(id)
	}
	return o
}

func (r *row) wish() message.Wish {
	return message.Wish{
		Types: words(r, "Types", boat.Types), Adults: r.paddlers("Adults"), Children: r.paddlers("Children"),
		AnimalsG: r.millis("Animals kg"), GearG: r.milli("Gear kg"), Water: r.text("Water"), Experience: r.text("Experience"),
		Needs: words(r, "Needs", boat.Features), Carriers: r.whole("Carriers"), EachLiftsG: r.milli("Each lifts kg"), HasCart: r.yes("Cart", false),
		Transport: r.text("Transport"), RoofLoadG: r.milli("Roof load kg"), RackG: r.milli("Rack kg"),
		VehicleMM: r.milli("Vehicle m"), OwnJackets: r.yes("Own jackets", false), TwoSingles: r.yes("Two singles", false),
		StorageMM: r.milli("Storage m"), Words: r.text("Words"),
	}
}

func (r *row) paddlers(column string) []message.Paddler {
	var all []message.Paddler
	for _, text := range r.texts(column) {
		p, err := parsePaddler(text)
		if err != nil {
			r.bad(column, "%s", err)
		}
		all = append(all, p)
	}
	return all
}

// parsePaddler reads "34y 70kg", either part alone, or "?" for nothing stated.
func parsePaddler(text string) (message.Paddler, error) {
	var p message.Paddler
	wrong := fmt.Errorf("%q is not somebody written like 34y 70kg, or ? when nothing is stated", shortened(text))
	if text == "?" {
		return p, nil
	}
	for part := range strings.FieldsSeq(strings.ToLower(text)) {
		var err error
		if years, ok := strings.CutSuffix(part, "y"); ok && p.Years == 0 {
			p.Years, err = strconv.Atoi(years)
		} else if mass, ok := strings.CutSuffix(part, "kg"); ok && p.MassG == 0 {
			p.MassG, err = parseMilli(mass)
		} else {
			err = wrong
		}
		if err != nil || p.Years < 0 {
			return message.Paddler{}, wrong
		}
	}
	return p, nil
}
