package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
)

func boatsRoutes() []route {
	return []route{
		get("/boats", anyMember, (*visit).boats),
		get("/boats.csv", anyMember, (*visit).boatsAsCSV),
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
}

// Count says how many boats the filter leaves, and which of them are shown.
func (p boatsPage) Count() string { return count(p.All, "boat", "boats") + p.Shown() }

func (v *visit) boats() error {
	p := boatsPage{Frame: v.frame("Boats"), leaves: v.leavesOf(), States: States, Types: boat.Types}
	var err error
	if p.Filter, err = filterFrom(v.r.URL.Query()); err != nil {
		return err
	}
	if p.Boats, p.All, err = v.cards(v.ctx, p.Filter, p.Before(), pageLength); err != nil {
		return err
	}
	return v.show("boats", p)
}

// csvHead names the columns of the export.
var csvHead = []string{
	"name", "state", "type", "seats", "length_m", "beam_m", "mass_kg", "rated_load_kg", "material", "maker", "model", "colour",
	"year_built", "hull_number", "taking", "open_findings", "minutes_worked", "stored_where",
}

func (v *visit) boatsAsCSV() error {
	f, err := filterFrom(v.r.URL.Query())
	if err != nil {
		return err
	}
	boats, err := v.listBoats(f)
	if err != nil {
		return err
	}
	out := bytes.NewBufferString("\ufeff") // office programs then read it as UTF-8
	w := csv.NewWriter(out)
	if err := w.Write(csvHead); err != nil {
		return err
	}
	for _, b := range boats {
		if err := w.Write(csvRow(b)); err != nil {
			return err
		}
	}
	if w.Flush(); w.Error() != nil {
		return w.Error()
	}
	v.w.Header().Set("Content-Disposition", `attachment; filename="boats.csv"`)
	return v.write("text/csv; charset=utf-8", out.Bytes())
}

func csvRow(b Boat) []string {
	f := b.Facts
	row := []string{
		b.Name, string(b.State), string(f.Type), whole(f.Seats), measureOrNone(f.LengthMM, metres), measureOrNone(f.BeamMM, metres),
		measureOrNone(f.MassG, kilograms), measureOrNone(f.RatedLoadG, kilograms), string(f.Material), f.Maker, f.Model, f.Colour,
		whole(f.YearBuilt), f.HullNumber, string(b.Taking), fmt.Sprint(b.OpenFindings()), fmt.Sprint(b.Minutes()), f.StoredWhere,
	}
	for i, cell := range row {
		row[i] = harmless(cell)
	}
	return row
}

func whole(n int) string { return measureOrNone(n, ones) }

func measureOrNone(n int, u unit) string {
	if n == 0 {
		return ""
	}
	return measure(int64(n), u)
}

// harmless keeps office programs from taking a text for a formula (common
// practice, no source).
func harmless(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return "'" + cell
	}
	return cell
}
