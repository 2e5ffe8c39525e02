package web

import (
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

var movers = only(people.Steward, people.Repairer)

func rackRoutes() []route { return []route{get("/racks", anyMember, (*visit).racksPage)} }

func rackActs() []act {
	toRacks := func(*visit, desk.Commanded) string { return "/racks" }
	return []act{
		{
			name: "new-place", path: "/racks/new", may: stewards, title: "A new place", button: "Write it down", done: "The place is in the book.",
			words:   "A pair of arms, a stand, a piece of floor. Length and width say what fits: boats are taken to lie flat, beside each other.",
			command: func() desk.Commanded { return &message.SetPlace{} }, to: toRacks,
			fields: func(*visit) ([]Section, error) { return placeSections(fresh("place")), nil },
		},
		{
			name: "set-place", path: "/racks/{place}/set", may: stewards, title: "Measure a place anew", button: "Write it down", done: "The place is written down anew.",
			command: func() desk.Commanded { return &message.SetPlace{} }, to: toRacks,
			shared: true,
			start: func(v *visit) (any, error) {
				p, err := find[Place](v.ctx, v.Site, "place", v.param("place"), "place")
				return message.SetPlace{Shed: p.Shed, Name: p.Name, LengthMM: p.LengthMM, WidthMM: p.WidthMM}, err
			},
			fields: func(*visit) ([]Section, error) { return placeSections(), nil },
		},
		{
			name: "close-place", path: "/racks/{place}/close", may: stewards, title: "Close a place", button: "Close it", done: "Nothing is to lie there any more.", weighty: true,
			command: func() desk.Commanded { return &message.ClosePlace{} }, to: toRacks,
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{area("why", "Why nothing is to lie there").Needed()}}}, nil
			},
		},
		{
			name: "move-boat", path: "/boats/{boat}/move", may: movers, title: "Move the boat", button: "It lies there now", done: "It is written down where the boat lies.",
			part: partFacts, label: "Move it", fits: func(b *Boat) bool { return b.State == Declined || !b.Ended() },
			cautions: func(v *visit) []caution { return lifting(v.boat) },
			command:  func() desk.Commanded { return &message.MoveBoat{} },
			start:    func(v *visit) (any, error) { return message.MoveBoat{To: v.boat.Place}, nil },
			fields: func(v *visit) ([]Section, error) {
				options, err := v.placeOptions()
				return []Section{{Fields: []Field{
					{Name: "to", Label: "Where it lies now", Kind: kindPick, Options: options, Hint: "Empty: at no place in the book."},
					area("words", "Words").With("No names."),
				}}}, err
			},
		},
	}
}

func placeSections(hidden ...Field) []Section {
	return []Section{{Fields: append(hidden,
		text("shed", "Shed or yard").Needed(), text("name", "Place").Needed().With("As it is called there: rack 3, lowest arms."),
		number("length_mm", "Length in metres").Needed(), number("width_mm", "Width in metres").Needed(),
	)}}
}

// Place is a place where boats lie.
type Place struct {
	message.PlaceSet
	Closed string `json:"closed,omitempty"` // why
}

// Fold adds an event.
func (p *Place) Fold(_ message.Event, body message.Body) {
	switch m := body.(type) {
	case message.PlaceSet:
		p.PlaceSet, p.Closed = m, ""
	case message.PlaceClosed:
		p.Closed = m.Why
	}
}

// projectPlace keeps places.
func projectPlace(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	var id string
	switch m := body.(type) {
	case message.PlaceSet:
		id = m.Place
	case message.PlaceClosed:
		id = m.Place
	default:
		return nil
	}
	p, err := refold[Place](ctx, tx, "place", id, e, body)
	if err != nil {
		return err
	}
	return desk.Keep(ctx, tx, "place/"+id, p, `
		INSERT INTO web.place (id, shed, name, closed, position, doc) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (id) DO UPDATE SET shed = excluded.shed, name = excluded.name, closed = excluded.closed, position = excluded.position, doc = excluded.doc`,
		id, p.Shed, p.Name, p.Closed != "", e.Position, p)
}

// lying is a boat at a place.
type lying struct {
	ID               boat.ID `json:"id"`
	Name             string  `json:"name"`
	Type             string  `json:"type"`
	Colour           string  `json:"colour,omitempty"`
	State            State   `json:"state"`
	Place            string  `json:"-"`
	LengthMM, BeamMM int     `json:"-"`
}

// Rack is a place with what lies there.
type Rack struct {
	Place
	Boats []lying `json:"boats"`
}

// LeftMM is how much of the width is left.
func (r Rack) LeftMM() int {
	left := r.WidthMM
	for _, b := range r.Boats {
		left -= b.BeamMM
	}
	return left
}

// TooMuch says whether what lies there does not fit by its measures, which may
// have been corrected since.
func (r Rack) TooMuch() bool {
	for _, b := range r.Boats {
		if b.LengthMM > r.LengthMM {
			return true
		}
	}
	return r.LeftMM() < 0
}

// Shed is the places of one shed.
type Shed struct {
	Name  string `json:"name"`
	Racks []Rack `json:"racks"`
}

// racksPage is what lies where, for whoever opens the shed.
type racksPage struct {
	Frame
	Shed    string // the one that is shown; empty for all
	Names   []string
	Sheds   []Shed
	Nowhere []card
	More    int // of those nowhere that are not shown
}

func (v *visit) racksPage() error {
	p := racksPage{Frame: v.frame("Where boats lie")}
	var err error
	if p.Sheds, err = v.sheds(); err != nil {
		return err
	}
	p.Shed = v.r.URL.Query().Get("shed")
	for _, s := range p.Sheds {
		p.Names = append(p.Names, s.Name)
	}
	if p.Shed != "" {
		if !slices.Contains(p.Names, p.Shed) {
			return fault.New(fault.Unknown, "There is no shed of this name. Choose one on the page of places.")
		}
		p.Sheds = slices.DeleteFunc(p.Sheds, func(s Shed) bool { return s.Name != p.Shed })
	}
	if v.wantsTable() {
		return v.racksTable(p.Sheds)
	}
	rows, err := v.Pool.Query(v.ctx, `
		SELECT id, name, type, state, maker, colour, open FROM web.boat WHERE place = '' AND state = ANY($1) ORDER BY lower(name), id LIMIT $2`,
		[]State{Received, InWorkshop, Ready, OnOffer}, pageLength)
	if err != nil {
		return err
	}
	if p.Nowhere, err = pgx.CollectRows(rows, pgx.RowToStructByPos[card]); err != nil {
		return err
	}
	return v.show("racks", p)
}

// racksTable writes what lies where: a row for each boat, and one for a free place.
func (v *visit) racksTable(sheds []Shed) error {
	var rows [][]string
	for _, s := range sheds {
		for _, r := range s.Racks {
			place := []string{s.Name, r.PlaceSet.Name, measureOrNone(r.LengthMM, metres), measure(int64(r.LeftMM()), metres)}
			for _, b := range r.Boats {
				rows = append(rows, slices.Concat(place, []string{b.Name, b.Type, b.Colour, string(b.State)}))
			}
			if len(r.Boats) == 0 {
				rows = append(rows, slices.Concat(place, []string{"", "", "", ""}))
			}
		}
	}
	return writeTable(v, "racks", []string{"shed", "place", "length_m", "width_left_m", "boat", "type", "colour", "state"}, rows, func(row []string) []string { return row })
}

// sheds reads all places that are not closed, with what lies there.
func (v *visit) sheds() ([]Shed, error) {
	places, err := findAll[Place](v.ctx, v.Site, `SELECT doc FROM web.place WHERE NOT closed ORDER BY lower(shed), lower(name), id`)
	if err != nil {
		return nil, err
	}
	rows, err := v.Pool.Query(v.ctx, `
		SELECT id, name, type, colour, state, place, coalesce((doc #>> '{facts,length_mm}')::int, 0), coalesce((doc #>> '{facts,beam_mm}')::int, 0)
		FROM web.boat WHERE place <> '' ORDER BY lower(name), id`)
	if err != nil {
		return nil, err
	}
	boats, err := pgx.CollectRows(rows, pgx.RowToStructByPos[lying])
	if err != nil {
		return nil, err
	}
	at := map[string][]lying{}
	for _, b := range boats {
		at[b.Place] = append(at[b.Place], b)
	}
	sheds := []Shed{}
	for _, p := range places {
		if len(sheds) == 0 || sheds[len(sheds)-1].Name != p.Shed {
			sheds = append(sheds, Shed{Name: p.Shed})
		}
		last := &sheds[len(sheds)-1]
		last.Racks = append(last.Racks, Rack{p, at[p.PlaceSet.Place]})
	}
	return sheds, nil
}

func (v *visit) placeOptions() ([]Option, error) {
	sheds, err := v.sheds()
	options := []Option{}
	for _, s := range sheds {
		for _, r := range s.Racks {
			label := fmt.Sprintf("%s, %s: %s long, %s left", s.Name, r.PlaceSet.Name, withUnit(int64(r.LengthMM), metres), measure(int64(max(0, r.LeftMM())), metres)+" m")
			options = append(options, Option{r.PlaceSet.Place, label})
		}
	}
	return options, err
}

// placeName says where a boat lies, in words.
func (v *visit) placeName(b *Boat) (string, error) {
	if b.Place == "" {
		return "", nil
	}
	p, err := find[Place](v.ctx, v.Site, "place", b.Place, "place")
	if fault.Is(err, fault.Unknown) {
		return "", nil
	}
	return p.Shed + ", " + p.Name, err
}

func (v *visit) apiRacks() error {
	sheds, err := v.sheds()
	if err != nil {
		return err
	}
	return v.json(apiShedList{sheds})
}

// apiShedList is what lies where.
type apiShedList struct {
	Sheds []Shed `json:"sheds"`
}

// sumPlaces says what happened to places, and where boats went.
func sumPlaces(body message.Body) string {
	switch m := body.(type) {
	case message.PlaceSet:
		return fmt.Sprintf("A place to lie was measured: %s, %s", m.Shed, m.Name)
	case message.PlaceClosed:
		return "A place to lie was closed: " + m.Why
	case message.BoatMoved:
		text := "Moved to another place"
		if m.To == "" {
			text = "Taken from its place"
		} else if m.From == "" {
			text = "Laid at a place"
		}
		if m.Words != "" {
			text += ": " + m.Words
		}
		return text
	}
	return ""
}
