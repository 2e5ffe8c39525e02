package web

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
)

func boatsRoutes() []route {
	return []route{
		get("/boats", anyMember, (*visit).boats),
	}
}

// boatFilter is what a list of boats is narrowed to; it stands in the address.
type boatFilter struct {
	State State
	Type  boat.Type
	Words string
}

// At gives an address with the filter in it. Templates put in whole addresses: of a
// part of one they would escape what parts it.
func (f boatFilter) At(path string) string {
	if q := f.values().Encode(); q != "" {
		return path + "?" + q
	}
	return path
}

func (f boatFilter) values() url.Values {
	q := url.Values{}
	for name, value := range map[string]string{"state": string(f.State), "type": string(f.Type), "q": f.Words} {
		if value != "" {
			q.Set(name, value)
		}
	}
	return q
}

// maxSearch bounds what is searched for, in bytes.
const maxSearch = 200

// wordsIn reads the words that an address searches for.
func wordsIn(q url.Values) (string, error) {
	words := strings.Join(strings.Fields(q.Get("q")), " ")
	if len(words) > maxSearch || !utf8.ValidString(words) || strings.ContainsRune(words, 0) {
		return "", fault.New(fault.Invalid, "Search for fewer words: %d letters at most.", maxSearch)
	}
	return words, nil
}

// wordsAsked reads what is searched for.
func (v *visit) wordsAsked() (string, error) { return wordsIn(v.r.URL.Query()) }

func filterFrom(q url.Values) (boatFilter, error) {
	f := boatFilter{State: State(q.Get("state")), Type: boat.Type(q.Get("type"))}
	var err error
	if f.Words, err = wordsIn(q); err != nil {
		return f, err
	}
	if f.State != "" && !slices.Contains(States, f.State) {
		return f, fault.New(fault.Unknown, "There is no state %q of boats.", string(f.State))
	}
	if f.Type != "" && !slices.Contains(boat.Types, f.Type) {
		return f, fault.New(fault.Unknown, "There is no type %q of boats.", string(f.Type))
	}
	return f, nil
}

// listBoats reads all that is known of the boats that a filter leaves, by name.
func (v *visit) listBoats(f boatFilter) ([]Boat, error) {
	where, args := f.where()
	return findAll[Boat](v.ctx, v.Site, `SELECT doc FROM web.boat WHERE `+where+` ORDER BY lower(name), id`, args...)
}

// boatsPage is a page of the list of boats.
type boatsPage struct {
	Frame
	leaves
	Filter boatFilter
	Boats  []card
	States []State
	Types  []boat.Type
	Where  barChart // how many boats are in which state; on the first page of all boats
}

// Count says how many boats the filter leaves, and which of them are shown.
func (p boatsPage) Count() string { return count(p.All, "boat", "boats") + p.Shown() }

func (v *visit) boats() error {
	p := boatsPage{Frame: v.frame("Boats"), leaves: v.leavesOf(), States: States, Types: boat.Types}
	var err error
	if p.Filter, err = filterFrom(v.r.URL.Query()); err != nil {
		return err
	}
	if v.wantsTable() {
		return v.boatsTable(p.Filter)
	}
	if p.Boats, p.All, err = v.cards(v.ctx, p.Filter, p.Before(), pageLength); err != nil {
		return err
	}
	if p.Filter == (boatFilter{}) && p.Page == 1 {
		if p.Where, err = v.boatsByState(); err != nil {
			return err
		}
	}
	return v.show("boats", p)
}

// boatsByState counts the boats of each state, in the order of a boat's way.
func (v *visit) boatsByState() (barChart, error) {
	b := barChart{ID: "by-state", Title: "Boats by state", Group: "State", Unit: "Boats"}
	rows, err := v.Pool.Query(v.ctx, `SELECT state, count(*) FROM web.boat GROUP BY state`)
	if err != nil {
		return b, err
	}
	counts := map[State]int{}
	var state State
	var n int
	if _, err = pgx.ForEachRow(rows, []any{&state, &n}, func() error { counts[state] = n; return nil }); err != nil {
		return b, err
	}
	for _, state := range States {
		if counts[state] > 0 {
			b.Rows = append(b.Rows, bar{Label: string(state), Address: boatFilter{State: state}.At("/boats"), N: counts[state]})
		}
	}
	return b.scaled(), nil
}

// boatColumns name the columns of the list as a table.
var boatColumns = []string{
	"name", "state", "type", "seats", "length_m", "beam_m", "mass_kg", "rated_load_kg", "material", "maker", "model", "colour",
	"year_built", "hull_number", "taking", "open_findings", "minutes_worked", "stored_where",
}

// tabled is what the table says of a boat, a small part of all that is known.
type tabled struct {
	Boat
	Open int `json:"open"` // findings; see OpenFindings
}

// boatsTable writes all boats that the filter leaves.
func (v *visit) boatsTable(f boatFilter) error {
	where, args := f.where()
	boats, err := findAll[tabled](v.ctx, v.Site, `
		SELECT jsonb_build_object('name', name, 'state', state, 'open', open, 'taking', doc -> 'taking', 'facts', doc -> 'facts', 'hours', coalesce(doc -> 'hours', '[]'))
		FROM web.boat WHERE `+where+` ORDER BY lower(name), id`, args...)
	if err != nil {
		return err
	}
	return writeTable(v, "boats", boatColumns, boats, boatCells)
}

func boatCells(b tabled) []string {
	f := b.Facts
	return []string{
		b.Name, string(b.State), string(f.Type), whole(f.Seats), measureOrNone(f.LengthMM, metres), measureOrNone(f.BeamMM, metres),
		measureOrNone(f.MassG, kilograms), measureOrNone(f.RatedLoadG, kilograms), string(f.Material), f.Maker, f.Model, f.Colour,
		whole(f.YearBuilt), f.HullNumber, string(b.Taking), fmt.Sprint(b.Open), fmt.Sprint(b.Minutes()), f.StoredWhere,
	}
}

func whole(n int) string { return measureOrNone(n, ones) }

func measureOrNone(n int, u unit) string {
	if n == 0 {
		return ""
	}
	return measure(int64(n), u)
}
