package matching

import (
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
)

// What an applicant can say of experience and transport.
const (
	noExperience   = "none"
	someExperience = "some"
	muchExperience = "much"

	onRoof    = "roof"
	byTrailer = "trailer"
	noCar     = "none"
)

var (
	experiences = []string{noExperience, someExperience, muchExperience}
	transports  = []string{onRoof, byTrailer, noCar}
	languages   = []string{"en", "es", "fr"}
)

// goodWish checks what is wished for. The bounds are wide: they catch a wrong
// unit, not an unusual household. Common practice, no source.
func goodWish(w message.Wish) error {
	return desk.First(
		goodTypes(w.Types),
		goodParty(w),
		goodTwoSingles(w),
		needed("wish.water", w.Water, "say on what water the boat is to be used"),
		line("wish.water", w.Water, desk.MaxLine),
		boat.Known("wish.experience", w.Experience, experiences),
		each("wish.needs", w.Needs, func(field string, f boat.Feature) error { return boat.Known(field, f, boat.Features) }),
		once("wish.needs", w.Needs),
		desk.Within("wish.carriers", w.Carriers, 0, 12),
		desk.WithinOrUnknown("wish.each_lifts_g", w.EachLiftsG, 1000, 100_000),
		goodTransport(w),
		desk.WithinOrUnknown("wish.storage_mm", w.StorageMM, 500, 20_000),
		text("wish.words", w.Words, desk.MaxWords),
	)
}

func goodTypes(types []boat.Type) error {
	if len(types) == 0 {
		return fault.Field("wish.types", "choose at least one type of boat, the best first")
	}
	known := func(field string, t boat.Type) error { return boat.Known(field, t, boat.Types) }
	return desk.First(each("wish.types", types, known), once("wish.types", types))
}

func goodParty(w message.Wish) error {
	if len(w.Adults) == 0 {
		return fault.Field("wish.adults", "at least one adult goes in the boat or beside it")
	}
	if len(w.Adults) > 12 {
		return fault.Field("wish.adults", "write at most 12")
	}
	if len(w.Children) > 12 {
		return fault.Field("wish.children", "write at most 12")
	}
	if len(w.AnimalsG) > 6 {
		return fault.Field("wish.animals_g", "write at most 6")
	}
	return desk.First(
		each("wish.adults", w.Adults, goodAdult),
		each("wish.children", w.Children, goodChild),
		each("wish.animals_g", w.AnimalsG, func(field string, g int) error { return desk.Within(field, g, 500, 120_000) }),
		desk.WithinOrUnknown("wish.gear_g", w.GearG, 100, 300_000),
	)
}

// goodTwoSingles keeps children from being alone in a boat. The club's own rule.
func goodTwoSingles(w message.Wish) error {
	if w.TwoSingles && (len(w.Adults) != 2 || len(w.Children) > 0) {
		return fault.Field("wish.two_singles", "two single boats are for two adults, each of whom paddles alone; leave it out otherwise")
	}
	return nil
}

func goodAdult(field string, p message.Paddler) error {
	return desk.First(desk.WithinOrUnknown(field+".years", p.Years, 18, 120), desk.WithinOrUnknown(field+".mass_g", p.MassG, 20_000, 400_000))
}

func goodChild(field string, p message.Paddler) error {
	return desk.First(desk.WithinOrUnknown(field+".years", p.Years, 1, 17), desk.WithinOrUnknown(field+".mass_g", p.MassG, 2000, 250_000))
}

func goodTransport(w message.Wish) error {
	if err := boat.Known("wish.transport", w.Transport, transports); err != nil {
		return err
	}
	return desk.First(
		desk.WithinOrUnknown("wish.roof_load_g", w.RoofLoadG, 5000, 500_000),
		desk.WithinOrUnknown("wish.rack_g", w.RackG, 500, 100_000),
		desk.WithinOrUnknown("wish.vehicle_mm", w.VehicleMM, 2000, 12_000),
	)
}

// tidyDetails gives details of a new household as they are kept, or the first
// thing that is wrong with them.
func tidyDetails(d message.PersonDetails) (message.PersonDetails, error) {
	d.Name, d.Phone, d.Address = strings.TrimSpace(d.Name), strings.TrimSpace(d.Phone), strings.TrimSpace(d.Address)
	err := desk.First(
		needed("details.name", d.Name, "say who asks"),
		line("details.name", d.Name, maxName),
		line("details.phone", d.Phone, maxPhone),
		text("details.address", d.Address, maxAddress),
	)
	if err == nil && d.Language != "" {
		err = boat.Known("details.language", d.Language, languages)
	}
	if d.Mail = strings.TrimSpace(d.Mail); err == nil && d.Mail != "" {
		d.Mail, err = mail.CheckAddress("details.mail", d.Mail)
	}
	return d, err
}
