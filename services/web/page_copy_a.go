package web

import (
	"strconv"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

func copyARoutes() []route {
	return []route{
		get("/papers/{paper}/copy-a", treasurers, (*visit).copyA),
		get("/papers/years/{year}/copy-a", treasurers, (*visit).copiesA),
	}
}

// copyAPage is what copy A of a paper holds, to be written onto the authority's own form.
type copyAPage struct {
	Frame
	Sheet message.CopyASheet
}

func (v *visit) copyA() error {
	sheet, err := ask[message.CopyASheet](v, message.CopyA{Paper: v.param("paper")})
	if err != nil {
		return err
	}
	return v.show("copy_a", copyAPage{v.frame("Copy A of " + sheet.Serial), sheet})
}

func (v *visit) copiesA() error {
	year, err := strconv.Atoi(v.param("year"))
	if err != nil {
		return fault.New(fault.Unknown, "There is no such year.")
	}
	file, err := ask[message.Export](v, message.CopiesA{Year: year})
	if err != nil {
		return err
	}
	return v.download(file.Name, exportTypes["csv"], file.File)
}

// Filed says whether the paper has a copy A, which goes to the authority.
func (p Paper) Filed() bool {
	return certified(p.Decision) != "" || statedSale(p.Decision).SoldOn != ""
}

// wantsNumber says whether a boat's paper goes to the authority, or may: it then bears the
// donor's taxpayer identification number. The room asks the rules.
func wantsNumber(b *Boat) bool {
	_, filed := in(b.Papers, func(p *BoatPaper) bool { return p.Cancelled == "" && (p.Certified != "" || p.SoldOn != "") })
	return filed || wantsPaper(b) && (b.Sale != nil || len(b.Excepted) > 0)
}

var donorNumberAct = act{
	name: "state-donor-number", path: "/boats/{boat}/donor-number", may: treasurers, title: "The donor’s taxpayer identification number", button: "Keep it", done: "The number is kept sealed. Copies for the donor show its last four digits.",
	part: partPlacing, label: "Note the donor’s tax number", fits: wantsNumber,
	words:   "Only for a Form 1098-C that goes to the authority (IRC 170(f)(12)(B)(i)). It is sealed with the donor’s data and goes with them. The whole number is shown in copy A alone, to a treasurer, and the book says who opened it.",
	command: func() desk.Commanded { return &message.StateDonorNumber{} },
	fields: func(v *visit) ([]Section, error) {
		return []Section{{Fields: []Field{
			fresh("salt"),
			text("number", "The number").Needed().With("Nine digits: 000-00-0000, or 00-0000000 of an organisation.").Fills("off"),
			day("on", "Day on which the donor told it").Needed().Starts(v.today().String()),
		}}}, nil
	},
}
