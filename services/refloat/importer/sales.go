package importer

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

var sales = list{
	kind:  "sales",
	about: "Prices that somebody paid or asked for boats like the club's: what values are computed from.",
	order: orderSale,
	columns: []column{
		referenceColumn("S-031"),
		{name: "Sold or asking", field: "price_kind", example: "sold", meaning: "Whether the price was paid or only asked; sold when empty."},
		{name: "Price", needed: true, field: "price", example: "820.00 USD", meaning: "With currency."},
		{name: "On", needed: true, field: "on", example: "2025-05-11", meaning: "A day, YYYY-MM-DD."},
		{name: "Arm's length", field: "arms_length", example: "yes", meaning: "no when buyer and seller were close to each other; yes when empty."},
		{name: "Sold by", field: "market", example: "private hand", meaning: "private hand, dealer or forced (an auction, a lien, a clearance); private hand when empty."},
		{name: "Type", needed: true, field: "type", example: "canoe"},
		{name: "Length m", field: "length_mm", example: "4.9", meaning: "Metres."},
		{name: "Seats", needed: true, field: "seats", example: "2"},
		{name: "Material", field: "material", example: "ABS sandwich"},
		{name: "Age years", needed: true, field: "age_years", example: "9", meaning: "Whole years on the day of the sale."},
		{name: "Grade", needed: true, field: "grade", example: "4", meaning: "Condition: 1 for parts only, 2 poor, 3 used but sound, 4 good, 5 hardly used."},
		{name: "Accessories", field: "accessories", example: "two paddles; spray deck", meaning: "What went with it for this price, parted by semicolons."},
		{name: "Told repair", field: "mended", example: "no", meaning: "yes when the buyer was told of a repair to the hull; no when empty."},
		{name: "Area", field: "area", example: "Lake Amberjay"},
		{name: "Source", needed: true, field: "source", example: "notice board", meaning: "Where the price was seen."},
		{name: "Own boat reference", field: "own_boat", example: "", meaning: "The reference of the club's boat, when the club sold it."},
	},
}

func orderSale(r *row) order {
	c := message.Comparable{
		Comparable: ID("comparable", r.name), Price: r.money("Price"), On: r.date("On"),
		PriceKind: word(r, "Sold or asking", []message.PriceKind{message.Sold, message.Asking}), ArmsLength: r.yes("Arm's length", true),
		Type: word(r, "Type", boat.Types), LengthMM: r.milli("Length m"), Seats: r.whole("Seats"),
		Material: string(word(r, "Material", boat.Materials)), AgeYears: r.whole("Age years"), Grade: boat.Grade(r.whole("Grade")),
		Area: r.text("Area"), Source: r.text("Source"),
		Market: word(r, "Sold by", message.Markets), Accessories: r.texts("Accessories"), Mended: r.yes("Told repair", false),
	}
	if r.text("Sold or asking") == "" {
		c.PriceKind = message.Sold
	}
	if own := r.text("Own boat reference"); own != "" {
		c.OwnBoat = boat.ID(ID("boat", own))
	}
	return order{command: message.RecordComparable{Comparable: c}, lane: c.Comparable}
}
