package web

import (
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// apiRead is a document that programs may read.
type apiRead struct {
	name, path, title string
	may               audience
	do                func(v *visit) error
	answer            any // an example of its type
	query             []string
}

func apiReads() []apiRead {
	return []apiRead{
		{"openapi", "/openapi.json", "This description", anybody, (*visit).apiDescription, map[string]any{}, nil},
		{"list-boats", "/boats", "Boats, page by page", anyMember, (*visit).apiBoats, apiBoatList{}, []string{"state", "type", "q", "page"}},
		{"read-boat", "/boats/{boat}", "All that you may see of one boat", anyMember, (*visit).apiBoat, Boat{}, []string{"findings"}},
		{"read-history", "/boats/{boat}/history", "Every event about one boat, in plain words", anyMember, (*visit).apiHistory, apiHistory{}, []string{"findings", "known", "about"}},
		{"read-hull-number", "/hull-number", "What a hull number says, and which boats in the books bear it", anyMember, (*visit).apiHull, apiHull{}, []string{"number", "not"}},
		{"own-find-rates", "/find-rates", "What you found of what others found, zone by zone", anyMember, (*visit).apiOwnFindRates, findRates{}, nil},
		{"find-rates", "/find-rates/{inspector}", "What an inspector found of what others found, zone by zone", coordinators, (*visit).apiOthersFindRates, findRates{}, nil},
		{"list-racks", "/racks", "What lies where", anyMember, (*visit).apiRacks, apiShedList{}, nil},
		{"read-photo", "/boats/{boat}/photos/{hash}/{size}", "A photo, as large.jpg or small.jpg", anyMember, (*visit).photoFile, nil, nil},
	}
}

// apiBoatList is a page of the list of boats.
type apiBoatList struct {
	All   int       `json:"all"` // that the filter leaves
	Page  int       `json:"page"`
	Boats []apiCard `json:"boats"`
}

type apiCard struct {
	ID     boat.ID   `json:"id"`
	Name   string    `json:"name"`
	Type   boat.Type `json:"type"`
	State  State     `json:"state"`
	Maker  string    `json:"maker,omitempty"`
	Colour string    `json:"colour,omitempty"`
	Open   int       `json:"open_findings"`
}

func (v *visit) apiBoats() error {
	f, page, err := v.boatQuery()
	if err != nil {
		return err
	}
	list, all, err := v.cards(v.ctx, f, (page-1)*pageLength, pageLength)
	if err != nil {
		return err
	}
	answer := apiBoatList{all, page, []apiCard{}}
	for _, c := range list {
		answer.Boats = append(answer.Boats, apiCard(c))
	}
	return v.json(answer)
}

func (v *visit) apiBoat() error { return v.json(v.openBoat(*v.boat)) }

// openBoat leaves of a boat's document what its page would show the viewer:
// blindness between inspectors holds here as well, and money and households are
// for whose work they are.
func (v *visit) openBoat(b Boat) Boat {
	blind := v.blindHint(&b)
	var looks []Look
	for _, l := range b.Looks {
		if v.hides(&b, l.ID) {
			continue
		}
		if blind {
			l.Finished = nil
		}
		looks = append(looks, l)
	}
	b.Photos = v.visiblePhotos(&b)
	findings := v.visibleFindings(&b)
	if blind {
		findings = nil
	}
	b.Looks, b.Findings = looks, findings
	if !v.Who.Has(people.Treasurer, people.Auditor) {
		b.Entries, b.Claim, b.Papers = nil, nil, nil
	}
	if !v.Who.Has(people.Coordinator, people.Administrator, people.Auditor) {
		b.Offers, b.HandOver = nil, nil
	}
	return b
}

// apiHistory is every event about a boat.
type apiHistory struct {
	Lines  []apiLine `json:"lines"`
	Hidden int       `json:"hidden"` // lines of look-overs that are not open to you yet
}

type apiLine struct {
	Position   int64        `json:"position"`
	Kind       message.Kind `json:"kind"`
	Actor      string       `json:"actor"`
	HappenedAt time.Time    `json:"happened_at"`
	RecordedAt time.Time    `json:"recorded_at"`
	Summary    string       `json:"summary"`
}

func (v *visit) apiHistory() error {
	p, err := v.openHistory()
	if err == nil && p.Wrong != "" {
		err = fault.New(fault.Invalid, "%s", p.Wrong)
	}
	if err != nil {
		return err
	}
	answer := apiHistory{[]apiLine{}, p.Hidden}
	for _, l := range p.Lines {
		answer.Lines = append(answer.Lines, apiLine{l.Position, l.Kind, l.Actor, l.HappenedAt, l.RecordedAt, l.Summary})
	}
	return v.json(answer)
}
