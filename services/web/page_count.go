package web

import (
	"strconv"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

func countRoutes() []route {
	return []route{get("/money/boats/{year}", booksTo, (*visit).countPage)}
}

// countPage lists the boats that the books hold, to be looked for.
type countPage struct {
	Frame
	Year  int
	Years []int
	Boats []boatToCount
	Left  int // that were not counted
}

// boatToCount is a boat of the list, with where it should lie.
type boatToCount struct {
	message.HeldBoat
	Where string
	There *Form // the treasurer's button
}

// heldBoats asks for the boats of the year that the address names.
func (v *visit) heldBoats() (message.HeldBoats, error) {
	year, err := strconv.Atoi(v.param("year"))
	if err != nil {
		return message.HeldBoats{}, fault.New(fault.Unknown, "There is no such year. Choose one at the head of the page.")
	}
	return ask[message.HeldBoats](v, message.BoatStock{Year: year})
}

func (v *visit) countPage() error {
	held, err := v.heldBoats()
	if err != nil {
		return err
	}
	year := held.Year
	p := countPage{Frame: v.frame("Counting the boats of " + strconv.Itoa(year)), Year: year}
	if p.Years, err = v.years(v.today().Year()); err != nil {
		return err
	}
	for _, h := range held.Boats {
		b := boatToCount{HeldBoat: h}
		if known, err := v.findBoat(string(h.Boat)); err == nil {
			if b.Where, err = v.placeName(&known); err != nil {
				return err
			}
		}
		if h.On.IsZero() {
			p.Left++
			if treasurers.admits(v.Who) && year == v.today().Year() {
				there := v.button("there-"+string(h.Boat), "/boats/"+string(h.Boat)+"/count", "It is there",
					fresh("count"), preset("found", string(message.FoundThere)), preset("on", v.today().String()))
				b.There = &there
			}
		}
		p.Boats = append(p.Boats, b)
	}
	return v.show("count", p)
}

// counting is the form that writes down how a boat was found.
var counting = act{
	name: "count-boat", path: "/boats/{boat}/count", may: treasurers, title: "Write down how the boat was found", button: "Write it down", done: "What was found is in the books.",
	words:   "A boat that is missing is written down to nothing, one that is worth less to what it is worth. One that is found again is written up to what it was.",
	command: func() desk.Commanded { return &message.CountBoat{} },
	fields: func(v *visit) ([]Section, error) {
		return []Section{{Fields: []Field{
			fresh("count"), one("found", "It is", words(message.Founds)).Needed(), day("on", "Day of looking").Needed().Starts(v.today().String()),
			text("worth", "What it is worth now").With("Only where it is worth less."), text("words", "What happened").With("Needed where it is missing or worth less. Name nobody."),
		}}}, nil
	},
	to: func(v *visit, c desk.Commanded) string {
		return "/money/boats/" + strconv.Itoa(c.(*message.CountBoat).On.Year())
	},
}
