package web

import (
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
)

func lookRoutes() []route {
	return []route{
		get("/boats/{boat}/looks/{look}", stewards, (*visit).lookPage),
		get("/boats/{boat}/agreements/{agreement}", stewards, (*visit).agreementSheet),
		post("/boats/{boat}/looks/{look}", stewards, (*visit).answerPoints, (*visit).lookPage),
	}
}

// grades says what the five grades mean; the scale is the club's own.
var grades = []Option{
	{"1", "1 · for parts only"}, {"2", "2 · poor"}, {"3", "3 · used but sound"}, {"4", "4 · good"}, {"5", "5 · hardly used"},
}

func lookActs() []act {
	back := func(v *visit, _ desk.Commanded) string { return lookAddress(v.boat.ID, v.param("look")) }
	return []act{
		{
			name: "begin-look", path: "/boats/{boat}/look", may: stewards, title: "Look the boat over", button: "Begin", done: "The look-over has begun.",
			part: partLook, label: "Look it over", fits: notDeclined,
			words: "Two people look a boat over, each without knowing what the other found: only then does it show how much both may have missed. " +
				"While yours is open you see your own findings alone. If you have read somebody else's list of this boat already, let another steward do it.",
			cautions: func(v *visit) []caution { return lifting(v.boat) },
			command:  func() desk.Commanded { return &message.BeginLookOver{} },
			fields:   func(*visit) ([]Section, error) { return []Section{{Fields: []Field{fresh("look")}}}, nil },
			to: func(v *visit, c desk.Commanded) string {
				return lookAddress(v.boat.ID, c.(*message.BeginLookOver).Look)
			},
		},
		{
			name: "note-finding", keep: true, path: "/boats/{boat}/looks/{look}/finding", may: stewards, title: "Note a finding", button: "Note it", done: "The finding is noted.",
			command: func() desk.Commanded { return &message.NoteDefect{} }, fields: (*visit).findingFields, units: units{"length_mm": centimetres}, to: back,
			start: (*visit).findingStart,
		},
		{
			name: "finish-look", keep: true, path: "/boats/{boat}/looks/{look}/finish", may: stewards, title: "Finish the look-over", button: "Finish", done: "The look-over is finished.", weighty: true,
			words:    "After this the list cannot be added to, and you can see what others found.",
			cautions: func(v *visit) []caution { return append(lifting(v.boat), dirt) },
			command:  func() desk.Commanded { return &message.FinishLookOver{} },
			fields:   (*visit).endFields,
		},
		{
			name: "match-findings", path: "/boats/{boat}/looks/{look}/match", may: stewards, title: "Which findings are the same?", button: "Confirm", done: "It is written down which findings are the same.",
			words: "Two people find the same crack and write it down differently. The tool proposes; you say. Go to the boat where you are not sure. " +
				"What both missed is reckoned from this.",
			command: func() desk.Commanded { return &message.MatchFindings{} }, fields: (*visit).matchFields,
			finish: func(_ *visit, command desk.Commanded) error {
				c := command.(*message.MatchFindings)
				c.Pairs = slices.DeleteFunc(c.Pairs, func(p message.FindingPair) bool { return p.SameAs == "" })
				return nil
			},
		},
		{
			name: "withdraw-finding", path: "/boats/{boat}/findings/{finding}/withdraw", may: stewards, title: "Withdraw a finding", button: "Withdraw", done: "The finding is withdrawn.",
			words:   "For findings that were a mistake. What was mended is not withdrawn: finish the work on it instead. The finding stays in the history.",
			command: func() desk.Commanded { return &message.WithdrawDefect{} },
			fields: func(v *visit) ([]Section, error) {
				if f, ok := v.boat.Finding(v.param("finding")); !ok || v.hides(v.boat, f.Look) {
					return nil, fault.New(fault.Unknown, "This boat has no such finding.")
				}
				return []Section{{Fields: []Field{area("why", "Why it was a mistake").Needed()}}}, nil
			},
		},
	}
}

// severityOptions say the whole instruction where it is chosen.
var severityOptions = []Option{
	{string(boat.Use), "use as it is"}, {string(boat.Watch), "use and watch it"},
	{string(boat.MendBefore), "mend before use"}, {string(boat.DoNotUse), "do not use"},
}

func (v *visit) findingFields() ([]Section, error) {
	return []Section{
		{Fields: []Field{fresh("finding")}},
		{Legend: "Where", Words: "Port is on the left of somebody who sits in the boat and looks to the bow.", Fields: []Field{
			one("place.part", "Part", words(boat.Parts)).Needed(),
			one("place.zone", "Along the boat", words(boat.Zones)).Needed(),
			one("place.side", "Side", words(boat.Sides)).Needed(),
			one("place.face", "Seen from", words(boat.Faces)).Needed(),
		}},
		{Legend: "What", Fields: []Field{
			one("defect", "Finding", v.kinds()).Needed(),
			number("length_mm", "Length in centimetres").With("Of a crack, a tear or a worn stretch."),
			tick("through", "It goes through the wall"),
			tick("load_bearing", "The part carries load: seat, thwart, toggle, foot brace …"),
			one("severity", "What to do about it", severityOptions).Needed(),
			area("words", "In words"),
		}},
	}, nil
}

// askedFor gives the point of the guide that a finding is noted for, if any.
func (v *visit) askedFor() (guide.Point, bool) {
	return v.boat.guideFor().Point(v.r.URL.Query().Get("point"))
}

// kinds lists what the boat's material can have: for a point of the guide, what
// is usual there first. What only a fitting of another material can have is said
// to be that.
func (v *visit) kinds() []Option {
	m := v.boat.Facts.Material
	p, asked := v.askedFor()
	var usual, rest, fittings []Option
	for _, d := range boat.Defects {
		switch {
		case asked && slices.Contains(p.Kinds, d):
			usual = append(usual, Option{string(d), string(d)})
		case guide.Impossible(d, "hull", m) == "":
			rest = append(rest, Option{string(d), string(d)})
		default:
			fittings = append(fittings, Option{string(d), string(d) + " (of a fitting)"})
		}
	}
	return slices.Concat(usual, rest, fittings)
}

// findingStart fills the place in when a finding is noted for a point.
func (v *visit) findingStart() (any, error) {
	p, asked := v.askedFor()
	if !asked {
		return nil, nil
	}
	c := message.NoteDefect{Place: message.Place{Part: p.Part, Side: p.Side, Face: p.Face}}
	if len(p.Zones) == 1 {
		c.Place.Zone = p.Zones[0]
	}
	if len(p.Kinds) == 1 {
		c.Defect = p.Kinds[0]
	}
	return c, nil
}

// endFields asks for what is said of the boat as a whole.
func (v *visit) endFields() ([]Section, error) {
	l, ok := v.boat.Look(v.param("look"))
	if !ok || v.hides(v.boat, l.ID) {
		return nil, fault.New(fault.Unknown, "This boat has no such look-over.")
	}
	return []Section{
		{Legend: "What is left", Words: leftWords(v.boat.guideFor(), l), Fields: []Field{
			some("hampered", "The boat was", words(guide.Hampered)),
			some("could_not_see", "Parts that could not be seen", words(boat.Parts)),
		}},
		{
			Legend: "The lift test",
			Words: "Drain the boat first; water is heavy and moves. Then lift one end after the other, never alone, the other end on the ground. Weigh each end and add the two. " +
				"Little water is evidence against a hole. It is none against a crack that does not go through. Leave all of it empty when no test was made.",
			Fields: []Field{
				one("lay", "How it lay before", words(guide.Storages)),
				number("weighs_g", "Weighed, in kilograms").With("Both ends together, drained."),
				one("feels", "Not weighed: it felt", words(guide.Hefts)),
				number("water_ml", "Water found in the hull, in litres"),
			},
		},
		{Legend: "The whole", Fields: []Field{one("grade", "Overall condition as it lies", grades).Needed()}},
	}, nil
}

func lookAddress(id boat.ID, look string) string { return "/boats/" + string(id) + "/looks/" + look }

// lookPage is where an inspector works.
type lookPage struct {
	Frame
	Boat     *Boat
	Look     Look
	Guide    guide.Guide
	Left     string
	Form     Form
	Points   []askedPoint
	Findings []marked
	Drawings []drawing
	Cautions []caution
	Said     saidOf
}

// openLook gives the look-over that the address names, to who may know it.
func (v *visit) openLook() (*Look, error) {
	l, ok := v.boat.Look(v.param("look"))
	if !ok {
		return nil, fault.New(fault.Unknown, "This boat has no such look-over.")
	}
	if v.hides(v.boat, l.ID) {
		return nil, fault.New(fault.Forbidden, "This look-over is somebody else's and not open to you yet, so that the two stay independent.")
	}
	return l, nil
}

func (v *visit) lookPage() error {
	l, err := v.openLook()
	if err != nil {
		return err
	}
	g := v.boat.guideFor()
	p := lookPage{
		Frame: v.frame("Look-over of " + v.boat.Name), Boat: v.boat, Look: *l, Guide: g, Left: leftWords(g, l),
		Findings: numbered(v.boat.findingsOf(l.ID)), Said: v.boat.said(l),
	}
	p.Drawings = drawings(v.boat.Facts.Type, p.Findings)
	if l.Finished == nil {
		p.Cautions = append(lifting(v.boat), dirt)
		p.Form, p.Points = v.answersForm(l, g)
	}
	return v.show("look", p)
}

// agreementSheet is the sheet that giver and club sign.
func (v *visit) agreementSheet() error {
	sheet, err := ask[message.Sheet](v, message.AgreementSheet{Boat: v.boat.ID, Agreement: v.param("agreement")})
	if err != nil {
		return err
	}
	return v.download(sheet.Name, "application/pdf", sheet.PDF)
}

// findingsOf gives the findings of one look-over.
func (b *Boat) findingsOf(look string) []Finding {
	var list []Finding
	for _, f := range b.Findings {
		if f.Look == look {
			list = append(list, f)
		}
	}
	return list
}

// hides says whether a look-over of a boat is kept from the viewer: an open one
// is its inspector's alone, and somebody with an open one of their own sees no
// other.
func (v *visit) hides(b *Boat, look string) bool {
	l, ok := b.Look(look)
	if !ok || l.Inspector == v.Who.Person && v.Who.Person != "" {
		return false
	}
	return l.Finished == nil || b.openLookOf(v.Who) != nil
}

// openLookOf gives the viewer's own open look-over of a boat, or nil.
func (b *Boat) openLookOf(w Who) *Look {
	l, ok := in(b.Looks, func(l *Look) bool { return l.Finished == nil && l.Inspector == w.Person && w.Person != "" })
	if !ok {
		return nil
	}
	return l
}

// visibleFindings gives the findings that the viewer may see now.
func (v *visit) visibleFindings(b *Boat) []Finding {
	var list []Finding
	for _, f := range b.Findings {
		if !v.hides(b, f.Look) {
			list = append(list, f)
		}
	}
	return list
}

// blindHint says, to a steward who could still be the next inspector, that the
// lists so far are on another page.
func (v *visit) blindHint(b *Boat) bool {
	own := func(l *Look) bool { return l.Finished != nil && l.Inspector == v.Who.Person }
	if _, looked := in(b.Looks, own); looked || !undecided(b) || !v.Who.Has("steward") {
		return false
	}
	return b.wantsAnother() && v.r.URL.Query().Get("findings") != "shown"
}
