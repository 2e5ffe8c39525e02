package web

import (
	"slices"
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
	answer            any // an example of its type; nil for what is no JSON
	query             []string
	kind              string // what is answered where it is no JSON
}

func apiReads() []apiRead {
	return append([]apiRead{
		{name: "openapi", path: "/openapi.json", title: "This description", may: anybody, do: (*visit).apiDescription, answer: map[string]any{}},
		{name: "list-boats", path: "/boats", title: "Boats, page by page", may: anyMember, do: (*visit).apiBoats, answer: apiBoatList{}, query: []string{"state", "type", "q", "page"}},
		{name: "read-boat", path: "/boats/{boat}", title: "All that you may see of one boat", may: anyMember, do: (*visit).apiBoat, answer: Boat{}, query: []string{"findings"}},
		{name: "read-history", path: "/boats/{boat}/history", title: "Every event about one boat, in plain words", may: anyMember, do: (*visit).apiHistory, answer: apiHistory{}, query: []string{"findings", "known", "about"}},
		{name: "read-hull-number", path: "/hull-number", title: "What a hull number says, and which boats in the books bear it", may: anyMember, do: (*visit).apiHull, answer: apiHull{}, query: []string{"number", "not"}},
		{name: "own-find-rates", path: "/find-rates", title: "What you found of what others found, zone by zone", may: anyMember, do: (*visit).apiOwnFindRates, answer: findRates{}},
		{name: "find-rates", path: "/find-rates/{inspector}", title: "What an inspector found of what others found, zone by zone", may: coordinators, do: (*visit).apiOthersFindRates, answer: findRates{}},
		{name: "list-racks", path: "/racks", title: "What lies where", may: anyMember, do: (*visit).apiRacks, answer: apiShedList{}},
		{name: "read-photo", path: "/boats/{boat}/photos/{hash}/{size}", title: "A photo, as large.jpg or small.jpg", may: anyMember, do: (*visit).photoFile, kind: "image/jpeg"},
	}, apiDocuments()...)
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
	leaves := v.leavesOf()
	f, err := filterFrom(v.r.URL.Query())
	if err != nil {
		return err
	}
	list, all, err := v.cards(v.ctx, f, leaves.Before(), pageLength)
	if err != nil {
		return err
	}
	answer := apiBoatList{all, leaves.Page, []apiCard{}}
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
		b.Entries, b.Claim, b.Papers, b.Excepted = nil, nil, nil, nil
	}
	if !receiptReaders.admits(v.Who) {
		b.Parts = slices.Clone(b.Parts)
		for i := range b.Parts {
			b.Parts[i].Receipt = ""
		}
	}
	if !v.Who.Has(people.Coordinator, people.Administrator, people.Auditor) {
		b.Offers, b.HandOver, b.After = nil, nil, b.After.withoutHousehold()
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
