package importer

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

var boats = list{
	kind:  "boats",
	about: "Boats that are offered to the club or lie with it. Each is logged as an offer; look-over and acceptance follow in the book. Words that come from a list are refused with the choices when they are misspelt.",
	order: orderBoat,
	columns: []column{
		referenceColumn("K-014"),
		{name: "Name", needed: true, field: "name", single: plainly, example: "Heron", meaning: "What the club calls the boat; no other boat has it."},
		{name: "Taking", needed: true, field: "taking", example: "gift", meaning: "How it comes to the club: gift, bargain purchase or purchase."},
		{name: "Asked", field: "asked", example: "", meaning: "The price asked, with currency: 120.50 USD. Empty for a gift."},
		{name: "Right", needed: true, field: "right", example: "owner's declaration", meaning: "What entitles the giver: owner's declaration, estate, organisation or found property."},
		{name: "Right shown by", field: "shown.paper", example: "signed declaration", meaning: "The paper that shows it. Without one the boat is logged, and not accepted before a paper is recorded."},
		{name: "Right shown on", field: "shown.on", example: "2026-03-01", meaning: "The day of that paper; for found property, of the find."},
		{name: "Giver reference", field: "giver", example: "rush", meaning: "A short name for the giver, the same for all their boats, or the reference of somebody from the list of people."},
		{name: "Giver name", field: "new_giver.name", example: "Bee Rush", meaning: "Empty when the club knows the giver by the reference."},
		{name: "Giver mail", field: "new_giver.mail", example: "bee@example.org"},
		{name: "Giver phone", field: "new_giver.phone", example: "555-0199"},
		{name: "Giver address", field: "new_giver.address", example: "1 Quay Street, Lake Amberjay"},
		{name: "Giver language", field: "new_giver.language", example: "en", meaning: "en, es or fr."},
		consentColumn(),
		{name: "Type", needed: true, field: "facts.type", example: "canoe", meaning: "canoe, sit-inside kayak, sit-on-top kayak, board, inflatable kayak or inflatable canoe."},
		{name: "Seats", needed: true, field: "facts.seats", example: "2", meaning: "How many people it is made for."},
		{name: "Length m", field: "facts.length_mm", example: "4.9", meaning: "Metres, with point or comma."},
		{name: "Beam m", field: "facts.beam_mm", example: "0.9", meaning: "The greatest width, metres."},
		{name: "Depth m", field: "facts.depth_mm", example: "0.36", meaning: "Amidships, from the keel to the lowest place where water comes in, metres."},
		{name: "Mass kg", field: "facts.mass_g", example: "31", meaning: "Of the empty boat, kilograms."},
		{name: "Rated load kg", field: "facts.rated_load_g", example: "380", meaning: "People and gear, kilograms, as the plate or the maker says."},
		{name: "Rated load from", field: "facts.rated_source", example: "plate", meaning: "plate, maker's paper or club's estimate."},
		{name: "Seat limit kg", field: "facts.seat_limit_g", meaning: "What the maker lets one person on a seat weigh, where a label says so."},
		{name: "Material", needed: true, field: "facts.material", example: "ABS sandwich", meaning: "Of the hull."},
		{name: "Maker", field: "facts.maker", example: "Thrushcraft"},
		{name: "Model", field: "facts.model", example: "Backwater 16"},
		{name: "Colour", field: "facts.colour", example: "green"},
		{name: "Year built", field: "facts.year_built", example: "2012"},
		{name: "Hull number", field: "facts.hull_number", single: lettersOnly, example: "TCR4K217C212", meaning: "As it stands on the hull."},
		{name: "No hull number because", field: "facts.no_hull_number", example: "", meaning: "home-built, built before November 1972, inflatable, removed … when there is none."},
		{name: "Stored", field: "facts.stored_where", example: "boathouse, rack 3"},
		{name: "Last afloat", field: "facts.last_afloat", example: "2025-09-10", meaning: "A day, YYYY-MM-DD."},
		{name: "Features", field: "facts.features", example: "floor space for a dog; second seat for a helper", meaning: "Parted by semicolons."},
		{name: "Offered on", field: "happened_at", example: "2026-03-01", meaning: "A day, YYYY-MM-DD; today when empty."},
	},
}

func orderBoat(r *row) order {
	id, giver := boat.ID(ID("boat", r.name)), who.ID(ID("person", r.giver))
	c := message.LogBoat{
		Boat: id, Name: r.text("Name"), Taking: word(r, "Taking", message.Takings), Giver: giver,
		Asked: r.money("Asked"), Right: word(r, "Right", message.Rights), Facts: r.facts(),
	}
	if paper := (message.RightPaper{Paper: word(r, "Right shown by", message.RightPapers[c.Right]), On: r.date("Right shown on")}); paper != (message.RightPaper{}) {
		c.Shown = &paper
	}
	o := order{command: c, lane: string(giver), happened: r.instant("Offered on")}
	details := message.PersonDetails{
		Name: r.text("Giver name"), Mail: r.text("Giver mail"), Phone: r.text("Giver phone"),
		Address: r.text("Giver address"), Language: r.text("Giver language"),
	}
	switch {
	case details != message.PersonDetails{}:
		o.known, o.introduces = c, string(giver)
		c.NewGiver, c.Consent = &details, r.consent()
		o.command = c
	case r.text("Giver reference") == "":
		r.bad("Giver name", "say who gives the boat, or name somebody under Giver reference")
	default:
		o.late, o.restsOn = true, string(giver)
	}
	return o
}

func (r *row) facts() message.BoatFacts {
	return message.BoatFacts{
		Type: word(r, "Type", boat.Types), Seats: r.whole("Seats"),
		LengthMM: r.milli("Length m"), BeamMM: r.milli("Beam m"), DepthMM: r.milli("Depth m"), MassG: r.milli("Mass kg"), RatedLoadG: r.milli("Rated load kg"), SeatLimitG: r.milli("Seat limit kg"),
		RatedSource: word(r, "Rated load from", message.RatedSources), Material: word(r, "Material", boat.Materials),
		Maker: r.text("Maker"), Model: r.text("Model"), Colour: r.text("Colour"), YearBuilt: r.whole("Year built"),
		HullNumber: r.text("Hull number"), NoHullNumber: r.text("No hull number because"), StoredWhere: r.text("Stored"),
		LastAfloat: r.date("Last afloat"), Features: words(r, "Features", boat.Features),
	}
}

// giverText is what stands for a giver who has no reference: two boats given
// under one mail address come from one person.
func (r *row) giverText() string {
	if mail := r.text("Giver mail"); mail != "" {
		return "giver mail " + plainly(mail)
	}
	return "giver name " + plainly(r.text("Giver name")) + " phone " + plainly(r.text("Giver phone"))
}
