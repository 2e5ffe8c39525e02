package web

import (
	"strings"

	"refloat.example/pkg/people"
)

func homeRoutes() []route {
	return []route{get("/", anybody, (*visit).home)}
}

// homePage is what needs hands now, or a welcome for people who are not signed
// in.
type homePage struct {
	Frame
	Piles []pile
	Tasks []task
	Own   []card // boats of which the viewer has a look-over open
}

// Empty names the piles in which no boat lies.
func (p homePage) Empty() []string {
	var list []string
	for _, pile := range p.Piles {
		if len(pile.Boats) == 0 {
			list = append(list, strings.ToLower(pile.Title[:1])+pile.Title[1:])
		}
	}
	return list
}

// pile is boats that wait for the same thing.
type pile struct {
	ID     string
	Title  string
	Boats  []card
	All    int
	Filter boatFilter
}

// pileHeight is how many boats of a pile are shown.
const pileHeight = 12

// waits says what boats in a state wait for, and who does it.
type waits struct {
	id, title string
	state     State
	roles     []people.Role
}

var piles = []waits{
	{"to-look-over", "To be looked over", Offered, []people.Role{people.Steward}},
	{"to-decide", "To be decided on", LookedOver, []people.Role{people.Steward, people.Administrator}},
	{"to-receive", "Accepted, not yet received", Accepted, []people.Role{people.Steward}},
	{"to-begin", "Received, waiting for the workshop", Received, []people.Role{people.Repairer, people.Steward}},
	{"in-workshop", "In the workshop", InWorkshop, []people.Role{people.Repairer}},
	{"ready", "Ready to be placed", Ready, []people.Role{people.Coordinator, people.Treasurer}},
	{"on-offer", "Offered to a household", OnOffer, []people.Role{people.Coordinator}},
}

func (v *visit) home() error {
	p := homePage{Frame: v.frame("Boats back to the water")}
	if !v.Who.Member() {
		return v.show("home", p)
	}
	p.Title = "What needs hands now"
	p.listens(v, "/")
	for _, w := range piles {
		if !v.Who.Has(w.roles...) && !v.Who.Has(people.Auditor) {
			continue
		}
		pile := pile{ID: w.id, Title: w.title, Filter: boatFilter{State: w.state}}
		var err error
		if pile.Boats, pile.All, err = v.cards(v.ctx, pile.Filter, 0, pileHeight); err != nil {
			return err
		}
		p.Piles = append(p.Piles, pile)
	}
	var err error
	if p.Own, err = v.ownLooks(); err != nil {
		return err
	}
	if p.Tasks, err = v.tasks(); err != nil {
		return err
	}
	return v.show("home", p)
}

// ownLooks gives the boats of which the viewer has a look-over open.
func (v *visit) ownLooks() ([]card, error) {
	boats, err := findAll[Boat](v.ctx, v.Site, `
		SELECT doc FROM web.boat WHERE doc -> 'looks' @> jsonb_build_array(jsonb_build_object('inspector', $1::text)) ORDER BY lower(name)`, v.Who.Person)
	if err != nil {
		return nil, err
	}
	var own []card
	for _, b := range boats {
		if b.openLookOf(v.Who) != nil {
			own = append(own, cardOf(b))
		}
	}
	return own, nil
}
