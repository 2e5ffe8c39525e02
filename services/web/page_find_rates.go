package web

import (
	"cmp"
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/defects"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/people"
)

// maxRated bounds the boats that find rates rest on to those that changed last.
const maxRated = 500

// An inspector's find rates are their own to read, and a coordinator's: nobody is
// ranked by them.
func findRateRoutes() []route {
	return []route{
		get("/find-rates", anyMember, (*visit).ownFindRates),
		get("/find-rates/{inspector}", coordinators, (*visit).othersFindRates),
	}
}

// findRatesPage shows how much an inspector found of what others found, zone by
// zone.
type findRatesPage struct {
	Frame
	Inspector people.ID
	Rates     findRates
	Others    []Option // whose rates a coordinator can open
}

// findRates is what look-overs of the same boats say of one inspector.
type findRates struct {
	Boats  int        `json:"boats"`
	Zones  []zoneRate `json:"zones"`
	Enough int        `json:"enough"` // findings of others from which a share is told
}

// zoneRate is one zone of it. The share and its interval are per cent.
type zoneRate struct {
	Zone   boat.Zone `json:"zone"`
	Both   int       `json:"both"`
	Others int       `json:"others"`
	Tells  bool      `json:"tells"`
	Share  int       `json:"share,omitempty"`
	Low    int       `json:"low,omitempty"`
	High   int       `json:"high,omitempty"`
}

func (v *visit) ownFindRates() error { return v.showFindRates(v.Who.Person) }

func (v *visit) othersFindRates() error {
	if err := v.knownInspector(); err != nil {
		return err
	}
	return v.showFindRates(people.ID(v.param("inspector")))
}

func (v *visit) knownInspector() error {
	_, err := find[Person](v.ctx, v.Site, "person", v.param("inspector"), "member")
	return err
}

func (v *visit) showFindRates(of people.ID) error {
	p := findRatesPage{Frame: v.frame("What you find, and what others find"), Inspector: of}
	if of != v.Who.Person {
		p.Title = "What " + v.directory().Name(of) + " finds, and what others find"
	}
	var err error
	if p.Rates, err = v.findRates(of); err != nil {
		return err
	}
	if coordinators.admits(v.Who) {
		if p.Others, err = v.inspectors(); err != nil {
			return err
		}
	}
	return v.show("find_rates", p)
}

// inspectors lists the members who look boats over now.
func (v *visit) inspectors() ([]Option, error) {
	rows, err := v.Pool.Query(v.ctx, `SELECT person FROM web.roster_role WHERE role = $1 ORDER BY person`, people.Steward)
	if err != nil {
		return nil, err
	}
	names, options := v.directory(), []Option{}
	for rows.Next() {
		var id people.ID
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		options = append(options, Option{string(id), names.Name(id)})
	}
	slices.SortFunc(options, func(a, b Option) int {
		return cmp.Or(strings.Compare(a.Label, b.Label), strings.Compare(a.Value, b.Value))
	})
	return options, rows.Err()
}

// findRates gives what the boats say that an inspector looked over. It refuses
// everybody but the inspector and a coordinator.
func (v *visit) findRates(of people.ID) (findRates, error) {
	said := findRates{Enough: defects.EnoughOfOthers, Zones: []zoneRate{}}
	if of == "" || of != v.Who.Person && !coordinators.admits(v.Who) {
		return said, fault.New(fault.Forbidden, "Find rates are for the inspector and for coordinators alone.")
	}
	boats, err := findAll[Boat](v.ctx, v.Site, `
		SELECT doc FROM web.boat WHERE doc -> 'looks' @> jsonb_build_array(jsonb_build_object('inspector', $1::text)) ORDER BY position DESC LIMIT $2`, of, maxRated)
	if err != nil {
		return said, err
	}
	sums := map[boat.Zone]defects.FindRate{}
	for _, b := range boats {
		rates := b.findRates(of)
		if len(rates) == 0 || b.openLookOf(v.Who) != nil {
			continue // nothing to compare, or the viewer is not to know a list yet
		}
		said.Boats++
		for zone, r := range rates {
			sums[zone] = defects.FindRate{Both: sums[zone].Both + r.Both, Others: sums[zone].Others + r.Others}
		}
	}
	for _, zone := range boat.Zones {
		r := sums[zone]
		row := zoneRate{Zone: zone, Both: r.Both, Others: r.Others, Tells: r.Tells()}
		if row.Tells {
			low, high := r.Interval()
			row.Share, row.Low, row.High = percent(float64(r.Both)/float64(r.Others)), percent(low), percent(high)
		}
		said.Zones = append(said.Zones, row)
	}
	return said, nil
}

func percent(share float64) int { return int(100*share + 0.5) }

// findRates counts what an inspector found of what others found who knew no list,
// as far as a person has confirmed which findings are the same.
func (b *Boat) findRates(of people.ID) map[boat.Zone]defects.FindRate {
	sums := map[boat.Zone]defects.FindRate{}
	for _, pair := range b.comparedWith(of) {
		for zone, r := range defects.FindRates(b.sights(pair.own), b.sights(pair.other), b.root) {
			sums[zone] = defects.FindRate{Both: sums[zone].Both + r.Both, Others: sums[zone].Others + r.Others}
		}
	}
	return sums
}

type comparison struct{ own, other string } // look-overs

// comparedWith gives the look-overs of others that an inspector's own can be held
// against: the first of each of the two on this boat, the later one's matches
// confirmed.
func (b *Boat) comparedWith(of people.ID) []comparison {
	var list []comparison
	firsts := b.firstLooks()
	own, ok := in(firsts, func(l *Look) bool { return l.Inspector == of })
	if !ok {
		return nil
	}
	for _, other := range firsts {
		later := own
		if other.Place > own.Place {
			later = &other
		}
		if other.Inspector != of && later.Matched != nil {
			list = append(list, comparison{own.ID, other.ID})
		}
	}
	return list
}

// firstLooks gives each inspector's first finished look-over: at a later one they
// know a list.
func (b *Boat) firstLooks() []Look {
	var list []Look
	for _, l := range b.finishedInOrder() {
		if _, again := in(list, func(o *Look) bool { return o.Inspector == l.Inspector }); !again {
			list = append(list, l)
		}
	}
	return list
}

// root follows a finding to the one that stands for all that are the same.
func (b *Boat) root(id string) string {
	for range b.Findings {
		f, ok := b.Finding(id)
		if !ok || f.SameAs == "" {
			break
		}
		id = f.SameAs
	}
	return id
}

func (v *visit) apiOwnFindRates() error { return v.apiFindRates(v.Who.Person) }

func (v *visit) apiOthersFindRates() error {
	if err := v.knownInspector(); err != nil {
		return err
	}
	return v.apiFindRates(people.ID(v.param("inspector")))
}

func (v *visit) apiFindRates(of people.ID) error {
	rates, err := v.findRates(of)
	if err != nil {
		return err
	}
	return v.json(rates)
}
