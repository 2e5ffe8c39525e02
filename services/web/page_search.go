package web

import (
	"fmt"
	"net/url"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

func searchRoutes() []route {
	return []route{get("/search", anyMember, (*visit).search)}
}

// foundEach is how many things of one sort a search shows, and namesEach the people by
// whom requests and papers are found.
const (
	foundEach = 10
	namesEach = 200
)

// searchPage is what the book has for some words, in groups.
type searchPage struct {
	Frame
	Groups []foundGroup
}

// foundGroup is what was found of one sort.
type foundGroup struct {
	ID, Title string
	Found     []foundThing
	More      bool   // there is more than is shown
	All       string // the address of a list with all of it; may be empty
}

// foundThing is one thing that was found: where it stands, and what to tell it by.
type foundThing struct{ Address, Name, Words string }

// Nothing says whether words were searched for and not found.
func (p searchPage) Nothing() bool {
	for _, g := range p.Groups {
		if len(g.Found) > 0 {
			return false
		}
	}
	return p.Sought != ""
}

// Count says how many things are shown.
func (p searchPage) Count() string {
	n, more := 0, ""
	for _, g := range p.Groups {
		n += len(g.Found)
		if g.More {
			more = " and more"
		}
	}
	return count(n, "thing", "things") + " found" + more
}

// searches are the groups. Each is searched only for who may open what it leads to.
var searches = []struct {
	id, title string
	may       audience
	find      func(v *visit, words string) ([]foundThing, error)
	all       string
}{
	{"boats", "Boats", anyMember, (*visit).findBoats, "/boats"},
	{"people", "People", administrators, (*visit).findPeople, "/people"},
	{"requests", "Requests", placing, (*visit).findRequests, ""},
	{"papers", "Papers", booksTo, (*visit).findPapers, ""},
	{"bins", "Bins", stockReaders, (*visit).findBins, ""},
	{"places", "Places", anyMember, (*visit).findPlaces, ""},
}

func (v *visit) search() error {
	p := searchPage{Frame: v.frame("Search")}
	words, err := v.wordsAsked()
	if err != nil {
		return err
	}
	p.Sought = words
	for _, s := range searches {
		if words == "" || !s.may.admits(v.Who) {
			continue
		}
		g := foundGroup{ID: s.id, Title: s.title}
		if g.Found, err = s.find(v, words); err != nil {
			return err
		}
		if len(g.Found) > foundEach {
			g.Found, g.More = g.Found[:foundEach], true
			if s.all != "" {
				g.All = boatFilter{Words: words}.At(s.all)
			}
		}
		p.Groups = append(p.Groups, g)
	}
	return v.show("search", p)
}

func (v *visit) findBoats(words string) ([]foundThing, error) {
	list, _, err := v.cards(v.ctx, boatFilter{Words: words}, 0, foundEach+1)
	var found []foundThing
	for _, c := range list {
		found = append(found, foundThing{"/boats/" + string(c.ID), c.Name, joined(string(c.Type), c.Maker, c.Colour, string(c.State))})
	}
	return found, err
}

func (v *visit) findPeople(words string) ([]foundThing, error) {
	rows, err := v.peopleRows(words, "")
	var found []foundThing
	for _, r := range rows {
		found = append(found, foundThing{"/people/" + string(r.ID), r.Name, string(r.Sort)})
	}
	return found, err
}

// findRequests finds the requests of households by their name, for who may read it.
func (v *visit) findRequests(words string) ([]foundThing, error) {
	ids, err := v.idsCalled(words)
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	list, err := findAll[Request](v.ctx, v.Site, `
		SELECT doc FROM web.request WHERE household = ANY($1) ORDER BY state <> 'open', doc->>'made' DESC, id LIMIT $2`, ids, foundEach+1)
	d := v.directory()
	var found []foundThing
	for _, r := range list {
		found = append(found, foundThing{"/requests/" + r.ID, d.Name(r.Household), joined(r.State(), "asked "+v.voice().day(clock.DateOf(r.Made)))})
	}
	return found, err
}

// findPapers finds papers by their number, by their boat and, for who may read names,
// by their donor.
func (v *visit) findPapers(words string) ([]foundThing, error) {
	ids, err := v.idsCalled(words)
	if err != nil {
		return nil, err
	}
	where, args := boatFilter{Words: words}.where()
	args = append(args, strings.ToLower(words), ids, foundEach+1)
	n := len(args)
	rows, err := v.Pool.Query(v.ctx, fmt.Sprintf(`
		SELECT p.serial, p.state, p.donor, coalesce(b.name, '') FROM web.paper p LEFT JOIN web.boat b ON b.id = p.boat
		WHERE strpos(lower(p.serial), $%d) > 0 OR p.donor = ANY($%d) OR p.boat IN (SELECT id FROM web.boat WHERE %s)
		ORDER BY p.serial DESC LIMIT $%d`, n-2, n-1, where, n), args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (f foundThing, err error) {
		var state, donor, name string
		err = row.Scan(&f.Name, &state, &donor, &name)
		f.Address, f.Words = "/papers?q="+url.QueryEscape(f.Name), joined("for "+name, state)
		return f, err
	})
}

func (v *visit) findBins(words string) ([]foundThing, error) {
	bins, err := findAll[Bin](v.ctx, v.Site, `
		SELECT jsonb_build_object('id', id, 'name', name, 'where', doc->'where') FROM web.bin
		WHERE (SELECT bool_and(strpos(lower(name || ' ' || coalesce(doc->>'where', '')), word) > 0) FROM unnest($1::text[]) word)
		ORDER BY lower(name), id LIMIT $2`, strings.Fields(strings.ToLower(words)), foundEach+1)
	var found []foundThing
	for _, b := range bins {
		found = append(found, foundThing{"/stock/" + b.ID, b.Name, b.Where})
	}
	return found, err
}

func (v *visit) findPlaces(words string) ([]foundThing, error) {
	list, err := findAll[message.PlaceSet](v.ctx, v.Site, `
		SELECT doc FROM web.place
		WHERE NOT closed AND (SELECT bool_and(strpos(lower(shed || ' ' || name), word) > 0) FROM unnest($1::text[]) word)
		ORDER BY lower(shed), lower(name), id LIMIT $2`, strings.Fields(strings.ToLower(words)), foundEach+1)
	var found []foundThing
	for _, p := range list {
		found = append(found, foundThing{"/racks#place-" + p.Place, p.Name, p.Shed})
	}
	return found, err
}

// idsCalled gives the first of those by whose name the viewer may find something.
func (v *visit) idsCalled(words string) ([]string, error) {
	if !v.Who.seesNames("") {
		return nil, nil
	}
	found, err := v.called(v.ctx, words)
	ids := []string{}
	for _, n := range found[:min(len(found), namesEach)] {
		ids = append(ids, string(n.ID))
	}
	return ids, err
}

// joined lists what is not empty.
func joined(parts ...string) string {
	var list []string
	for _, p := range parts {
		if p != "" {
			list = append(list, p)
		}
	}
	return strings.Join(list, ", ")
}
