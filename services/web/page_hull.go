package web

import (
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/hin"
)

const (
	// hullAt is the page that reads a hull number; read.js asks it while a number is
	// typed.
	hullAt = "/hull-number"
	// maxHull bounds a hull number, in bytes; the room's own bound is lower.
	maxHull = 200
)

func hullRoutes() []route { return []route{get(hullAt, anyMember, (*visit).hullPage)} }

// hullPage reads a hull number that somebody stands in front of.
type hullPage struct {
	Frame
	Typed string
	Read  *hullReading
}

// hullReading is what a number says, and who else bears it in the book.
type hullReading struct {
	hullWords
	Others []namesake
}

// namesake is a boat that stands in the book with a number.
type namesake struct {
	ID    boat.ID `json:"id"`
	Name  string  `json:"name"`
	State State   `json:"state"`
}

// With says whether the boat is with the club, or may be: a number that such a
// boat bears is another boat's.
func (o namesake) With() bool {
	return o.State != Placed && o.State != Sold && o.State != Declined && o.State != Retired
}

func (v *visit) hullPage() error {
	p := hullPage{Frame: v.frame("Read a hull number"), Typed: v.r.URL.Query().Get("number")}
	var err error
	if p.Read, err = v.hullReading(p.Typed, boat.ID(v.r.URL.Query().Get("not"))); err != nil {
		return err
	}
	return v.show("hull", p)
}

// hullReading reads a number; nil for none. not is a boat that bears it rightly.
func (v *visit) hullReading(written string, not boat.ID) (*hullReading, error) {
	written = strings.TrimSpace(written)
	if written == "" {
		return nil, nil
	}
	if len(written) > maxHull {
		return nil, fault.New(fault.Invalid, "A hull number has twelve characters; this is longer than any.")
	}
	r := &hullReading{hullWords: readHull(written)}
	key := hin.Key(written)
	if key == "" {
		return r, nil
	}
	rows, err := v.Pool.Query(v.ctx, `SELECT id, name, state FROM web.boat WHERE hull = $1 AND id <> $2 AND later = '' ORDER BY lower(name), id LIMIT 20`, key, not)
	if err != nil {
		return nil, err
	}
	r.Others, err = pgx.CollectRows(rows, pgx.RowToStructByPos[namesake])
	return r, err
}

// readsHull lets the field for a hull number say what the number says, once it is
// typed. not is the boat that bears it.
func (v *visit) readsHull(sections []Section, name string, not boat.ID, typed string) error {
	for i := range sections {
		f, ok := in(sections[i].Fields, func(f *Field) bool { return f.Name == name })
		if !ok {
			continue
		}
		f.Reads = hullAt + "?not=" + string(not) + "&number="
		var err error
		f.Reading, err = v.hullReading(typed, not)
		if fault.Is(err, fault.Invalid) {
			err = nil // the room says so beside the field
		}
		return err
	}
	return nil
}

// apiHull is what a program learns of a number.
type apiHull struct {
	Valid      bool       `json:"valid"`
	Problem    string     `json:"problem,omitempty"`
	Country    string     `json:"country,omitempty"`
	Maker      string     `json:"maker,omitempty"`
	Serial     string     `json:"serial,omitempty"`
	Built      string     `json:"built,omitempty"` // year and month
	ModelYear  int        `json:"model_year,omitempty"`
	Notices    []string   `json:"notices"`
	InTheBooks []namesake `json:"in_the_books"`
}

func (v *visit) apiHull() error {
	r, err := v.hullReading(v.r.URL.Query().Get("number"), boat.ID(v.r.URL.Query().Get("not")))
	if err == nil && r == nil {
		err = fault.Field("number", "say which number is to be read")
	}
	if err != nil {
		return err
	}
	n := r.Number
	answer := apiHull{
		Valid: n.Valid(), Problem: r.Problem, Country: n.Country, Maker: n.Maker, Serial: n.Serial, Built: n.Built.String(), ModelYear: n.ModelYear,
		Notices: []string{}, InTheBooks: []namesake{},
	}
	answer.Notices, answer.InTheBooks = append(answer.Notices, r.Notices...), append(answer.InTheBooks, r.Others...)
	return v.json(answer)
}
