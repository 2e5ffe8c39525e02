package web

import (
	"fmt"
	"strings"

	"refloat.example/pkg/hin"
	"refloat.example/pkg/money"
)

func boatRoutes() []route {
	return []route{
		get("/boats/{boat}", anyMember, (*visit).boatPage),
		get("/boats/{boat}/history", anyMember, (*visit).historyPage),
	}
}

// boatPage is everything about one boat.
type boatPage struct {
	Frame
	Boat     *Boat
	Steps    []step // empty for a boat that ended otherwise than placed
	Findings []marked
	Drawings []drawing
	Looks    []lookedOver
	ToMatch  []Look
	Twins    map[string][]int
	InTheWay []obstacle
	OwnLook  *Look // the viewer's open look-over: other lists are hidden
	Drying   bool  // it must not go to another water yet
	Blind    bool  // the first list is kept back from who could look second
	Hull     hullWords
	Lifting  []caution
	Doings   map[string][]doing
	Spent    []money.Amount
	Advice   string   // that mending costs more than it gains
	Missing  []string // what it needs to leave its state
	Photos   []Photo
	Ceiling  *ceilingShown
	LiesAt   string
	Told     map[string]string // the household's words, by how they are sealed
}

// doing is a link to an act on a boat's page.
type doing struct{ Name, Address, Label string }

func (v *visit) boatPage() error {
	b := v.boat
	p := boatPage{
		Frame: v.frame(b.Name), Boat: b, OwnLook: b.openLookOf(v.Who), Blind: v.blindHint(b),
		Drying: b.Quarantine != nil && v.today().Before(b.Quarantine.Until),
		Hull:   readHull(b.Facts.HullNumber), Lifting: lifting(b), Doings: v.doings(b), Spent: b.spent(),
		Ceiling: showCeiling(b.Ceiling), Told: v.afterWords(b),
	}
	p.listens(v, "/boats/"+string(b.ID))
	var err error
	if p.InTheWay, err = v.inTheWay(b); err != nil {
		return err
	}
	p.Photos = v.visiblePhotos(b)
	if p.LiesAt, err = v.placeName(b); err != nil {
		return err
	}
	if !p.Blind {
		p.Findings = numbered(v.visibleFindings(b))
	}
	if b.Advice != nil && !b.Ended() {
		p.Advice = adviceWords(*b.Advice)
	}
	p.Drawings, p.Twins, p.Missing = drawings(b.Facts.Type, p.Findings), seenTwice(p.Findings), missing(b, p.Drying)
	for _, l := range b.finishedInOrder() {
		p.Looks = append(p.Looks, lookedOver{l, b.said(&l)})
	}
	if !p.Blind && p.OwnLook == nil {
		p.ToMatch = b.toMatch()
	}
	if b.State != Declined && b.State != Sold && b.State != Retired {
		p.Steps = steps(b)
	}
	return v.show("boat", p)
}

// doings gives what the viewer can do about a boat now, by the part of the page.
func (v *visit) doings(b *Boat) map[string][]doing {
	list := map[string][]doing{}
	for _, a := range acts() {
		if a.part != "" && a.may.admits(v.Who) && a.fits(b) {
			address := strings.ReplaceAll(a.path, "{boat}", string(b.ID))
			list[a.part] = append(list[a.part], doing{a.name, address, a.label})
		}
	}
	return list
}

// spent adds up what stands for the boat in the workshop, less what came back, one
// sum a currency.
func (b *Boat) spent() []money.Amount {
	var sums []money.Amount
	add := func(a money.Amount) {
		sum, ok := in(sums, func(s *money.Amount) bool { return s.Currency == a.Currency })
		if !ok {
			sums = append(sums, a)
			return
		}
		if more, err := sum.Add(a); err == nil {
			*sum = more
		}
	}
	for _, p := range b.Parts {
		if p.Reversed == "" {
			add(p.Cost)
		}
	}
	for _, m := range b.Stock {
		add(m.Net())
	}
	for _, c := range b.Came {
		if c.Reversed == "" {
			add(c.Amount.Neg())
		}
	}
	return sums
}

// hullWords is what a hull number says, in words.
type hullWords struct {
	Number  hin.Number
	Problem string
	Notices []string
}

// notices are what is odd about a number, in words. They are questions to ask,
// not faults of the boat.
var notices = map[hin.Notice]string{
	hin.ModelYearGap:    "The model year is more than one after the year in which it was built.",
	hin.BeforeFormat:    "It is written in the present form, which began in August 1984, but names an earlier month.",
	hin.Before197211:    "It names a month before November 1972, when no number was needed.",
	hin.After198407:     "It is written in a form that ended in July 1984, but names a later month.",
	hin.BeforeModelYear: "It was built before the model year began.",
	hin.AfterModelYear:  "It was built after the model year had ended.",
	hin.StateIssued:     "The number was given by a state or by the Coast Guard, as to a home-built boat.",
	hin.NotUS:           "It is another country's number; its date is not read.",
}

func readHull(written string) hullWords {
	if written == "" {
		return hullWords{}
	}
	w := hullWords{Number: hin.Decode(written)}
	if p := w.Number.Problem; p != nil {
		w.Problem = p.Reason
		if p.Position > 0 {
			w.Problem = fmt.Sprintf("at character %d: %s", p.Position, p.Reason)
		}
	}
	for _, n := range w.Number.Notices {
		w.Notices = append(w.Notices, notices[n])
	}
	return w
}

// times gives a boat with its entries of earlier times, the first first.
func (v *visit) times(b *Boat) ([]Boat, error) {
	all := []Boat{*b}
	for id := b.Earlier; id != ""; id = all[0].Earlier {
		before, err := v.findBoat(string(id))
		if err != nil {
			return nil, err
		}
		all = append([]Boat{before}, all...)
	}
	return all, nil
}
