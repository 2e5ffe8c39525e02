package web

import (
	"cmp"
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/quarantine"
)

// The parts of a boat's page to which acts belong.
const (
	partFacts    = "facts"
	partLook     = "look-over"
	partDecision = "decision"
	partWorkshop = "workshop"
	partValue    = "value"
)

// consentText names what a new giver agrees to; its words are in the form.
const consentText = "giver-data-2026-1"

var (
	stewards = only(people.Steward)
	pricing  = only(people.Steward, people.Administrator)
)

func notDeclined(b *Boat) bool { return b.State != Declined }
func undecided(b *Boat) bool   { return b.Decision == nil }
func notHere(b *Boat) bool     { return b.Received == nil && !b.Ended() }

func intakeActs() []act {
	return []act{
		{
			name: "log-boat", keep: true, path: "/boats/new", may: anyMember, title: "Log a boat", button: "Write it down", done: "The boat is in the book.",
			words:   "For every boat that somebody offers. It does not mean that the club takes it. What is not known can be left empty and put right later.",
			command: func() desk.Commanded { return &message.LogBoat{} },
			fields:  (*visit).logBoatFields, finish: (*visit).namesGiver, more: "Read the hull number", moreAt: "facts.hull_number",
			to: func(_ *visit, c desk.Commanded) string { return "/boats/" + string(c.(*message.LogBoat).Boat) },
		},
		{
			name: "correct-facts", path: "/boats/{boat}/facts", may: stewards, title: "Put facts right", button: "Put right", done: "The facts are put right.",
			part: partFacts, label: "Put facts right", fits: notDeclined,
			command: func() desk.Commanded { return &message.CorrectFacts{} },
			start:   func(v *visit) (any, error) { return message.CorrectFacts{Facts: v.boat.Facts}, nil },
			more:    "Read the hull number", moreAt: "facts.hull_number",
			shared: true,
			finish: func(v *visit, c desk.Commanded) error {
				if v.api {
					return nil
				}
				stood := message.CorrectFacts{Facts: message.BoatFacts{}}
				err := v.asItStood(&stood, nil)
				c.(*message.CorrectFacts).Stood = &stood.Facts
				return err
			},
			fields: func(v *visit) ([]Section, error) {
				sections := append(factsSections("facts"), Section{Fields: []Field{area("why", "What was wrong or missing").Needed()}})
				return sections, v.readsHull(sections, "facts.hull_number", v.boat.ID, cmp.Or(v.typed.Get("facts.hull_number"), v.boat.Facts.HullNumber))
			},
		},
		{
			name: "quarantine", path: "/boats/{boat}/quarantine", may: stewards, title: "Keep dry", button: "Set the day", done: "It is written down until when the boat stays dry.",
			part: partFacts, label: "Keep dry", fits: notDeclined,
			words:    "A boat can carry mussels, plants and spores from one water to the next. Clean and drain it first, away from any water; the days count from then.",
			cautions: always(coldWater, hotWater, dirt),
			command:  func() desk.Commanded { return &message.SetQuarantine{} },
			units:    units{"celsius_tenths": {"°C", 10}},
			fields:   (*visit).dryingFields,
		},
		{
			name: "offer-price", path: "/boats/{boat}/price", may: pricing, title: "Name a price to the seller", button: "Name this price", done: "The price is written down.",
			part: partDecision, label: "Name a price", fits: func(b *Boat) bool { return undecided(b) && b.Taking != message.Gift },
			command: func() desk.Commanded { return &message.OfferPrice{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					text("price", "Price").Needed().With(ceilingWords(v.boat)),
					area("words", "Why").With(pricedWords(v.boat)),
					stake(),
				}}}, nil
			},
		},
		{
			name: "note-answer", path: "/boats/{boat}/answer", may: pricing, title: "What the seller answers", button: "Write it down", done: "The answer is written down.",
			part: partDecision, label: "Note the seller's answer", fits: func(b *Boat) bool { return undecided(b) && b.Taking != message.Gift },
			words:   "Nothing is decided by it. Whatever is asked, the club pays no more than the ceiling, or an administrator says why. The ceiling is not shown to the seller.",
			command: func() desk.Commanded { return &message.NoteAnswer{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					one("answer", "The seller", words(message.SellersAnswers)).Needed(),
					text("price", "Price").With("What the seller asks for now, or agrees to."),
					area("words", "In which words"),
				}}}, nil
			},
		},
		{
			name: "accept", path: "/boats/{boat}/accept", may: pricing, title: "Accept the boat", button: "Accept", done: "The boat is accepted.",
			part: partDecision, label: "Accept", fits: undecided,
			command: func() desk.Commanded { return &message.AcceptBoat{} },
			fields:  (*visit).acceptFields,
		},
		{
			name: "agree", path: "/boats/{boat}/agreement", may: stewards, title: "Agree with the giver on what is known", button: "Write it down", done: "It is written down; print the sheet, and both sign.",
			part: partDecision, label: "Agree with the giver", fits: func(b *Boat) bool { return !b.Ended() && len(b.FinishedLooks()) > 0 },
			words:   "Read the findings out, ask what the giver knows, and write that down. The sheet has both names; its words are sealed, and go when the giver is erased.",
			command: func() desk.Commanded { return &message.MakeAgreement{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{fresh("agreement"), area("said", "What the giver says of known faults").Needed().With("“None known” is an answer.")}}}, nil
			},
		},
		{
			name: "hold", path: "/boats/{boat}/hold", may: pricing, title: "Put the decision off", button: "Put it off", done: "The decision is put off.",
			part: partDecision, label: "Put off", fits: undecided,
			words:   "The boat stays where it is until then. Whatever is decided later ends it.",
			command: func() desk.Commanded { return &message.HoldBoat{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					area("why", "What the club waits for").Needed().With("The owner may read this. Name nobody."),
					day("look_again", "Day on which somebody looks at it again").Needed().Starts(v.today().AddDays(7).String()),
				}}}, nil
			},
		},
		{
			name: "decline", path: "/boats/{boat}/decline", may: stewards, title: "Decline the boat", button: "Decline", done: "The boat is declined.",
			part: partDecision, label: "Decline", fits: notHere, weighty: true,
			command: func() desk.Commanded { return &message.DeclineBoat{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					area("reason", "Why the club does not take it").Needed().With("The owner may read this."),
					one("way", "How it ends properly", words(message.DisposalWays)).Needed().With("The rules on waste of the place go before this list."),
					area("disposal", "What the owner was told to do with it"),
					stake(),
				}}}, nil
			},
		},
		{
			name: "receive", path: "/boats/{boat}/receive", may: stewards, title: "Receive the boat", button: "Receive", done: "The boat is the club's now.",
			part: partDecision, label: "Receive", fits: func(b *Boat) bool { return b.State == Accepted },
			words:    "The later of the two days is the day of the gift or purchase. It stands on the donor's paper.",
			cautions: func(v *visit) []caution { return lifting(v.boat) },
			command:  func() desk.Commanded { return &message.ReceiveBoat{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					day("possession", "Day on which the club got the boat").Needed(),
					day("signed", "Day on which the transfer was signed").Needed(),
				}}}, nil
			},
		},
	}
}

// dryingFields asks where the boat was, what it carried, and how it was treated.
func (v *visit) dryingFields() ([]Section, error) {
	rules := []Option{{"", "the club's own"}}
	for _, r := range quarantine.Rules {
		rules = append(rules, Option{r.ID, r.Title})
	}
	return []Section{
		{Legend: "Where from", Fields: []Field{
			text("last_water", "Water it was in last").Needed(),
			day("out_of_water", "Day on which it came out").Needed(),
			number("standing_ml", "Standing water found in it, in litres"),
			some("found", "Found on it", words(message.FoundOnBoats)).With("With mussels or animals: keep some in a bag, take a picture, and ask the agency that keeps the water."),
			day("cleaned_on", "Day on which it was cleaned and drained").With("Needed when anything was found on it or in it. Leave it empty when it came out clean and drained."),
		}},
		{
			Legend: "Treated with hot water",
			Words:  "Held against published minimum times. It shortens no drying: none of the rules lets it. Temperature and time are those at the hull, not in the tank.",
			Fields: []Field{
				one("medium", "How", words(quarantine.Media)), number("celsius_tenths", "Temperature in °C"), number("seconds", "Time of contact in seconds"),
			},
		},
		{Legend: "How long", Words: dryingSources(), Fields: []Field{
			one("rule", "Rule", rules),
			number("days", "Days").With("Only for the rule \"a number of days\"."),
			number("frozen_hours", "Hours below freezing, without a break").With("Under the season rule, 72 or more stand in the place of the days."),
			day("frozen_end", "Day on which that frost ended"),
		}},
	}, nil
}

// dryingSources says whose rules they are.
func dryingSources() string {
	said := ""
	for _, r := range quarantine.Rules {
		said += capital(r.Title) + ": " + r.Source + ". "
	}
	return said + "The law of the water that it goes to decides; ask its agency."
}

// logBoatFields asks first what nobody can do without, and keeps the rest folded:
// a boat is logged standing in a yard, with a phone in one hand.
func (v *visit) logBoatFields() ([]Section, error) {
	givers, err := v.choosePeople(message.DonorSort, message.MemberSort)
	if err != nil {
		return nil, err
	}
	before, err := v.boatsAway()
	if err != nil {
		return nil, err
	}
	sections := []Section{
		{Fields: []Field{
			fresh("boat"), fresh("new_giver_id"),
			text("name", "Name").Needed().With("What the club will call this boat. No other boat has the same."),
			one("taking", "How it comes to the club", words(message.Takings)).Needed(),
			text("asked", "Price asked").With("Nothing for a gift."),
		}},
	}
	sections = append(sections, essentials("facts")...)
	if err := v.readsHull(sections, "facts.hull_number", "", v.typed.Get("facts.hull_number")); err != nil {
		return nil, err
	}
	sections = append(sections, giverSection(givers))
	sections = append(sections, shut(particulars("facts"))...)
	sections = append(sections, shut(paperSections())...)
	return append(sections, Section{Legend: "The club has had it before", Folded: true, Fields: []Field{
		{Name: "again", Label: "The boat that comes back", Kind: kindPick, Options: before,
			Hint: "Its new entry goes on from the old one and keeps name and hull number. It is looked over and kept dry anew."},
	}}), nil
}

func giverSection(givers []Option) Section {
	return Section{Legend: "Who gives it", Words: "Choose somebody whom the club knows, or write down who they are.", Fields: []Field{
		one("right", "What entitles the giver", words(message.Rights)).Needed(),
		{Name: "giver", Label: "Known giver", Kind: kindPick, Options: givers},
		text("new_giver.name", "Name of a new giver").Fills("off"),
		mail("new_giver.mail", "Mail").Fills("off"),
		phone("new_giver.phone", "Telephone").Fills("off"),
		area("new_giver.address", "Address").With("As it should stand on the paper for the gift."),
		one("new_giver.language", "Language for letters", []Option{{"en", "English"}, {"es", "español"}, {"fr", "français"}}),
		{Name: "consent", Kind: kindTick, Label: "The new giver agrees that the club keeps name and contact for this boat and its papers, and knows that both are erased on request as far as law allows."},
	}}
}

// shut folds sections.
func shut(sections []Section) []Section {
	for i := range sections {
		sections[i].Folded = true
	}
	return sections
}

// namesGiver gives a new giver an id of their own.
func (v *visit) namesGiver(command desk.Commanded) error {
	c := command.(*message.LogBoat)
	if c.NewGiver != nil && c.NewGiver.Name == "" && onlyLanguage(*c.NewGiver) {
		c.NewGiver = nil
	}
	switch {
	case c.NewGiver == nil && c.Giver == "":
		return fault.Field("giver", "choose who gives the boat, or write down a new giver")
	case c.NewGiver == nil:
		c.Consent = ""
	case c.Giver != "":
		return fault.Field("giver", "choose a known giver or write down a new one, not both")
	case c.Consent == "":
		return fault.Field("consent", "ask the giver, and tick this when they agree")
	default:
		c.Giver, c.Consent = people.ID(v.typed.Get("new_giver_id")), consentText
	}
	return nil
}

// onlyLanguage says whether nothing but a language is told of somebody.
func onlyLanguage(d message.PersonDetails) bool {
	d.Language = ""
	return d == message.PersonDetails{}
}

// factsSections asks for all that is known of a boat, under a JSON path.
func factsSections(under string) []Section {
	return append(essentials(under), particulars(under)...)
}

// essentials are the facts without which a boat is not logged.
func essentials(under string) []Section {
	at := func(name string) string { return under + "." + name }
	return []Section{
		{Legend: "The boat", Fields: []Field{
			one(at("type"), "Type", words(boat.Types)).Needed(),
			one(at("material"), "Material of the hull", words(boat.Materials)).Needed(),
			number(at("seats"), "Seats").Needed(),
		}},
		{Legend: "Hull number", Fields: []Field{
			text(at("hull_number"), "Number as it stands on the hull").Fills("off").With("Twelve characters at the starboard side of the stern, on boats built for sale in the United States since November 1972 (33 CFR 181)."),
			one(at("no_hull_number"), "If there is none, why", words([]string{"home-built", "built before November 1972", "inflatable", "removed"})),
		}},
	}
}

// particulars are the facts that may come later.
func particulars(under string) []Section {
	at := func(name string) string { return under + "." + name }
	return []Section{
		{Legend: "Maker, colour and year", Fields: []Field{
			text(at("maker"), "Maker"), text(at("model"), "Model"), text(at("colour"), "Colour"),
			number(at("year_built"), "Year built"),
		}},
		{Legend: "Measures", Words: "With point or comma: 4.52", Fields: []Field{
			number(at("length_mm"), "Length in metres"), number(at("beam_mm"), "Beam in metres"),
			number(at("depth_mm"), "Depth in metres").With("Amidships, from the keel to the lowest place where water comes in. Needed where no maker's rated load is known."),
			number(at("mass_g"), "Mass in kilograms").With("As read from a scale or a label. It decides how many people should carry the boat."),
			number(at("rated_load_g"), "Rated load in kilograms"),
			one(at("rated_source"), "Where the rated load is from", words(message.RatedSources)),
			number(at("seat_limit_g"), "Limit of one seat in kilograms").With("Only where a label on the seat or the maker's paper says so."),
		}},
		{Legend: "More", Fields: []Field{
			text(at("stored_where"), "Where it lies").With("Every member reads this, and it stays: a rack or a water, no name and no street."),
			day(at("last_afloat"), "Last afloat"),
			some(at("features"), "It has, or can be given", words(boat.Features)),
		}},
	}
}

func (v *visit) acceptFields() ([]Section, error) {
	var fields []Field
	if v.boat.Taking != message.Gift {
		fields = append(fields, text("price", "Price").Needed().With(ceilingWords(v.boat)))
	}
	return []Section{{Fields: append(fields, area("words", "Words").With("Needed for found property, for a gift that is bound to something, for a price above the ceiling, and for one on a provisional look-over."), stake())}}, nil
}

// ceilingWords tells the most that may be paid.
func ceilingWords(b *Boat) string {
	switch {
	case b.Ceiling == nil:
		return "No ceiling is set yet: value the boat and set one first."
	case b.Ceiling.Status != "ok":
		return "The ceiling says: do not buy."
	}
	return "The ceiling is " + b.Ceiling.Ceiling.String() + "."
}

// choosePeople lists people of some sorts by name, for a choice.
func (v *visit) choosePeople(sorts ...message.Sort) ([]Option, error) {
	list, err := findAll[Person](v.ctx, v.Site, `SELECT doc FROM web.person WHERE NOT erased AND sort = ANY($1)`, sorts)
	if err != nil {
		return nil, err
	}
	names, options := v.directory(), []Option{}
	if err := names.learn(list); err != nil {
		return nil, err
	}
	for _, p := range list {
		options = append(options, Option{string(p.ID), names.Name(p.ID)})
	}
	slices.SortFunc(options, func(a, b Option) int {
		return cmp.Or(strings.Compare(strings.ToLower(a.Label), strings.ToLower(b.Label)), strings.Compare(a.Value, b.Value))
	})
	return options, nil
}
